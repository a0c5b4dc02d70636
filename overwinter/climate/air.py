"""Outdoor air hour by hour from daily minima and maxima, and the sky above it at night."""

import numpy as np

from overwinter.climate.series import by_day
from overwinter.climate.sun import (
    ROOF_SHARE,
    SOLAR_CONSTANT_MJ_M2_MIN,
    day_length_h,
    extraterrestrial_mj_m2_d,
    inverse_relative_distance,
    sky_share,
)
from overwinter.model.shelter import FloatArray
from overwinter.model.site import Location
from overwinter.units import HOURS_PER_DAY, MJ_PER_WH

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

    min_c, max_c : of each day from midnight to midnight, degC, ``(..., day)``, no gaps.

    Returns degC, ``(..., 24 * day)``.
    """
    low, high = np.asarray(min_c, dtype=np.float64), np.asarray(max_c, dtype=np.float64)
    wrong = np.argwhere(low > high)
    if wrong.size:
        raise ValueError(f"minimum above maximum on day {wrong[0][-1]}")
    before_max = np.concatenate((high[..., :1], high[..., :-1]), axis=-1)
    next_min = np.concatenate((low[..., 1:], low[..., -1:]), axis=-1)
    hour = np.arange(HOURS_PER_DAY)
    night, evening = hour < COLDEST_HOUR, hour > WARMEST_HOURS[1]
    top = np.where(night, before_max[..., None], high[..., None])
    bottom = np.where(evening, next_min[..., None], low[..., None])
    air = np.clip(top - RANGE_FRACTION * (top - bottom), low[..., None], high[..., None])
    air[..., COLDEST_HOUR] = low
    air[..., WARMEST_HOURS] = high[..., None]
    return np.asarray(air.reshape(*low.shape[:-1], -1))


STEFAN_BOLTZMANN_W_M2K4 = 5.670e-8
OVERCAST = 0.2
"""Of a clear sky's loss, what is left under clouds that let no sun through. With it nights miss the
long-wave radiation in six TMY3 files by 7 to 15 W/m2 rms on the coldest sixth of winter nights;
FAO-56's own 1.35 Rs/Rso - 0.35 misses by 16 to 35 and has them overcast."""
LOWEST_SINE = 0.1  # of the sun's mean height, in a clear day's sun: twilight (judgement)


def sky_loss_w_m2(
    air_c: FloatArray, sun_w_m2: FloatArray, at: Location, day_of_year: FloatArray
) -> FloatArray:
    """Net long-wave loss of a black horizontal face at the temperature of the air, W/m2.

    FAO-56 eq. 39 with eq. 48 (the dew point is the night's minimum), its clouds apart: those by the
    sun of the same noon-to-noon day, that is, of the afternoon before and the morning after each
    night, over a clear day's (Haurwitz 1945, memory, at the sun's mean height).

    air_c, sun_w_m2 : ``(winter, hour)``
    day_of_year : ``(day,)``

    Returns one value for a whole day, to be lost in each of its hours, ``(winter, day)``.
    """
    days = by_day(air_c)
    low, high = days.min(axis=-1), days.max(axis=-1)
    vapour_kpa = 0.6108 * np.exp(17.27 * low / (low + 237.3))
    sun = by_day(sun_w_m2).sum(axis=-1) * MJ_PER_WH
    share = np.minimum(1.0, sun / _clear_day_mj_m2(at, day_of_year))
    emitted = STEFAN_BOLTZMANN_W_M2K4 * ((low + 273.16) ** 4 + (high + 273.16) ** 4) / 2
    clouds = OVERCAST + (1 - OVERCAST) * share
    return np.asarray(emitted * (0.34 - 0.14 * np.sqrt(vapour_kpa)) * clouds)


def _clear_day_mj_m2(at: Location, day_of_year: FloatArray) -> FloatArray:
    """Sun of a clear day, at least 0.1 MJ/m2."""
    above = extraterrestrial_mj_m2_d(at.latitude_deg, day_of_year)
    daylight_min = 60 * np.maximum(0.1, day_length_h(at.latitude_deg, day_of_year))
    full = SOLAR_CONSTANT_MJ_M2_MIN * inverse_relative_distance(day_of_year) * daylight_min
    sine = np.maximum(LOWEST_SINE, above / full)
    through = (0.807 + 2e-5 * at.elevation_m) * np.exp(-0.057 / sine)
    return np.asarray(np.maximum(0.1, through * above))


def cold_sky_share(slope_deg: float | None) -> float:
    """Share of a level face's loss to the sky that a sloped face has: sqrt of what it sees, as sky
    near the horizon is nearly as warm as the air (Walton 1983, as EnergyPlus has it; memory)."""
    if slope_deg is None:
        return ROOF_SHARE + (1 - ROOF_SHARE) * cold_sky_share(90.0)
    return float(sky_share(slope_deg) ** 1.5)
