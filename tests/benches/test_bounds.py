"""Proofs without a search never exclude what can be laid out."""

import random

from bench_cases import make_place, make_tree, random_place, random_trees

from overwinter.benches import bounds
from overwinter.benches.bounds import Why
from overwinter.benches.exact import Exact, packed_exactly
from overwinter.benches.layout import LaidOut, lay_out
from overwinter.benches.region import frame_of, pots_of, regions


def test_bounds_exclude_only_what_the_exact_search_excludes() -> None:
    # Intent: area and side-by-side proofs are proofs; checked on tight benches of few trees.
    excluded = 0
    for seed in range(80):
        chance = random.Random(seed)
        place = random_place(seed)
        trees = random_trees(seed, place.area_m2, 1.15, sides_cm=(20, 60))[: chance.randint(2, 7)]
        if not trees:
            continue
        way = regions(place, clearance_m=0.02)[0]
        pots = pots_of(trees, sideways=frame_of(place).sideways)
        for proof in (bounds.area, bounds.side_by_side):
            if proof(way, pots):
                excluded += 1
                assert packed_exactly(way, pots, 0.5) is Exact.NONE_EXISTS
    assert excluded >= 10  # 14 when written


def test_three_large_pots_are_excluded_without_a_search() -> None:
    # Intent: 3 pots of 0.6 x 0.6 m on 1.3 x 1.1 m: 76 % of the area, but only two side by side.
    trees = [make_tree(n, 0.6, 0.6) for n in range(3)]
    result = lay_out(make_place(1.3, 1.1), trees, clearance_m=0.0)
    assert result is Why.SIDE_BY_SIDE


def test_area_counts_the_clearance() -> None:
    # Intent: 16 pots of 24 cm, 4 cm apart: (0.28 m)^2 x 16 = 1.254 m2 > (1.04 m)^2 = 1.082 m2.
    trees = [make_tree(n, 0.24, 0.24) for n in range(16)]
    result = lay_out(make_place(1.0, 1.0), trees, clearance_m=0.04)
    assert result is Why.AREA


def test_a_tree_too_large_or_beyond_reach_is_told_apart() -> None:
    # Intent: reasons are told apart, turning is tried first.
    large = lay_out(make_place(1.0, 0.5), [make_tree(1, 0.6, 1.1)], clearance_m=0.0)
    assert large is Why.TOO_LARGE
    turned = lay_out(make_place(1.2, 0.6), [make_tree(1, 0.6, 1.1)], clearance_m=0.0)
    assert isinstance(turned, LaidOut)
    far = lay_out(make_place(2.0, 2.0), [make_tree(1, 1.6, 1.7)], clearance_m=0.0)
    assert far is Why.OUT_OF_REACH


def test_a_place_without_an_open_side_holds_nothing() -> None:
    # Intent: nobody can set a tree down where no arm comes.
    result = lay_out(make_place(1, 1, open_sides=()), [make_tree(1, 0.3, 0.3)], clearance_m=0.0)
    assert result is Why.OUT_OF_REACH
