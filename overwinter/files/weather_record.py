"""A weather record of whole days, whatever file it came from, and how it is laid onto a season."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from overwinter.climate.series import missing_runs, shift_years, source_days
from overwinter.model.shelter import FloatArray
from overwinter.files.findings import Findings
from overwinter.units import HOURS_PER_DAY

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.intp]

LONGEST_HOUR_GAP = 6
LONGEST_DAY_GAP = 3
COLDEST_AIR_C, WARMEST_AIR_C = -80.0, 60.0
LARGEST_DAILY_RANGE_K = 50.0
"""More than nearly every day on record has swung; beyond it a reading is a slip."""


@dataclass(frozen=True)
class DayRecord:
    """Days with what was measured; a column is None where the file has none of it.

    ``per_day`` values stand for each day: 24 hours, or 2 (minimum, maximum) in a daily record.
    """

    file: str
    days: tuple[date, ...]
    air_c: FloatArray
    """(day, 24), or (day, 2) holding minimum and maximum; nan where missing."""
    sun_w_m2: FloatArray | None = None
    """(day, 24)"""
    wind_m_s: FloatArray | None = None
    """(day, 24)"""
    station: str = ""
    typical_year: bool = False
    """Months of different years patched together; the years mean nothing."""
    latitude_deg: float | None = None
    longitude_deg: float | None = None

    @property
    def is_daily(self) -> bool:
        """Whether it holds only minima and maxima."""
        return bool(self.air_c.shape[1] == 2)


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
        findings.warn(f"{record.file}: {gaps} missing {what} of air filled with straight lines.")
    complete: BoolArray = np.logical_not(np.isnan(air).any(axis=1))
    if not complete.any():
        findings.problem(record.file, None, None, "no complete day", "days without gaps", "")
        return None
    return DayRecord(
        file=record.file,
        days=tuple(day for day, whole in zip(record.days, complete, strict=True) if whole),
        air_c=air[complete],
        sun_w_m2=_light(record, complete, findings),
        wind_m_s=None if record.wind_m_s is None else record.wind_m_s[complete],
        station=record.station,
        typical_year=record.typical_year,
        latitude_deg=record.latitude_deg,
        longitude_deg=record.longitude_deg,
    )


def _light(record: DayRecord, complete: BoolArray, findings: Findings) -> FloatArray | None:
    """Sun of the complete days; None (it will be estimated) when gaps in it are long."""
    if record.sun_w_m2 is None:
        return None
    sun = filled(record.sun_w_m2, LONGEST_HOUR_GAP)[complete]
    if np.isnan(sun).any():
        findings.warn(
            f"{record.file}: the sun has long gaps; it is estimated from the air's daily range."
        )
        return None
    return np.asarray(sun)


def season_order(
    record: DayRecord, starts: date, ends: date, winter: int | None, findings: Findings
) -> IntArray | None:
    """Which day of the record stands for each day of the season, shape ``(day,)``.

    With ``winter`` (the year in which it begins) only that winter of the record is looked at.
    """
    days: Sequence[date] = record.days
    if winter is not None and not record.typical_year:
        shift = winter - starts.year
        first, last = shift_years(starts, shift), shift_years(ends, shift)
        kept = [i for i, day in enumerate(days) if first <= day <= last]
        if not kept:
            years = f"{min(days):%Y-%m-%d} to {max(days):%Y-%m-%d}"
            findings.problem(
                "site.toml",
                "weather",
                "winter",
                f"'{winter}'",
                f"a winter that {record.file} holds ({years})",
                "",
            )
            return None
    else:
        kept = list(range(len(days)))
    try:
        order = source_days([days[i] for i in kept], starts, ends)
    except ValueError as error:
        findings.problem(
            record.file,
            None,
            None,
            str(error),
            f"every day from {starts:%d %B} to {ends:%d %B}, gaps of at most"
            f" {LONGEST_DAY_GAP if record.is_daily else f'{LONGEST_HOUR_GAP} hours'}"
            f"{' days' if record.is_daily else ''}",
            "Use a fuller record, or describe the site by monthly normals.",
        )
        return None
    return np.asarray(kept)[order]


def winter_used(record: DayRecord, order: IntArray) -> str:
    """In words, which part of the record became the season."""
    if record.typical_year:
        return "typical year"
    first, last = record.days[order[0]], record.days[order[-1]]
    span = (last - first).days + 1
    if abs(span - len(order)) <= 1:
        return f"{first.isoformat()} to {last.isoformat()}"
    years = sorted({record.days[i].year for i in order})
    span = f"{years[0]}" if len(years) == 1 else f"{years[0]} to {years[-1]}"
    return f"by month and day from {span}"


def every_day(first: date, last: date) -> tuple[date, ...]:
    """All dates from first to last."""
    return tuple(first + timedelta(days=i) for i in range((last - first).days + 1))
