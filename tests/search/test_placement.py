"""A tree's cheapest path beside all paths there are, and the book-keeping of whole placements."""

from collections.abc import Mapping
from itertools import product

import numpy as np
import pytest
from random_winters import random_problem, random_settings

from overwinter.model.shelter import PlaceKind
from overwinter.search.heating import suited, thrifty, within_breakers
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import Problem
from overwinter.search.reckoning import reckon
from overwinter.search.whole_trees import place_in_parts

SEEDS = range(5)


@pytest.fixture(scope="module", params=SEEDS)
def problem(request: pytest.FixtureRequest) -> Problem:
    """One of a few random winters."""
    return random_problem(request.param)


def random_placement(problem: Problem, seed: int) -> Placement:
    """Heaters set anyhow, about half of the trees placed."""
    rng = np.random.default_rng(seed)
    placement = Placement(problem, random_settings(problem, rng))
    for tree in rng.permutation(len(placement.trees)):
        if rng.random() < 0.5:
            placement.insert(int(tree))
    return placement


def money_of(placement: Placement, g: int, path: tuple[int, ...]) -> float:
    """What a path costs one more tree, from the definitions; infinite where it may not go."""
    problem, tree = placement.problem, placement.problem.groups[g].tree
    weights = problem.season.site.weights
    heavy = tree.weight_kg >= weights.two_person_kg
    total, earned = 0.0, 0.0
    for k, place in enumerate(path):
        one = problem.season.places[placement.places[place]]
        earned += float(placement.chill[g, k, place])
        if k < problem.first:
            continue
        used = float(placement.used_m2[k, place])
        if used + tree.footprint_m2 > placement.room[k, place] + 1e-9:
            return np.inf
        if placement.used_kg[k, place] + tree.weight_kg > one.load_limit_kg + 1e-9:
            return np.inf
        total += float(placement.cost[g, k, place])
        if one.shelter_id != "garden":
            limit = weights.comfortable_share * one.area_m2
            more = max(0.0, used + tree.footprint_m2 - limit) - max(0.0, used - limit)
            total += weights.crowding_per_m2_day * float(problem.days[k]) * more
        if path[k - 1] != place:
            house = problem.season.site.household
            work = 2.0 if one.kind is PlaceKind.SUNK else 1.0  # no tree's home here is sunk
            needed = placement.carried_min[k] + work * house.minutes(heavy)
            if needed > problem.hands_min[k] + 1e-6:
                return np.inf
            total += work * (weights.two_person_carry if heavy else weights.carry)
    short = max(0.0, problem.groups[g].owed - earned) if placement.chill[g].any() else 0.0
    return total + weights.caution * tree.value * 0.5 * short


def cheapest(placement: Placement, g: int) -> float:
    """Least money over every path."""
    free = placement.problem.stages - placement.problem.first
    start = placement.at[placement.problem.season.site.summer_place]
    fixed = (start,) * placement.problem.first
    places = range(len(placement.places))
    return min(money_of(placement, g, fixed + rest) for rest in product(places, repeat=free))


@pytest.mark.parametrize("full", [False, True])
def test_best_path_beside_every_path(problem: Problem, full: bool) -> None:
    placement = random_placement(problem, problem.season.trees[0].row + 3)
    # Without chilling the costs of a path add up, and the shortest path is the least of all.
    placement.chill = np.zeros_like(placement.chill)
    if full:
        placement.carried_min[problem.first + 1] = problem.hands_min[problem.first + 1]
    for g in range(len(problem.groups)):
        found, least = placement.best_path(g), cheapest(placement, g)
        if found is None:
            assert least == np.inf
        else:
            assert found[0] == pytest.approx(least)
            assert money_of(placement, g, tuple(found[1].tolist())) == pytest.approx(least)


def test_a_path_that_owes_chilling_is_priced_as_it_is(problem: Problem) -> None:
    # One of two paths is taken then, so the least may be missed, but its money is never told wrong.
    placement = random_placement(problem, 5)
    for g in range(len(problem.groups)):
        found = placement.best_path(g)
        if found is not None:
            assert found[0] == pytest.approx(money_of(placement, g, tuple(found[1].tolist())))
            assert found[0] >= cheapest(placement, g) - 1e-6


def test_the_books_are_those_of_the_paths(problem: Problem) -> None:
    placement = Placement(problem, random_settings(problem, np.random.default_rng(6)))
    place_in_parts(placement, (), lambda: 0.0)
    area, load = np.zeros_like(placement.used_m2), np.zeros_like(placement.used_kg)
    carried = np.zeros_like(placement.carried_min)
    for (g, _), path in zip(placement.trees, placement.paths, strict=True):
        for k, place in enumerate(() if path is None else path.tolist()):
            area[k, place] += problem.groups[g].tree.footprint_m2
            load[k, place] += problem.groups[g].tree.weight_kg
            if k > 0 and path[k - 1] != place:
                carried[k] += problem.season.carry_minutes(
                    problem.groups[g].tree, placement.places[place]
                )
    assert placement.used_m2 == pytest.approx(area)
    assert placement.used_kg == pytest.approx(load)
    assert placement.carried_min == pytest.approx(carried)
    assert (area[problem.first :] <= placement.room[problem.first :] + 1e-6).all()
    assert (load[problem.first :] <= placement.load + 1e-6).all()


def test_nothing_is_heated_for_nobody(problem: Problem) -> None:
    rng = np.random.default_rng(11)
    for _ in range(5):
        placement = Placement(problem, random_settings(problem, rng))
        place_in_parts(placement, (), lambda: 0.0)
        paths = [None if path is None else path.copy() for path in placement.paths]
        option, before = placement.option.copy(), reckon(placement).costs
        settings = thrifty(placement)
        placement.run(settings)
        after = reckon(placement).costs
        assert problem.heat_money(settings) <= before.heat + 1e-9
        assert after.total - after.heat == pytest.approx(before.total - before.heat)
        for path, old in zip(paths, placement.paths, strict=True):
            if path is not None:
                assert (path == old).all()
                stage = np.flatnonzero(path != NOWHERE)
                met, meets = option[stage, path[stage]], placement.option[stage, path[stage]]
                assert (met == meets).all()
    # With nobody in it a shed is off all winter.
    empty = Placement(problem, random_settings(problem, rng))
    assert {s for way in thrifty(empty).values() for s in way} == {0}


def test_heaters_suit_the_trees_where_they_stand(problem: Problem) -> None:
    """No other programme of any one shelter costs less, by trying them all."""
    rng = np.random.default_rng(5)
    for _ in range(3):
        placement = Placement(problem, random_settings(problem, rng))
        place_in_parts(placement, (), lambda: 0.0)

        def money(settings: Mapping[str, tuple[int, ...]], known: Placement = placement) -> float:
            other = Placement(problem, settings)
            for tree, path in enumerate(known.paths):
                other.put(tree, path)
            return other.money()

        found = suited(placement)
        assert within_breakers(problem, found)
        assert money(found) <= placement.money() + 1e-9
        for shelter_id, ways in problem.programmes.items():
            for way in ways:
                tried = {**found, shelter_id: way.settings}
                if within_breakers(problem, tried):
                    assert money(found) <= money(tried) + 1e-9
