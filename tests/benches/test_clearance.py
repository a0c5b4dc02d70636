"""The clearance asked for goes by the size of the trees."""

import pytest
from bench_cases import make_tree

from overwinter.benches.layout import clearance_at


def test_small_pots_ask_for_less() -> None:
    # Intent: 6 % of the side, at most 3 cm; boxes then take 0.7 x 1.06^2 = 0.79 of a bench that is
    # filled comfortably.
    assert clearance_at([make_tree(n, 0.2, 0.3) for n in range(4)]) == pytest.approx(0.015)
    assert clearance_at([make_tree(n, 0.6, 0.6) for n in range(4)]) == 0.03
    assert clearance_at([]) == 0.0
