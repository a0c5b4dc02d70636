"""Hourly outdoor air from daily minima and maxima."""

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.units import HOURS_PER_DAY

RANGE_FRACTION = np.array(
    [
        *(0.88, 0.92, 0.95, 0.98, 1.00, 0.98, 0.91, 0.74, 0.55, 0.38, 0.23, 0.13),
        *(0.05, 0.00, 0.00, 0.06, 0.14, 0.24, 0.39, 0.50, 0.59, 0.68, 0.75, 0.82),
    ]
)
"""Share of the day's range below its maximum in hours 1 to 24: ASHRAE Fundamentals 2009 ch. 14
table 6, read in a library that carries it. A summer design day's shape, used for want of a winter
one: its coldest hour is the fifth, a winter night's is nearer sunrise."""
COLDEST_HOUR = 4
WARMEST_HOURS = (13, 14)


def hourly_from_daily(min_c: FloatArray, max_c: FloatArray) -> FloatArray:
    """Hourly air temperature that keeps each calendar day's minimum and maximum exactly.

    From the coldest hour up to the warmest and down to the next day's coldest with the range
    fractions of ASHRAE (``RANGE_FRACTION``); the evening runs from the day's maximum to the next
    minimum, held within the own day's two values, so that a front shows as a short flat stretch.

    Parameters
    ----------
    min_c, max_c : array (..., day)
        Daily minimum and maximum from midnight to midnight, degC, no gaps.

    Returns
    -------
    array (..., 24 * day)
        degC.

    Raises
    ------
    ValueError
        When a minimum lies above its maximum, or the shapes differ.
    """
    low, high = np.asarray(min_c, dtype=np.float64), np.asarray(max_c, dtype=np.float64)
    if low.shape != high.shape or low.ndim == 0:
        raise ValueError(f"minima {low.shape} and maxima {high.shape} must be equal series")
    wrong = np.argwhere(low > high)
    if wrong.size:
        raise ValueError(f"minimum above maximum on day {wrong[0][-1]}")
    before_max = np.concatenate((high[..., :1], high[..., :-1]), axis=-1)
    next_min = np.concatenate((low[..., 1:], low[..., -1:]), axis=-1)
    hour = np.arange(HOURS_PER_DAY)
    night, evening = hour < COLDEST_HOUR, hour > WARMEST_HOURS[1]
    top = np.where(night, before_max[..., None], high[..., None])
    bottom = np.where(evening, next_min[..., None], low[..., None])
    air = top - RANGE_FRACTION * (top - bottom)
    air = np.clip(air, low[..., None], high[..., None])
    air[..., COLDEST_HOUR] = low
    air[..., WARMEST_HOURS] = high[..., None]
    return np.asarray(air.reshape(*low.shape[:-1], -1))
