"""A shelter known by two readings of its min/max thermometer."""

import numpy as np

from overwinter.model.shelter import FloatArray, Thermometer
from overwinter.shelters.lag import first_order_lag
from overwinter.units import HOURS_PER_DAY

LIKE_NIGHTS_PER_WINTER = 2
"""Nights of the sample, a winter, that are taken to be like the night of the coldest reading: few,
since the reading is a winter's extreme; two, so that one odd night does not decide."""
STEEPEST = 1.0
"""An unheated shelter follows the outdoor air by one degree in a degree at most. A steeper line
comes from a warm reading in the sun, which tells nothing about nights."""


def _daily_min_c(hourly_c: FloatArray) -> FloatArray:
    """``(hour, winter)`` to ``(day, winter)``."""
    return np.asarray(hourly_c.reshape(-1, HOURS_PER_DAY, hourly_c.shape[-1]).min(axis=1))


def _lagged_at_coldest_c(
    thermometer: Thermometer, outdoor_c: FloatArray, lagged_c: FloatArray
) -> float:
    """Lagged outdoor air, degC, in a night as cold outdoors as that of the coldest reading.

    The mean difference of the two minima over the nights of the sample that come nearest.
    """
    nights = _daily_min_c(outdoor_c)
    behind = (_daily_min_c(lagged_c) - nights).ravel()
    far = np.abs(nights.ravel() - thermometer.outdoor_at_coldest_c)
    like = np.argsort(far, kind="stable")[: LIKE_NIGHTS_PER_WINTER * outdoor_c.shape[-1]]
    return float(thermometer.outdoor_at_coldest_c + behind[like].mean())


def thermometer_air_c(thermometer: Thermometer, outdoor_c: FloatArray) -> FloatArray:
    """Unheated air of the shelter, degC, ``(hour, winter)`` like the outdoor air.

    The colder of two straight lines, both with the slope of the two readings and through the
    coldest: one against the outdoor air, so that a night as cold as the reading's is never warmer
    than the reading; one against outdoor air lagged by ``smoothing_h``, so that cold days before a
    mild night still tell. How long a shelter remembers is a guess of the grower's; the colder line
    keeps a wrong guess from warming a night (measured in docs/energyplus.md).

    Raises
    ------
    ValueError
        When the warmer reading does not belong to the warmer outdoor air.
    """
    run = thermometer.outdoor_at_warmest_c - thermometer.outdoor_at_coldest_c
    if run <= 0:
        raise ValueError(
            "the warmest reading must belong to warmer outdoor air than the coldest reading"
        )
    slope = min((thermometer.warmest_c - thermometer.coldest_c) / run, STEEPEST)
    start = np.asarray(outdoor_c[:HOURS_PER_DAY]).mean(axis=0)
    lagged = first_order_lag(outdoor_c, thermometer.smoothing_h, start)
    behind = _lagged_at_coldest_c(thermometer, outdoor_c, lagged)
    at_once = outdoor_c - thermometer.outdoor_at_coldest_c
    return np.asarray(thermometer.coldest_c + slope * np.minimum(at_once, lagged - behind))
