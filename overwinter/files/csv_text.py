"""Text files, and CSV as people and spreadsheets write it.

Accepted: UTF-8 with or without a byte-order mark, UTF-16 with one, Windows text (1252); comma,
semicolon or tab between cells; Windows, Unix and old Mac line ends.
"""

import codecs
import csv
import io
import json
import re
from collections import Counter
from importlib import resources
from pathlib import Path
from typing import Any

import pandas as pd

from overwinter.files.findings import Findings, closest
from overwinter.files.schema import Row
from overwinter.files.tables import HEADINGS_WITHIN, Table, known_in, table_of

DELIMITERS = ",;\t"
WINDOWS = "cp1252"
"""Spreadsheets save a plain "CSV" so in western Europe."""
ZIP_MAGIC = b"PK\x03\x04"
LARGEST_FILE = 200_000_000
csv.field_size_limit(LARGEST_FILE)  # else a cell of 128 kB is an error
MOST_COLUMNS = 300
MOST_ALIKE = 0.8
"""Share of rows of one length from which a longer one is odd."""


def encoding_of(raw: bytes, windows: bool = False) -> str:
    """The encoding that a text seems to be in; ``windows``: what is no UTF-8 is taken as 1252."""
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    if raw.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return WINDOWS if windows else "utf-8"
    return "utf-8"


def read_text(
    path: Path,
    findings: Findings,
    wanted: str = "this file in the folder",
    windows: bool = False,
) -> str | None:
    """Text of a file; a missing, empty or oddly encoded one is a problem and gives None."""

    def bad(found: str, expected: str, fix: str = "", row: int | None = None) -> str | None:
        findings.at(path.name, row).problem(found, expected, fix)
        return None

    try:
        if is_no_file(path, findings):
            return None
        if path.is_file() and path.stat().st_size > LARGEST_FILE:
            return bad("a file of more than 200 MB", "a smaller one", "Is it the right file?")
        raw = path.read_bytes()
    except FileNotFoundError:
        near = _similar_file(path)
        return bad("no such file", wanted, f"Is it {near}? Rename it." if near else "")
    except OSError as error:
        return bad(f"a file that cannot be read ({error.strerror})", "a file")
    if raw.startswith(ZIP_MAGIC):
        fix = "Save it as CSV, or name it .xlsx where a workbook is accepted."
        return bad("a spreadsheet workbook", "text", fix)
    encoding = encoding_of(raw, windows)
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as error:
        found = f"a byte 0x{raw[error.start]:02x} that is not UTF-8 text"
        fix = 'Save it again as "CSV UTF-8" (or set the encoding to UTF-8).'
        return bad(found, "UTF-8 text", fix, raw[: error.start].count(b"\n") + 1)
    if "\x00" in text:
        return bad("zero bytes", "UTF-8 text", "Is this a text file? Save it as UTF-8.")
    if encoding == WINDOWS:
        odd = dict.fromkeys(re.findall(r"\w*[^\W\da-zA-Z_]\w*", text))
        such = f", with words such as {', '.join(list(odd)[:4])}" if odd else ""
        findings.assume(f"{path.name} is not UTF-8: read as Windows text{such}.")
    return text if text.strip() else bad("an empty file", "a filled-in file")


def packaged(name: str) -> str:
    """Text of a data file that comes with the package."""
    return resources.files("overwinter").joinpath("data", name).read_text("utf-8")


def packaged_rows(name: str) -> list[dict[str, str]]:
    """Rows of a table that comes with the package, by heading, without blank cells."""
    rows = csv.DictReader(packaged(name).splitlines())
    return [{head: cell for head, cell in row.items() if cell} for row in rows]


def is_no_file(path: Path, findings: Findings) -> bool:
    """Whether it is there and no file, which is a problem: a pipe would be waited for for ever."""
    odd = path.exists() and not path.is_file()
    if odd:
        findings.at(path.name).problem("a folder or a device", "a file")
    return odd


def read_json(path: Path, whole: str, mend: str) -> Any:
    """What a JSON file holds.

    Raises ``InputProblems``: It is missing, or no JSON that can be written as UTF-8.
    """
    findings = Findings()
    text = read_text(path, findings)
    findings.raise_if_any()
    try:
        content = json.loads(text or "")
        json.dumps(content, ensure_ascii=False).encode("utf-8")
    except (ValueError, RecursionError) as error:
        line, said = getattr(error, "lineno", None), getattr(error, "msg", type(error).__name__)
        found = f"text that is not JSON ({said})"
        fix = f"Was it cut short or edited by hand? {mend}"
        findings.at(path.name, line).problem(found, whole, fix)
        findings.raise_if_any()
    return content


def _similar_file(path: Path) -> str | None:
    """A file of the folder whose name is nearly that of a missing one."""
    if not path.parent.is_dir():
        return None
    return closest(path.name, (other.name for other in path.parent.iterdir()), cutoff=0.8)


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
    lengths = {number: len(rows[number - 1]) for number in table.frame.index}
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
