"""Weather and forecasts as CSV: hours (`time`, `air_c`) or days (`date`, `min_c`, `max_c`)."""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Annotated, Any, ClassVar, TypeVar

import numpy as np
from pydantic import BeforeValidator, Field

from overwinter.climate.records import DayRecord
from overwinter.climate.series import missing_runs
from overwinter.files.csv_text import read_csv
from overwinter.files.findings import Findings, Where
from overwinter.files.quantities import degrees, kelvins
from overwinter.files.schema import Day, Number, Row, wrong
from overwinter.files.tables import Table, whole_rows
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import BoolArray
from overwinter.units import HOURS_PER_DAY

LONGEST_HOUR_GAP = 6
LONGEST_DAY_GAP = 3
COLDEST_AIR_C, WARMEST_AIR_C = -80.0, 60.0
LARGEST_DAILY_RANGE_K = 50.0
"""More than nearly every day on record has swung; beyond it a reading is a slip."""


def filled(values: FloatArray, longest: int) -> FloatArray:
    """A (day, n) record with short runs of missing values joined by straight lines.

    In an hourly record (24 columns) time runs on from row to row; in a daily one down the column.
    """
    hourly = values.shape[1] == HOURS_PER_DAY
    columns = [values.reshape(-1)] if hourly else list(values.T)
    done = [_fill_column(column, longest) for column in columns]
    return done[0].reshape(values.shape) if hourly else np.column_stack(done)


def _fill_column(column: FloatArray, longest: int) -> FloatArray:
    known = ~np.isnan(column)
    if known.all() or not known.any():
        return column
    index = np.arange(column.size)
    out = np.interp(index, index[known], column[known])
    for first, length in missing_runs(column):
        if length > longest:
            out[first : first + length] = np.nan
    return np.asarray(out)


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
    return replace(
        record,
        days=tuple(day for day, whole in zip(record.days, complete, strict=True) if whole),
        air_c=air[complete],
        sun_w_m2=_light(record, complete, findings),
    )


def _light(record: DayRecord, complete: BoolArray, findings: Findings) -> FloatArray | None:
    """Sun of the complete days; None (it will be estimated) when gaps in it are long."""
    if record.sun_w_m2 is None:
        return None
    sun = filled(record.sun_w_m2, LONGEST_HOUR_GAP)[complete]
    if np.isnan(sun).any():
        findings.assume(
            f"{record.file}: the sun has long gaps; it is estimated from the air's daily range."
        )
        return None
    return np.asarray(sun)


def every_day(first: date, last: date) -> tuple[date, ...]:
    """All dates from first to last."""
    return tuple(first + timedelta(days=i) for i in range((last - first).days + 1))


ISO_HOUR = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})[T ](\d{1,2})(?::(\d\d))?(?::00(?:\.0+)?)?")
LARGEST_HOURLY_STEP_K = 25.0
"""Air rises and falls less than this in an hour even under a warm downslope wind (the record,
27 K in two minutes, is from memory); a larger step out and back is a slip of the instrument."""


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


AirC = Annotated[Number, Field(ge=COLDEST_AIR_C, le=WARMEST_AIR_C)]


class HourRow(Row):
    """A row of hourly weather; the hour that begins at ``time``."""

    needed_columns: ClassVar = ("air_c",)
    time: Annotated[datetime, BeforeValidator(_hour)] = Field(description="the hour's beginning")
    air_c: AirC | None = Field(None, description="air temperature")
    sun_w_m2: Annotated[Number, Field(ge=0, le=1500)] | None = None
    wind_m_s: Annotated[Number, Field(ge=0, le=120)] | None = Field(None, description="not used")


class ForecastRow(Row):
    """A row of a forecast by days."""

    needed_columns: ClassVar[tuple[str, ...]] = ("min_c",)
    date: Day = Field(description="the day")
    min_c: AirC | None = Field(None, description="coldest of the day")
    max_c: AirC | None = Field(None, description="warmest of the day")


class DayRow(ForecastRow):
    """A row of daily weather."""

    needed_columns: ClassVar = ("min_c", "max_c")


def read_hourly(path: Path, findings: Findings) -> DayRecord | None:
    """Read measured hours; a missing hour or blank cell is a gap. None when it can't be used."""
    before = len(findings.problems)
    table, rows = _rows(path, HourRow, findings)
    unique = _by_time(path.name, rows, lambda row: row.time, findings)
    _check_spikes(path.name, _heading_in(table, HourRow, "air_c"), rows, findings)
    if len(findings.problems) > before or not unique:
        return None
    days = every_day(min(unique).date(), max(unique).date())
    return DayRecord(
        file=path.name,
        days=days,
        air_c=_hours(days, {time: row.air_c for time, row in unique.items()}),
        sun_w_m2=none_if_missing(
            _hours(days, {time: row.sun_w_m2 for time, row in unique.items()})
        ),
    )


def read_daily(path: Path, findings: Findings) -> DayRecord | None:
    """Read daily minima and maxima; a missing day or blank cell is a gap."""
    before = len(findings.problems)
    table, rows = _rows(path, DayRow, findings)
    unique = _by_time(path.name, rows, lambda row: row.date, findings)
    column = _heading_in(table, DayRow, "min_c")
    for number, row in rows.items():
        _check_day(row, findings.at(path.name, number, column))
    if len(findings.problems) > before or not unique:
        return None
    days = every_day(min(unique), max(unique))
    index = {day: i for i, day in enumerate(days)}
    air = np.full((len(days), 2), np.nan)
    for day, row in unique.items():
        low, high = row.min_c, row.max_c
        air[index[day]] = (np.nan if low is None else low, np.nan if high is None else high)
    return DayRecord(file=path.name, days=days, air_c=air)


S = TypeVar("S", bound=Row)


def _rows(path: Path, schema: type[S], findings: Findings) -> tuple[Table | None, dict[int, S]]:
    table = read_csv(path, findings, schema)
    if table is None:
        return None, {}
    if not table.rows:
        findings.at(path.name).problem("no rows below the headings", "weather")
    return table, whole_rows(table, schema, findings)


def _heading_in(table: Table | None, schema: type[Row], field: str) -> str:
    """The heading under which a table gives a field; the customary one if it gives none."""
    wanted = schema.headings_of(field)
    given = () if table is None else table.headings
    return next((name for name in wanted if name in given), wanted[0])


T = TypeVar("T")


def _by_time(
    file: str, rows: dict[int, S], key: Callable[[S], T], findings: Findings
) -> dict[T, S]:
    """Rows by their time; the same time twice is a problem."""
    unique: dict[T, S] = {}
    for number, row in rows.items():
        time = key(row)
        if time in unique:
            findings.at(file, number, "time" if isinstance(time, datetime) else "date").problem(
                f"'{time}' twice",
                "each once, hours in standard time all winter",
                "Is there a change to summer time in the record?"
                if isinstance(time, datetime)
                else "Delete one.",
            )
            continue
        unique[time] = row
    return unique


def _check_day(row: DayRow, where: Where) -> None:
    if row.min_c is None or row.max_c is None:
        return
    if row.min_c > row.max_c:
        where.problem(
            f"a minimum of {degrees(row.min_c)} above the maximum of {degrees(row.max_c)}",
            "the minimum below the maximum",
            "Are the two the wrong way round?",
        )
    elif row.max_c - row.min_c > LARGEST_DAILY_RANGE_K:
        where.problem(
            f"a minimum of {degrees(row.min_c)} beside a maximum of {degrees(row.max_c)}",
            f"a day that swings less than {kelvins(LARGEST_DAILY_RANGE_K)}",
            "Empty the cell that is wrong.",
        )


def _check_spikes(file: str, column: str, rows: dict[int, HourRow], findings: Findings) -> None:
    """A value far off both its neighbours is the instrument's, not the air's."""
    known = [(number, row.time, row.air_c) for number, row in rows.items() if row.air_c is not None]
    triples = zip(known, known[1:], known[2:], strict=False)
    for (_, before_at, before), (number, _, here), (_, after_at, after) in triples:
        close = after_at - before_at <= timedelta(hours=4)
        step = min(abs(here - before), abs(here - after))
        if close and step > LARGEST_HOURLY_STEP_K and (here - before) * (here - after) > 0:
            findings.at(file, number, column).problem(
                f"{degrees(here)} between {degrees(before)} and {degrees(after)}",
                f"air that changes less than {kelvins(LARGEST_HOURLY_STEP_K)} from row to row",
                "Empty the cell if the reading is wrong.",
            )


def _hours(days: tuple[date, ...], values: dict[datetime, float | None]) -> FloatArray:
    """Values laid into (day, 24); nan where there is none."""
    out = np.full((len(days), HOURS_PER_DAY), np.nan)
    for time, value in values.items():
        if value is not None:
            out[(time.date() - days[0]).days, time.hour] = value
    return out


def none_if_missing(values: FloatArray) -> FloatArray | None:
    """The values, unless all of them are missing."""
    return None if np.isnan(values).all() else values


MOST_NIGHTS = 7
"""Forecasts reach about a week."""
NOON_H = 12


def read_forecast(path: Path, first: date) -> tuple[float, ...]:
    """Lowest of each coming night, degC, from the night that follows noon of ``first``.

    The minimum of a day is that of its morning, so the row of tomorrow tells of tonight. Of hours,
    those from noon to noon are one night. Rows of the past are passed over.

    Raises ``InputProblems``: With everything that is wrong in the file.
    """
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
