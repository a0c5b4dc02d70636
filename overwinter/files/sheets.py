"""Sheets of cells from XLSX workbooks, whose dates stay dates, and from CSV, with commas,
semicolons or tabs between cells and Windows, Unix or old Mac line ends."""

import csv
import io
import re
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any
from zipfile import BadZipFile, ZipFile

import pandas as pd

from overwinter.files.findings import Findings, listed
from overwinter.files.schema import Row
from overwinter.files.tables import HEADINGS_WITHIN, Table, known_in, scores_of, table_of
from overwinter.files.text_files import LARGEST_FILE, is_no_file, read_text

DELIMITERS = ",;\t"
csv.field_size_limit(LARGEST_FILE)  # else a cell of 128 kB is an error
MOST_COLUMNS = 300
MOST_ALIKE = 0.8  # share of rows of one length from which a longer one is odd
LARGEST_SHEET = 100_000_000  # bytes of XML, some 100,000 rows: more is no tree list
ENOUGH = 3  # known headings that make a sheet a table of the kind that is looked for


def read_csv(
    path: Path,
    findings: Findings,
    schema: type[Row] | None = None,
    wanted: str = "this file in the folder",
) -> Table | None:
    """Read a CSV file; None when it could not be taken apart."""
    text = read_text(path, findings, wanted, windows=True)
    return None if text is None else csv_table(text, path.name, findings, schema)


def csv_table(
    text: str, file: str, findings: Findings, schema: type[Row] | None = None
) -> Table | None:
    """Take CSV text apart; the headings are those that the schema knows most of."""
    delimiter = csv_delimiter(text, schema)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        findings.at(file).problem(
            f"quotes that do not match ({error})",
            "a closing quote for every opening one",
            'A quote inside a text is written twice: "".',
        )
        return None
    width = max(map(len, rows))
    if width > MOST_COLUMNS:
        findings.at(file).problem(f"{width} columns", f"at most {MOST_COLUMNS}")
        return None
    cells = [row + [""] * (width - len(row)) for row in rows]
    grid = pd.DataFrame(cells, pd.RangeIndex(1, len(rows) + 1), dtype=object)
    table = table_of(file, grid, findings, schema)
    if table is not None and delimiter == "," and '"' not in text:
        _check_lengths(table, rows, findings)
    return table


def csv_delimiter(text: str, schema: type[Row] | None) -> str:
    """What parts the cells: by it most headings are known; else the commonest in one line."""
    lines = [line for line in text.splitlines() if line.strip()][:HEADINGS_WITHIN]
    if lines and lines[0].lower().startswith("sep="):
        return lines[0][4:5] or ","

    def score(delimiter: str) -> tuple[int, int]:
        rows = list(csv.reader(lines, delimiter=delimiter))
        lengths = [len(row) for row in rows if not row[0].startswith("#")]
        return max(known_in(row, schema) for row in rows), lengths[0] if lengths else 0

    return max(DELIMITERS, key=score) if lines else ","


def _check_lengths(table: Table, rows: list[list[str]], findings: Findings) -> None:
    """A number with a decimal comma, not in quotes, moves all that follows by one cell."""
    lengths = {number: len(rows[number - 1]) for number in table.rows}
    if not lengths:
        return
    usual, often = Counter(lengths.values()).most_common(1)[0]
    for number, length in lengths.items():
        pair = re.search(r"(?:^|,)\s*(\d+,\d{1,2})\s*(?:,|$)", ",".join(rows[number - 1]))
        if pair and length == usual + 1 and often >= MOST_ALIKE * len(lengths) and often > 1:
            findings.at(table.file, number).problem(
                f"{length} cells where other rows have {usual}",
                f"{usual} cells",
                f"Is {pair[1]} one number? Write {pair[1].replace(',', '.')}, or put it in quotes.",
            )


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
    visible = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    return {one.title: _grid(one, sources and sources[one.title]) for one in visible}


def _grid(sheet: Any, source: Any) -> pd.DataFrame:
    """The cells of a sheet; merged rows all have the value, a formula without one is as written."""
    grid = pd.DataFrame(list(sheet.values), dtype=object)
    for merged in sheet.merged_cells.ranges:
        first, column = merged.min_row - 1, merged.min_col - 1
        if merged.min_col == merged.max_col and first < len(grid) and column < grid.shape[1]:
            value: Any = grid.iat[first, column]
            grid.iloc[first : merged.max_row, column] = value
    if source is not None:
        grid = grid.where(grid.notna(), pd.DataFrame(list(source.values), dtype=object))
    return grid.set_axis(pd.RangeIndex(1, len(grid) + 1))


def read_xlsx(path: Path, findings: Findings, schema: type[Row]) -> Table | None:
    """The sheet that has most of the schema's headings; None when none could be read. A sheet named
    as the file goes before others; else two that would do are asked about."""
    before = len(findings.problems)
    grids = read_sheets(path, findings)
    if len(findings.problems) > before:
        return None
    scores = {name: max(scores_of(grid, schema), default=0) for name, grid in grids.items()}
    best = max(scores, key=lambda name: scores[name], default=None)
    if best is None:
        findings.at(path.name).problem("no sheet", "a sheet with a table")
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
    others = [name for name in grids if name != best]
    if others and len(findings.problems) == before:
        findings.assume(f"{path.name}: read the sheet '{best}' alone, not {listed(others)}")
    table = table_of(path.name, grids[best], findings, schema)
    return table and replace(table, sheet=best)
