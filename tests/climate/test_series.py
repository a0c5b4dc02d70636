"""Series: gaps and dates."""

from datetime import date, timedelta

import numpy as np
import pytest

from overwinter.climate.series import (
    by_day,
    daily_max,
    daily_mean,
    daily_min,
    days_of_year,
    fill_short_gaps,
    missing_runs,
    source_days,
    take_days,
)


def _days(first: date, count: int) -> list[date]:
    return [first + timedelta(days=i) for i in range(count)]


def test_reductions() -> None:
    """Days are reduced along the last axis, whatever stands before it."""
    # By hand.
    hourly = np.stack([np.arange(48.0), -np.arange(48.0)])
    np.testing.assert_array_equal(daily_min(hourly), [[0, 24], [-23, -47]])
    np.testing.assert_array_equal(daily_max(hourly), [[23, 47], [0, -24]])
    np.testing.assert_array_equal(daily_mean(hourly), [[11.5, 35.5], [-11.5, -35.5]])
    with pytest.raises(ValueError, match="whole days"):
        by_day(np.zeros(25))


def test_short_gaps_are_filled_and_counted() -> None:
    """Up to six missing hours are bridged by a straight line; ends take the nearest value."""
    # By hand.
    nan = np.nan
    filled, count = fill_short_gaps(np.array([nan, 0.0, nan, nan, 6.0, nan]))
    np.testing.assert_allclose(filled, [0, 0, 2, 4, 6, 6])
    assert count == 4
    assert missing_runs(np.array([nan, 0.0, nan, nan])) == ((0, 1), (2, 2))


def test_long_gaps_are_refused() -> None:
    """Seven missing hours are an error that says where."""
    # Stated limit: six.
    values = np.zeros(30)
    values[10:17] = np.nan
    with pytest.raises(ValueError, match="7 values missing from index 10"):
        fill_short_gaps(values)
    with pytest.raises(ValueError, match="every value"):
        fill_short_gaps(np.full(3, np.nan))


def test_own_dates_come_first_then_the_latest_whole_winter() -> None:
    """A record that holds the season is used as it is; else its latest whole winter."""
    # By hand.
    record = _days(date(2014, 1, 1), 365 * 5)
    starts, ends = date(2015, 10, 1), date(2016, 5, 15)
    own = source_days(record, starts, ends)
    assert record[own[0]] == starts
    assert record[own[-1]] == ends
    later = source_days(record, date(2030, 10, 1), date(2031, 5, 15))
    assert record[later[0]] == date(2017, 10, 1)
    assert record[later[-1]] == date(2018, 5, 15)


def test_typical_year_wraps_by_month_and_day() -> None:
    """A typical year (one calendar year) serves a winter over New Year, leap day included."""
    # By hand: 29 February of 2028 takes the 28th.
    record = _days(date(2005, 1, 1), 365)
    order = source_days(record, date(2027, 12, 30), date(2028, 3, 1))
    taken = [record[i] for i in order]
    assert taken[:3] == [date(2005, 12, 30), date(2005, 12, 31), date(2005, 1, 1)]
    assert taken[-3:] == [date(2005, 2, 28), date(2005, 2, 28), date(2005, 3, 1)]
    hourly = np.repeat(np.arange(365.0), 24)
    assert take_days(hourly, order)[0] == 363
    assert take_days(hourly, order).shape == (24 * len(order),)


def test_missing_season_is_named() -> None:
    """A record without March cannot serve March."""
    # By hand.
    with pytest.raises(ValueError, match="01 March"):
        source_days(_days(date(2005, 1, 1), 59), date(2026, 2, 1), date(2026, 3, 5))


def test_days_of_year_cross_new_year() -> None:
    """Days of the year start again on 1 January."""
    # Calendar.
    np.testing.assert_array_equal(days_of_year(date(2026, 12, 31), 2), [365, 1])
