"""Hourly outdoor air from daily minima and maxima, or from monthly normals and a seed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.climate.sun import (
    RANGE_FACTOR_INLAND,
    clear_sky_mj_m2_d,
    extraterrestrial_mj_m2_d,
    sun_from_daily_total,
    sun_from_temperature_range_mj_m2_d,
)
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

MONTH_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
YEAR_DAYS = 365

PERSISTENCE = 0.7
"""Day-to-day correlation of temperature anomalies: a judgement for mid latitudes, no source."""
DESIGN_DEVIATIONS = 2.5
"""How many standard deviations of daily minima the design minimum is taken to lie below the mean
of the coldest month: a judgement, near the 99 % of a normal distribution."""
SUMMER_SPREAD = 0.6
"""Spread of daily temperatures in the warmest month relative to the coldest: a judgement."""
RANGE_SPREAD = 0.35
"""Standard deviation of the logarithm of a day's range: a judgement."""
CLEAR_OF_DESIGN_K = 0.5
"""No other month comes nearer to the design minimum than this."""


def hourly_from_daily(min_c: FloatArray, max_c: FloatArray) -> FloatArray:
    """Hourly air temperature that keeps each calendar day's minimum and maximum exactly.

    From the coldest hour up to the warmest and down to the next day's coldest with the range
    fractions of ASHRAE (``RANGE_FRACTION``); the evening runs from the day's maximum to the next
    minimum, held within the own day's two values, so that a front shows as a short flat stretch.

    Parameters
    ----------
    min_c, max_c : array (day,)
        Daily minimum and maximum, degC, no gaps.

    Returns
    -------
    array (24 * day,)
        degC.

    Raises
    ------
    ValueError
        When a minimum lies above its maximum, or the shapes differ.
    """
    low, high = np.asarray(min_c, dtype=np.float64), np.asarray(max_c, dtype=np.float64)
    if low.shape != high.shape or low.ndim != 1:
        raise ValueError(f"minima {low.shape} and maxima {high.shape} must be equal 1-D series")
    wrong = np.flatnonzero(low > high)
    if wrong.size:
        raise ValueError(f"minimum above maximum on day {wrong[0]}")
    before_max = np.concatenate((high[:1], high[:-1]))
    next_min = np.concatenate((low[1:], low[-1:]))
    hour = np.arange(HOURS_PER_DAY)
    night, evening = hour < COLDEST_HOUR, hour > WARMEST_HOURS[1]
    top = np.where(night, before_max[:, None], high[:, None])
    bottom = np.where(evening, next_min[:, None], low[:, None])
    air = top - RANGE_FRACTION * (top - bottom)
    air = np.clip(air, low[:, None], high[:, None])
    air[:, COLDEST_HOUR] = low
    air[:, WARMEST_HOURS] = high[:, None]
    return np.asarray(air.reshape(-1))


@dataclass(frozen=True)
class Normals:
    """Monthly normals, January to December."""

    mean_min_c: FloatArray
    """Mean daily minimum of each month, degC, shape (12,)."""
    mean_max_c: FloatArray
    """Mean daily maximum of each month, degC, shape (12,)."""
    design_min_c: float
    """Touched once, in the coldest month."""
    sun_mj_m2_d: FloatArray | None = None
    """Mean daily sun of each month, MJ/(m2 d), shape (12,); None: from the daily range."""


def month_of_day() -> NDArray[np.intp]:
    """Month index (0 to 11) of each day of a common year, shape (365,)."""
    return np.repeat(np.arange(12), MONTH_DAYS)


def mid_month_days() -> FloatArray:
    """Day of the year in the middle of each month of a common year, shape (12,)."""
    ends = np.cumsum(MONTH_DAYS)
    return np.asarray(ends - MONTH_DAYS / 2 + 0.5)


def _smooth_year(monthly: FloatArray) -> FloatArray:
    """Straight lines between mid-months around the year, (12,) -> (365,)."""
    days = np.arange(1.0, YEAR_DAYS + 1)
    return np.asarray(np.interp(days, mid_month_days(), monthly, period=float(YEAR_DAYS)))


def _persistent_noise(rng: np.random.Generator, persistence: float) -> FloatArray:
    """A first-order autoregressive year of unit spread, drawn July to June.

    The year's seam falls in summer, so that a winter runs on unbroken over New Year.
    """
    draws = rng.standard_normal(YEAR_DAYS + 30)
    state, series = 0.0, np.empty(draws.size)
    scale = float(np.sqrt(1 - persistence**2))
    for i, draw in enumerate(draws):
        state = persistence * state + scale * float(draw)
        series[i] = state
    return np.roll(series[30:], int(MONTH_DAYS[:6].sum()))


def _check(normals: Normals) -> int:
    """The coldest month's index, or ValueError."""
    low, high = np.asarray(normals.mean_min_c), np.asarray(normals.mean_max_c)
    if low.shape != (12,) or high.shape != (12,):
        raise ValueError("normals need twelve months")
    if np.any(low >= high):
        raise ValueError(
            f"mean minimum not below mean maximum in month {np.argmax(low >= high) + 1}"
        )
    coldest = int(np.argmin(low))
    if normals.design_min_c > low.min() - 2 * CLEAR_OF_DESIGN_K:
        raise ValueError(
            f"design minimum {normals.design_min_c:g} degC is not below "
            f"the coldest month's mean minimum {low.min():g} degC"
        )
    return coldest


def daily_from_normals(normals: Normals, seed: int) -> tuple[FloatArray, FloatArray]:
    """A year of daily minima and maxima, degC, reproducible from its seed.

    Persistent normal anomalies about the normals drawn smoothly through the year; then every
    month is shifted and scaled so that its mean minimum and mean maximum are the normals and the
    coldest month's lowest day is the design minimum. Nothing else comes within
    ``CLEAR_OF_DESIGN_K`` outside that month. Made up, for those who have only normals: it shows
    an ordinary winter with one design night, not a record one.

    Returns
    -------
    min_c, max_c : array (365,)
        1 January to 31 December.

    Raises
    ------
    ValueError
        When there are not twelve months, a mean minimum is not below the mean maximum, or the
        design minimum is not at least 1 K below the coldest mean minimum.
    """
    coldest = _check(normals)
    mean_min = np.asarray(normals.mean_min_c, dtype=np.float64)
    mean_range = np.asarray(normals.mean_max_c, dtype=np.float64) - mean_min
    rng = np.random.default_rng(seed)
    noise, wobble = _persistent_noise(rng, PERSISTENCE), _persistent_noise(rng, 0.3)
    warmth = (mean_min - mean_min.min()) / max(1e-9, float(np.ptp(mean_min)))
    spread_k = (mean_min.min() - normals.design_min_c) / DESIGN_DEVIATIONS
    spread = _smooth_year(spread_k * (1 - (1 - SUMMER_SPREAD) * warmth))
    low = _smooth_year(mean_min) + spread * noise
    day_range = _smooth_year(mean_range) * np.exp(RANGE_SPREAD * wobble)
    month = month_of_day()
    for m in range(12):
        days = month == m
        away = low[days] - low[days].mean()
        deepest, room = -float(away.min()), float(mean_min[m] - normals.design_min_c)
        if m == coldest:
            away *= room / deepest
        elif deepest > room - CLEAR_OF_DESIGN_K:
            away *= (room - CLEAR_OF_DESIGN_K) / deepest
        low[days] = mean_min[m] + away
        day_range[days] *= mean_range[m] / day_range[days].mean()
    in_coldest = np.flatnonzero(month == coldest)
    low[in_coldest[np.argmin(low[in_coldest])]] = normals.design_min_c
    return low, low + day_range


def hourly_from_normals(normals: Normals, seed: int) -> FloatArray:
    """A year of hourly air temperature, degC, shape (8760,), 1 January to 31 December.

    See ``daily_from_normals`` and ``hourly_from_daily``. Lay it onto a season with
    ``series.source_days`` and ``series.take_days``.
    """
    return hourly_from_daily(*daily_from_normals(normals, seed))


def sun_from_normals(
    normals: Normals,
    seed: int,
    latitude_deg: float,
    longitude_deg: float,
    utc_offset_h: float,
    elevation_m: float = 0.0,
) -> FloatArray:
    """A year of hourly irradiance, W/m2, shape (8760,), in step with ``hourly_from_normals``.

    Days with a large temperature range are the clear ones (FAO-56 eq. 50); with monthly sun given
    each month is scaled to it, days capped at the clear sky, the rest spread over the others.
    """
    low, high = daily_from_normals(normals, seed)
    days = np.arange(1.0, YEAR_DAYS + 1)
    total = sun_from_temperature_range_mj_m2_d(
        low, high, latitude_deg, days, elevation_m, RANGE_FACTOR_INLAND
    )
    if normals.sun_mj_m2_d is not None:
        cap = clear_sky_mj_m2_d(extraterrestrial_mj_m2_d(latitude_deg, days), elevation_m)
        month = month_of_day()
        for m in range(12):
            in_month = month == m
            total[in_month] = _scaled_under_cap(
                total[in_month], cap[in_month], float(normals.sun_mj_m2_d[m])
            )
    return sun_from_daily_total(total, latitude_deg, longitude_deg, utc_offset_h, days)


def _scaled_under_cap(values: FloatArray, cap: FloatArray, wanted_mean: float) -> FloatArray:
    """Scale ``values`` to a mean without passing ``cap``; a mean no clear sky gives is kept."""
    target = wanted_mean * values.size
    if target >= cap.sum():
        return cap * (target / cap.sum() if cap.sum() > 0 else 0.0)
    scaled = np.minimum(values, cap)
    for _ in range(50):
        free = scaled < cap
        missing = target - scaled.sum()
        if abs(missing) < 1e-9 * max(1.0, target) or not free.any() or scaled[free].sum() <= 0:
            break
        scaled[free] = np.minimum(cap[free], scaled[free] * (1 + missing / scaled[free].sum()))
    return np.asarray(scaled)
