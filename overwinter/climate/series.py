"""Hourly and daily series: reductions, gaps, dates.

Time is the last axis. A day has 24 hours of local standard time.
"""

from datetime import date, timedelta

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.units import HOURS_PER_DAY


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


def shift_years(day: date, years: int) -> date:
    """The same month and day ``years`` later; 29 February falls on the 28th of a common year."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)
