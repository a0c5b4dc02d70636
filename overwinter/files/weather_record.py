"""A weather record made of its whole days, whatever file it came from."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from overwinter.climate.records import DayRecord
from overwinter.climate.series import missing_runs
from overwinter.files.findings import Findings
from overwinter.model.shelter import FloatArray
from overwinter.units import HOURS_PER_DAY

BoolArray = NDArray[np.bool_]

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
        findings.problem(record.file, None, None, "no complete day", "days without gaps", "")
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
