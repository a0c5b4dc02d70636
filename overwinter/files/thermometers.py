"""What a min/max thermometer showed in a shelter: four figures, or a file of daily readings."""

from pathlib import Path
from typing import Any

from overwinter.files.csv_text import read_csv
from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import Where, known_fields, parse
from overwinter.files.schemas_shelter import ReadingRow, ThermometerTable
from overwinter.files.tables import parse_rows
from overwinter.model.shelter import Readings, Thermometer
from overwinter.shelters.fit import LEAST_DAYS


def read_thermometer(
    written: dict[str, Any], file: str, dotted: str, findings: Findings
) -> Thermometer | None:
    """``[shelter.thermometer]`` of a shelter; None when something in it is wrong."""
    dotted = f"{dotted}.thermometer"
    table = parse(ThermometerTable, written, Where(file, dotted, cells=False), findings)
    known = known_fields(ThermometerTable, written)
    for column, cold, warm in (
        ("coldest", "coldest_c", "warmest_c"),
        ("outdoor_at_coldest", "outdoor_at_coldest_c", "outdoor_at_warmest_c"),
    ):
        if {cold, warm} <= set(known) and known[cold] >= known[warm]:
            findings.problem(
                file,
                dotted,
                column,
                "a coldest reading not below the warmest",
                "two readings that differ, the coldest below",
                "Are the two the wrong way round?",
            )
    return None if table is None else Thermometer(**table.model_dump())


def read_readings(path: Path, findings: Findings) -> Readings | None:
    """A file of daily readings; None when it could not be taken apart."""
    table = read_csv(path, findings, ReadingRow)
    if table is None:
        return None
    numbered = parse_rows(table, ReadingRow, findings)
    rows = [row for _, row in sorted(numbered, key=lambda pair: pair[1].date)]
    for number, row in numbered:
        if row.min_c > row.max_c or row.outdoor_min_c > row.outdoor_max_c:
            findings.problem(
                path.name,
                number,
                "min, max",
                "a minimum above its maximum",
                "the minimum below the maximum",
                "Are the two the wrong way round?",
            )
    findings.repeats(path.name, [row.date.isoformat() for row in rows], "date")
    if len(table.rows) < LEAST_DAYS:
        findings.problem(
            path.name,
            None,
            None,
            f"{len(table.rows)} days of readings",
            f"at least {LEAST_DAYS} days, better three weeks",
            "",
        )
    return Readings(
        dates=tuple(row.date for row in rows),
        min_c=tuple(row.min_c for row in rows),
        max_c=tuple(row.max_c for row in rows),
        outdoor_min_c=tuple(row.outdoor_min_c for row in rows),
        outdoor_max_c=tuple(row.outdoor_max_c for row in rows),
    )
