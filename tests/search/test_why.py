"""What would give a tree a place: one thing is in the way of an olive, and that is what is told.

Worked out by hand from tiny winters that no olive survives outdoors.
"""

from dataclasses import replace

import numpy as np
import pytest
from random_winters import random_problem, random_season

from overwinter.model.plan import Cure
from overwinter.model.season import Season
from overwinter.model.site import Household
from overwinter.model.tree import Condition, Tree
from overwinter.rules.carrying import HANDS
from overwinter.rules.figures import CHANCE
from overwinter.rules.places import LOAD
from overwinter.search.placement import Placement
from overwinter.search.plan_winter import plan_winter
from overwinter.search.why import _main_place, lack, left_out_trees

SHELTERS = frozenset({"shed", "barn"})


def one_olive(**changes: object) -> Season:
    """One olive that is changed so, and nothing else."""
    season = random_season(1)
    olive = next(tree for tree in season.trees if "olea" in tree.species_key)
    trees: tuple[Tree, ...] = (replace(olive, **{"value": 600.0, **changes}),)
    return replace(season, trees=trees)


def cure(season: Season) -> Cure | None:
    """What would help it; None: it has a place."""
    left = plan_winter(season).plan.left_out
    return left[0].cure if left else None


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({}, None),
        ({"width_m": 9.0}, Cure.SIZE),
        ({"height_m": 9.0}, Cure.SIZE),
        ({"forbidden": SHELTERS}, Cure.GROWER),
    ],
)
def test_of_the_tree(changes: dict[str, object], expected: Cure | None) -> None:
    assert cure(one_olive(**changes)) is expected


def test_of_hands() -> None:
    season = one_olive()
    idle = replace(season.site, household=Household(hours_a_day=0.0))
    assert cure(replace(season, site=idle)) is Cure.CARRIES


def test_of_room() -> None:
    """Room for one olive on each of two benches, and there are three."""
    season = one_olive(condition=Condition.ORDINARY)
    garden, *shelters = season.shelters
    small = [
        replace(s, places=tuple(replace(p, width_m=0.6, depth_m=0.5) for p in s.places))
        for s in shelters
    ]
    trees = tuple(replace(season.trees[0], id=str(n), name=str(n)) for n in range(3))
    full = replace(season, shelters=(garden, *small), trees=trees)
    assert {left.cure for left in plan_winter(full).plan.left_out} == {Cure.ROOM}


@pytest.mark.parametrize("seed", range(5))
def test_hands_are_no_reason_where_they_are_enough(seed: int) -> None:
    """All heaters off, every tree out, and any number of hands: a tree without a way lacks
    something else at every place."""
    problem = random_problem(seed)
    off = {shelter.id: (0,) * problem.stages for shelter in problem.season.shelters}
    placement = Placement(problem, off)
    placement.carried_min[:] = -np.inf
    lost = {g.tree_ids for n, g in enumerate(problem.groups) if placement.best_path(n) is None}
    for left in left_out_trees(placement):
        if any(left.tree_id in ids for ids in lost):
            assert HANDS.lacks not in {lack.reason for lack in left.lacks}


def test_what_is_learned_of_true_paths_and_loads_is_told_as_such() -> None:
    """A place that hurt the tree is not one in quarantine; one that is loaded is not full."""
    problem = random_problem(1)
    off = {shelter.id: (0,) * problem.stages for shelter in problem.season.shelters}
    placement = Placement(problem, off)
    first = problem.first
    place = next(
        p for p in placement.places if lack(placement, 0, p, range(first, first + 1)) is None
    )
    at, stages = placement.at[place], range(first, first + 1)
    placement.barred[0, first, at] = True
    found = lack(placement, 0, place, stages)
    assert found is not None
    assert found[1].reason == CHANCE.lacks
    placement.used_kg[first, at] = placement.load[at] = 1.0
    found = lack(placement, 0, place, stages)
    assert found is not None
    assert (found[1].reason, found[1].unit) == (LOAD.lacks, "kg")


def test_a_cure_names_the_place_that_is_wanted_not_the_summer_stand() -> None:
    """However short the stay is there."""
    problem = random_problem(1)
    off = {shelter.id: (0,) * problem.stages for shelter in problem.season.shelters}
    placement = Placement(problem, off)
    home = placement.at[problem.home(0)]
    other = next(at for at in range(len(placement.places)) if at != home)
    path = np.full(problem.stages, home)
    path[problem.first] = other
    assert _main_place(placement, 0, path) == placement.places[other]
