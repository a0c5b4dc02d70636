"""CSV as people and spreadsheets write it: rows with their numbers, cells as text.

Accepted: UTF-8 with or without a byte-order mark, UTF-16 with one; comma, semicolon or tab
between cells; decimal commas where the cells are not parted by commas; Windows, Unix and old Mac
line ends; rows of comment (#) and blank rows. Headings are matched in lower case, anything but
letters and digits read as an underscore ("Width (cm)" is ``width_cm``).
"""

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import Where, heading_fix, misspelt_fields, parse
from overwinter.files.schema import Schema
from overwinter.files.spelling import closest, listed

S = TypeVar("S", bound=Schema)

DELIMITERS = ",;\t"
DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
ZIP_MAGIC = b"PK\x03\x04"


@dataclass(frozen=True)
class Table:
    """A table as written: headings, and rows with the number a person counts."""

    file: str
    headings: tuple[str, ...]
    rows: tuple[tuple[int, Mapping[str, Any]], ...]
    """Row number and its cells that are not blank, by heading."""
    heading_row: int = 1


def read_text(
    path: Path, findings: Findings, wanted: str = "this file in the folder"
) -> str | None:
    """Text of a file; a missing, empty or oddly encoded one is a problem and gives None."""
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        near = _similar_file(path)
        fix = f"Is it {near}? Rename it." if near else ""
        findings.problem(path.name, None, None, "no such file", wanted, fix)
        return None
    except OSError as error:
        findings.problem(
            path.name, None, None, f"a file that cannot be read ({error.strerror})", "a file", ""
        )
        return None
    if raw.startswith(ZIP_MAGIC):
        findings.problem(
            path.name,
            None,
            None,
            "a spreadsheet workbook",
            "text",
            "Save it as CSV, or name it .xlsx where a workbook is accepted.",
        )
        return None
    text = _decode(raw, path.name, findings)
    if text is not None and not text.strip():
        findings.problem(path.name, None, None, "an empty file", "a filled-in file", "")
        return None
    return text


def _similar_file(path: Path) -> str | None:
    """A file of the folder whose name is nearly that of a missing one."""
    if not path.parent.is_dir():
        return None
    return closest(path.name, (other.name for other in path.parent.iterdir()), cutoff=0.8)


def _decode(raw: bytes, file: str, findings: Findings) -> str | None:
    utf16 = raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    try:
        text = raw.decode("utf-16" if utf16 else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        findings.problem(
            file,
            line,
            None,
            f"a byte 0x{raw[error.start]:02x} that is not UTF-8 text",
            "UTF-8 text",
            'Save it again as "CSV UTF-8" (or set the encoding to UTF-8).',
        )
        return None
    if "\x00" in text:
        findings.problem(
            file, None, None, "zero bytes", "UTF-8 text", "Is this a text file? Save it as UTF-8."
        )
        return None
    return text


def read_csv(
    path: Path, findings: Findings, wanted: str = "this file in the folder"
) -> Table | None:
    """Read a CSV file; None when it could not be taken apart."""
    text = read_text(path, findings, wanted)
    return None if text is None else csv_table(text, path.name, findings)


def csv_table(text: str, file: str, findings: Findings) -> Table | None:
    """Take CSV text apart."""
    delimiter = _delimiter(text)
    try:
        records = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        findings.problem(
            file,
            None,
            None,
            f"quotes that do not match ({error})",
            "a closing quote for every opening one",
            'A quote inside a text is written twice: "".',
        )
        return None
    numbered = [(number, cells) for number, cells in enumerate(records, 1) if not _skipped(cells)]
    if delimiter != ",":
        numbered = [(number, [_point(cell) for cell in cells]) for number, cells in numbered]
    return table_of(file, numbered, findings)


def _delimiter(text: str) -> str:
    """What parts the cells: the commonest of the three in the heading, outside quotes."""
    for line in text.splitlines():
        if line.lower().startswith("sep="):
            return line[4:5] or ","
        if line.strip() and not line.lstrip("\"' ").startswith("#"):
            bare = re.sub(r'"[^"]*"', "", line)
            return max(DELIMITERS, key=bare.count)
    return ","


def _skipped(cells: list[str]) -> bool:
    """Blank rows, comments, and the hint some spreadsheets put first."""
    if not any(cell.strip() for cell in cells):
        return True
    return cells[0].lstrip().startswith("#") or cells[0].lower().startswith("sep=")


def _point(cell: str) -> str:
    """Where cells are not parted by commas, a comma inside a number is the decimal sign."""
    bare = cell.strip()
    return bare.replace(",", ".") if DECIMAL_COMMA.fullmatch(bare) else cell


def normal_heading(written: str) -> str:
    """A heading as it is matched: "Width (cm)" -> "width_cm"."""
    return re.sub(r"[^0-9a-z]+", "_", written.strip().lower()).strip("_")


def table_of(
    file: str, numbered: Iterable[tuple[int, list[Any]]], findings: Findings
) -> Table | None:
    """A table from numbered rows of raw cells, the first being the headings."""
    rows = iter(numbered)
    first = next(rows, None)
    if first is None:
        findings.problem(file, None, None, "no rows", "a row of headings", "")
        return None
    heading_row, written = first
    headings = tuple(normal_heading(str(cell)) if cell is not None else "" for cell in written)
    for name in sorted({name for name in headings if name and headings.count(name) > 1}):
        findings.problem(
            file, heading_row, name, "the heading twice", "each heading once", "Delete one."
        )
    taken = tuple(_taken(file, headings, rows, findings))
    return Table(file, headings, taken, heading_row)


def _taken(
    file: str,
    headings: tuple[str, ...],
    rows: Iterator[tuple[int, list[Any]]],
    findings: Findings,
) -> Iterator[tuple[int, Mapping[str, Any]]]:
    for number, cells in rows:
        extra = [str(cell) for cell in cells[len(headings) :] if not blank(cell)]
        if extra:
            findings.problem(
                file,
                number,
                None,
                f"{len(cells)} cells (beyond the headings: {listed(extra, most=3)})",
                f"at most {len(headings)} cells",
                "Put a text that holds a comma in double quotes.",
            )
            continue
        filled = zip(headings, cells, strict=False)
        yield number, {name: trimmed(cell) for name, cell in filled if name and not blank(cell)}


def blank(cell: Any) -> bool:
    """Whether a cell holds nothing."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def trimmed(cell: Any) -> Any:
    """A cell without surrounding white space (no-break spaces too)."""
    return cell.strip() if isinstance(cell, str) else cell


def parse_rows(
    table: Table, schema: type[S], findings: Findings, own: str = "note"
) -> list[tuple[int, S]]:
    """Validate every row of a table; bad rows are left out and reported.

    Columns whose heading starts with ``own`` are the grower's and are not looked at.
    """
    known = schema.headings()
    headings = [name for name in table.headings if name]
    missing = _check_headings(table, schema, headings, findings, own)
    rows = []
    doubled = _check_doubled(table, known, findings)
    for number, cells in table.rows:
        written = {
            name: cell
            for name, cell in cells.items()
            if name in known and not cells.keys() & doubled.get(name, set())
        }
        where = Where(table.file, number, quiet_missing=missing)
        row = parse(schema, written, where, findings)
        if row is not None:
            rows.append((number, row))
    return rows


def _check_doubled(
    table: Table, known: Mapping[str, str], findings: Findings
) -> Mapping[str, set[str]]:
    """Cells of one field in two units, told once for each pair of columns, not once a row.

    Returns, for a heading, the earlier ones beside which it is not looked at.
    """
    earlier: dict[str, set[str]] = {}
    for at, heading in enumerate(table.headings):
        if heading in known:
            same = {one for one in table.headings[:at] if known.get(one) == known[heading]}
            earlier[heading] = same - {heading}
    for heading, others in earlier.items():
        for other in sorted(others):
            rows = [number for number, cells in table.rows if {heading, other} <= cells.keys()]
            if rows:
                findings.problem(
                    table.file,
                    table.heading_row,
                    heading,
                    f"values beside {other} in {_rows(rows)}",
                    "one of the two in a row",
                    "Is one of the headings another column's? Else empty or delete one.",
                )
    return earlier


def _rows(numbers: list[int], most: int = 5) -> str:
    """``row 2``, ``rows 2, 3``, ``rows 2, 3, 4, 5, 6, ... (13 in all)``."""
    shown = ", ".join(map(str, numbers[:most]))
    more = f", ... ({len(numbers)} in all)" if len(numbers) > most else ""
    return f"row{'s' * (len(numbers) > 1)} {shown}{more}"


def _check_headings(
    table: Table, schema: type[Schema], headings: list[str], findings: Findings, own: str
) -> frozenset[str]:
    """Report unknown headings and required columns that are not there; return the latter."""
    known = schema.headings()
    unknown = [name for name in headings if name not in known and not name.startswith(own)]
    for name in unknown:
        findings.problem(
            table.file,
            table.heading_row,
            name,
            "an unknown heading",
            "a heading of the data dictionary (docs/files.md)",
            heading_fix(schema, name) or f"A column of your own may start with '{own}'.",
        )
    present = {known[name] for name in headings if name in known}
    missing = frozenset(
        name
        for name, field in schema.model_fields.items()
        if field.is_required() and name not in present
    )
    # A heading that is only misspelt is not missing as well.
    for name in schema.model_fields:
        if name in missing - misspelt_fields(schema, unknown):
            wanted = schema.headings_of(name)
            about = schema.model_fields[name].description or "a value"
            findings.problem(
                table.file,
                table.heading_row,
                wanted[0],
                "no such column",
                about,
                f"Add a column {listed(wanted, most=6)}.",
            )
    return missing


def heading_in(table: Table | None, schema: type[Schema], field: str) -> str:
    """The heading under which a table gives a field; the customary one if it gives none."""
    wanted = schema.headings_of(field)
    given = () if table is None else table.headings
    return next((name for name in wanted if name in given), wanted[0])
