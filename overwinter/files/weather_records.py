"""Weather and forecasts: EPW; CSV of hours (`time`, `air_c`), days (`date`, `min_c`, `max_c`)."""

import re
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Annotated, Any, ClassVar

import numpy as np
import pandas as pd
from pydantic import AfterValidator, BeforeValidator, Field

from overwinter.climate.coldest_night import ColdestNight
from overwinter.climate.records import DayRecord
from overwinter.files.findings import Findings, Where
from overwinter.files.measures import degrees, kelvins
from overwinter.files.schema import Day, Number, R, Row, wrong
from overwinter.files.sheets import read_csv
from overwinter.files.tables import whole_rows
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import BoolArray
from overwinter.units import HOURS_PER_DAY

LONGEST_HOUR_GAP = 6
LONGEST_DAY_GAP = 3
COLDEST_AIR_C, WARMEST_AIR_C = -80.0, 60.0
BRIGHTEST_W_M2 = 1500.0
LARGEST_DAILY_RANGE_K = 50.0  # more than nearly every day on record; beyond it a slip
ISO_HOUR = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})[T ](\d{1,2})(?::(\d\d))?(?::00(?:\.0+)?)?")
LARGEST_HOURLY_STEP_K = 25.0
"""Air rises and falls less than this in an hour even under a warm downslope wind (the record,
27 K in two minutes, is from memory); a larger step out and back is a slip of the instrument."""
FIRST_YEAR, LAST_YEAR = 1700, 2200  # nobody measured before; pandas 2 knows 1678 to 2261
AirC = Annotated[Number, Field(ge=COLDEST_AIR_C, le=WARMEST_AIR_C)]
HEADER_LINES = 8
FEWEST_COLUMNS = 22
EPW_COLUMNS = {  # number, least, most, and from where on a figure means that there is none
    "month": (2, 1, 12, np.inf),
    "day": (3, 1, 31, np.inf),
    "hour": (4, 1, HOURS_PER_DAY, np.inf),
    "dry bulb": (7, COLDEST_AIR_C, WARMEST_AIR_C, 99.9),
    "global radiation": (14, 0, BRIGHTEST_W_M2, 9999),
}
MEAN_MIN, MEAN_MAX, SPREAD_MIN = 4, 5, 6
"""After the word Extremes of the second line: mean of the yearly lowest and highest temperature,
standard deviation of the lowest; then the lowest and highest in 5, 10, 20 and 50 years."""
COMMON_YEAR, LEAP_YEAR = 2001, 2004
MOST_NIGHTS = 7  # forecasts reach about a week
NOON_H = 12


def filled(values: FloatArray, longest: int) -> FloatArray:
    """A (day, n) record with short runs of missing values joined by straight lines. In an hourly
    record (24 columns) time runs on from row to row; in a daily one down the column."""
    hourly = values.shape[1] == HOURS_PER_DAY
    frame = pd.DataFrame(values.reshape(-1, 1) if hourly else values)
    missing = frame.isna()
    runs = missing.apply(lambda column: column.groupby((~column).cumsum()).transform("sum"))
    joined = frame.interpolate(limit_direction="both").mask(missing & (runs > longest))
    return joined.to_numpy().reshape(values.shape)


def whole_days(record: DayRecord, findings: Findings) -> DayRecord | None:
    """The days that are complete once short gaps are filled; None when none is left."""
    longest = LONGEST_DAY_GAP if record.is_daily else LONGEST_HOUR_GAP
    air = filled(record.air_c, longest)
    gaps = int(np.isnan(record.air_c).sum() - np.isnan(air).sum())
    if gaps:
        what = "readings" if record.is_daily else "hours"
        findings.assume(f"{record.file}: {gaps} missing {what} of air filled with straight lines.")
    complete: BoolArray = np.logical_not(np.isnan(air).any(axis=1))
    if not complete.any():
        findings.at(record.file).problem("no complete day", "days without gaps")
        return None
    sun = record.sun_w_m2
    if sun is not None:
        sun = filled(sun, LONGEST_HOUR_GAP)[complete]
    if sun is not None and np.isnan(sun).any():
        sun = None
        findings.assume(
            f"{record.file}: the sun has long gaps; it is estimated from the air's daily range."
        )
    days = tuple(day for day, whole in zip(record.days, complete, strict=True) if whole)
    return replace(record, days=days, air_c=air[complete], sun_w_m2=sun)


def _measured(day: date) -> date:
    """A day, or an hour of one, on which somebody can have read a thermometer."""
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise wrong(f"a year from {FIRST_YEAR} to {LAST_YEAR}", "Is the century right?")
    return day


def _hour(value: Any) -> Any:
    """A whole hour of local standard time, YYYY-MM-DD HH:00."""
    if isinstance(value, datetime):
        stamp = value
    else:
        text = str(value).strip()
        if text.endswith("Z") or re.search(r"[+-]\d\d:?\d\d$", text[10:]):
            raise wrong(
                "local standard time without a zone, as YYYY-MM-DD HH:00",
                "Shift the times to local standard time and leave the zone out.",
            )
        match = ISO_HOUR.fullmatch(text)
        if not match:
            raise wrong("an hour as YYYY-MM-DD HH:00")
        year, month, day, hour, minute = (int(part or 0) for part in match.groups())
        try:
            stamp = datetime(year, month, day, hour, minute)
        except ValueError:
            raise wrong("an hour of the calendar, 00:00 to 23:00") from None
    if stamp.minute or stamp.second:
        raise wrong("a whole hour", "Give one row an hour, on the hour.")
    return stamp


class HourRow(Row):
    """A row of hourly weather; the hour that begins at ``time``."""

    needed_columns: ClassVar = ("air_c",)
    time: Annotated[datetime, BeforeValidator(_hour), AfterValidator(_measured)] = Field(
        description="the hour's beginning"
    )
    air_c: AirC | None = Field(None, description="air temperature")
    sun_w_m2: Annotated[Number, Field(ge=0, le=BRIGHTEST_W_M2)] | None = None
    wind_m_s: Annotated[Number, Field(ge=0, le=120)] | None = Field(None, description="not used")


class ForecastRow(Row):
    """A row of a forecast by days."""

    also: ClassVar = {"low": "min", "tmin": "min", "high": "max", "tmax": "max"}
    needed_columns: ClassVar[tuple[str, ...]] = ("min_c",)
    date: Annotated[Day, AfterValidator(_measured)] = Field(description="the day")
    min_c: AirC | None = Field(None, description="coldest of the day")
    max_c: AirC | None = Field(None, description="warmest of the day")


class DayRow(ForecastRow):
    """A row of daily weather."""

    needed_columns: ClassVar = ("min_c", "max_c")

    def check(self) -> None:
        """A minimum below its maximum, and not far below."""
        if self.min_c is None or self.max_c is None:
            return
        if self.min_c > self.max_c:
            self.at("min_c").problem(
                f"a minimum of {degrees(self.min_c)} above the maximum of {degrees(self.max_c)}",
                "the minimum below the maximum",
                "Are the two the wrong way round?",
            )
        elif self.max_c - self.min_c > LARGEST_DAILY_RANGE_K:
            self.at("min_c").problem(
                f"a minimum of {degrees(self.min_c)} beside a maximum of {degrees(self.max_c)}",
                f"a day that swings less than {kelvins(LARGEST_DAILY_RANGE_K)}",
                "Empty the cell that is wrong.",
            )


def read_hourly(path: Path, findings: Findings) -> DayRecord | None:
    """Read measured hours; a missing hour or blank cell is a gap. None when it can't be used."""
    before = len(findings.problems)
    change = "Is there a change to summer time in the record?"
    rows = _rows(path, HourRow, findings, "time", change)
    _check_spikes(rows)
    if len(findings.problems) > before or not rows:
        return None
    times = [row.time for row in rows]
    hours = pd.DataFrame([(row.air_c, row.sun_w_m2) for row in rows], times, dtype=float)
    days = pd.date_range(min(times).date(), max(times).date())
    return DayRecord(path.name, tuple(days.date), *_by_day(hours, days))


def read_daily(path: Path, findings: Findings) -> DayRecord | None:
    """Read daily minima and maxima; a missing day or blank cell is a gap."""
    before = len(findings.problems)
    rows = _rows(path, DayRow, findings, "date", "Delete one.")
    if len(findings.problems) > before or not rows:
        return None
    dates = pd.DatetimeIndex([row.date for row in rows])
    air = pd.DataFrame([(row.min_c, row.max_c) for row in rows], dates, dtype=float)
    days = pd.date_range(dates.min(), dates.max())
    return DayRecord(path.name, tuple(days.date), air.reindex(days).to_numpy())


def _rows(path: Path, schema: type[R], findings: Findings, time: str, fix: str) -> list[R]:
    """The rows; the same time twice is a problem."""
    table = read_csv(path, findings, schema)
    if table is None:
        return []
    if not table.rows:
        findings.at(path.name).problem("no rows below the headings", "weather")
    rows, seen = list(whole_rows(table, schema, findings).values()), set()
    for row in rows:
        at = getattr(row, time)
        if at in seen:
            expected = "each once, hours in standard time all winter"
            row.where.of(time).problem(f"'{at}' twice", expected, fix)
        seen.add(at)
    return rows


def _check_spikes(rows: list[HourRow]) -> None:
    """A value far off both its neighbours is the instrument's, not the air's."""
    known = [(row, row.air_c) for row in rows if row.air_c is not None]
    for (before, was), (row, here), (after, then) in zip(known, known[1:], known[2:], strict=False):
        close = after.time - before.time <= timedelta(hours=4)
        step = min(abs(here - was), abs(here - then))
        if close and step > LARGEST_HOURLY_STEP_K and (here - was) * (here - then) > 0:
            row.at("air_c").problem(
                f"{degrees(here)} between {degrees(was)} and {degrees(then)}",
                f"air that changes less than {kelvins(LARGEST_HOURLY_STEP_K)} from row to row",
                "Empty the cell if the reading is wrong.",
            )


def _by_day(hours: pd.DataFrame, days: pd.DatetimeIndex) -> tuple[FloatArray, FloatArray | None]:
    """Air and sun by hour as ``(day, 24)``, nan where there is none; None without any sun."""
    wanted = days.repeat(HOURS_PER_DAY) + pd.to_timedelta(
        np.tile(np.arange(HOURS_PER_DAY), len(days)), unit="h"
    )
    air, sun = hours.reindex(wanted).to_numpy().T.reshape(2, len(days), HOURS_PER_DAY)
    return air, None if np.isnan(sun).all() else sun


# EPW files: 8 header lines, then one row an hour; hour h covers h-1 to h, local standard time.


def read_epw(path: Path, findings: Findings) -> DayRecord | None:
    """Read an EPW file; None when it has no usable days. Encoding is latin-1, as is the custom."""
    try:
        lines = path.read_text(encoding="latin-1").splitlines()
    except OSError:
        findings.at(path.name).problem("no such file", "an EPW file")
        return None
    location = lines[0].split(",") if lines else []
    if len(lines) <= HEADER_LINES or location[0].strip().upper() != "LOCATION":
        findings.at(path.name, 1).problem(
            f"'{lines[0][:40]}'" if lines else "an empty file",
            "the LOCATION line of an EPW file and 8 lines of heading",
            "For another kind of file set kind in [weather].",
        )
        return None
    hours = _epw_hours(lines[HEADER_LINES:], findings.at(path.name))
    if hours is None:
        return None
    days = pd.DatetimeIndex(hours.index).normalize().unique().sort_values()
    air, sun = _by_day(hours, days)
    return DayRecord(
        file=path.name,
        days=tuple(days.date),
        air_c=air,
        sun_w_m2=sun,
        station=", ".join(cell.strip() for cell in location[1:6] if cell.strip() not in ("", "-")),
        typical_year=True,
        latitude_deg=_number(location, 6),
        longitude_deg=_number(location, 7),
        coldest=_coldest_nights(lines[1].split(",")),
    )


def _epw_hours(lines: list[str], where: Where) -> pd.DataFrame | None:
    """Air and sun by hour, of one year; nan where missing. None after a problem."""
    problems = where.findings.problems
    before = len(problems)
    rows = {n: line.split(",") for n, line in enumerate(lines, HEADER_LINES + 1) if line.strip()}
    for number in [n for n, row in rows.items() if len(row) < FEWEST_COLUMNS]:
        found = f"{len(rows.pop(number))} columns"
        replace(where, row=number).problem(found, "35 columns")
    read: dict[str, pd.Series[float]] = {}
    for name, (column, least, most, missing) in EPW_COLUMNS.items():
        cells = pd.Series({n: row[column - 1] for n, row in rows.items()})
        values = pd.to_numeric(cells, errors="coerce")
        gap = values >= missing
        also = "" if missing == np.inf else f", or {missing:g} for missing"
        for number in values.index[~(values.between(least, most) | gap)]:
            replace(where, row=number).of(f"column {column} ({name})").problem(
                f"'{cells[number]}'", f"a number from {least:g} to {most:g}{also}"
            )
        read[name] = values.mask(gap)
    if not rows:
        where.problem("no hours", "hours below the heading")
    if len(problems) > before:
        return None
    hours = pd.DataFrame(read)
    twice = hours.duplicated(["month", "day", "hour"])
    for number in hours.index[twice][:1]:
        replace(where, row=number).of("month, day, hour").problem(
            "an hour twice",
            "each hour of one year once",
            "A file of several years is given as an hourly CSV.",
        )
    year = LEAP_YEAR if ((hours.month == 2) & (hours.day == 29)).any() else COMMON_YEAR
    dates = pd.to_datetime(hours[["month", "day"]].assign(year=year), errors="coerce")
    for number in hours.index[dates.isna()]:
        replace(where, row=number).of("month, day").problem("no day", "a day of the calendar")
    times = dates + pd.to_timedelta(hours.hour - 1, unit="h")
    return hours.iloc[:, 3:].set_index(times) if len(problems) == before else None


def _number(cells: list[str], index: int) -> float | None:
    try:
        return float(cells[index])
    except (IndexError, ValueError):
        return None


def _coldest_nights(cells: list[str]) -> ColdestNight | None:
    """The law of the yearly lowest temperatures of the line of design conditions, if it has one."""
    names = [cell.strip().lower() for cell in cells]
    if "extremes" not in names:
        return None
    extremes = cells[names.index("extremes") + 1 :]
    mean, warmest, spread = (_number(extremes, i) for i in (MEAN_MIN, MEAN_MAX, SPREAD_MIN))
    if mean is None or warmest is None or spread is None or spread <= 0 or mean >= warmest:
        return None
    return ColdestNight(mean, spread)


def read_forecast(path: Path, first: date) -> tuple[float, ...]:
    """Lowest of each coming night, degC, from the night that follows noon of ``first``. The minimum
    of a day is that of its morning, so the row of tomorrow tells of tonight. Of hours, those from
    noon to noon are one night. Rows of the past are passed over."""
    findings = Findings()
    lows: dict[date, float] = {}
    table = read_csv(path, findings)
    if table is not None and "time" in table.headings:
        for row in whole_rows(table, HourRow, findings).values():
            night = (row.time - timedelta(hours=NOON_H)).date()
            if row.air_c is not None:
                lows[night] = min(lows.get(night, row.air_c), row.air_c)
    elif table is not None:
        for day in whole_rows(table, ForecastRow, findings).values():
            if day.min_c is not None:
                lows[day.date - timedelta(days=1)] = day.min_c
    found: list[float] = []
    while first + timedelta(days=len(found)) in lows and len(found) < MOST_NIGHTS:
        found.append(lows[first + timedelta(days=len(found))])
    if not found and not findings.problems:
        nights = f"nights of {min(lows)} to {max(lows)}" if lows else "no minimum at all"
        headings = "date and min_c (or min_f), or time and air_c (or air_f)"
        findings.at(path.name).problem(
            nights,
            f"the night of {first}, under the headings {headings}",
            "The row of tomorrow's date tells of tonight. Say with --today which day it is.",
        )
    findings.raise_if_any()
    return tuple(found)
