"""Hourly, daily and monthly series: reductions, dates, and chilling hour by hour. Time is the last
axis. A day has 24 hours of local standard time."""

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.units import HOURS_PER_DAY

MONTH_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
YEAR_DAYS = 365
MONTHS = 12
MONTH_OF_DAY = np.repeat(np.arange(MONTHS), MONTH_DAYS)  # 0 to 11, of a common year, (365,)
MID_MONTH_DAYS = np.cumsum(MONTH_DAYS) - MONTH_DAYS / 2 + 0.5  # day of the year, shape (12,)


def day_of_common_year(day: date) -> int:
    """Index of a date in a common year, 0 to 364; 29 February is taken for the 28th."""
    before, length = MONTH_DAYS[: day.month - 1].sum(), MONTH_DAYS[day.month - 1]
    return int(before + min(day.day, length)) - 1


# Weights of the values in mid-month on each day of straight lines between them, (365, 12).
_LINES = np.column_stack(
    [
        np.interp(np.arange(1.0, YEAR_DAYS + 1), MID_MONTH_DAYS, corner, period=float(YEAR_DAYS))
        for corner in np.eye(MONTHS)
    ]
)
_MONTH_MEANS = np.stack([_LINES[month == MONTH_OF_DAY].mean(axis=0) for month in range(MONTHS)])


def smooth_year(monthly: FloatArray) -> FloatArray:
    """Straight lines around the year whose mean over each month is ``monthly``, (12,) -> (365,).
    Lines through the monthly means would cut the tops off: up to half a kelvin in January."""
    return np.asarray(_LINES @ np.linalg.solve(_MONTH_MEANS, monthly))


def mean_by_month(values: FloatArray, month: NDArray[np.intp]) -> FloatArray:
    """Mean of each month over all winters, ``(..., day) -> (12,)``; nan for a month without days.
    ``month`` holds each day's month, 0 to 11, shape ``(day,)``."""
    by_day = values.reshape(-1, values.shape[-1]).mean(axis=0)
    days = np.bincount(month, minlength=MONTHS)
    sums = np.bincount(month, weights=by_day, minlength=MONTHS)
    return np.asarray(np.where(days > 0, sums / np.maximum(days, 1), np.nan))


def with_missing_months(monthly: FloatArray) -> FloatArray:
    """Months that are nan taken from one yearly wave through the others, (12,) -> (12,)."""
    known = ~np.isnan(monthly)
    if known.sum() < MONTHS // 2:
        raise ValueError(f"{known.sum()} months of weather; six tell the rest of the year")
    angle = 2 * np.pi / YEAR_DAYS * MID_MONTH_DAYS
    wave = np.column_stack((np.ones(MONTHS), np.cos(angle), np.sin(angle)))
    fitted, *_ = np.linalg.lstsq(wave[known], monthly[known], rcond=None)
    return np.where(known, monthly, wave @ fitted)


def by_day(hourly: FloatArray) -> FloatArray:
    """View ``(..., hour)`` as ``(..., day, 24)``."""
    return hourly.reshape(*hourly.shape[:-1], -1, HOURS_PER_DAY)


def days_of_year(starts: date, days: int) -> FloatArray:
    """Day of the year (1 to 366) of ``days`` dates from ``starts``, shape ``(day,)``."""
    return np.array(
        [(starts + timedelta(days=i)).timetuple().tm_yday for i in range(days)], dtype=np.float64
    )


def shift_years(day: date, years: int) -> date:
    """The same month and day ``years`` later; 29 February falls on the 28th of a common year."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return day.replace(year=day.year + years, day=28)


# Chill hours: Weinberger 1950, Proc. Am. Soc. Hort. Sci. 56:122-128 (32 to 45 degF; the rule was
# read second-hand, the citation is from memory). Utah units: Richardson, Seeley & Walker 1974,
# HortScience 9:331-332, in the degC cuts of the paper as public code of the model states them; the
# upper cut belongs to its band.

CHILL_HOURS_RANGE_C = (0.0, 7.2)
UTAH_CUTS_C = (1.4, 2.4, 9.1, 12.4, 15.9, 18.0)
UTAH_WEIGHTS = (0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0)


def chill_hours_weight(air_c: FloatArray | float) -> FloatArray:
    """Chill hours earned by one hour at ``air_c`` (degC, any shape): 1 from 0 to 7.2, else 0."""
    air = np.asarray(air_c, dtype=np.float64)
    low, high = CHILL_HOURS_RANGE_C
    return ((air >= low) & (air <= high)).astype(np.float64)


def utah_weight(air_c: FloatArray | float) -> FloatArray:
    """Utah chill units earned by one hour at ``air_c`` (degC, any shape); negative when warm."""
    band = np.searchsorted(UTAH_CUTS_C, np.asarray(air_c, dtype=np.float64), side="left")
    return np.asarray(np.take(UTAH_WEIGHTS, band), dtype=np.float64)
