"""The first sheet of an XLSX workbook as a table; dates stay dates."""

from pathlib import Path
from typing import Any
from zipfile import BadZipFile

from overwinter.files.findings import Findings
from overwinter.files.tables import Table, blank, table_of

SHEET_ERRORS = ("#REF!", "#N/A", "#VALUE!", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!")


def read_xlsx(path: Path, findings: Findings) -> Table | None:
    """Read the first sheet; None when it is no workbook or has no rows."""
    from openpyxl import load_workbook
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        # Not read_only: sheets of other programs may not declare how many rows they have.
        book = load_workbook(path, data_only=True)
    except (InvalidFileException, BadZipFile, KeyError, ValueError, OSError) as error:
        findings.problem(
            path.name,
            None,
            None,
            f"a file that cannot be opened as a workbook ({type(error).__name__})",
            "an .xlsx workbook",
            "Save it again as .xlsx, without a password.",
        )
        return None
    sheet = book.worksheets[0]
    numbered = []
    for number, cells in enumerate(sheet.iter_rows(values_only=True), 1):
        row = _without_errors(path.name, number, _trim_end(list(cells)), findings)
        if row and not str(row[0] or "").lstrip().startswith("#"):
            numbered.append((number, row))
    return table_of(path.name, numbered, findings)


def _trim_end(cells: list[Any]) -> list[Any]:
    """Without the blank cells a sheet has to the right of the table."""
    while cells and blank(cells[-1]):
        cells.pop()
    return cells


def _without_errors(file: str, number: int, cells: list[Any], findings: Findings) -> list[Any]:
    """Report formulas that came to nothing; their cells are read as blank."""
    for index, cell in enumerate(cells):
        if cell in SHEET_ERRORS:
            findings.problem(
                file,
                number,
                f"column {index + 1}",
                f"the formula error '{cell}'",
                "a value",
                "Mend the formula, or type the value.",
            )
            cells[index] = None
    return cells
