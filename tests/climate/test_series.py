"""Series and dates."""

from datetime import date

import numpy as np

from overwinter.climate.series import by_day, days_of_year, shift_years


def test_reductions() -> None:
    """Days are reduced along the last axis, whatever stands before it."""
    # By hand.
    hourly = np.stack([np.arange(48.0), -np.arange(48.0)])
    np.testing.assert_array_equal(by_day(hourly).min(axis=-1), [[0, 24], [-23, -47]])
    np.testing.assert_array_equal(by_day(hourly).max(axis=-1), [[23, 47], [0, -24]])
    np.testing.assert_array_equal(by_day(hourly).mean(axis=-1), [[11.5, 35.5], [-11.5, -35.5]])


def test_years_are_shifted_over_leap_days() -> None:
    """29 February of a common year is the 28th."""
    # Calendar.
    assert shift_years(date(2028, 2, 29), -1) == date(2027, 2, 28)
    assert shift_years(date(2026, 10, 1), -28) == date(1998, 10, 1)


def test_days_of_year_cross_new_year() -> None:
    """Days of the year start again on 1 January."""
    # Calendar.
    np.testing.assert_array_equal(days_of_year(date(2026, 12, 31), 2), [365, 1])
