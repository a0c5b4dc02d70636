"""Whole trees by the integer program: rounded, asked to its end, and among trees that stand."""

from collections import Counter
from collections.abc import Sequence

import numpy as np
import pytest
from random_winters import random_problem, random_settings

from overwinter.search.fitting import Fitting
from overwinter.search.heating import warmest
from overwinter.search.mending import mend
from overwinter.search.placement import Placement
from overwinter.search.problem import Problem
from overwinter.search.program import build
from overwinter.search.whole_trees import Whole, _shared_out, place_in_parts, under

SEEDS = (1, 2, 3, 4)


def rounded(problem: Problem, settings: dict[str, tuple[int, ...]]) -> Placement:
    """Every tree placed by rounding the relaxation down and solving the rest."""
    placement = Placement(problem, settings)
    assert under(placement, range(len(problem.groups))).round(placement, lambda: 20.0)
    return placement


def keeps_its_rooms(placement: Placement) -> bool:
    """Whether no place holds more than it may and nobody carries more than the household can."""
    first = placement.problem.first
    return bool(
        (placement.used_m2[first:] <= placement.room[first:] + 1e-6).all()
        and (placement.used_kg[first:] <= placement.load + 1e-6).all()
        and (placement.carried_min <= placement.problem.hands_min + 1e-6).all()
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_rounding_is_nearly_as_good_as_asking_to_the_end(seed: int) -> None:
    problem = random_problem(seed)
    settings = random_settings(problem, np.random.default_rng(seed))
    placement = rounded(problem, settings)
    whole = under(Placement(problem, settings), range(len(problem.groups)))
    best, bound = whole.solve(0.0, 20.0)
    assert best is not None
    assert bound == pytest.approx(best.money(), rel=1e-6)
    assert keeps_its_rooms(placement)
    assert best.money() <= placement.money() + 1e-6
    assert placement.money() <= best.money() * 1.05


@pytest.mark.parametrize("seed", SEEDS)
def test_with_all_programmes_open_none_is_better(seed: int) -> None:
    """Asked to its end, bound and answer meet but for settings counted as alike."""
    problem = random_problem(seed)
    best, bound = Whole(build(problem)).solve(0.0, 20.0)
    assert best is not None
    assert bound is not None
    assert bound <= best.money() + 1e-6
    assert best.money() <= bound * 1.02 + 1.0
    assert best.money() <= rounded(problem, warmest(problem)).money() * 1.02 + 1e-6


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("parts", [1, 3])
def test_parts_of_a_collection_share_its_rooms(seed: int, parts: int) -> None:
    problem = random_problem(seed)
    every = range(len(problem.groups))
    shares: list[Sequence[int]] = [every[first::parts] for first in range(parts)]
    placement = Placement(problem, warmest(problem))
    place_in_parts(placement, shares, lambda: 20.0)
    assert keeps_its_rooms(placement)
    whole = rounded(problem, warmest(problem))
    assert len(placement.out) <= len(whole.out) + 1


@pytest.mark.parametrize("left_s", [20.0, 0.0])
def test_what_does_not_fit_is_placed_again(left_s: float) -> None:
    for seed in SEEDS:
        placement = rounded(random_problem(seed), warmest(random_problem(seed)))
        fitting = Fitting(placement.problem)
        placement = mend(placement, fitting, lambda: left_s).placement
        layouts, _ = fitting.lay_out(placement)
        for tree, path in enumerate(placement.paths):
            g, i = placement.trees[tree]
            tree_id = placement.problem.groups[g].tree_ids[i]
            for k, place in enumerate(() if path is None else path.tolist()):
                place_id = placement.places[place]
                if place_id in layouts:
                    drawn = [layout.tree_id for layout in layouts[place_id][k]]
                    assert tree_id in drawn


def test_no_time_is_no_plan_but_trees_go_one_by_one() -> None:
    problem = random_problem(2)
    placement = Placement(problem, warmest(problem))
    place_in_parts(placement, [range(len(problem.groups))], lambda: 0.0)
    assert keeps_its_rooms(placement)
    assert len(placement.out) < len(placement.trees)


def test_alike_trees_share_the_carries() -> None:
    """Four alike: one goes back and forth in the counts, no tree has to do all of it."""
    problem = random_problem(2)
    placement = Placement(problem, warmest(problem))
    a, b = 0, 1
    paths = [np.array([a, b, a, b, a, b]), *(np.full(6, a) for _ in range(3))]
    before = [Counter(int(path[k]) for path in paths) for k in range(6)]
    shared = _shared_out(placement, paths, 1)
    assert [Counter(int(path[k]) for path in shared) for k in range(6)] == before
    assert max(placement.moves(path).size for path in shared) == 2
    assert sum(placement.moves(path).size for path in shared) == 5
