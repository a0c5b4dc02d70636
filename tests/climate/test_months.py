"""A smooth year from monthly means."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from overwinter.climate.series import (
    MID_MONTH_DAYS,
    MONTH_OF_DAY,
    day_of_common_year,
    mean_by_month,
    smooth_year,
    with_missing_months,
)


@given(arrays(np.float64, 12, elements=st.floats(-40, 40)))
def test_a_smooth_year_keeps_every_months_mean(monthly: np.ndarray) -> None:
    """Whatever the months, their means come back."""
    # The property promised.
    assert mean_by_month(smooth_year(monthly), MONTH_OF_DAY) == pytest.approx(monthly, abs=1e-6)


def test_lines_through_the_means_would_not() -> None:
    """Chicago's January would be a third of a kelvin too warm: the reason for the system solved."""
    # Mean temperatures of the Chicago O'Hare TMY3 (references, section 8, A).
    chicago = np.array(
        [-4.65, -2.52, 3.82, 9.95, 15.31, 21.11, 24.13, 21.77, 18.13, 10.98, 4.73, -3.69]
    )
    lines = np.interp(np.arange(1.0, 366), MID_MONTH_DAYS, chicago, period=365.0)
    assert mean_by_month(lines, MONTH_OF_DAY)[0] - chicago[0] > 0.3


def test_missing_months_follow_the_yearly_wave() -> None:
    """Summer months that a record lacks are told from the others."""
    # Round trip of a wave; Clemson's normals (see drawn.py) within 2.5 K.
    wave = 8 - 13 * np.cos(2 * np.pi / 365 * (MID_MONTH_DAYS - 20))
    some = wave.copy()
    some[5:9] = np.nan
    assert with_missing_months(some) == pytest.approx(wave)
    clemson = np.array([0.01, 1.03, 4.4, 8.88, 13.59, 18.03, 19.97, 19.6, 16.39, 9.68, 4.25, 0.88])
    some = clemson.copy()
    some[5:9] = np.nan
    assert with_missing_months(some) == pytest.approx(clemson, abs=2.5)
    with pytest.raises(ValueError, match="5 months"):
        with_missing_months(np.array([1.0] * 5 + [np.nan] * 7))


def test_days_of_a_common_year() -> None:
    """29 February counts as the 28th."""
    # Calendar.
    assert day_of_common_year(date(2027, 1, 1)) == 0
    assert day_of_common_year(date(2027, 12, 31)) == 364
    assert day_of_common_year(date(2028, 2, 29)) == day_of_common_year(date(2028, 2, 28)) == 58
    assert day_of_common_year(date(2028, 3, 1)) == 59
