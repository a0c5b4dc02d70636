"""Weather of a place: measured days, whole winters, normals; and normals where none are known."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from overwinter.climate import series
from overwinter.climate.air import hourly_from_daily
from overwinter.climate.coldest_night import BELOW_MEAN_MIN_K, BELOW_PER_SWING, ColdestNight
from overwinter.climate.ground import snow_depth_m
from overwinter.climate.sun import (
    MJ_PER_M2_D_PER_W_M2,
    sun_from_daily_total,
    sun_from_temperature_range_mj_m2_d,
)
from overwinter.model.season import SnowLies, Winters
from overwinter.model.shelter import FloatArray
from overwinter.model.site import Location
from overwinter.model.stage import IntArray

FEWEST_DAYS_OF_MONTH = 10  # fewer do not tell its mean; the yearly wave of the others does
COLD_SIDE_D = 90  # the coldest night of a winter is looked for this far either side of midwinter
WHOLE_SHARE = 0.95  # days of those that a winter needs for its coldest night to be believed
NOON_H = 12


@dataclass(frozen=True)
class Normals:
    """Monthly means of the days' minima, maxima and sun, January to December, each ``(12,)``."""

    mean_min_c: FloatArray
    mean_max_c: FloatArray
    sun_mj_m2_d: FloatArray | None = None


@dataclass(frozen=True)
class DayRecord:
    """Calendar days with what was measured; a column is None where the file has none of it."""

    file: str
    days: tuple[date, ...]
    air_c: FloatArray  # (day, 24), or (day, 2) holding minimum and maximum; nan where missing
    sun_w_m2: FloatArray | None = None  # (day, 24)
    station: str = ""
    typical_year: bool = False  # months of different years patched together; the years mean nothing
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    coldest: ColdestNight | None = None  # law of yearly lowest temperatures in its head

    @property
    def is_daily(self) -> bool:
        """Whether it holds only minima and maxima."""
        return bool(self.air_c.shape[1] == 2)

    @property
    def min_c(self) -> FloatArray:
        """Minimum of each day, degC, ``(day,)``."""
        return np.asarray(self.air_c.min(axis=1))

    @property
    def max_c(self) -> FloatArray:
        """Maximum of each day, degC, ``(day,)``."""
        return np.asarray(self.air_c.max(axis=1))


def whole_winters(record: DayRecord, starts: date, ends: date) -> Mapping[str, IntArray]:
    """Indices of the days from ``starts`` to the morning after ``ends`` in every year that has
    them all, by the winter's name ("1998/99"), in order; nothing of a typical year."""
    if record.typical_year:
        return {}
    index = {day: i for i, day in enumerate(record.days)}
    wanted = [starts + timedelta(days=i) for i in range((ends - starts).days + 2)]
    found = {}
    for year in sorted({day.year for day in record.days}):
        shifted = [series.shift_years(day, year - starts.year) for day in wanted]
        if all(day in index for day in shifted):
            last = shifted[-2].year
            name = f"{year}" if last == year else f"{year}/{last % 100:02d}"
            found[name] = np.array([index[day] for day in shifted], dtype=np.intp)
    return found


def winters_of_record(
    record: DayRecord,
    whole: Mapping[str, IntArray],
    starts: date,
    at: Location,
    snow_lies: SnowLies,
) -> Winters:
    """The whole winters of a record as they were measured; ``whole`` is of ``whole_winters``. Sun
    that was not measured is told from each day's range of temperature (FAO-56 eq. 50)."""
    picked = np.stack(list(whole.values()))
    low, high = record.min_c[picked], record.max_c[picked]
    flat = (picked.shape[0], -1)
    air = hourly_from_daily(low, high) if record.is_daily else record.air_c[picked].reshape(flat)
    if record.sun_w_m2 is not None:
        sun = record.sun_w_m2[picked].reshape(flat)
    else:
        dates = [starts + timedelta(days=i) for i in range(picked.shape[1])]
        year_day = np.array([series.day_of_common_year(day) + 1.0 for day in dates])
        total = sun_from_temperature_range_mj_m2_d(low, high, at, year_day)
        sun = sun_from_daily_total(total, at, year_day)
    return Winters(
        air_c=np.asarray(air[:, NOON_H:-NOON_H]),
        sun_w_m2=np.asarray(sun[:, NOON_H:-NOON_H]),
        snow_m=snow_depth_m((low + high)[:, :-1] / 2, snow_lies),
        names=tuple(whole),
        origin=f"{len(whole)} whole winters of {record.file}.",
    )


def normals_of_record(record: DayRecord) -> Normals:
    """Monthly means of a record; months that it lacks come from the yearly wave of the others.
    Raises ``ValueError``: With fewer than six months."""
    month = np.array([day.month - 1 for day in record.days], dtype=np.intp)
    enough = np.bincount(month, minlength=series.MONTHS) >= FEWEST_DAYS_OF_MONTH

    def monthly(daily: FloatArray) -> FloatArray:
        found = np.where(enough, series.mean_by_month(daily, month), np.nan)
        return series.with_missing_months(found)

    low, high = monthly(record.min_c), monthly(record.max_c)
    sun = None
    if record.sun_w_m2 is not None:
        sun = np.maximum(0, monthly(record.sun_w_m2.mean(axis=1) * MJ_PER_M2_D_PER_W_M2))
    return Normals(low, high, sun)


def coldest_nights(record: DayRecord, coldest_month: int) -> FloatArray:
    """Lowest temperature of each winter that is whole around ``coldest_month`` (0 to 11), degC; two
    halves count as one. A typical year tells nothing: it leaves the coldest winters out."""
    if record.typical_year:
        return np.empty(0)
    least = WHOLE_SHARE * (2 * COLD_SIDE_D + 1)
    low = record.min_c
    near: dict[int, list[int]] = {}
    for i, day in enumerate(record.days):
        for year in (day.year - 1, day.year, day.year + 1):
            if abs((day - date(year, coldest_month + 1, 15)).days) <= COLD_SIDE_D:
                near.setdefault(year, []).append(i)
    whole = [float(low[days].min()) for days in near.values() if len(days) >= least]
    patched = [i for days in near.values() for i in days]
    if not whole and len({series.day_of_common_year(record.days[i]) for i in patched}) >= least:
        whole = [float(low[patched].min())]
    return np.array(whole)


# Rough, and said to be: on the five typical years that the tests know (Chicago, Golden, Dulles, San
# Francisco, Tampa) mean minima and maxima of November to March miss by the figures in
# docs/winters.md. Normals of a station nearby are better.

SEA_LEVEL_C = ((0.0, 26.0), (20.0, 25.0), (30.0, 20.4), (40.0, 14.0), (50.0, 5.7), (60.0, -1.0))
"""Yearly mean air at the level of the sea by latitude, degrees, means around the globe: textbooks
of climatology, from memory."""
MILDER_K = (
    ((-130.0, 0.0), (-125.0, 4.0), (-121.0, 4.0), (-116.0, 0.0)),
    ((-15.0, 0.0), (-10.0, 5.0), (20.0, 5.0), (40.0, 2.5), (60.0, 0.0)),
)
"""By longitude, degrees: how much warmer the west coast of North America and Europe are, lee of an
ocean, by the yearly means of Vancouver, London, Berlin, Warsaw, Kyiv and Moscow (from memory)."""
MILDER_FROM_DEG, MILDER_WHOLE_DEG = 38.0, 46.0  # north of these latitudes: not at all, wholly
LAPSE_K_M = 0.004  # on plateaus and in valleys: less than the 0.0065 of free air; a judgement
WINTER_RANGE_K, SUMMER_RANGE_K = 9.0, 12.0
"""Mean minimum to mean maximum in the coldest and in the warmest month: a judgement."""
COLDEST_DAY = 20.0  # of the year, of the wave in the north; in the south half a year later
SMALLEST_SWING_K, LARGEST_SWING_K = 6.0, 45.0


def normals_by_zone(
    latitude_deg: float, longitude_deg: float, elevation_m: float, coldest_night_c: float
) -> Normals:
    """Mean daily minima and maxima of the months, degC. The rule that tells the coldest night from
    the normals (``coldest_night.law_by_rule``) is turned round: the coldest night lies 3 K + 0.44 x
    swing below the coldest month's mean minimum, and that half a swing below the yearly mean of the
    minima, which latitude and elevation tell."""
    latitudes, means = zip(*SEA_LEVEL_C, strict=True)
    mean_c = float(np.interp(abs(latitude_deg), latitudes, means)) - LAPSE_K_M * elevation_m
    lee = float(np.interp(latitude_deg, (MILDER_FROM_DEG, MILDER_WHOLE_DEG), (0.0, 1.0)))
    for longitudes, milder in (np.array(knots).T for knots in MILDER_K):
        mean_c += lee * float(np.interp(longitude_deg, longitudes, milder))
    mean_min_c = mean_c - (WINTER_RANGE_K + SUMMER_RANGE_K) / 4
    swing_k = (mean_min_c - coldest_night_c - BELOW_MEAN_MIN_K) / (0.5 + BELOW_PER_SWING)
    swing_k = float(np.clip(swing_k, SMALLEST_SWING_K, LARGEST_SWING_K))
    coldest_month_c = coldest_night_c + BELOW_MEAN_MIN_K + BELOW_PER_SWING * swing_k
    coldest = COLDEST_DAY if latitude_deg >= 0 else COLDEST_DAY + series.YEAR_DAYS / 2
    # 0 in the coldest of the year, 1 in the warmest.
    warmth = (1 - np.cos(2 * np.pi / series.YEAR_DAYS * (series.MID_MONTH_DAYS - coldest))) / 2
    low = coldest_month_c + swing_k * warmth
    return Normals(low, low + WINTER_RANGE_K + (SUMMER_RANGE_K - WINTER_RANGE_K) * warmth)
