"""Would an experienced grower sign the plan of the demo? Medians over its winters, zone 5b.

Every date and share here is common practice, no source.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from overwinter.audit.audit import audit
from overwinter.files.season import read_season
from overwinter.model.stage import HappeningKind, Sign
from overwinter.model.tree import Tree
from overwinter.search.plan_winter import Outcome, plan_stages, plan_winter
from overwinter.simulate.exposures import kind_of
from overwinter.simulate.harm_table import Follower

pytestmark = pytest.mark.slow

DEMO = Path(__file__).parents[2] / "scenarios" / "cottonwood-yard"
BED = "yard/bed"
HARDY_GROUPS = frozenset(
    {
        "deciduous-conifer",
        "fruit-tree",
        "hardy-broadleaf-evergreen",
        "hardy-conifer",
        "hardy-deciduous",
        "maple-like-deciduous",
    }
)
HALF_HARDY = frozenset({"ulmus-parvifolia", "acer-buergerianum", "punica-granatum"})
STOUT = frozenset({"larix-decidua", "pinus-mugo", "pinus-sylvestris", "picea-abies"})


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    """The demo, planned once."""
    return plan_winter(read_season(DEMO))


def trees_of(outcome: Outcome, which: Callable[[str, str], bool]) -> list[Tree]:
    """Trees there all winter, free to stand anywhere, picked by key and group of their kind."""
    species = outcome.season.species
    return [
        tree
        for tree in outcome.season.trees
        if tree.joins is None
        and not tree.pinned
        and which(tree.species_key, species[tree.species_key].group)
    ]


def hardy(key: str, group: str) -> bool:
    """Hardy kinds, but for those that are treated as half-hardy."""
    return group in HARDY_GROUPS and key not in HALF_HARDY


def tropical(key: str, group: str) -> bool:
    """Kinds that never freeze at home."""
    return group.startswith("tropical")


def median_date(outcome: Outcome, trees: list[Tree], stage_of: Callable[[Tree], int]) -> date:
    """Median over trees and winters of the first day of a stage of each tree."""
    first_day = outcome.stage_days.first_day
    days = np.concatenate([first_day[stage_of(tree)] for tree in trees])
    return outcome.season.date_of(round(float(np.median(days))))


def leaves(outcome: Outcome) -> Callable[[Tree], int]:
    """Stage in which a tree leaves its summer stand."""
    home = outcome.season.site.summer_place
    stays = outcome.plan.stays
    return lambda tree: next(k for k, p in enumerate(stays[tree.id]) if p != home)


def returns(outcome: Outcome) -> Callable[[Tree], int]:
    """Stage in which it is back there for good."""
    home = outcome.season.site.summer_place
    stays = outcome.plan.stays

    def stage(tree: Tree) -> int:
        path = stays[tree.id]
        return max(k for k, p in enumerate(path) if p != home) + 1

    return stage


def deep(outcome: Outcome) -> int:
    """The last stage before the first sign of spring."""
    return next(s.index for s in outcome.plan.stages if s.sign is Sign.MILD_WEEK) - 1


def test_the_plan_is_sound_and_leaves_no_tree_out(outcome: Outcome) -> None:
    assert outcome.report.passed
    assert outcome.plan.left_out == ()
    home = outcome.season.site.summer_place
    # not being home has a price (docs/files.md): one tree that the last nights would chill pays it
    away = [name for name, path in outcome.plan.stays.items() if path[-1] != home]
    assert len(away) <= 1, away


def test_it_is_sound_when_its_folder_is_read_again_in_any_order(outcome: Outcome) -> None:
    for trees in (outcome.season.trees, outcome.season.trees[::-1]):
        season = replace(outcome.season, trees=trees)
        days = plan_stages(season, outcome.conditions)
        assert audit(season, outcome.conditions, days, outcome.plan).findings == ()


def test_tropical_trees_go_in_from_mid_september(outcome: Outcome) -> None:
    went = median_date(outcome, trees_of(outcome, tropical), leaves(outcome))
    assert date(2026, 9, 10) <= went <= date(2026, 10, 10)


def test_tropical_trees_come_to_little_harm(outcome: Outcome) -> None:
    for tree in trees_of(outcome, tropical):
        assert outcome.report.risks[tree.id].chance < 0.04


def test_nothing_is_carried_in_the_dead_of_winter(outcome: Outcome) -> None:
    excused = {
        stage.index
        for stage in outcome.plan.stages
        for happening in stage.happenings
        if happening.kind is not HappeningKind.QUARANTINE_ENDS
    }
    idle = [c for c in outcome.plan.carries if c.stage not in excused]
    assert [carry for carry in idle if carry.day.month in (1, 2)] == []


def test_a_heater_is_set_at_most_three_times(outcome: Outcome) -> None:
    for settings in outcome.plan.settings.values():
        steps = zip(settings[1:], settings[:-1], strict=True)
        assert sum(now != before for now, before in steps) <= 3


def test_no_shelter_is_heated_for_nobody(outcome: Outcome) -> None:
    plan, places = outcome.plan, outcome.season.places
    for shelter_id, settings in plan.settings.items():
        stood = {p for path in plan.stays.values() for p in path if p is not None}
        if shelter_id not in {places[p].shelter_id for p in stood}:
            assert all(setting.is_off for setting in settings)


def test_a_third_of_the_hardy_trees_winter_without_heat(outcome: Outcome) -> None:
    plan, k = outcome.plan, deep(outcome)
    trees = trees_of(outcome, hardy)
    where = [outcome.season.places[str(plan.stays[tree.id][k])].shelter_id for tree in trees]
    cold = [shelter_id for shelter_id in where if plan.settings[shelter_id][k].is_off]
    assert len(cold) >= len(trees) / 3


def test_half_hardy_trees_do_not_winter_in_the_warm_room(outcome: Outcome) -> None:
    plan, k = outcome.plan, deep(outcome)
    for tree in trees_of(outcome, lambda key, _: key in HALF_HARDY):
        shelter_id = outcome.season.places[str(plan.stays[tree.id][k])].shelter_id
        assert (plan.settings[shelter_id][k].hold_c or 0.0) < 10.0


def test_trees_are_carried_in_and_out_and_little_more(outcome: Outcome) -> None:
    carried = [
        sum(c.tree_id == tree_id and c.source is not None for c in outcome.plan.carries)
        for tree_id in outcome.plan.stays
    ]
    assert np.mean(carried) <= 3.0
    assert max(carried) <= outcome.season.site.weights.most_carries


def test_stout_conifers_come_through_in_the_bed(outcome: Outcome) -> None:
    """At home, then sunk in the bed from the hard frosts to the first mild week, and home again."""
    season, days = outcome.season, outcome.stage_days
    follower = Follower(season, outcome.conditions)
    index = follower.exposures.index
    stages = days.stages
    frost = next(s.index for s in stages if s.threshold_c is not None and s.threshold_c <= -4.0)
    spring = deep(outcome) + 1
    trees = trees_of(outcome, lambda key, _: key in STOUT)
    assert {tree.species_key for tree in trees} == STOUT
    kinds = [follower.kind_index[kind_of(tree)] for tree in trees]
    home, bed = index[season.site.summer_place, 0], index[BED, 0]
    path = [bed if frost <= k < spring else home for k in range(len(stages))]
    hazards, _, _ = follower.along(kinds, np.array([path] * len(trees)), days, np.ones(len(trees)))
    chance = (1.0 - np.exp(-hazards[:, :, frost:spring].sum(axis=(2, 3)))).mean(axis=1)
    assert dict(zip((t.name for t in trees), chance, strict=True)) == {
        tree.name: pytest.approx(0.0, abs=0.02) for tree in trees
    }
