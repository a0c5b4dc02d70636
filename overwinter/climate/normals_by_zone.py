"""Monthly normals where none are known: a yearly wave from latitude, elevation and coldest night.

Rough, and said to be: on the five typical years that the tests know (Chicago, Golden, Dulles, San
Francisco, Tampa) mean minima and maxima of November to March miss by the figures in
docs/winters.md. Normals of a station nearby are better.
"""

import numpy as np

from overwinter.climate.coldest_night import BELOW_MEAN_MIN_K, BELOW_PER_SWING
from overwinter.climate.months import YEAR_DAYS, mid_month_days
from overwinter.climate.records import Normals

SEA_LEVEL_C = ((0.0, 26.0), (20.0, 25.0), (30.0, 20.4), (40.0, 14.0), (50.0, 5.7), (60.0, -1.0))
"""Yearly mean air at the level of the sea by latitude, degrees, means around the globe: textbooks
of climatology, from memory. The west coasts of continents are up to 5 K warmer."""
LAPSE_K_M = 0.004
"""Fall of the yearly mean with elevation where people live, on plateaus and in valleys: less than
the 0.0065 of free air; a judgement."""
WINTER_RANGE_K, SUMMER_RANGE_K = 9.0, 12.0
"""Mean minimum to mean maximum in the coldest and in the warmest month: a judgement."""
COLDEST_DAY = 20.0
"""Day of the year of the coldest of the wave in the north; half a year later in the south."""
SMALLEST_SWING_K, LARGEST_SWING_K = 6.0, 45.0


def normals_by_zone(latitude_deg: float, elevation_m: float, coldest_night_c: float) -> Normals:
    """Mean daily minima and maxima of the months, degC.

    The rule that tells the coldest night from the normals (``coldest_night.law_by_rule``) is turned
    round: the coldest night lies 3 K + 0.44 x swing below the coldest month's mean minimum, and
    that half a swing below the yearly mean of the minima, which latitude and elevation tell.
    """
    latitudes, means = zip(*SEA_LEVEL_C, strict=True)
    mean_c = float(np.interp(abs(latitude_deg), latitudes, means)) - LAPSE_K_M * elevation_m
    mean_min_c = mean_c - (WINTER_RANGE_K + SUMMER_RANGE_K) / 4
    swing_k = (mean_min_c - coldest_night_c - BELOW_MEAN_MIN_K) / (0.5 + BELOW_PER_SWING)
    swing_k = float(np.clip(swing_k, SMALLEST_SWING_K, LARGEST_SWING_K))
    coldest_month_c = coldest_night_c + BELOW_MEAN_MIN_K + BELOW_PER_SWING * swing_k
    coldest = COLDEST_DAY if latitude_deg >= 0 else COLDEST_DAY + YEAR_DAYS / 2
    # 0 in the coldest of the year, 1 in the warmest.
    warmth = (1 - np.cos(2 * np.pi / YEAR_DAYS * (mid_month_days() - coldest))) / 2
    low = coldest_month_c + swing_k * warmth
    return Normals(low, low + WINTER_RANGE_K + (SUMMER_RANGE_K - WINTER_RANGE_K) * warmth)
