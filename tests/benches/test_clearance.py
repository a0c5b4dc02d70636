"""The clearance falls with crowding and leaves a bench at its comfortable share packable."""

import pytest
from bench_cases import make_place, make_tree

from overwinter.benches.layout import clearance_at, clearance_for
from overwinter.model.site import Weights

WEIGHTS = Weights(comfortable_share=0.7, fullest_share=0.9)


def test_full_up_to_comfortable_none_at_fullest() -> None:
    # Intent: the two ends and the middle of the line (definition in the module).
    assert clearance_for(0.3, WEIGHTS) == clearance_for(0.7, WEIGHTS) == 0.03
    assert clearance_for(0.8, WEIGHTS) == pytest.approx(0.015)
    assert clearance_for(0.9, WEIGHTS) == clearance_for(0.97, WEIGHTS) == 0.0


def test_never_more_for_a_fuller_place() -> None:
    # Intent: monotone, so that a set refused without clearance stays refused when trees are added.
    asked = [clearance_for(share / 100, WEIGHTS, 0.4) for share in range(101)]
    assert asked == sorted(asked, reverse=True)


def test_small_pots_ask_for_less() -> None:
    # Intent: 6 % of the side; boxes then take 0.7 x 1.06^2 = 0.79 of a comfortable bench.
    assert clearance_for(0.5, WEIGHTS, 0.25) == pytest.approx(0.015)
    trees = [make_tree(n, 0.2, 0.3) for n in range(4)]
    assert clearance_at(make_place(1.0, 1.0), trees, WEIGHTS) == pytest.approx(0.015)
    assert clearance_at(make_place(1.0, 1.0), [], WEIGHTS) == 0.0


def test_equal_shares_leave_no_division_by_zero() -> None:
    # Intent: a grower may set both shares equal.
    equal = Weights(comfortable_share=0.8, fullest_share=0.8)
    assert clearance_for(0.8, equal) == 0.03
    assert clearance_for(0.81, equal) == 0.0
