"""Every part of the costs, against sums worked by hand."""

import math
from dataclasses import replace

import pytest
from audit_season import (
    HEATED,
    HOME,
    IN_SHED,
    SITE,
    good,
    make_conditions,
    make_plan,
    make_season,
    make_tree,
)

from overwinter.audit import Rule, audit
from overwinter.model.plan import Costs
from overwinter.model.start import Start, start_of_season
from overwinter.model.tree import Tree


def test_heat_by_shelter_and_spell() -> None:
    """300 W for 240 h are 72 kWh, 18.00 at 0.25; the shelters without heat have nought."""
    heat = audit(*good()).heat
    burnt = [(use.shelter_id, use.spell) for use in heat if use.money > 0]
    assert burnt == [("shed", 1)]
    use = next(use for use in heat if use.money > 0)
    assert use.setting == "hold 5 °C"
    assert use.delivered_kwh == pytest.approx(72.0)
    assert use.purchased_kwh == pytest.approx(72.0)
    assert use.money == pytest.approx(18.0)


def test_crowding() -> None:
    """1.6 m2 on a bench of 2 m2: 0.2 m2 over 70 % for ten days at 0.05 are 0.10."""
    big = make_tree("ash", width_m=1.5, depth_m=0.8)
    report = audit(*good(big, make_tree("birch"), make_tree("cedar")))
    assert report.costs.crowding == pytest.approx(0.05 * (1.2 + 0.4 - 1.4) * 10)
    shares = {(u.place_id, u.spell): u.share for u in report.uses}
    assert shares["shed/bench", 1] == pytest.approx(1.6 / 1.8)
    assert shares[HOME, 0] == pytest.approx(1.6 / 3.6)


@pytest.mark.parametrize(("guarded", "left"), [(False, 1.0), (True, 0.1)])
def test_rodents(guarded: bool, left: float) -> None:
    """Value 100 x 0.10/180 a day x appeal 0.2 x exposure (a tenth behind guards) x ten days."""
    season, conditions, plan = good()
    shed = season.shelter_by_id["shed"]
    places = tuple(replace(place, guarded=guarded) for place in shed.places)
    shelters = tuple(replace(s, places=places) if s.id == "shed" else s for s in season.shelters)
    plan = make_plan({**plan.stays, "ash": (HOME, "shed/floor", HOME)}, HEATED)
    report = audit(replace(season, shelters=shelters), conditions, plan)
    assert report.costs.rodents == pytest.approx(100 * 0.10 / 180 * 0.2 * left * 10)


def test_heavy_carries_and_carry_days() -> None:
    """From 23 kg a carry takes two people and costs 4 instead of 1: 51 lb is the most that one
    should lift (the US occupational-safety agency's page on the NIOSH equation, read)."""
    heavy = make_tree("ash", weight_kg=23.0)
    light = make_tree("birch", weight_kg=22.9)
    costs = audit(*good(heavy, light, make_tree("cedar"))).costs
    assert costs.carries == 2 * 4.0 + 4 * 1.0
    assert costs.carry_days == 2 * 5.0


def test_not_home() -> None:
    """A tree that is not at the summer place in the last spell costs the price set for it."""
    season, conditions, plan = good()
    away = make_plan({**plan.stays, "ash": (HOME, "shed/bench", "garden/far")}, HEATED)
    assert audit(season, conditions, away).costs.not_home == season.site.weights.not_home


def test_risk_of_a_tree_that_stands_still() -> None:
    """Value x 0.3 x exp(-m/2), by spell, at steady temperatures.

    In the cellar at 7 degC (3 in the colder winter): 17 K above -10, a drop of 4 K for 5 K of
    outdoor air, so m = 17 x 5/4 = 21.25 K; three spells.
    """
    season = make_season(make_tree("ash", stands_at="cellar/bench", value=1e6))
    plan = replace(make_plan({"ash": ("cellar/bench",) * 3}), carries=())
    costs = audit(season, make_conditions(), plan).costs
    assert costs.risk == pytest.approx(3 * 1e6 * 0.3 * math.exp(-21.25 / 2), rel=1e-9)


def test_roots_at_the_killing_temperature_risk_the_whole_tail() -> None:
    """Below the killing temperature the chance is no more than that of a colder winter."""
    season = make_season(
        make_tree("ash", stands_at="cellar/bench", root_kill_c=9.0, root_kill_unhardened_c=9.0)
    )
    plan = replace(make_plan({"ash": ("cellar/bench",) * 3}), carries=())
    assert audit(season, make_conditions(), plan).costs.risk == pytest.approx(3 * 100 * 0.3)


@pytest.mark.parametrize(
    "part", ["heat", "crowding", "rodents", "carries", "carry_days", "disturbance", "not_home"]
)
@pytest.mark.parametrize("wrong_by", [0.01, -0.01, math.nan])
def test_a_cent_wrong_is_found(part: str, wrong_by: float) -> None:
    """Every part but risk must agree; what is not a number never does."""
    season, conditions, plan = good()
    costs = replace(plan.costs, **{part: getattr(plan.costs, part) + wrong_by})
    found = audit(season, conditions, replace(plan, costs=costs)).findings
    assert [finding.rule for finding in found] == [Rule.COSTS]


def test_risk_may_differ_by_half_a_percent_of_all() -> None:
    """34.18 in all: a risk 0.170 away passes, 0.172 away does not, and the difference is told."""
    season, conditions, plan = good()
    true = audit(season, conditions, plan).costs
    for apart, passes in ((0.00499, True), (0.00501, False)):
        said = replace(plan.costs, risk=true.risk + apart * true.total)
        report = audit(season, conditions, replace(plan, costs=said))
        assert report.passed is passes
        assert report.risk_difference == pytest.approx(apart * true.total)


def start_in_the_frost(tree: Tree, **changes: object) -> Start:
    """The trees as they are on the eleventh day of the season."""
    season = make_season(tree)
    whole = start_of_season(season)
    here = replace(whole.trees[tree.id], **changes)
    return replace(whole, day=make_plan({}).spells[1].start, trees={tree.id: here})


def test_plan_made_in_midwinter() -> None:
    """A plan that begins in the frost: places, hardening, chilling and days left are the start's.

    Two spells are left. A carry to a place the old plan did not have costs 5 more. Outdoors at 6
    and in the shed at 5 degC every hour chills: 240 + 240 + 100 from before.
    """
    tree = make_tree("ash", chill_need=580.0, root_kill_unhardened_c=-3.0, root_kill_c=-12.0)
    season = make_season(tree)
    full = make_plan({"ash": ("garden/far", "shed/bench", HOME)}, HEATED)
    later = replace(
        full,
        spells=tuple(replace(s, index=s.index - 1) for s in full.spells[1:]),
        settings={"shed": HEATED[1:]},
        stays={"ash": full.stays["ash"][1:]},
        carries=full.carries[1:],
    )
    start = start_in_the_frost(
        tree, place="garden/far", hardening=0.5, chill=100.0, known_targets=frozenset({HOME})
    )
    report = audit(season, make_conditions(), later, replace(start, carry_days_left=2))
    assert {f.rule for f in report.findings} == {Rule.COSTS}  # costs were left at nought
    priced = replace(later, costs=report.costs)
    report = audit(season, make_conditions(), priced, replace(start, carry_days_left=2))
    assert report.passed
    assert report.costs.disturbance == 5.0
    assert report.costs.heat == pytest.approx(18.0)
    assert report.margins["ash"].chill_earned == 580.0
    few = audit(season, make_conditions(), priced, replace(start, carry_days_left=1))
    assert [f.rule for f in few.findings] == [Rule.CARRY_DAYS]
    whole = audit(season, make_conditions(), full, start)
    assert {f.rule for f in whole.findings} == {Rule.SPELLS}


def test_left_out_trees_cost_nothing_and_are_no_finding() -> None:
    """A tree that is left out is accounted for, and has no stays, carries or risk."""
    from overwinter.model.plan import LeftOut

    season, conditions, plan = good()
    others = {key: path for key, path in plan.stays.items() if key != "cedar"}
    less = replace(make_plan(others, HEATED), left_out=(LeftOut("cedar", ()),))
    report = audit(
        season,
        conditions,
        replace(less, costs=Costs(heat=18.0, carries=4.0, carry_days=10.0, risk=0.12)),
    )
    assert report.passed
    assert "cedar" not in report.margins
    both = replace(plan, left_out=(LeftOut("cedar", ()),))
    assert [f.rule for f in audit(season, conditions, both).findings] == [Rule.ACCOUNTED]


def test_site_money_is_named() -> None:
    """A wrong sum is told in the site's own currency."""
    season, conditions, plan = good(site=replace(SITE, currency="SEK"))
    found = audit(season, conditions, replace(plan, costs=Costs())).findings
    assert {finding.unit for finding in found} == {"SEK"}
    assert IN_SHED[0] == season.site.summer_place
