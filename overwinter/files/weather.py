"""The season's hourly weather and ground, from whichever kind of record the site names."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from overwinter.climate.air import hourly_from_daily
from overwinter.climate.ground import ground_from_weather
from overwinter.climate.series import days_of_year
from overwinter.climate.sun import sun_from_daily_total, sun_from_temperature_range_mj_m2_d
from overwinter.model.season import Weather
from overwinter.model.shelter import FloatArray
from overwinter.model.site import Ground
from overwinter.files.findings import Findings
from overwinter.files.quantities import degrees, kelvins
from overwinter.files.site_file import SiteFile, WrittenSite
from overwinter.files.weather_epw import read_epw
from overwinter.files.weather_normals import check_normals, normals_year
from overwinter.files.weather_record import (
    DayRecord,
    IntArray,
    season_order,
    whole_days,
    winter_used,
)
from overwinter.files.weather_table import read_daily, read_hourly
from overwinter.units import HOURS_PER_DAY

READERS = {"epw": read_epw, "hourly": read_hourly, "daily": read_daily}
FAR_AWAY_DEG = 3.0
NEAR_ENOUGH_K = 1.0


@dataclass(frozen=True)
class SeasonWeather:
    """What the weather gives to the season."""

    weather: Weather
    ground: Ground
    design_min_c: float


def read_weather(folder: Path, site: SiteFile, findings: Findings) -> SeasonWeather | None:
    """Read the record and lay it onto the season by month and day; None after a problem.

    A record is read and checked although something else in site.toml is wrong.
    """
    record = _record(folder, site, findings)
    whole = None if record is None else whole_days(record, findings)
    season, table, written = site.known.season, site.known.weather, site.written
    if whole is None or season is None or table is None:
        return None
    order = season_order(whole, *season, table.winter, findings)
    if order is None or written is None:
        return None
    air = _air(whole, order)
    weather = Weather(
        air_c=air,
        sun_w_m2=_sun(whole, order, written, air, findings),
        origin=_origin(whole, order, written),
        wind_m_s=_wind(whole, order),
    )
    _check_place(whole, written, findings)
    ground = written.ground or _ground(whole, findings)
    if ground is None:
        return None
    return SeasonWeather(weather, ground, _design_min(written, weather, findings))


def _record(folder: Path, site: SiteFile, findings: Findings) -> DayRecord | None:
    weather = site.known.weather
    if weather is None:
        return None
    if weather.file is None:
        if weather.kind not in (None, "normals"):
            findings.problem(
                "site.toml", "weather", "file", "nothing", "the name of the weather file", ""
            )
            return None
        check_normals(site.known, findings)
        return None if site.written is None else normals_year(site.written, findings)
    kind = weather.kind or ("epw" if weather.file.lower().endswith(".epw") else None)
    if kind is None or kind == "normals":
        findings.problem(
            "site.toml",
            "weather",
            "kind",
            f"'{kind}'" if kind else "nothing",
            f"what {weather.file} holds: epw, hourly or daily",
            "Normals are written in site.toml and have no file." if kind else "",
        )
        return None
    if not (folder / weather.file).is_file():
        findings.problem(
            "site.toml",
            "weather",
            "file",
            f"'{weather.file}', which is not in the folder",
            "a file of the folder",
            "",
        )
        return None
    return READERS[kind](folder / weather.file, findings)


def _air(record: DayRecord, order: IntArray) -> FloatArray:
    picked = record.air_c[order]
    if record.is_daily:
        return hourly_from_daily(picked[:, 0], picked[:, 1])
    return np.asarray(picked.reshape(-1))


def _sun(
    record: DayRecord,
    order: IntArray,
    written: WrittenSite,
    air_c: FloatArray,
    findings: Findings,
) -> FloatArray:
    """Measured sun, or an estimate from each day's range (FAO-56 eq. 50), clearly said."""
    if record.sun_w_m2 is not None:
        return np.asarray(record.sun_w_m2[order].reshape(-1))
    findings.warn(
        f"{record.file} holds no sun: estimated from each day's range of temperature (FAO-56"
        " eq. 50), which is rough."
    )
    site = written.site
    by_day = air_c.reshape(-1, HOURS_PER_DAY)
    day_of_year = days_of_year(site.starts, len(order))
    total = sun_from_temperature_range_mj_m2_d(
        by_day.min(axis=1), by_day.max(axis=1), site.latitude, day_of_year, site.elevation_m
    )
    return sun_from_daily_total(
        total, site.latitude, site.longitude, written.utc_offset_h, day_of_year
    )


def _wind(record: DayRecord, order: IntArray) -> FloatArray | None:
    if record.wind_m_s is None:
        return None
    wind = record.wind_m_s[order].reshape(-1)
    return None if np.isnan(wind).any() else np.asarray(wind)


def _origin(record: DayRecord, order: IntArray, written: WrittenSite) -> str:
    weather = written.weather
    parts = [
        weather.origin or record.station or record.file,
        winter_used(record, order),
        weather.licence and f"licence: {weather.licence}",
    ]
    return "; ".join(part for part in parts if part) + "."


def _check_place(record: DayRecord, written: WrittenSite, findings: Findings) -> None:
    """Weather from somewhere else is allowed, and said."""
    if record.latitude_deg is None or record.longitude_deg is None:
        return
    north = abs(record.latitude_deg - written.site.latitude)
    east = abs(record.longitude_deg - written.site.longitude)
    if max(north, east) > FAR_AWAY_DEG:
        findings.warn(
            f"{record.file} was measured at {record.latitude_deg:g}, {record.longitude_deg:g};"
            f" the site lies at {written.site.latitude:g}, {written.site.longitude:g}."
        )


def _ground(record: DayRecord, findings: Findings) -> Ground | None:
    """Ground parameters from all days of the record."""
    mean = record.air_c.mean(axis=1)
    day_of_year = np.array([day.timetuple().tm_yday for day in record.days], dtype=np.float64)
    try:
        ground = ground_from_weather(mean, day_of_year)
    except ValueError as error:
        findings.problem(
            record.file,
            None,
            None,
            str(error),
            "a record long enough to tell the ground temperature, or [ground] in site.toml",
            "Add [ground] with mean_c, amplitude_k and coldest_day.",
        )
        return None
    findings.warn(
        f"Ground temperature taken from the weather: mean {degrees(ground.mean_c)}, swing"
        f" {kelvins(ground.amplitude_k)} either way, coldest on day {ground.coldest_day:.0f}."
    )
    return ground


def _design_min(written: WrittenSite, weather: Weather, findings: Findings) -> float:
    """The grower's design minimum, or the coldest hour of the weather, with a word of caution."""
    coldest = float(weather.air_c.min())
    if written.design_min_c is None:
        findings.warn(
            f"No design_min in [heating]: the coldest hour of the weather, {degrees(coldest)}, is"
            " used. Typical years leave the coldest winters out."
        )
        return coldest
    if written.design_min_c > coldest + NEAR_ENOUGH_K:
        findings.warn(
            f"The design minimum of {degrees(written.design_min_c)} is warmer than the coldest hour"
            f" of the weather, {degrees(coldest)}."
        )
    return written.design_min_c
