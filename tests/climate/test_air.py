"""Hourly air from daily values and from normals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from overwinter.climate.air import (
    MONTH_DAYS,
    Normals,
    daily_from_normals,
    hourly_from_daily,
    hourly_from_normals,
    month_of_day,
    sun_from_normals,
)
from overwinter.climate.degree_hours import degree_hours_below
from overwinter.climate.series import by_day, daily_max, daily_min, daily_sum
from overwinter.climate.sun import clear_sky_mj_m2_d, extraterrestrial_mj_m2_d

NORMALS = Normals(
    mean_min_c=np.array([-9.0, -8, -3, 3, 9, 14, 17, 16, 11, 5, -1, -6]),
    mean_max_c=np.array([-1.0, 1, 7, 14, 21, 26, 28, 27, 22, 15, 7, 1]),
    design_min_c=-24.0,
)


def test_repeated_day_has_the_published_shape() -> None:
    """A day like its neighbours follows the ASHRAE range fractions."""
    # Fractions: ASHRAE 2009 ch. 14 table 6; Tmax -2, range 10: hours 1, 5, 12, 24 and sums computed
    # by hand from the table.
    air = by_day(hourly_from_daily(np.full(3, -12.0), np.full(3, -2.0)))[1]
    np.testing.assert_allclose(air[[0, 4, 11, 23]], [-10.8, -12.0, -3.3, -10.2], atol=1e-12)
    assert air.mean() == pytest.approx(-7.3625)
    assert float(degree_hours_below(air, -8.0)) == pytest.approx(30.1)
    assert float(degree_hours_below(air, 0.0)) == pytest.approx(176.7)


@settings(max_examples=60, deadline=None)
@given(
    low=arrays(np.float64, 12, elements=st.floats(-40, 20)),
    spread=arrays(np.float64, 12, elements=st.floats(0, 25)),
)
def test_extremes_of_every_day_are_kept(low: np.ndarray, spread: np.ndarray) -> None:
    """Whatever the neighbours, each calendar day keeps its own minimum and maximum exactly."""
    # The property promised.
    air = hourly_from_daily(low, low + spread)
    assert np.array_equal(daily_min(air), low)
    assert np.array_equal(daily_max(air), low + spread)


def test_impossible_days_are_refused() -> None:
    """A minimum above its maximum is an error that names the day."""
    # Real records hold such days: one has a minimum of -72.04 degF on a day of 91.94.
    with pytest.raises(ValueError, match="day 1"):
        hourly_from_daily(np.array([0.0, 5.0]), np.array([3.0, 4.0]))


@pytest.mark.parametrize("seed", range(8))
def test_normals_are_kept_and_design_touched_once(seed: int) -> None:
    """Every month keeps its mean minimum and maximum; one night only touches the design minimum."""
    # The property promised.
    low, high = daily_from_normals(NORMALS, seed)
    month = month_of_day()
    for m in range(12):
        assert low[month == m].mean() == pytest.approx(NORMALS.mean_min_c[m], abs=1e-9)
        assert high[month == m].mean() == pytest.approx(NORMALS.mean_max_c[m], abs=1e-9)
    assert (low == NORMALS.design_min_c).sum() == 1
    assert month[np.argmin(low)] == 0
    assert low.min() == NORMALS.design_min_c
    assert np.all(high > low)
    hourly = hourly_from_normals(NORMALS, seed)
    assert np.array_equal(daily_min(hourly), low)
    assert hourly.shape == (24 * MONTH_DAYS.sum(),)


def test_same_seed_same_winter() -> None:
    """The series is reproducible from its seed and changes with it."""
    # Determinism.
    one, again = hourly_from_normals(NORMALS, 7), hourly_from_normals(NORMALS, 7)
    assert np.array_equal(one, again)
    assert not np.array_equal(one, hourly_from_normals(NORMALS, 8))


def test_winter_runs_on_over_new_year() -> None:
    """No seam at New Year: the step from 31 December is like any other day's."""
    # Over 40 seeds the mean step of daily minima there stays near that of other winter days.
    seam, usual = [], []
    for seed in range(40):
        low, _ = daily_from_normals(NORMALS, seed)
        seam.append(abs(low[0] - low[-1]))
        usual.append(np.abs(np.diff(low[:28])).mean())
    assert np.mean(seam) < 1.5 * np.mean(usual)


def test_southern_hemisphere_normals() -> None:
    """The coldest month may be July."""
    # Same promise with the year turned round.
    turned = Normals(np.roll(NORMALS.mean_min_c, 6), np.roll(NORMALS.mean_max_c, 6), -20.0)
    low, _ = daily_from_normals(turned, 3)
    assert month_of_day()[np.argmin(low)] == 6
    assert low.min() == -20.0


def test_normals_that_cannot_be_are_refused() -> None:
    """A design minimum above the coldest mean, or crossed normals, are errors."""
    # Stated limits.
    with pytest.raises(ValueError, match="design minimum"):
        daily_from_normals(Normals(NORMALS.mean_min_c, NORMALS.mean_max_c, -8.0), 1)
    with pytest.raises(ValueError, match="month 1"):
        daily_from_normals(Normals(NORMALS.mean_max_c, NORMALS.mean_min_c, -30.0), 1)


def test_sun_of_normals() -> None:
    """Monthly sun is kept where given, and no day is brighter than a clear one."""
    # Conservation; ceiling FAO-56 eq. 37. Chicago's monthly means in winter.
    monthly = np.array([6.35, 8.98, 12.38, 16, 19, 21, 21, 18, 14, 10, 6.55, 5.41])
    with_sun = Normals(NORMALS.mean_min_c, NORMALS.mean_max_c, -24.0, monthly)
    daily = daily_sum(sun_from_normals(with_sun, 5, 42.0, -88.0, -6.0)) * 0.0036
    month = month_of_day()
    means = [daily[month == m].mean() for m in range(12)]
    np.testing.assert_allclose(means, monthly, rtol=1e-6)
    cap = clear_sky_mj_m2_d(extraterrestrial_mj_m2_d(42.0, np.arange(1.0, 366.0)), 0.0)
    assert np.all(daily <= cap * (1 + 1e-9))
    guessed = daily_sum(sun_from_normals(NORMALS, 5, 42.0, -88.0, -6.0)) * 0.0036
    # Hargreaves from normals alone lands within a third of Chicago's measured-type December.
    assert guessed[month == 11].mean() == pytest.approx(5.41, rel=0.33)
