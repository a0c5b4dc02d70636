"""Chilling, then warmth, then open buds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overwinter.plants.hardening import bud_break_share, waking_warmth, warmth_k_d

NEED, BREAK_K_D = np.float64(500.0), np.float64(140.0)
"""Invented: a spruce."""


def after(days: int, chilled: float, mean_c: float, need: np.float64 = NEED) -> float:
    return days * float(waking_warmth(np.float64(chilled), warmth_k_d(np.float64(mean_c)), need))


def test_warmth_is_counted_above_five_degrees() -> None:
    # The base of Cannell & Smith 1983 (abstract read) and of the best model for Norway spruce in
    # Sweden (Hannerz 1999, abstract read).
    np.testing.assert_allclose(warmth_k_d(np.array([-3.0, 5.0, 12.5])), [0.0, 0.0, 7.5])


def test_a_chilled_tree_wakes_by_warmth_alone() -> None:
    # 14 days at 15 degC are 140 K d.
    warmth = after(14, 500.0, 15.0)
    assert warmth == pytest.approx(140.0)
    for reached, share in ((1.0, 0.5), (0.8, 0.0), (1.2, 1.0), (3.0, 1.0), (0.0, 0.0)):
        assert bud_break_share(reached * warmth, BREAK_K_D) == pytest.approx(share)


def test_without_chilling_it_does_not_wake() -> None:
    # Obligate chilling of pines, true firs, larch (Harrington & Gould 2015, abstract read).
    assert after(60, 0.0, 20.0) == 0.0
    assert after(14, 250.0, 15.0) == pytest.approx(35.0)
    assert after(10, 0.0, 15.0, np.float64(0.0)) == pytest.approx(100.0)


@given(st.floats(0, 2000), st.floats(0, 20), st.floats(0, 9))
def test_more_of_either_never_wakes_later(chill: float, warm: float, more: float) -> None:
    base = waking_warmth(np.float64(chill), np.float64(warm), NEED)
    assert base >= 0.0
    for other in ((chill + more, warm), (chill, warm + more)):
        assert waking_warmth(*map(np.float64, other), NEED) >= base - 1e-9
