"""Layouts are real: nothing overlaps, hangs over, stands too close or out of reach."""

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
from bench_cases import drawn, faults, make_place, make_tree, random_place, random_trees

from overwinter.benches.arrange import shading_m
from overwinter.benches.layout import LaidOut, lay_out, lay_out_as_crowded
from overwinter.benches.region import PATH_M, REACH_M, UNITS_PER_M
from overwinter.model.shelter import PlaceKind, Side


@pytest.mark.parametrize("hundred", range(10))
def test_thousand_random_benches_hold_every_rule(hundred: int) -> None:
    # Intent: 1,000 benches; whatever is laid out keeps to its bench, apart and within reach.
    came = Counter()
    for seed in range(100 * hundred, 100 * hundred + 100):
        place = random_place(seed)
        fill = 0.25 + 0.006 * (seed % 100)
        kinds = 3 if seed % 3 == 0 else None
        trees = random_trees(seed, place.area_m2, fill, sides_cm=(10, 45), kinds=kinds)
        clearance_m = (seed % 4) * 0.01
        result = lay_out(place, trees, clearance_m=clearance_m)
        came[type(result)] += 1
        if isinstance(result, LaidOut):
            assert not faults(
                place,
                trees,
                drawn(place, trees, result),
                clearance_m=clearance_m,
                reach_m=REACH_M,
                path_m=PATH_M,
            ), f"bench {seed}"
    assert came[LaidOut] >= 50  # the rules were really put to the test


def test_same_trees_in_another_order_stand_in_the_same_spots() -> None:
    # Intent: deterministic, and the order of the list means nothing.
    place = make_place(3.0, 0.9)
    trees = random_trees(7, place.area_m2, 0.75, sides_cm=(15, 50))
    once = lay_out(place, trees, clearance_m=0.01)
    again = lay_out(place, trees[::-1], clearance_m=0.01)
    assert isinstance(once, LaidOut)
    assert isinstance(again, LaidOut)
    assert (once.slots == again.slots[::-1]).all()


def test_empty_place_is_laid_out() -> None:
    # Intent: no trees, no fuss.
    assert isinstance(lay_out(make_place(1, 1), [], clearance_m=0.0), LaidOut)


def test_a_tree_is_turned_where_it_must_be() -> None:
    tree = [make_tree(1, 0.6, 1.1)]
    assert lay_out(make_place(1.0, 0.5), tree, clearance_m=0.0) is None
    assert isinstance(lay_out(make_place(1.2, 0.6), tree, clearance_m=0.0), LaidOut)


def test_what_no_arm_reaches_is_not_laid_out() -> None:
    # Intent: the middle is too far from the front, or there is no side to reach from at all.
    assert lay_out(make_place(2.0, 2.0), [make_tree(1, 1.6, 1.7)], clearance_m=0.0) is None
    shut = make_place(1, 1, open_sides=())
    assert lay_out(shut, [make_tree(1, 0.3, 0.3)], clearance_m=0.0) is None


def test_pots_keep_their_clearance_or_are_not_laid_out() -> None:
    # Intent: 3 pots of 0.6 x 0.6 m on 1.3 x 1.1 m: 76 % of the area, but only two side by side; 16
    # pots of 24 cm, 4 cm apart: (0.28 m)^2 x 16 = 1.254 m2 > (1.04 m)^2 = 1.082 m2.
    large = [make_tree(n, 0.6, 0.6) for n in range(3)]
    assert lay_out(make_place(1.3, 1.1), large, clearance_m=0.0) is None
    small = [make_tree(n, 0.24, 0.24) for n in range(16)]
    square = make_place(1.0, 1.0, open_sides=tuple(Side))
    assert lay_out(square, small, clearance_m=0.04) is None
    assert isinstance(lay_out(square, small, clearance_m=0.01), LaidOut)


def test_a_small_pot_at_the_wall_side_is_out_of_reach() -> None:
    # Intent: on a deep bench the back strip stays empty rather than hold what no arm reaches.
    place = make_place(1.0, 1.5)
    trees = [make_tree(n, 0.3, 0.3) for n in range(6)]
    result = lay_out(place, trees, clearance_m=0.0)
    assert isinstance(result, LaidOut)
    assert max(it.y_m + it.depth_m / 2 for it in drawn(place, trees, result)) <= REACH_M + 1e-9
    # 3 rows of 3: middles at 0.15, 0.45 and 0.75 m; a tenth tree would be beyond reach
    ten = [make_tree(n, 0.3, 0.3) for n in range(10)]
    assert isinstance(lay_out(place, ten[:9], clearance_m=0.0), LaidOut)
    assert lay_out(place, ten, clearance_m=0.0) is None
    both = make_place(1.0, 1.5, open_sides=(Side.FRONT, Side.BACK))
    assert isinstance(lay_out(both, ten, clearance_m=0.0), LaidOut)


def test_a_path_is_left_on_ground_too_deep_to_reach_over() -> None:
    # Intent: a bed one can only enter from the front is filled along a path right through it.
    bed = make_place(2.0, 3.0, kind=PlaceKind.GROUND)
    trees = [make_tree(n, 0.4, 0.4) for n in range(20)]
    result = lay_out(bed, trees, clearance_m=0.02)
    assert isinstance(result, LaidOut)
    spans = sorted((it.x_m, it.x_m + it.width_m) for it in drawn(bed, trees, result))
    assert max(b[0] - a[1] for a, b in pairwise(spans)) >= PATH_M - 1e-9
    bench = make_place(2.0, 3.0, kind=PlaceKind.BENCH)
    assert lay_out(bench, trees, clearance_m=0.02) is None


@pytest.mark.parametrize("glass", list(Side))
def test_tall_trees_stand_behind_short_ones_seen_from_the_glass(glass: Side) -> None:
    # Intent: equal pots, so every order is possible: none is shaded, tallest far from it.
    place = make_place(1.6, 1.6, open_sides=tuple(Side), glass_side=glass)
    trees = [make_tree(n, 0.38, 0.38, height_m=0.3 + 0.05 * n) for n in range(16)]
    result = lay_out(place, trees, clearance_m=0.01)
    assert isinstance(result, LaidOut)
    height_m = np.array([tree.height_m for tree in trees])
    assert not shading_m(result.slots)[height_m[:, None] > height_m].any()
    from_glass = {
        it.tree_id: {
            Side.FRONT: it.y_m,
            Side.BACK: 1.6 - it.y_m - it.depth_m,
            Side.LEFT: it.x_m,
            Side.RIGHT: 1.6 - it.x_m - it.width_m,
        }[glass]
        for it in drawn(place, trees, result)
    }
    assert max(from_glass[f"t{n}"] for n in range(4)) < min(
        from_glass[f"t{n}"] for n in range(12, 16)
    )


def test_light_hungry_to_the_glass_and_heavy_to_the_hand() -> None:
    # Intent: of equal trees, the light-hungry take the glass side, the heavy the front.
    place = make_place(1.2, 0.8, glass_side=Side.BACK)
    hungry = [make_tree(n, 0.38, 0.38, light=6.0 if n in (1, 4) else 0.0) for n in range(6)]
    result = lay_out(place, hungry, clearance_m=0.01)
    assert isinstance(result, LaidOut)
    at = {it.tree_id: it.y_m for it in drawn(place, hungry, result)}
    assert min(at["t1"], at["t4"]) > 0.38
    loads = [make_tree(n, 0.38, 0.38, weight_kg=30.0 if n in (0, 5) else 4.0) for n in range(6)]
    carried = lay_out(place, loads, clearance_m=0.01)
    assert isinstance(carried, LaidOut)
    at = {it.tree_id: it.y_m for it in drawn(place, loads, carried)}
    assert max(at["t0"], at["t5"]) < 0.1


def test_wishes_never_make_a_set_impossible() -> None:
    # Intent: one row only, tall beside short before the glass: shaded or not, it is laid out.
    place = make_place(0.3, 1.2, open_sides=(Side.LEFT,), glass_side=Side.FRONT)
    trees = [make_tree(0, 0.3, 0.8, height_m=1.4), make_tree(1, 0.3, 0.4, height_m=0.2)]
    assert isinstance(lay_out(place, trees, clearance_m=0.0), LaidOut)


def test_a_crowded_place_closes_up_before_it_is_refused() -> None:
    # Intent: the clearance asked for where it fits, none where it does not (and said), and a
    # refusal only where trees would have to overlap.
    trees = [make_tree(n, 0.49, 0.49) for n in range(4)]
    open_bench = lay_out_as_crowded(make_place(3.0, 0.55), trees)
    assert isinstance(open_bench, LaidOut)
    assert open_bench.clearance_m == pytest.approx(0.029)  # 6 % of 0.49 m, whole mm
    tight = lay_out_as_crowded(make_place(4 * 0.49 + 3 * 0.015, 0.8), trees)
    assert isinstance(tight, LaidOut)
    assert tight.clearance_m == 0.0
    shut = lay_out_as_crowded(make_place(4 * 0.49 - 0.01, 0.8), trees)
    assert shut is None


@pytest.mark.parametrize("seed", range(5))
def test_shade_is_that_of_every_pair(seed: int) -> None:
    """Random slots; the reference asks each pair for itself."""
    slots = np.random.default_rng(seed).integers(1, 300, (40, 4))
    found = shading_m(slots) * UNITS_PER_M
    for i, (x, y, width, depth) in enumerate(slots.tolist()):
        for j, (at, front, wide, _) in enumerate(slots.tolist()):
            over = max(min(x + width, at + wide) - max(x, at), 0) if y + depth <= front else 0
            assert found[i, j] == pytest.approx(over)
