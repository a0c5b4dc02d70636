"""What would give a tree a place: one thing is in the way of an olive, and that is what is told.

Worked out by hand from tiny winters that no olive survives outdoors.
"""

from dataclasses import replace

import pytest
from random_winters import random_season

from overwinter.model.plan import Cure
from overwinter.model.season import Season
from overwinter.model.site import Household
from overwinter.model.tree import Condition, Tree
from overwinter.search.plan_winter import plan_winter

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
