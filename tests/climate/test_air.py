"""Hourly air from daily values."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from overwinter.climate.air import hourly_from_daily
from overwinter.climate.series import by_day


def test_repeated_day_has_the_published_shape() -> None:
    """A day like its neighbours follows the ASHRAE range fractions."""
    # Fractions: ASHRAE 2009 ch. 14 table 6; Tmax -2, range 10: hours 1, 5, 12, 24 and the mean
    # computed by hand from the table.
    air = by_day(hourly_from_daily(np.full(3, -12.0), np.full(3, -2.0)))[1]
    np.testing.assert_allclose(air[[0, 4, 11, 23]], [-10.8, -12.0, -3.3, -10.2], atol=1e-12)
    assert air.mean() == pytest.approx(-7.3625)


@settings(max_examples=60)
@given(
    low=arrays(np.float64, 12, elements=st.floats(-40, 20)),
    spread=arrays(np.float64, 12, elements=st.floats(0, 25)),
)
def test_extremes_of_every_day_are_kept(low: np.ndarray, spread: np.ndarray) -> None:
    """Whatever the neighbours, each calendar day keeps its own minimum and maximum exactly."""
    # The property promised.
    air = hourly_from_daily(low, low + spread)
    assert np.array_equal(by_day(air).min(axis=-1), low)
    assert np.array_equal(by_day(air).max(axis=-1), low + spread)
    # Winters side by side are each as one alone.
    two = hourly_from_daily(np.stack((low, low - 1)), np.stack((low + spread, low + spread)))
    assert np.array_equal(two[0], air)


def test_impossible_days_are_refused() -> None:
    """A minimum above its maximum is an error that names the day."""
    # Real records hold such days: one has a minimum of -72.04 degF on a day of 91.94.
    with pytest.raises(ValueError, match="day 1"):
        hourly_from_daily(np.array([0.0, 5.0]), np.array([3.0, 4.0]))
