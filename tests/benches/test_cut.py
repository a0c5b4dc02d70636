"""A cut names trees that really do not fit together, and no more of them than needed."""

from dataclasses import replace
from itertools import combinations

import pytest
from bench_cases import make_place, make_tree, random_trees

from overwinter.benches.cut import at_least_as_large, minimal_misfit
from overwinter.benches.layout import lay_out
from overwinter.benches.results import Impossible, LaidOut, Why


def test_no_misfit_where_all_fit() -> None:
    # Intent: nothing to cut off.
    trees = [make_tree(n, 0.3, 0.3) for n in range(3)]
    assert minimal_misfit(make_place(1.0, 0.5), trees) is None


def test_the_large_ones_are_the_misfit_not_the_small_ones() -> None:
    # Intent: three 60 cm pots fill a bench for two; six small pots beside them are not to blame.
    large = [make_tree(n, 0.6, 0.6) for n in range(3)]
    small = [make_tree(10 + n, 0.1, 0.1) for n in range(6)]
    misfit = minimal_misfit(make_place(1.5, 1.1), [*small, *large])
    assert misfit is not None
    assert misfit.proven
    assert set(misfit.tree_ids) == {"t0", "t1", "t2"}


@pytest.mark.parametrize("seed", range(12))
def test_a_misfit_is_minimal(seed: int) -> None:
    # Intent: it does not fit, and without any one of its trees it is no longer excluded.
    place = make_place(1.4, 0.8)
    trees = random_trees(seed, place.area_m2, 1.25, sides_cm=(25, 60))
    misfit = minimal_misfit(place, trees)
    assert misfit is not None
    kept = [tree for tree in trees if tree.id in misfit.tree_ids]
    whole = lay_out(place, kept, clearance_m=0.0)
    assert not isinstance(whole, LaidOut)
    assert misfit.proven == isinstance(whole, Impossible)
    for fewer in combinations(kept, len(kept) - 1):
        rest = lay_out(place, fewer, clearance_m=0.0)
        assert not isinstance(rest, Impossible) if misfit.proven else isinstance(rest, LaidOut)


def test_trees_at_least_as_large_share_the_cut() -> None:
    # Intent: any of them in exchange for one of the misfit does not fit either.
    place = make_place(1.5, 1.1)
    misfit = [make_tree(n, 0.6, 0.56) for n in range(3)]
    others = [make_tree(10, 0.56, 0.7), make_tree(11, 0.6, 0.55), make_tree(12, 0.9, 0.6)]
    ids = ("t0", "t1", "t2")
    assert at_least_as_large(misfit, others, Why.SIDE_BY_SIDE) == (*ids, "t10", "t12")
    light = replace(others[0], weight_kg=0.1)  # without a reason given, weight counts as well
    assert at_least_as_large(misfit, [*misfit, light, others[2]]) == (*ids, "t12")
    assert isinstance(lay_out(place, misfit, clearance_m=0.0), Impossible)
    for larger in (others[0], others[2]):
        assert isinstance(lay_out(place, [*misfit[:2], larger], clearance_m=0.0), Impossible)


def test_weight_and_height_have_their_own_measure() -> None:
    # Intent: a cut for the load speaks for heavier trees, one for the headroom for taller ones.
    place = make_place(2.0, 1.0, load_limit_kg=30.0, headroom_m=1.0)
    heavy = [make_tree(n, 0.2, 0.2, weight_kg=16.0) for n in range(2)]
    light = make_tree(5, 0.5, 0.5, weight_kg=1.0)
    misfit = minimal_misfit(place, [*heavy, light])
    assert misfit is not None
    assert (misfit.why, set(misfit.tree_ids)) == (Why.TOO_HEAVY, {"t0", "t1"})
    heavier = make_tree(6, 0.1, 0.1, weight_kg=20.0)
    assert at_least_as_large(heavy, [light, heavier], misfit.why) == ("t0", "t1", "t6")
    tall = make_tree(7, 0.2, 0.2, height_m=1.2)
    high = minimal_misfit(place, [light, tall])
    assert high is not None
    assert (high.why, high.tree_ids) == (Why.TOO_TALL, ("t7",))
    taller = make_tree(8, 0.1, 0.1, height_m=1.3)
    assert at_least_as_large([tall], [taller, light], high.why) == ("t7", "t8")
