"""The exact search finds what exists and excludes what does not."""

import random
from dataclasses import replace
from itertools import permutations, product

import numpy as np
import pytest
from bench_cases import make_place, make_tree, random_place, random_trees

from overwinter.benches.exact import Exact, packed_exactly
from overwinter.benches.heuristics import packed_in_corners, packed_in_rows
from overwinter.benches.layout import LaidOut, lay_out
from overwinter.benches.region import Block, Edge, Pots, Region, frame_of, pots_of, regions

# Smallest rectangles that hold the squares of sides 1 to n: OEIS A038666 (least areas) and A081287
# (their sides; from R. E. Korf, "Optimal Rectangle Packing: New Results", ICAPS 2004).
BEST_RECTANGLES = {
    4: (5, 7),
    5: (5, 12),
    6: (9, 11),
    7: (11, 14),
    8: (14, 15),
    9: (15, 20),
    10: (15, 27),
    11: (19, 27),
}


def open_region(width: int, depth: int, clearance: int = 0) -> Region:
    return Region(width, depth, clearance, (Block(0, 0, width, depth),), (), (Edge(1, 0),), None)


def pots(sizes: list[tuple[int, int]]) -> Pots:
    count = len(sizes)
    return Pots(
        np.array(sizes, dtype=np.int64).reshape(count, 2), *(np.ones(count) for _ in range(3))
    )


def squares(n: int) -> Pots:
    return pots([(side, side) for side in range(n, 0, -1)])


@pytest.mark.parametrize("n", BEST_RECTANGLES)
def test_squares_fit_the_smallest_rectangle_known(n: int) -> None:
    # Intent: published optimal packings are found. Source: see BEST_RECTANGLES.
    region = open_region(*BEST_RECTANGLES[n])
    slots = packed_exactly(region, squares(n), work=2.0)
    assert not isinstance(slots, Exact)
    low, high = slots[:, :2], slots[:, :2] + slots[:, 2:]
    meet = (low[:, None] < high[None]).all(axis=2) & (low[None] < high[:, None]).all(axis=2)
    assert meet.sum() == n  # each with itself alone
    assert (slots[:, :2] >= 0).all()
    assert (slots[:, :2] + slots[:, 2:] <= BEST_RECTANGLES[n]).all()


@pytest.mark.parametrize("n", [4, 5, 6, 7, 8])
def test_squares_fit_no_smaller_rectangle(n: int) -> None:
    # Intent: every rectangle of less area is excluded, as published. Source: OEIS A038666.
    least = int(np.prod(BEST_RECTANGLES[n]))
    squares_area = n * (n + 1) * (2 * n + 1) // 6
    smaller = {
        (width, area // width)
        for area in range(squares_area, least)
        for width in range(n, int(area**0.5) + 1)
        if area % width == 0
    }
    for width, depth in sorted(smaller):
        assert packed_exactly(open_region(width, depth), squares(n), 2.0) is Exact.NONE_EXISTS


def fits_by_brute_force(region: Region, sizes: list[tuple[int, int]]) -> bool:
    """Every place on the unit grid, every way round, tree after tree."""
    placed: list[tuple[int, int, int, int]] = []
    gap = region.clearance

    def reached(x: int, y: int, width: int, depth: int) -> bool:
        if region.reach is None:
            return True
        middle = (2 * x + width, 2 * y + depth)
        return any(
            abs(middle[edge.axis] - 2 * edge.at) <= 2 * region.reach for edge in region.edges
        )

    def place_next(i: int) -> bool:
        if i == len(sizes):
            return True
        for width, depth in {sizes[i], sizes[i][::-1]}:
            for x, y in product(range(region.width - width + 1), range(region.depth - depth + 1)):
                clear = all(
                    x >= ox + ow + gap
                    or ox >= x + width + gap
                    or y >= oy + od + gap
                    or oy >= y + depth + gap
                    for ox, oy, ow, od in placed
                )
                if clear and reached(x, y, width, depth):
                    placed.append((x, y, width, depth))
                    if place_next(i + 1):
                        return True
                    placed.pop()
        return False

    return place_next(0)


def tiny_region(chance: random.Random) -> Region:
    width, depth = chance.randint(5, 8), chance.randint(4, 7)
    ends = [Edge(1, 0), Edge(1, depth), Edge(0, 0), Edge(0, width)]
    edges = tuple(chance.sample(ends, chance.choice([1, 1, 2, 3])))
    reach = chance.choice([None, 2, 3])
    clearance = chance.choice([0, 0, 1])
    return Region(width, depth, clearance, (Block(0, 0, width, depth),), (), edges, reach)


@pytest.mark.parametrize("seed", range(60))
def test_exact_agrees_with_brute_force(seed: int) -> None:
    # Intent: on tiny benches, with every kind of reach, the answer is that of trying everything.
    chance = random.Random(seed)
    region = tiny_region(chance)
    count = chance.randint(2, 4)
    sizes = [(chance.randint(1, 4), chance.randint(1, 4)) for _ in range(count)]
    sizes.sort(key=lambda size: -size[0] * size[1])
    found = packed_exactly(region, pots(sizes), work=2.0)
    assert found is not Exact.STOPPED
    assert (found is not Exact.NONE_EXISTS) == fits_by_brute_force(region, sizes)


@pytest.mark.parametrize("seed", range(25))
def test_coarse_grid_loses_nothing(seed: int) -> None:
    # Intent: even sides are packed on the even grid only; trying every odd spot finds no more.
    chance = random.Random(1000 + seed)
    region = tiny_region(chance)
    sizes = [(2 * chance.randint(1, 2), 2 * chance.randint(1, 2)) for _ in range(3)]
    region = replace(region, clearance=2 * region.clearance)
    found = packed_exactly(region, pots(sizes), work=2.0)
    assert found is not Exact.STOPPED
    assert (found is not Exact.NONE_EXISTS) == fits_by_brute_force(region, sizes)


def test_what_a_heuristic_fits_the_exact_search_calls_possible() -> None:
    # Intent: no heuristic arrangement contradicts the exact search.
    compared = 0
    for seed in range(40):
        place = random_place(seed)
        trees = random_trees(seed, place.area_m2, 0.6, sides_cm=(20, 45))[:9]
        region = regions(place, clearance_m=0.01)[0]
        load = pots_of(trees, sideways=frame_of(place).sideways)
        by_hand = next(packed_in_rows(region, load), None)
        if by_hand is None:
            by_hand = next(packed_in_corners(region, load, 2), None)
        if by_hand is not None:
            compared += 1
            assert packed_exactly(region, load, 0.2) is not Exact.NONE_EXISTS
    assert compared > 20


def test_exact_search_repeats_itself() -> None:
    # Intent: the same question twice, also in another order of the program: the same slots.
    region = open_region(3000, 900)
    trees = random_trees(11, 2.7, 0.93, sides_cm=(15, 50))
    load = pots_of(trees, sideways=False)
    load = Pots(load.sizes // 10, load.height_m, load.light, load.lifted_kg)
    first, second = (packed_exactly(region, load, 0.2) for _ in range(2))
    assert not isinstance(first, Exact)
    assert not isinstance(second, Exact)
    assert (first == second).all()


def test_clearance_decides_exactly() -> None:
    # Intent: three pots of 30 cm with 3 cm between need 96 cm, not a millimetre less.
    trees = [make_tree(n, 0.3, 0.3) for n in range(3)]
    assert isinstance(lay_out(make_place(0.96, 0.3), trees, clearance_m=0.03), LaidOut)
    assert not isinstance(lay_out(make_place(0.959, 0.3), trees, clearance_m=0.03), LaidOut)


def test_every_order_of_like_trees_is_one_case() -> None:
    # Intent: symmetry breaking must not exclude the only arrangement, whichever order it is in.
    sizes = [(4, 2), (2, 4), (2, 2), (2, 2)]
    for order in permutations(sizes):
        assert not isinstance(packed_exactly(open_region(6, 4), pots(list(order)), 1.0), Exact)
