"""Hourly and daily series: reductions, short gaps, and a weather year laid onto a season's dates.

Time is the last axis. A day has 24 hours of local standard time.
"""

from collections.abc import Sequence
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.units import HOURS_PER_DAY

LONGEST_GAP_H = 6
"""A straight line over more hours than this would invent a day's shape."""


def by_day(hourly: FloatArray) -> FloatArray:
    """View ``(..., hour)`` as ``(..., day, 24)``.

    Raises ValueError when the hours are not whole days.
    """
    if hourly.shape[-1] % HOURS_PER_DAY:
        raise ValueError(f"{hourly.shape[-1]} hours are not whole days")
    return hourly.reshape(*hourly.shape[:-1], -1, HOURS_PER_DAY)


def daily_min(hourly: FloatArray) -> FloatArray:
    """Least value of each day, ``(..., hour) -> (..., day)``."""
    return np.asarray(by_day(hourly).min(axis=-1))


def daily_max(hourly: FloatArray) -> FloatArray:
    """Largest value of each day, ``(..., hour) -> (..., day)``."""
    return np.asarray(by_day(hourly).max(axis=-1))


def daily_mean(hourly: FloatArray) -> FloatArray:
    """Mean of each day, ``(..., hour) -> (..., day)``."""
    return np.asarray(by_day(hourly).mean(axis=-1))


def daily_sum(hourly: FloatArray) -> FloatArray:
    """Sum of each day, ``(..., hour) -> (..., day)``."""
    return np.asarray(by_day(hourly).sum(axis=-1))


def days_of_year(starts: date, days: int) -> FloatArray:
    """Day of the year (1 to 366) of ``days`` dates from ``starts``, shape ``(day,)``."""
    return np.array(
        [(starts + timedelta(days=i)).timetuple().tm_yday for i in range(days)], dtype=np.float64
    )


def missing_runs(values: FloatArray) -> tuple[tuple[int, int], ...]:
    """Runs of missing (nan) values of a 1-D series: (first index, length) each, in order."""
    missing = np.concatenate(([False], np.isnan(values), [False]))
    edges = np.flatnonzero(np.diff(missing.astype(np.int8)))
    return tuple((int(a), int(b - a)) for a, b in zip(edges[::2], edges[1::2], strict=True))


def fill_short_gaps(values: FloatArray, longest: int = LONGEST_GAP_H) -> tuple[FloatArray, int]:
    """Fill runs of up to ``longest`` missing (nan) values with a straight line.

    Parameters
    ----------
    values : array (n,)
        Any unit; missing values are nan.
    longest : int
        Longest run that is filled.

    Returns
    -------
    filled : array (n,), int
        The series without gaps and how many values were filled. A gap at an end takes the
        nearest value.

    Raises
    ------
    ValueError
        When a run is longer, or all is missing; names the first such run (index and length).
    """
    runs = missing_runs(values)
    for first, length in runs:
        if length > longest:
            raise ValueError(f"{length} values missing from index {first}; at most {longest}")
    count = sum(length for _, length in runs)
    if count == 0:
        return values, 0
    if count == values.size:
        raise ValueError("every value is missing")
    known = ~np.isnan(values)
    index = np.arange(values.size)
    return np.interp(index, index[known], values[known]), count


def shift_years(day: date, years: int) -> date:
    """The same month and day ``years`` later; 29 February falls on the 28th of a common year."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)


def source_days(available: Sequence[date], starts: date, ends: date) -> NDArray[np.intp]:
    """Which day of a weather record stands for each day of a season.

    First choice: the season's own dates; then the latest whole winter in the record, shifted by
    whole years; last, month by month whatever year holds the day (typical years are patched so).
    A leap day missing from the record takes 28 February.

    Parameters
    ----------
    available : sequence of date
        Dates of the record's days, any order.
    starts, ends : date
        First and last day of the season.

    Returns
    -------
    array (day,) of int
        Index into ``available``.

    Raises
    ------
    ValueError
        Names the first day the record does not hold in any year.
    """
    index = {day: i for i, day in enumerate(available)}
    wanted = [starts + timedelta(days=i) for i in range((ends - starts).days + 1)]
    years = {day.year for day in index}
    shifts = sorted({year - starts.year for year in years}, key=lambda k: (k != 0, -k))
    for shift in shifts:
        shifted = [shift_years(day, shift) for day in wanted]
        if all(day in index for day in shifted):
            return np.array([index[day] for day in shifted], dtype=np.intp)
    by_month_day = {(day.month, day.day): index[day] for day in sorted(index)}
    found: list[int] = []
    for day in wanted:
        key = (day.month, day.day)
        if key not in by_month_day and key == (2, 29):
            key = (2, 28)
        if key not in by_month_day:
            raise ValueError(f"no weather for {day:%d %B} in any year")
        found.append(by_month_day[key])
    return np.array(found, dtype=np.intp)


def take_days(hourly: FloatArray, order: NDArray[np.intp]) -> FloatArray:
    """Hours of the days ``order``, ``(..., hour) -> (..., 24 * len(order))``."""
    picked = by_day(hourly)[..., order, :]
    return np.asarray(picked.reshape(*hourly.shape[:-1], -1))
