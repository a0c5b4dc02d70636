"""The coming nights as they are forecast, behind each winter of the sample up to today.

What a night does to a tree hangs on how hard it is by now and on how cold its pot, its bed and its
shelter are already. This year's weather so far is not known, so every winter of the sample stands
for it up to today; then come the nights of the forecast, each a little off.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np

from overwinter.climate.series import by_day
from overwinter.climate.stages import FORECAST_ERROR_K
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray
from overwinter.model.species import Harm
from overwinter.plants.harm import Array
from overwinter.shelters.conditions import luck
from overwinter.simulate.follow import HARMS
from overwinter.units import HOURS_PER_DAY

MORE_ERROR_A_NIGHT_K = 0.3  # of a forecast with each night further ahead: a judgement
WORST = tuple(  # harms of which the worst night counts; the others add up
    harm in (Harm.OLD_ROOTS, Harm.YOUNG_ROOTS, Harm.TOP, Harm.NEW_LEAVES, Harm.CHILLING)
    for harm in HARMS
)


def likely_lows_c(lows_c: Sequence[float], winters: int, seed: int) -> FloatArray:
    """Minima that may come of a forecast, degC, ``(winter, night)``: equal shares of the law of its
    error, so that few winters hold a fair tail; too warm tonight is too warm for all its nights."""
    spread = FORECAST_ERROR_K + MORE_ERROR_A_NIGHT_K * np.arange(len(lows_c))
    return np.asarray(np.array(lows_c) + spread * luck(winters, seed)[:, None])


def forecast_season(season: Season, first_day: int, lows_c: FloatArray, warmer_k: float) -> Season:
    """A season with the nights of a forecast laid over it, cut off behind them where that may be.

    first_day : index of the day at whose noon the forecast begins.
    lows_c : minimum of each night in each winter, degC, ``(winter, night)``.
    warmer_k : what a cloth over trees in the open keeps off through these nights, K.
    """
    end = first_day + lows_c.shape[1]
    # what a thermometer's reading means is told by all nights of a winter
    whole = any(s.thermometer and not (s.envelope or s.readings) for s in season.shelters)
    days = season.days if whole else end
    winters = season.winters
    hours = days * HOURS_PER_DAY
    air = np.array(winters.air_c[:, :hours], dtype=np.float64)
    coming = air[:, first_day * HOURS_PER_DAY : end * HOURS_PER_DAY]
    coming += _shift_k(coming, lows_c) + warmer_k
    sun, snow = winters.sun_w_m2[:, :hours], winters.snow_m[:, :days]
    return replace(
        season,
        site=replace(season.site, ends=season.site.starts + timedelta(days=days - 1)),
        winters=replace(winters, air_c=air, sun_w_m2=sun, snow_m=snow),
    )


def _shift_k(air_c: FloatArray, lows_c: FloatArray) -> FloatArray:
    """What moves every night to its minimum, straight from one coldest hour to the next."""
    nights = by_day(air_c)
    at = nights.argmin(axis=2) + HOURS_PER_DAY * np.arange(nights.shape[1])
    missing = lows_c - nights.min(axis=2)
    hour = np.arange(air_c.shape[1])
    # between two coldest hours the slope of the shift may make a lower one beside them
    shift = np.stack([np.interp(hour, *pair) for pair in zip(at, missing, strict=True)])
    again = lows_c - by_day(air_c + shift).min(axis=2)
    return np.asarray(shift + np.repeat(again, HOURS_PER_DAY, axis=1))


def carried_before(stay: Array, go: Array, night: int) -> Array:
    """Hazard of all nights for a tree that is carried before one of them. ``stay``, ``go``: hazards
    ``(..., winter, night, harm)`` where it stands and where it goes. ``night``: 0 for tonight; the
    number of nights where it is not carried at all. Returns ``(..., winter)``."""
    hazards = np.concatenate([stay[..., :night, :], go[..., night:, :]], axis=-2)
    worst = np.array(WORST)
    freezes = hazards[..., worst].max(axis=-2).sum(axis=-1)
    return np.asarray(freezes + hazards[..., ~worst].sum(axis=(-2, -1)))
