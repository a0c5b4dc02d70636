"""Winters drawn from monthly normals and the law of coldest nights; docs/winters.md explains.
Arrays are ``(winter, day)`` over a frame of calendar days, midnight to midnight, that holds the
plan and at least half a year either side of midwinter, so that every winter is a whole one."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from overwinter.climate.air import hourly_from_daily
from overwinter.climate.coldest_night import ColdestNight, goes_with, quantile
from overwinter.climate.ground import snow_depth_m
from overwinter.climate.series import day_of_common_year, mean_by_month, smooth_year
from overwinter.climate.sun import (
    clear_sky_mj_m2_d,
    extraterrestrial_mj_m2_d,
    sun_from_daily_total,
    sun_from_temperature_range_mj_m2_d,
)
from overwinter.model.season import Season, WinterRecipe, Winters
from overwinter.model.shelter import FloatArray
from overwinter.model.site import Location
from overwinter.problems import UserError

HALF_YEAR_D = 182
NOON_H = 12

FAST_MEMORY, SLOW_MEMORY, SLOW_SHARE = 0.56, 0.97, 0.12
"""Weather of days and of weeks: two first-order autoregressive parts, the slow one with this share
of the variance. Together they keep the correlation of night temperatures over 1, 2, 3, 5 and 10
days that 88 winters at Clemson have (0.63, 0.32, 0.21, 0.14, 0.08)."""
RANGE_MEMORY = 0.3  # day to day, of the range's logarithm: 0.05 to 0.42 in five EPW files
RANGE_SPREAD = 0.45  # of the logarithm of a day's range: 0.35 to 0.54 there, 0.51 at Clemson
COLD_IS_CLEAR = 0.4
"""Cold nights go with wide ranges, which are the clear days: the correlation is -0.4 in the mean
of the five files (0 to -0.6), -0.5 at Clemson."""
SUMMER_CALM, CALM_POWER = 0.6, 1.5
"""How much less night temperatures spread in the warmest month than in the coldest, and how that
grows with the warmth between them: by month within 0.07 of 88 winters at Clemson (of 1); six EPW
files of places with frost fit nearly as well with powers of 0.7 to 1.5."""
ROUNDS = 3  # of bending winters to their coldest nights and months to their means: within 0.1 K

SUN_ROUNDS = 50  # of scaling a month's sun to its mean under clear skies; ample


@dataclass(frozen=True)
class _Frame:
    """The calendar days that winters are drawn over."""

    days: int
    season: slice  # days of the plan and the morning after it
    winter: slice  # half a year either side of midwinter: what the law of coldest nights speaks of
    year_day: NDArray[np.intp]  # day of a common year, 0 to 364, `(day,)`
    month: NDArray[np.intp]  # 0 to 11, `(day,)`

    @property
    def season_year_day(self) -> FloatArray:
        """Day of the year of the days of ``season``, 1 to 365."""
        return np.asarray(self.year_day[self.season] + 1.0, dtype=np.float64)


def fresh_winters(season: Season, count: int, seed: int) -> Winters:
    """Winters of the season's site and dates that its plan was not made from."""
    if season.recipe is None:
        raise UserError("No winters can be drawn for this site: it has no monthly normals.")
    site = season.site
    return draw_winters(season.recipe, count, seed, site.starts, season.days, site.location)


def draw_winters(
    recipe: WinterRecipe, count: int, seed: int, starts: date, days: int, at: Location
) -> Winters:
    """Draw ``count`` winters of ``days`` days from noon of ``starts``, the same for one seed.

    Over the sample every month keeps its mean daily minimum, maximum and (where given) sun; the
    coldest nights of the winters are equal shares of a Gumbel law, so that few winters hold a fair
    tail.

    Raises ``ValueError``: When the law does not go with the normals (``coldest_night.goes_with``).
    """
    frame = _frame(recipe, starts, days)
    air = _daily_air(recipe, frame, count, np.random.default_rng(seed))
    low, high = (one[:, frame.season] for one in air)
    total = _daily_sun(recipe, frame, low, high, at)
    sun = sun_from_daily_total(total, at, frame.season_year_day)
    return Winters(
        air_c=hourly_from_daily(low, high)[:, NOON_H:-NOON_H],
        sun_w_m2=sun[:, NOON_H:-NOON_H],
        snow_m=snow_depth_m((low + high)[:, :-1] / 2, recipe.snow_lies),
        names=tuple(f"drawn {number}" for number in range(1, count + 1)),
        origin=f"{count} winters drawn with seed {seed} from monthly normals.",
    )


def _frame(recipe: WinterRecipe, starts: date, days: int) -> _Frame:
    coldest_month = int(np.argmin(recipe.mean_min_c)) + 1
    middle = starts + timedelta(days=days // 2)
    midwinters = [date(middle.year + shift, coldest_month, 15) for shift in (-1, 0, 1)]
    midwinter = min(midwinters, key=lambda day: abs(day - middle))
    half_year = timedelta(days=HALF_YEAR_D)
    first = min(starts, midwinter - half_year)
    last = max(starts + timedelta(days=days), midwinter + half_year)
    length = (last - first).days + 1
    dates = [first + timedelta(days=i) for i in range(length)]
    opening, mid = (starts - first).days, (midwinter - first).days
    return _Frame(
        days=length,
        season=slice(opening, opening + days + 1),
        winter=slice(mid - HALF_YEAR_D, mid + HALF_YEAR_D + 1),
        year_day=np.array([day_of_common_year(day) for day in dates], dtype=np.intp),
        month=np.array([day.month - 1 for day in dates], dtype=np.intp),
    )


def _memory(rng: np.random.Generator, count: int, days: int, memory: float) -> FloatArray:
    """First-order autoregressive series of unit spread, ``(winter, day)``."""
    draws = rng.standard_normal((days, count))
    fresh = float(np.sqrt(1 - memory**2))
    for day in range(1, days):
        draws[day] = memory * draws[day - 1] + fresh * draws[day]
    return np.asarray(draws.T)


def _daily_air(
    recipe: WinterRecipe, frame: _Frame, count: int, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray]:
    """Daily minima and maxima over the frame, degC."""
    mean_min, mean_max = np.array(recipe.mean_min_c), np.array(recipe.mean_max_c)
    law = ColdestNight(recipe.coldest_mean_c, recipe.coldest_spread_k)
    if not goes_with(law, mean_min):
        raise ValueError(f"coldest nights {law} do not go with mean minima {mean_min} degC")
    noise = np.sqrt(1 - SLOW_SHARE) * _memory(rng, count, frame.days, FAST_MEMORY)
    noise += np.sqrt(SLOW_SHARE) * _memory(rng, count, frame.days, SLOW_MEMORY)
    warmth = smooth_year((mean_min - mean_min.min()) / max(1e-9, float(np.ptp(mean_min))))
    calm = (1 - SUMMER_CALM * np.clip(warmth, 0, 1) ** CALM_POWER)[frame.year_day]
    usual = smooth_year(mean_min)[frame.year_day]
    spread_k = _spread_for(law, usual[frame.winter], (calm * noise)[:, frame.winter])
    low = usual + spread_k * calm * noise
    for _ in range(ROUNDS):
        # every month's mean over all winters is moved to what is wanted, smoothly
        low += smooth_year(mean_min - mean_by_month(low, frame.month))[frame.year_day]
        low = _bent(low, frame.winter, law, float(mean_min.min()))
    spare = np.sqrt(1 - COLD_IS_CLEAR**2) * _memory(rng, count, frame.days, RANGE_MEMORY)
    day_range = np.exp(RANGE_SPREAD * calm * (spare - COLD_IS_CLEAR * noise))
    wanted = np.maximum(0.0, mean_max - mean_by_month(low, frame.month))
    found = mean_by_month(day_range, frame.month)
    return low, low + day_range * (wanted / found)[frame.month]


def _spread_for(law: ColdestNight, usual_c: FloatArray, noise: FloatArray) -> float:
    """Spread of the noise, K, at which the coldest nights have the law's mean; by bisection."""
    least, most = 0.0, float(usual_c.max() - law.mean_c)
    for _ in range(30):
        middle = (least + most) / 2
        coldest = (usual_c + middle * noise).min(axis=1).mean()
        least, most = (least, middle) if coldest < law.mean_c else (middle, most)
    return (least + most) / 2


def _bent(low_c: FloatArray, winter: slice, law: ColdestNight, pivot_c: float) -> FloatArray:
    """Nights below ``pivot_c`` stretched so that each winter's coldest is its share of the law:
    that which drew the coldest night gets the coldest, and cold winters have more cold nights."""
    coldest = low_c[:, winter].min(axis=1)
    share = np.empty_like(coldest)
    share[np.argsort(coldest)] = quantile(law, (np.arange(coldest.size) + 0.5) / coldest.size)
    stretch = (pivot_c - share) / (pivot_c - coldest)
    return np.where(low_c < pivot_c, pivot_c - (pivot_c - low_c) * stretch[:, None], low_c)


def _daily_sun(
    recipe: WinterRecipe, frame: _Frame, low_c: FloatArray, high_c: FloatArray, at: Location
) -> FloatArray:
    """Sun of each day of the plan, MJ/(m2 d): wide ranges are clear days (FAO-56 eq. 50)."""
    year_day, month = frame.season_year_day, frame.month[frame.season]
    total = sun_from_temperature_range_mj_m2_d(low_c, high_c, at, year_day)
    if recipe.sun_mj_m2_d is None:
        return total
    clear = clear_sky_mj_m2_d(extraterrestrial_mj_m2_d(at.latitude_deg, year_day), at.elevation_m)
    wanted = smooth_year(np.array(recipe.sun_mj_m2_d))[frame.year_day[frame.season]]
    for one in np.unique(month):
        days = month == one
        mean = float(wanted[days].mean())
        # no day is brighter than a clear one, but for a mean that no clear sky gives
        most = clear[days] * max(1.0, mean / max(float(clear[days].mean()), 1e-9))
        for _ in range(SUN_ROUNDS):
            scale = mean / max(float(total[:, days].mean()), 1e-9)
            total[:, days] = np.minimum(most, total[:, days] * scale)
    return total
