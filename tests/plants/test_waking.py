"""Chilling, then warmth, then open buds."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overwinter.plants.hardening import WakingLimits, bud_break_share, waking_step, warmth_k_d

SPRUCE = WakingLimits(np.float64(500.0), np.float64(140.0))
NO_REST = WakingLimits(np.float64(0.0), np.float64(100.0))


def after(days: int, chill_a_day: float, mean_c: float, limits: WakingLimits, chilled: float = 0.0):
    chill, warmth = np.float64(chilled), np.float64(0.0)
    for _ in range(days):
        chill, warmth = waking_step(
            chill, warmth, chill_a_day, warmth_k_d(np.float64(mean_c)), limits
        )
    return chill, warmth


def test_warmth_is_counted_above_five_degrees() -> None:
    # The base of Cannell & Smith 1983 (abstract read) and of the best model for Norway spruce in
    # Sweden (Hannerz 1999, abstract read).
    np.testing.assert_allclose(warmth_k_d(np.array([-3.0, 5.0, 12.5])), [0.0, 0.0, 7.5])


def test_a_chilled_tree_wakes_by_warmth_alone() -> None:
    # 14 days at 15 degC are 140 K d.
    _, warmth = after(14, 0.0, 15.0, SPRUCE, chilled=500.0)
    assert warmth == pytest.approx(140.0)
    assert bud_break_share(warmth, SPRUCE) == pytest.approx(0.5)
    assert bud_break_share(np.float64(0.8 * 140), SPRUCE) == pytest.approx(0.0)
    assert bud_break_share(np.float64(1.2 * 140), SPRUCE) == pytest.approx(1.0)
    assert bud_break_share(np.float64(3.0 * 140), SPRUCE) == 1.0
    assert bud_break_share(np.float64(0.0), SPRUCE) == 0.0


def test_without_chilling_it_does_not_wake() -> None:
    # Obligate chilling of pines, true firs, larch (Harrington & Gould 2015, abstract read).
    assert after(60, 0.0, 20.0, SPRUCE)[1] == 0.0
    half = after(14, 0.0, 15.0, SPRUCE, chilled=250.0)[1]
    assert half == pytest.approx(35.0)
    assert after(10, 0.0, 15.0, NO_REST)[1] == pytest.approx(100.0)


def test_warm_hours_take_no_chilling_away() -> None:
    assert after(5, -24.0, 20.0, SPRUCE, chilled=100.0)[0] == 100.0


@given(st.floats(0, 2000), st.floats(0, 300), st.floats(-24, 24), st.floats(0, 20), st.floats(0, 9))
def test_more_of_either_never_wakes_later(
    chill: float, warmth: float, today: float, warm: float, more: float
) -> None:
    base = waking_step(np.float64(chill), np.float64(warmth), today, warm, SPRUCE)
    for other in (
        waking_step(np.float64(chill + more), np.float64(warmth), today, warm, SPRUCE),
        waking_step(np.float64(chill), np.float64(warmth), today, warm + more, SPRUCE),
        waking_step(np.float64(chill), np.float64(warmth + more), today, warm, SPRUCE),
    ):
        assert other[0] >= base[0] - 1e-9
        assert other[1] >= base[1] - 1e-9
        assert bud_break_share(other[1], SPRUCE) >= bud_break_share(base[1], SPRUCE) - 1e-9
    assert base[0] >= chill
    assert base[1] >= warmth
