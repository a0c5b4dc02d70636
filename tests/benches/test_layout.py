"""Layouts are real: nothing overlaps, hangs over, stands too close or out of reach."""

from collections import Counter
from itertools import pairwise

import numpy as np
import pytest
from bench_cases import faults, make_place, make_tree, random_place, random_trees

from overwinter.benches import layout
from overwinter.benches.arrange import shade_m2
from overwinter.benches.bounds import Why
from overwinter.benches.layout import LaidOut, Memo, lay_out, lay_out_as_crowded
from overwinter.benches.region import PATH_M, REACH_M, UNITS_PER_M
from overwinter.model.shelter import PlaceKind, Side
from overwinter.model.site import Weights


def work(patch: pytest.MonkeyPatch, trees: int, exact: float, corner: int) -> None:
    """Other limits of work."""
    patch.setattr(layout, "EXACT_TREES", trees)
    patch.setattr(layout, "EXACT_WORK", exact)
    patch.setattr(layout, "CORNER_TREES", corner)


@pytest.mark.parametrize("hundred", range(10))
def test_thousand_random_benches_hold_every_rule(
    hundred: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Intent: 1,000 benches; whatever is laid out keeps to its bench, apart and within reach.
    work(monkeypatch, 14, 0.01, 300)
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
                result.layouts,
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
    again = lay_out(place, trees[::-1], clearance_m=0.01, memo=Memo())
    assert isinstance(once, LaidOut)
    assert isinstance(again, LaidOut)
    assert set(once.layouts) == set(again.layouts)
    assert [layout.tree_id for layout in once.layouts] == [tree.id for tree in trees]


def test_memo_changes_nothing_but_the_work() -> None:
    # Intent: a second set with the same footprints is found in the memo and still is laid out.
    place = make_place(3.0, 0.9)  # too full for rows
    trees = random_trees(3, place.area_m2, 0.94, sides_cm=(15, 50))
    memo = Memo()
    first = lay_out(place, trees, clearance_m=0.0, memo=memo)
    size = len(memo)
    assert size == 1
    assert lay_out(place, trees, clearance_m=0.0, memo=memo) == first
    assert len(memo) == size


def is_excluded(result: LaidOut | Why) -> bool:
    """Whether it is proven that no arrangement exists."""
    return isinstance(result, Why) and result is not Why.NOT_FOUND


def test_empty_place_is_laid_out() -> None:
    # Intent: no trees, no fuss.
    assert isinstance(lay_out(make_place(1, 1), [], clearance_m=0.0), LaidOut)


def test_headroom_and_load_are_hard() -> None:
    # Intent: a tree 1 cm too tall, or 1 kg too much on the bench, is refused, and why.
    place = make_place(2, 1, headroom_m=0.9, load_limit_kg=20)
    tall = lay_out(place, [make_tree(1, 0.3, 0.3, height_m=0.91)], clearance_m=0.0)
    assert tall is Why.TOO_TALL
    heavy = [make_tree(n, 0.3, 0.3, weight_kg=10.5) for n in range(2)]
    loaded = lay_out(place, heavy, clearance_m=0.0)
    assert loaded is Why.TOO_HEAVY
    lighter = [make_tree(n, 0.3, 0.3, height_m=0.9, weight_kg=10.0) for n in range(2)]
    assert isinstance(lay_out(place, lighter, clearance_m=0.0), LaidOut)


def test_a_small_pot_at_the_wall_side_is_out_of_reach() -> None:
    # Intent: on a deep bench the back strip stays empty rather than hold what no arm reaches.
    place = make_place(1.0, 1.5)
    trees = [make_tree(n, 0.3, 0.3) for n in range(6)]
    result = lay_out(place, trees, clearance_m=0.0)
    assert isinstance(result, LaidOut)
    assert max(it.y_m + it.depth_m / 2 for it in result.layouts) <= REACH_M + 1e-9
    # 3 rows of 3: middles at 0.15, 0.45 and 0.75 m; a tenth tree would be beyond reach
    ten = [make_tree(n, 0.3, 0.3) for n in range(10)]
    assert isinstance(lay_out(place, ten[:9], clearance_m=0.0), LaidOut)
    assert is_excluded(lay_out(place, ten, clearance_m=0.0))
    both = make_place(1.0, 1.5, open_sides=(Side.FRONT, Side.BACK))
    assert isinstance(lay_out(both, ten, clearance_m=0.0), LaidOut)


def test_a_path_is_left_on_ground_too_deep_to_reach_over() -> None:
    # Intent: a bed one can only enter from the front is filled along a path right through it.
    bed = make_place(2.0, 3.0, kind=PlaceKind.GROUND)
    trees = [make_tree(n, 0.4, 0.4) for n in range(20)]
    result = lay_out(bed, trees, clearance_m=0.02)
    assert isinstance(result, LaidOut)
    spans = sorted((it.x_m, it.x_m + it.width_m) for it in result.layouts)
    assert max(b[0] - a[1] for a, b in pairwise(spans)) >= PATH_M - 1e-9
    bench = make_place(2.0, 3.0, kind=PlaceKind.BENCH)
    assert is_excluded(lay_out(bench, trees, clearance_m=0.02))


@pytest.mark.parametrize("glass", list(Side))
def test_tall_trees_stand_behind_short_ones_seen_from_the_glass(glass: Side) -> None:
    # Intent: equal pots, so every order is possible: none is shaded, tallest far from it.
    place = make_place(1.6, 1.6, open_sides=tuple(Side), glass_side=glass)
    trees = [make_tree(n, 0.38, 0.38, height_m=0.3 + 0.05 * n) for n in range(16)]
    result = lay_out(place, trees, clearance_m=0.01)
    assert isinstance(result, LaidOut)
    assert result.shade_m2 == 0.0
    from_glass = {
        it.tree_id: {
            Side.FRONT: it.y_m,
            Side.BACK: 1.6 - it.y_m - it.depth_m,
            Side.LEFT: it.x_m,
            Side.RIGHT: 1.6 - it.x_m - it.width_m,
        }[glass]
        for it in result.layouts
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
    at = {it.tree_id: it.y_m for it in result.layouts}
    assert min(at["t1"], at["t4"]) > 0.38
    loads = [make_tree(n, 0.38, 0.38, weight_kg=30.0 if n in (0, 5) else 4.0) for n in range(6)]
    carried = lay_out(place, loads, clearance_m=0.01)
    assert isinstance(carried, LaidOut)
    at = {it.tree_id: it.y_m for it in carried.layouts}
    assert max(at["t0"], at["t5"]) < 0.1


def test_wishes_never_make_a_set_impossible() -> None:
    # Intent: one row only, tall beside short before the glass: shaded or not, it is laid out.
    place = make_place(0.3, 1.2, open_sides=(Side.LEFT,), glass_side=Side.FRONT)
    trees = [make_tree(0, 0.3, 0.8, height_m=1.4), make_tree(1, 0.3, 0.4, height_m=0.2)]
    assert isinstance(lay_out(place, trees, clearance_m=0.0), LaidOut)


def test_unknown_is_said_when_the_work_limit_ends_the_search(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    # Intent: neither found nor excluded is its own answer, not "impossible".
    place = make_place(2.0, 2.0, open_sides=tuple(Side))
    trees = random_trees(5, place.area_m2, 0.985, sides_cm=(11, 47))
    work(monkeypatch, 0, 0.0, 0)
    assert lay_out(place, trees, clearance_m=0.0) is Why.NOT_FOUND


def test_a_crowded_place_closes_up_before_it_is_refused() -> None:
    # Intent: the clearance asked for where it fits, less where it does not (and said), and a
    # refusal only where trees would have to overlap.
    weights = Weights()
    trees = [make_tree(n, 0.49, 0.49) for n in range(4)]
    open_bench = lay_out_as_crowded(make_place(3.0, 0.55), trees, weights)
    assert isinstance(open_bench, LaidOut)
    assert open_bench.clearance_m == pytest.approx(0.029)  # 6 % of 0.49 m, whole mm
    tight = lay_out_as_crowded(make_place(4 * 0.49 + 3 * 0.015, 0.8), trees, weights)
    assert isinstance(tight, LaidOut)
    assert tight.clearance_m == pytest.approx(0.015)
    shut = lay_out_as_crowded(make_place(4 * 0.49 - 0.01, 0.8), trees, weights)
    assert is_excluded(shut)


@pytest.mark.parametrize("seed", range(5))
def test_shade_is_summed_over_every_pair(seed: int) -> None:
    """Random slots, more than are looked at together; the reference asks each pair for itself."""
    random = np.random.default_rng(seed)
    slots = random.integers(1, 300, (150, 4))
    heights = random.choice([0.3, 0.5, 1.2, 1.8], 150)
    shade = 0.0
    for (x, y, width, depth), height in zip(slots.tolist(), heights.tolist(), strict=True):
        for (at, front, wide, _), other in zip(slots.tolist(), heights.tolist(), strict=True):
            if y + depth <= front and height > other:
                shade += max(min(x + width, at + wide) - max(x, at), 0) * (height - other)
    assert shade_m2(slots, heights) == pytest.approx(shade / UNITS_PER_M)
