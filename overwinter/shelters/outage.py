"""When the power fails: how fast a shelter and the pots in it cool.

T(t) = To + (Ti - To) exp(-t / tau). The closed forms are for a first look; the winter's own hours
after a failure come from ``air_after_failure``.
"""

import math

import numpy as np

from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, Shelter
from overwinter.shelters.conditions import simulate_schedule


def hours_until_c(
    start_c: float, outdoor_c: float, limit_c: float, time_constant_h: float
) -> float:
    """Hours until an unheated node passes ``limit_c`` (degC); ``inf`` when it never does.

    0 when it starts at or beyond the limit.
    """
    if start_c <= limit_c:
        return 0.0
    if outdoor_c >= limit_c:
        return math.inf
    return time_constant_h * math.log((start_c - outdoor_c) / (limit_c - outdoor_c))


def air_after_failure(
    season: Season, shelter: Shelter, setting_index: int, first_hour: int, hours: int
) -> FloatArray:
    """Air of a shelter whose heaters fail at ``first_hour`` for ``hours``, degC, ``(hour,)``.

    The whole season with the setting held before and after; index 0 is "off".
    """
    schedule = np.full(season.hours, setting_index, dtype=np.intp)
    schedule[first_hour : first_hour + hours] = 0
    air, _ = simulate_schedule(season, shelter, schedule)
    return air
