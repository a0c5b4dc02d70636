"""Heaters are off where nothing stands, and are not turned for what is worth no walk.

Rules of our own, no source (docs/commands.md, `plan`); money is summed from the hours of the
conditions, not taken from the code under test.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from replan_winters import limits, season, tree

from overwinter.audit.audit import audit
from overwinter.model.changes import Changes
from overwinter.model.season import Season
from overwinter.model.shelter import Carrier, Envelope, Heater, Surface, Towards
from overwinter.model.site import Weights
from overwinter.model.start import start_of_season
from overwinter.files.season import read_season
from overwinter.files.starter import write_starter
from overwinter.planning.idle_heaters import settled_heaters
from overwinter.planning.marks import assumed_marks
from overwinter.planning.options import PlanOptions
from overwinter.planning.plan_winter import Outcome, plan_winter
from overwinter.planning.replan import InForce, Request, replan
from overwinter.program.data import Cuts, ProgramData, program_data
from overwinter.program.read_back import Placement
from overwinter.render.carry_todos import setting_changes
from overwinter.shelters.conditions import compute_conditions
from overwinter.spells import cut_spells, hour_slice
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import group_trees

OFF, TWO, SIX = 0, 1, 2
"""Settings of the porch: off, hold 2 degC, hold 6 degC."""


def heated(*trees: object, carry: float = 1.0, limit_w: float = 3000.0) -> Season:
    """The tiny winter with a glazed porch and a cellar that heat off one breaker."""
    found = season(*trees)
    yard, porch, cellar = found.shelters
    box = Envelope(
        (Surface("skin", 8.0, 3.0, Towards.OUTDOORS, glazed=True),), 6.0, 0.5, 5e5, 0.0, 20.0
    )
    heater = Heater("fan heater", Carrier.ELECTRICITY, 1.0, 1500.0, (), (2.0, 6.0), "one")
    porch = replace(porch, thermometer=None, envelope=box, heaters=(heater,))
    cellar = replace(cellar, thermometer=None, envelope=box, heaters=(heater,))
    site = replace(
        found.site,
        money_per_kwh={Carrier.ELECTRICITY: 0.3},
        breakers_w={"one": limit_w},
        weights=Weights(carry=carry, not_home=0.0, tail_chance=0.0),
    )
    return replace(found, site=site, shelters=(yard, porch, cellar))


def ready(found: Season, eve: Mapping[str, str] | None = None) -> tuple[ProgramData, Workshop]:
    """What a search would hand over; ``eve``: settings in force before the plan."""
    conditions = compute_conditions(found)
    start = replace(start_of_season(found), settings=eve or {})
    workshop = Workshop(found, conditions, cut_spells(found, conditions))
    table = workshop.table(group_trees(found, start))
    return program_data(found, conditions, start, table, Cuts()), workshop


def placed(
    data: ProgramData,
    porch: list[int],
    where: Mapping[str, str],
    cellar: int = OFF,
) -> Placement:
    """All trees where they are all winter, with the porch heated so."""
    spells = len(data.spells)
    settings = {"yard": (0,) * spells, "porch": tuple(porch), "cellar": (cellar,) * spells}
    stays = {tree_id: (place,) * spells for tree_id, place in where.items()}
    return Placement(settings, stays, frozenset())


def dip(data: ProgramData, base: int, other: int, spell: int) -> list[int]:
    """One setting all winter but for one spell."""
    return [other if number == spell else base for number in range(len(data.spells))]


def heat_money(found: Season, data: ProgramData, setting: int, spell: int) -> float:
    """Heat of the porch, summed from the hours."""
    hours = hour_slice(found, data.spells[spell])
    return float(compute_conditions(found).shelters["porch"].money[setting, hours].sum())


def refused(data: ProgramData, place: str, setting: int, spells: Iterable[int]) -> ProgramData:
    """As if no tree could stand at a place with a setting in some spells."""
    allowed = data.suitability.allowed.copy()
    option = next(
        o.index for o in data.suitability.options if (o.place_id, o.setting) == (place, setting)
    )
    for spell in spells:
        allowed[:, option, spell] = False
    return replace(data, suitability=replace(data.suitability, allowed=allowed))


def but(data: ProgramData, spell: int) -> list[int]:
    """All spells but one."""
    return [number for number in range(len(data.spells)) if number != spell]


def test_a_shelter_without_a_tree_is_off() -> None:
    """Whatever the search left it at, in every spell and in those alone in which it is empty."""
    found = heated(tree("bay", -3.0), tree("larch", -20.0))
    data, workshop = ready(found)
    spells = len(data.spells)
    empty = placed(data, [SIX] * spells, {"bay": "cellar/floor", "larch": "yard/stand"}, cellar=TWO)
    settled = settled_heaters(data, workshop, empty)
    assert settled.settings["porch"] == (OFF,) * spells
    assert settled.settings["cellar"] == (TWO,) * spells
    assert settled.stays == empty.stays
    # a tree that comes for the second half only: off until then, though that is one change more
    half = spells // 2
    late = ("yard/stand",) * half + ("porch/bench",) * (spells - half)
    later = replace(empty, stays={**empty.stays, "larch": late})
    assert settled_heaters(data, workshop, later).settings["porch"][:half] == (OFF,) * half


def test_a_dip_is_filled_up_to_one_carry_a_change_and_no_further() -> None:
    """Two changes of the heater spared are worth two carries: just below, just above."""
    found = heated(tree("bay", -3.0))
    data, _ = ready(found)
    spell = 1
    dearer = heat_money(found, data, SIX, spell) - heat_money(found, data, TWO, spell)
    assert dearer > 0.1
    for carry, filled in ((dearer / 2 * 1.01, True), (dearer / 2 * 0.99, False)):
        data, workshop = ready(heated(tree("bay", -3.0), carry=carry))
        data = refused(data, "porch/bench", TWO, but(data, spell))
        data = refused(data, "porch/bench", OFF, but(data, spell))
        given = placed(data, dip(data, SIX, TWO, spell), {"bay": "porch/bench"})
        settled = settled_heaters(data, workshop, given)
        expected = [SIX] * len(data.spells) if filled else dip(data, SIX, TWO, spell)
        assert list(settled.settings["porch"]) == expected
        assert (settled is given) == (not filled)


def test_no_tree_is_left_where_it_may_not_stand() -> None:
    """A fig that dies at 4 degC (5 with the margin) keeps its 6 degC, however dear the walk."""
    found = heated(tree("fig", 4.0), carry=1e6)
    data, workshop = ready(found)
    last = len(data.spells) - 1  # the coldest weeks
    given = placed(data, dip(data, TWO, SIX, last), {"fig": "porch/bench"})
    assert settled_heaters(data, workshop, given).settings["porch"][last] == SIX
    hardy = heated(tree("fig", -4.0), carry=1e6)
    data, workshop = ready(hardy)
    settled = settled_heaters(data, workshop, given)
    assert settled.settings["porch"][last] != SIX


def test_a_tree_keeps_the_chilling_it_owes() -> None:
    """100 h a spell at 2 degC, none at 6 degC (made up): a spell of it that is owed is kept."""
    for owed, joined in ((100.0, False), (0.0, True)):
        bay = tree("bay", -3.0, limits=replace(limits(-3.0), chill_need=owed))
        data, workshop = ready(heated(bay, carry=1e6))
        data = refused(data, "porch/bench", TWO, but(data, 2))
        chill = np.zeros_like(data.suitability.chill)
        for option in data.suitability.options:
            chill[:, option.index] = 100.0 if option.setting == TWO else 0.0
        data = replace(data, suitability=replace(data.suitability, chill=chill))
        given = placed(data, dip(data, SIX, TWO, 2), {"bay": "porch/bench"})
        settled = settled_heaters(data, workshop, given)
        assert settled.settings["porch"][2] == (SIX if joined else TWO)


def test_the_breaker_carries_what_is_joined() -> None:
    """Porch and cellar together draw 3000 W: a dip while the cellar heats is filled where the
    breaker carries both, and stays where it carries a watt less."""
    trees = (tree("bay", -3.0), tree("fig", 0.0))
    where = {"bay": "porch/bench", "fig": "cellar/floor"}
    for limit_w, setting in ((3000.0, SIX), (2999.0, OFF)):
        data, workshop = ready(heated(*trees, carry=1e6, limit_w=limit_w))
        data = refused(data, "porch/bench", OFF, but(data, 1))
        data = refused(data, "cellar/floor", OFF, [1])
        given = placed(data, dip(data, SIX, OFF, 1), where)
        given = replace(given, settings={**given.settings, "cellar": tuple(dip(data, OFF, TWO, 1))})
        settled = settled_heaters(data, workshop, given)
        assert settled.settings["cellar"][1] == TWO
        assert settled.settings["porch"][1] == setting


def test_what_is_in_force_on_the_eve_counts() -> None:
    """At 2 degC through the first spell, then 6 degC. Where it stands at 6 degC on the eve, two
    changes are spared by leaving it there; where it stands at 2 degC, none."""
    found = heated(tree("bay", -3.0))
    data, _ = ready(found)
    dearer = heat_money(found, data, SIX, 0) - heat_money(found, data, TWO, 0)
    for eve, first in (("hold 6 °C", SIX), ("hold 2 °C", TWO)):
        data, workshop = ready(heated(tree("bay", -3.0), carry=dearer / 2 + 0.01), {"porch": eve})
        data = refused(data, "porch/bench", TWO, but(data, 0))
        given = placed(data, dip(data, SIX, TWO, 0), {"bay": "porch/bench"})
        assert settled_heaters(data, workshop, given).settings["porch"][0] == first


@pytest.fixture(scope="module")
def starter(tmp_path_factory: pytest.TempPathFactory) -> tuple[Season, Outcome]:
    """The starter folder (invented) and its plan."""
    folder: Path = tmp_path_factory.mktemp("winter") / "starter"
    write_starter(folder)
    found = read_season(folder)
    return found, plan_winter(found)


def test_the_starter_does_not_turn_its_heater_to_and_fro(starter: tuple[Season, Outcome]) -> None:
    """Once 5, 2, 5 and 2 degC within October, for 0.30 EUR of heat."""
    found, outcome = starter
    october = [c for c in setting_changes(found, outcome.plan) if c.day.month == 10]
    assert len(october) <= 1
    assert outcome.report.passed
    again = audit(found, outcome.conditions, outcome.plan)
    assert outcome.plan.costs.total == pytest.approx(again.costs.total)
    proof = outcome.plan.proof
    assert proof.bound is not None
    assert proof.gap is not None
    assert proof.bound <= proof.objective == pytest.approx(outcome.plan.costs.total)
    told = (proof.objective - proof.bound) / proof.objective
    assert proof.gap == pytest.approx(told)


def test_a_plan_gone_on_with_heats_nothing_that_has_become_empty(
    starter: tuple[Season, Outcome],
) -> None:
    """All trees of the greenhouse sold in January: its heater goes off and stays off."""
    found, outcome = starter
    plan = outcome.plan
    places = {place.id for place in found.shelter_by_id["greenhouse"].places}
    theirs = [tree_id for tree_id, path in plan.stays.items() if not places.isdisjoint(path)]
    middle = plan.spells[len(plan.spells) // 2].start
    marks = tuple(
        replace(mark, assumed=False)
        for mark in assumed_marks([c for c in plan.carries if c.day < middle])
    )
    gone = Changes(gone=dict.fromkeys(theirs, middle))
    asked = Request(middle, gone, last_safe_dates=False)
    anew = replan(found, InForce(plan, Changes(), marks), asked, PlanOptions(gap=0.01))
    assert anew.report.passed
    keys = [
        key
        for spell, key in zip(anew.plan.spells, anew.plan.settings["greenhouse"], strict=True)
        if spell.start >= middle
    ]
    assert np.unique(keys).tolist() == ["off"]
