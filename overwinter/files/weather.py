"""The season's winters and ground, from whichever kind of weather the site names."""

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd

from overwinter.climate import coldest_night, records
from overwinter.climate.coldest_night import ColdestNight
from overwinter.climate.generator import draw_winters
from overwinter.climate.ground import ground_from_weather
from overwinter.climate.records import DayRecord, Normals
from overwinter.climate.series import MID_MONTH_DAYS, MONTHS
from overwinter.files.findings import Findings, KeyGuess
from overwinter.files.measures import degrees, kelvins
from overwinter.files.site_file import MonthTable, SiteFile, WeatherTable
from overwinter.files.text_files import SITE
from overwinter.files.weather_records import read_daily, read_epw, read_hourly, whole_days
from overwinter.model.season import WinterRecipe, Winters
from overwinter.model.shelter import FloatArray
from overwinter.model.site import Ground, Location
from overwinter.shelters.conditions import DESIGN_SHARE
from overwinter.units import Display

LAW = ("hardiness_zone", "coldest_night_mean_c", "coldest_night_spread_k")  # how cold winters get
ODD_MONTH_K = 8.0
"""Means of months swing as a wave: no month of our scenarios lies 3 K off the mean of its two
neighbours, in the most continental climates 5 K (from memory)."""
READERS = {"epw": read_epw, "hourly": read_hourly, "daily": read_daily}
FAR_AWAY_DEG = 3.0
NEAR_ENOUGH_K = 1.0
FEWEST_WINTERS = 20
"""Whole winters of a record that are used as they are. A place is refused where a tree is lost in
more than one winter of 20; a shorter record more often than not lacks such a winter (a share of
0.95^12 = 0.54 of all records of 12 winters), so more are drawn from what it tells."""
SeasonWeather = tuple[Winters, WinterRecipe, Ground, float]
"""Winters, what they are drawn from, the ground, and the design minimum, degC."""


def law_of_nights(
    table: WeatherTable, record: DayRecord | None, mean_min_c: FloatArray, findings: Findings
) -> ColdestNight | None:
    """Law of the coldest nights of winters; None where what is written can't go with the normals.
    What is written goes before the head of the weather file, that before its own winters, and these
    before a rule. ``mean_min_c`` are the mean daily minima of the twelve months, degC."""
    measured = None if record is None else record.coldest
    if record is not None and measured is None:
        winters = records.coldest_nights(record, int(mean_min_c.argmin()))
        measured = coldest_night.law_of_record(winters, mean_min_c) if winters.size else None
    mean_c, spread_k = table.coldest_night_mean_c, table.coldest_night_spread_k
    if table.hardiness_zone is not None:
        mean_c = coldest_night.zone_middle_c(table.hardiness_zone)
    elif mean_c is None and measured is not None:
        mean_c = measured.mean_c
    if mean_c is None:
        mean_c = coldest_night.law_by_rule(mean_min_c).mean_c
        findings.assume(
            "Nothing says how cold winters get: by a rule from the normals the coldest night of a"
            f" winter is {degrees(mean_c)} on average. Better give hardiness_zone, or"
            " coldest_night_mean and coldest_night_spread, in [weather].",
            KeyGuess(SITE, "weather", "coldest_night_mean_c", round(mean_c, 1)),
        )
    if spread_k is None:
        by_rule_k = coldest_night.spread_by_rule(mean_c, mean_min_c)
        spread_k = measured.spread_k if measured else by_rule_k
    law = ColdestNight(mean_c, spread_k)
    written = [key for key in LAW if getattr(table, key) is not None]
    if coldest_night.goes_with(law, mean_min_c):
        return law
    if not written:
        return coldest_night.made_to_go_with(law, mean_min_c)
    table.where.of(written[0]).problem(
        f"a mean coldest night of {degrees(law.mean_c)} with a spread of {kelvins(law.spread_k)}",
        "coldest nights well below the nights of the coldest month, which are"
        f" {degrees(float(mean_min_c.min()))} on average",
        "Take the mean of the coldest nights of many winters, and their standard deviation.",
    )
    return None


def read_weather(folder: Path, site: SiteFile, findings: Findings) -> SeasonWeather | None:
    """Read the weather and make the sample of winters from it; None after a problem. A record is
    read and checked although something else in site.toml is wrong."""
    known = not site.hides("weather") and site.weather.told.sound
    record = _record(folder, site, findings) if known else None
    whole = None if record is None else whole_days(record, findings)
    normals = _normals(whole, site, findings)
    if site.season is None or not known or normals is None:
        return None
    law = law_of_nights(site.weather, whole, normals.mean_min_c, findings)
    if law is None or not site.whole:
        return None
    sun = normals.sun_mj_m2_d
    recipe = WinterRecipe(
        mean_min_c=tuple(map(float, normals.mean_min_c)),
        mean_max_c=tuple(map(float, normals.mean_max_c)),
        sun_mj_m2_d=None if sun is None else tuple(map(float, sun)),
        coldest_mean_c=law.mean_c,
        coldest_spread_k=law.spread_k,
        snow_lies=site.weather.snow_lies,
    )
    winters = _winters(whole, recipe, site, findings)
    if whole is not None:
        _check_place(whole, site, findings)
    ground = site.ground and Ground(**site.ground.model_dump())
    ground = ground or _ground(whole, normals, site.display, findings)
    if ground is None:
        return None
    return winters, recipe, ground, _design_min(site, normals, winters, findings)


def _record(folder: Path, site: SiteFile, findings: Findings) -> DayRecord | None:
    weather = site.weather
    where, name = weather.where, weather.file
    if name is None:
        months = weather.months
        missing = [] if months is None else sorted(set(range(1, MONTHS + 1)) - months)
        if weather.kind not in (None, "normals"):
            where.of("file").problem("nothing", "the name of the weather file")
        elif missing:
            where.of("month").problem(
                "no normals of month " + ", ".join(map(str, missing))
                if months
                else "neither a weather file nor monthly normals",
                "file and kind, or all twelve [[weather.month]]",
            )
        return None
    kind = weather.kind or ("epw" if name.lower().endswith(".epw") else None)
    if kind is None or kind == "normals":
        where.of("kind").problem(
            f"'{kind}'" if kind else "nothing",
            f"what {name} holds: epw, hourly or daily",
            "Normals are written in site.toml and have no file." if kind else "",
        )
        return None
    if not (folder / name).is_file():
        where.of("file").problem(f"'{name}', which is not in the folder", "a file of the folder")
        return None
    return READERS[kind](folder / name, findings)


def _normals(record: DayRecord | None, site: SiteFile, findings: Findings) -> Normals | None:
    """Monthly means of the record, or the months of site.toml where it names no file."""
    if record is None:
        months = site.weather.month if site.whole and site.weather.file is None else ()
        return _written_normals(months, findings)
    try:
        normals = records.normals_of_record(record)
    except ValueError as error:
        findings.at(record.file).problem(
            str(error),
            "days of at least six months",
            "Use a fuller record, or describe the site by monthly normals.",
        )
        return None
    if record.sun_w_m2 is None:
        findings.assume(
            f"{record.file} holds no sun: estimated from each day's range of temperature (FAO-56"
            " eq. 50), which is rough."
        )
    return normals


def _written_normals(months: tuple[MonthTable, ...], findings: Findings) -> Normals | None:
    """The months of ``[[weather.month]]``, checked before; None unless there are twelve."""
    if len(months) < MONTHS:
        return None
    rows = [(one.mean_min_c, one.mean_max_c, one.sun_mj_m2_d) for one in months]
    table = pd.DataFrame(rows, [one.month for one in months], dtype=float).sort_index()
    low, high, sun = table.to_numpy().T
    mean = (low + high) / 2
    off = mean - (np.roll(mean, 1) + np.roll(mean, -1)) / 2
    if abs(off[odd := int(abs(off).argmax())]) > ODD_MONTH_K:
        findings.warn(
            f"[weather.month.{odd + 1}] lies {kelvins(abs(off[odd]))} off the mean of the months"
            " before and after it. Is it in another unit?"
        )
    if 0 < np.isnan(sun).sum() < MONTHS:
        findings.assume("Some months give no sun: that of all is estimated from the temperatures.")
    return Normals(low, high, None if np.isnan(sun).any() else sun)


def _winters(
    record: DayRecord | None, recipe: WinterRecipe, site: SiteFile, findings: Findings
) -> Winters:
    """The whole winters of a long record, else winters drawn from its normals."""
    at = Location(site.latitude, site.longitude, site.offset_h, site.elevation_m)
    whole = {} if record is None else records.whole_winters(record, site.starts, site.ends)
    if record is not None and len(whole) >= FEWEST_WINTERS:
        found = records.winters_of_record(record, whole, site.starts, at, recipe.snow_lies)
        return _told(found, site, record.station)
    if record is not None and not record.typical_year:
        held = "1 whole winter" if len(whole) == 1 else f"{len(whole)} whole winters"
        findings.assume(
            f"{record.file} holds {held}, the plan's first day to its last; from fewer than"
            f" {FEWEST_WINTERS}, {site.winters} winters are drawn that keep its monthly means."
            " Those of one year may be far from usual."
        )
    days = (site.ends - site.starts).days + 1
    drawn = draw_winters(recipe, site.winters, site.seed, site.starts, days, at)
    display = site.display
    cold = (
        f"; coldest nights {display.temperature(recipe.coldest_mean_c)} on average,"
        f" spread {display.kelvin(recipe.coldest_spread_k)}."
    )
    drawn = replace(drawn, origin=drawn.origin.rstrip(".") + cold)
    return _told(drawn, site, "" if record is None else record.station or record.file)


def _told(winters: Winters, site: SiteFile, station: str) -> Winters:
    """The winters with the grower's words on where the weather is from before their own."""
    weather = site.weather
    parts = [weather.origin or station, weather.licence and f"licence: {weather.licence}"]
    source = "; ".join(part for part in parts if part)
    return replace(winters, origin=f"{source}. {winters.origin}" if source else winters.origin)


def _check_place(record: DayRecord, site: SiteFile, findings: Findings) -> None:
    """Weather from somewhere else is allowed, and said."""
    if record.latitude_deg is None or record.longitude_deg is None:
        return
    north = abs(record.latitude_deg - site.latitude)
    east = abs(record.longitude_deg - site.longitude)
    if max(north, east) > FAR_AWAY_DEG:
        findings.warn(
            f"{record.file} was measured at {record.latitude_deg:g}, {record.longitude_deg:g};"
            f" the site lies at {site.latitude:g}, {site.longitude:g}."
        )


def _ground(
    record: DayRecord | None, normals: Normals, display: Display, findings: Findings
) -> Ground | None:
    """Ground parameters from all days of the record, or from the monthly normals."""
    if record is None:
        mean, year_day = (normals.mean_min_c + normals.mean_max_c) / 2, MID_MONTH_DAYS
    else:
        mean = record.air_c.mean(axis=1)
        year_day = np.array([day.timetuple().tm_yday for day in record.days], dtype=np.float64)
    try:
        ground = ground_from_weather(mean, year_day)
    except ValueError as error:
        findings.at("site.toml" if record is None else record.file).problem(
            str(error),
            "a record long enough to tell the ground temperature, or [ground] in site.toml",
            "Add [ground] with mean_c, amplitude_k and coldest_day.",
        )
        return None
    coldest = date(2026, 1, 1) + timedelta(days=round(ground.coldest_day) - 1)
    findings.assume(
        f"Ground temperature taken from the weather: mean {display.temperature(ground.mean_c)},"
        f" {display.kelvin(ground.amplitude_k)} above and below it over the year, coldest about"
        f" {coldest.day} {coldest:%B}.",
        KeyGuess(SITE, "ground", "mean_c", round(ground.mean_c, 1)),
        KeyGuess(SITE, "ground", "amplitude_k", round(ground.amplitude_k, 1)),
        KeyGuess(SITE, "ground", "coldest_day", round(ground.coldest_day) or 365),
    )
    return ground


def _design_min(site: SiteFile, normals: Normals, winters: Winters, findings: Findings) -> float:
    """The grower's design minimum, or the coldest night of 20 winters of the sample."""
    coldest = float(np.quantile(winters.air_c.min(axis=1), DESIGN_SHARE))
    given, usual = site.heating.design_min_c, float(normals.mean_min_c.min())
    shown = site.display.temperature
    if given is None:
        return coldest
    if given >= usual:
        findings.at("site.toml", "heating", "design_min_c").problem(
            shown(given),
            f"a night colder than the coldest month's, which are {shown(usual)} on average",
            f"Leave it out, and {shown(coldest)}, the coldest night of 20 winters, is taken.",
        )
    elif given > coldest + NEAR_ENOUGH_K:
        findings.warn(
            f"The design minimum of {shown(given)} is warmer than the coldest night of 20"
            f" winters, {shown(coldest)}."
        )
    return given
