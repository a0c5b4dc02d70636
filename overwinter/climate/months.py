"""Twelve monthly values as a smooth year that keeps every month's mean."""

from datetime import date

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray

MONTH_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
YEAR_DAYS = 365
MONTHS = 12


def month_of_day() -> NDArray[np.intp]:
    """Month index (0 to 11) of each day of a common year, shape (365,)."""
    return np.repeat(np.arange(MONTHS), MONTH_DAYS)


def mid_month_days() -> FloatArray:
    """Day of the year in the middle of each month of a common year, shape (12,)."""
    return np.asarray(np.cumsum(MONTH_DAYS) - MONTH_DAYS / 2 + 0.5)


def day_of_common_year(day: date) -> int:
    """Index of a date in a common year, 0 to 364; 29 February is taken for the 28th."""
    before, length = MONTH_DAYS[: day.month - 1].sum(), MONTH_DAYS[day.month - 1]
    return int(before + min(day.day, length)) - 1


def _lines_between_mid_months() -> FloatArray:
    """Weights of the values in mid-month on each day of straight lines between them, (365, 12)."""
    days = np.arange(1.0, YEAR_DAYS + 1)
    columns = [
        np.interp(days, mid_month_days(), corner, period=float(YEAR_DAYS))
        for corner in np.eye(MONTHS)
    ]
    return np.column_stack(columns)


_LINES = _lines_between_mid_months()
_MONTH_MEANS = np.stack([_LINES[month_of_day() == month].mean(axis=0) for month in range(MONTHS)])


def smooth_year(monthly: FloatArray) -> FloatArray:
    """Straight lines around the year whose mean over each month is ``monthly``, (12,) -> (365,).

    Lines through the monthly means would cut the tops off: up to half a kelvin in January.
    """
    return np.asarray(_LINES @ np.linalg.solve(_MONTH_MEANS, monthly))


def mean_by_month(values: FloatArray, month: NDArray[np.intp]) -> FloatArray:
    """Mean of each month over all winters, ``(..., day) -> (12,)``; nan for a month without days.

    ``month`` holds each day's month, 0 to 11, shape ``(day,)``.
    """
    by_day = values.reshape(-1, values.shape[-1]).mean(axis=0)
    days = np.bincount(month, minlength=MONTHS)
    sums = np.bincount(month, weights=by_day, minlength=MONTHS)
    return np.asarray(np.where(days > 0, sums / np.maximum(days, 1), np.nan))


def with_missing_months(monthly: FloatArray) -> FloatArray:
    """Months that are nan taken from one yearly wave through the others, (12,) -> (12,).

    Raises
    ------
    ValueError
        With fewer than six months: they do not fix a mean and a swing.
    """
    known = ~np.isnan(monthly)
    if known.sum() < MONTHS // 2:
        raise ValueError(f"{known.sum()} months of weather; six tell the rest of the year")
    angle = 2 * np.pi / YEAR_DAYS * mid_month_days()
    wave = np.column_stack((np.ones(MONTHS), np.cos(angle), np.sin(angle)))
    fitted, *_ = np.linalg.lstsq(wave[known], monthly[known], rcond=None)
    return np.where(known, monthly, wave @ fitted)
