"""EPW files: 8 header lines, then one row an hour; hour h covers h-1 to h, local standard time."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from overwinter.climate.coldest_night import ColdestNight
from overwinter.climate.records import DayRecord
from overwinter.files.findings import Findings
from overwinter.files.weather_table import COLDEST_AIR_C, WARMEST_AIR_C
from overwinter.model.shelter import FloatArray
from overwinter.units import HOURS_PER_DAY

HEADER_LINES = 8
FEWEST_COLUMNS = 22
MONTH, DAY, HOUR, DRY_BULB, GLOBAL = 1, 2, 3, 6, 13
MEAN_MIN, MEAN_MAX, SPREAD_MIN = 4, 5, 6
"""After the word Extremes of the second line: mean of the yearly lowest and highest temperature,
standard deviation of the lowest; then the lowest and highest in 5, 10, 20 and 50 years."""
MISSING_AIR = 99.9
"""No air is that hot; files mark a missing dry bulb with 99.9 or more."""
MISSING_SUN = 9999.0
BRIGHTEST_W_M2 = 1500.0
ANY_YEAR = 2001
LEAP_YEAR = 2004


@dataclass(frozen=True, slots=True)
class _Row:
    number: int
    month: int
    day: int
    hour: int
    air_c: float
    sun_w_m2: float


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
    before = len(findings.problems)
    rows = [
        row
        for number, line in enumerate(lines[HEADER_LINES:], HEADER_LINES + 1)
        if line.strip() and (row := _row(path.name, number, line, findings)) is not None
    ]
    if len(findings.problems) > before or not rows:
        return None
    return _record(path.name, lines[:HEADER_LINES], rows, findings)


def _row(file: str, number: int, line: str, findings: Findings) -> _Row | None:
    cells = line.split(",")
    try:
        return _checked(number, cells)
    except _BadRow as bad:
        findings.at(file, number, bad.column).problem(bad.found, bad.expected)
        return None


class _BadRow(Exception):
    def __init__(self, column: str | None, found: str, expected: str) -> None:
        super().__init__(found)
        self.column, self.found, self.expected = column, found, expected


def _checked(number: int, cells: list[str]) -> _Row:
    """The row's values, nan where missing; raises ``_BadRow``."""
    if len(cells) < FEWEST_COLUMNS:
        raise _BadRow(None, f"{len(cells)} columns", "35 columns")
    try:
        month, day, hour = (int(cells[i]) for i in (MONTH, DAY, HOUR))
        date(LEAP_YEAR, month, day)
    except (ValueError, OverflowError):
        stamp = "-".join(cells[1:4])
        raise _BadRow("month, day, hour", f"'{stamp}'", "a day and hour") from None
    if not 1 <= hour <= HOURS_PER_DAY:
        raise _BadRow("hour", f"'{hour}'", "an hour of 1 to 24")
    try:
        air, sun = (float(cells[i]) for i in (DRY_BULB, GLOBAL))
    except ValueError:
        found = f"'{cells[DRY_BULB]}', '{cells[GLOBAL]}'"
        raise _BadRow("columns 7, 14", found, "numbers") from None
    if air < MISSING_AIR and not COLDEST_AIR_C <= air <= WARMEST_AIR_C:
        expected = f"air between {COLDEST_AIR_C:g} and {WARMEST_AIR_C:g} °C, or 99.9 for missing"
        raise _BadRow("column 7 (dry bulb)", f"'{air:g}'", expected)
    if sun < MISSING_SUN and not 0 <= sun <= BRIGHTEST_W_M2:
        expected = f"sun between 0 and {BRIGHTEST_W_M2:g} Wh/m², or 9999 for missing"
        raise _BadRow("column 14 (global radiation)", f"'{sun:g}'", expected)
    return _Row(
        number,
        month,
        day,
        hour,
        float("nan") if air >= MISSING_AIR else air,
        float("nan") if sun >= MISSING_SUN else sun,
    )


def _record(file: str, head: list[str], rows: list[_Row], findings: Findings) -> DayRecord | None:
    location = head[0].split(",")
    leap = any(row.month == 2 and row.day == 29 for row in rows)
    year = LEAP_YEAR if leap else ANY_YEAR
    keys = [date(year, row.month, row.day) for row in rows]
    days = tuple(sorted(set(keys)))
    index = {day: i for i, day in enumerate(days)}
    shape = (len(days), HOURS_PER_DAY)
    air, sun = np.full(shape, np.nan), np.full(shape, np.nan)
    seen = np.zeros(shape, dtype=bool)
    for key, row in zip(keys, rows, strict=True):
        at = index[key], row.hour - 1
        if seen[at]:
            findings.at(file, row.number, "month, day, hour").problem(
                f"'{row.month}-{row.day} hour {row.hour}' twice",
                "each hour of one year once",
                "A file of several years is given as an hourly CSV.",
            )
            return None
        seen[at] = True
        air[at], sun[at] = row.air_c, row.sun_w_m2
    return DayRecord(
        file=file,
        days=days,
        air_c=air,
        sun_w_m2=_unless_all_missing(sun),
        station=_station(location),
        typical_year=True,
        latitude_deg=_number(location, 6),
        longitude_deg=_number(location, 7),
        coldest=_coldest_nights(head[1].split(",")),
    )


def _unless_all_missing(values: FloatArray) -> FloatArray | None:
    return None if np.isnan(values).all() else values


def _station(location: list[str]) -> str:
    parts = [part.strip() for part in location[1:6] if part.strip() not in ("", "-")]
    return ", ".join(parts)


def _number(location: list[str], index: int) -> float | None:
    try:
        return float(location[index])
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
