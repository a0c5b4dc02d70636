"""A forecast as a table: hours (``time``, ``air_c``) or days (``date``, ``min_c``)."""

from datetime import date, timedelta
from pathlib import Path

from overwinter.files.csv_text import read_csv
from overwinter.files.findings import Findings
from overwinter.files.tables import parse_rows
from overwinter.files.weather_table import DayRow, HourRow

MOST_NIGHTS = 7
"""Forecasts reach about a week."""
NOON_H = 12


def read_forecast(path: Path, first: date) -> tuple[float, ...]:
    """Lowest of each coming night, degC, from the night that follows noon of ``first``.

    The minimum of a day is that of its morning, so the row of tomorrow tells of tonight. Of hours,
    those from noon to noon are one night. Rows of the past are passed over.

    Raises
    ------
    InputProblems
        With everything that is wrong in the file.
    """
    findings = Findings()
    lows: dict[date, float] = {}
    table = read_csv(path, findings)
    if table is not None and "time" in table.headings:
        for _, row in parse_rows(table, HourRow, findings):
            night = (row.time - timedelta(hours=NOON_H)).date()
            if row.air_c is not None:
                lows[night] = min(lows.get(night, row.air_c), row.air_c)
    elif table is not None:
        for _, day in parse_rows(table, DayRow, findings):
            if day.min_c is not None:
                lows[day.date - timedelta(days=1)] = day.min_c
    found: list[float] = []
    while first + timedelta(days=len(found)) in lows and len(found) < MOST_NIGHTS:
        found.append(lows[first + timedelta(days=len(found))])
    if not found and not findings.problems:
        nights = f"nights of {min(lows)} to {max(lows)}" if lows else "no minimum at all"
        headings = "date and min_c (or min_f), or time and air_c (or air_f)"
        findings.problem(
            path.name,
            None,
            None,
            nights,
            f"the night of {first}, under the headings {headings}",
            "The row of tomorrow's date tells of tonight. Say with --today which day it is.",
        )
    findings.raise_if_any()
    return tuple(found)
