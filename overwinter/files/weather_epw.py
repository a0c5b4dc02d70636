"""EPW files: 8 header lines, then one row an hour; hour h covers h-1 to h, local standard time."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import NamedTuple

import numpy as np

from overwinter.climate.coldest_night import ColdestNight
from overwinter.climate.records import DayRecord
from overwinter.files.findings import Findings, Where
from overwinter.files.weather_table import COLDEST_AIR_C, WARMEST_AIR_C, none_if_missing
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


class _Hour(NamedTuple):
    """A row; nan where a value is missing."""

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
    hours = {
        number: _hour(line.split(","), findings.at(path.name, number))
        for number, line in enumerate(lines[HEADER_LINES:], HEADER_LINES + 1)
        if line.strip()
    }
    good = {number: hour for number, hour in hours.items() if hour is not None}
    if len(findings.problems) > before or not good:
        return None
    series = _by_day(good, findings.at(path.name))
    if series is None:
        return None
    days, air_c, sun_w_m2 = series
    return DayRecord(
        file=path.name,
        days=days,
        air_c=air_c,
        sun_w_m2=none_if_missing(sun_w_m2),
        station=", ".join(cell.strip() for cell in location[1:6] if cell.strip() not in ("", "-")),
        typical_year=True,
        latitude_deg=_number(location, 6),
        longitude_deg=_number(location, 7),
        coldest=_coldest_nights(lines[1].split(",")),
    )


def _hour(cells: list[str], where: Where) -> _Hour | None:
    """The values of a row; None after a problem."""
    if len(cells) < FEWEST_COLUMNS:
        where.problem(f"{len(cells)} columns", "35 columns")
        return None
    try:
        month, day, hour = (int(cells[i]) for i in (MONTH, DAY, HOUR))
        date(LEAP_YEAR, month, day)
    except (ValueError, OverflowError):
        found = "-".join(cells[MONTH : HOUR + 1])
        where.of("month, day, hour").problem(f"'{found}'", "a day and hour")
        return None
    try:
        air, sun = (float(cells[i]) for i in (DRY_BULB, GLOBAL))
    except ValueError:
        found = f"'{cells[DRY_BULB]}', '{cells[GLOBAL]}'"
        where.of("columns 7, 14").problem(found, "numbers")
        return None
    if not 1 <= hour <= HOURS_PER_DAY:
        where.of("hour").problem(f"'{hour}'", "an hour of 1 to 24")
    if air < MISSING_AIR and not COLDEST_AIR_C <= air <= WARMEST_AIR_C:
        expected = f"air between {COLDEST_AIR_C:g} and {WARMEST_AIR_C:g} °C, or 99.9 for missing"
        where.of("column 7 (dry bulb)").problem(f"'{air:g}'", expected)
    if sun < MISSING_SUN and not 0 <= sun <= BRIGHTEST_W_M2:
        expected = f"sun between 0 and {BRIGHTEST_W_M2:g} Wh/m², or 9999 for missing"
        where.of("column 14 (global radiation)").problem(f"'{sun:g}'", expected)
    return _Hour(
        month,
        day,
        hour,
        float("nan") if air >= MISSING_AIR else air,
        float("nan") if sun >= MISSING_SUN else sun,
    )


def _by_day(
    hours: Mapping[int, _Hour], where: Where
) -> tuple[tuple[date, ...], FloatArray, FloatArray] | None:
    """The days, and air and sun ``(day, 24)``; None where an hour comes twice."""
    leap = any((one.month, one.day) == (2, 29) for one in hours.values())
    year = LEAP_YEAR if leap else ANY_YEAR
    days = sorted({date(year, one.month, one.day) for one in hours.values()})
    index = {(day.month, day.day): i for i, day in enumerate(days)}
    air, sun = np.full((2, len(days), HOURS_PER_DAY), np.nan)
    seen = set()
    for number, one in hours.items():
        at = index[one.month, one.day], one.hour - 1
        if at in seen:
            where.findings.at(where.file, number, "month, day, hour").problem(
                f"'{one.month}-{one.day} hour {one.hour}' twice",
                "each hour of one year once",
                "A file of several years is given as an hourly CSV.",
            )
            return None
        seen.add(at)
        air[at], sun[at] = one.air_c, one.sun_w_m2
    return tuple(days), air, sun


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
