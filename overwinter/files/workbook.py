"""Sheets of an XLSX workbook as tables; dates stay dates."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any
from zipfile import BadZipFile, ZipFile

import pandas as pd

from overwinter.files.csv_text import is_no_file
from overwinter.files.findings import Findings, listed
from overwinter.files.schema import Row
from overwinter.files.tables import HEADINGS_WITHIN, Table, matched, table_of

LARGEST_SHEET = 100_000_000
"""Bytes of XML, some 100,000 rows: more is no tree list, and reading it takes minutes."""
ENOUGH = 3
"""Known headings that make a sheet a table of the kind that is looked for."""


def read_sheets(path: Path, findings: Findings) -> dict[str, pd.DataFrame]:
    """Every visible sheet by name, rows counted from 1; empty after a problem."""
    from openpyxl import load_workbook

    if is_no_file(path, findings):
        return {}
    try:
        with ZipFile(path) as packed:
            sheets = [one for one in packed.infolist() if "worksheets/" in one.filename]
            if any(one.file_size > LARGEST_SHEET for one in packed.infolist()):
                size, fix = "a part of more than 100 MB", "Is it the right file?"
                findings.at(path.name).problem(size, "a smaller one", fix)
                return {}
            formulas = any(b"<f" in packed.read(one) for one in sheets)
        # Not read_only: sheets of other programs may not declare how many rows they have.
        book = load_workbook(path, data_only=True)
        sources = load_workbook(path) if formulas else None
    except Exception as error:
        # A damaged archive raises whatever its parts do: zlib.error, EOFError, ParseError ...
        known = isinstance(error, (BadZipFile, OSError))
        found = f"a file that cannot be opened as a workbook ({type(error).__name__})"
        fix = "Save it again as .xlsx, without a password."
        if not known:
            fix = "It seems damaged. " + fix
        findings.at(path.name).problem(found, "an .xlsx workbook", fix)
        return {}
    grids = {}
    for sheet in book.worksheets:
        if sheet.sheet_state == "visible":
            source = None if sources is None else sources[sheet.title]
            grid = pd.DataFrame(list(_rows(sheet, source)), dtype=object)
            grid.index = pd.RangeIndex(1, len(grid) + 1)
            grids[sheet.title] = grid
    return grids


def _rows(sheet: Any, source: Any) -> Iterator[list[Any]]:
    """Rows of cells; what was merged over several rows stands in each of them, and a formula
    without its value as it is written."""
    spread: dict[tuple[int, int], Any] = {}
    for merged in sheet.merged_cells.ranges:
        value = sheet.cell(merged.min_row, merged.min_col).value
        if merged.min_col == merged.max_col:
            spread |= {
                (r, merged.min_col): value for r in range(merged.min_row, merged.max_row + 1)
            }
    for r, cells in enumerate(sheet.iter_rows(values_only=True), 1):
        row = [spread.get((r, c), cell) for c, cell in enumerate(cells, 1)]
        if source is not None:
            row = [
                source.cell(r, c).value if cell is None else cell for c, cell in enumerate(row, 1)
            ]
        yield row


def read_xlsx(path: Path, findings: Findings, schema: type[Row]) -> Table | None:
    """The sheet that has most of the schema's headings; None when none could be read.

    A sheet named as the file goes before others; else two that would do are asked about.
    """
    before = len(findings.problems)
    aside = Findings()
    grids = read_sheets(path, aside)
    scores = {name: _score(grid, schema) for name, grid in grids.items()}
    best = max(scores, key=lambda name: scores[name], default=None)
    if best is None:
        if not aside.problems:
            aside.at(path.name).problem("no sheet", "a sheet with a table")
        findings.take(aside)
        return None
    alike = [name for name, score in scores.items() if score >= ENOUGH]
    named = [name for name in alike if name.strip().casefold() == path.stem.casefold()]
    if len(alike) > 1 and not named:
        findings.at(path.name).problem(
            f"sheets {' and '.join(repr(name) for name in alike)}, each a list",
            "one list",
            f"Put all on one sheet, or name the one that counts '{path.stem}'.",
        )
    best = named[0] if named else best
    file = path.name if len(grids) == 1 else f"{path.name} [{best}]"
    findings.problems += [p for p in aside.problems if p.file in (file, path.name)]
    others = [name for name in grids if name != best]
    if others and len(findings.problems) == before:
        findings.assume(f"{path.name}: read the sheet '{best}' alone, not {listed(others)}")
    table = table_of(path.name, grids[best], findings, schema)
    return table and replace(table, sheet=best)


def _score(grid: pd.DataFrame, schema: type[Row]) -> int:
    """Most known headings in one of the first rows."""
    rows = grid.head(HEADINGS_WITHIN).to_numpy()
    known = [{matched(schema, str(c)) for c in row if c is not None} - {None} for row in rows]
    return max(map(len, known), default=0)
