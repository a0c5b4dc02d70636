"""``check --write``: what was guessed, put into the grower's own files to correct."""

import csv
import io
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import tomlkit

from overwinter.files.findings import Findings, KeyGuess
from overwinter.files.measures import clean
from overwinter.files.outputs import write
from overwinter.files.sheets import csv_delimiter
from overwinter.files.tables import Table, matched
from overwinter.files.text_files import encoding_of
from overwinter.files.tree_columns import TreeRow
from overwinter.files.tree_list import GUESSED, NAMES, TreeList, tree_table
from overwinter.units import Display

DIGITS = 3
SETTERS = Callable[[int, int, Any], None]


def write_guesses(folder: Path, listing: TreeList, display: Display) -> str:
    """Fill the cells that were guessed in trees.csv or trees.xlsx; nothing else is changed. Returns
    the name of the copy that is kept of the list as it was."""
    path = folder / listing.file
    table = tree_table(folder, Findings())
    assert table is not None, "the list was read before"
    before = path.read_bytes()
    after = _workbook if path.suffix == ".xlsx" else _text
    return _replace(path, before, after(path, table, listing, display))


def write_keys(folder: Path, guesses: Sequence[KeyGuess]) -> list[str]:
    """Put keys that were left out into site.toml and shelters.toml; names of the copies kept."""
    kept = []
    for file in dict.fromkeys(guess.file for guess in guesses):
        before = (folder / file).read_bytes()
        encoding = encoding_of(before)
        of_file = (guess for guess in guesses if guess.file == file)
        document = tomlkit.parse(clean(before.decode(encoding)))
        for guess in of_file:
            table = _table_at(document, guess.table)
            table[guess.key] = guess.value
            table[guess.key].comment("guessed by check")
        kept.append(_replace(folder / file, before, tomlkit.dumps(document).encode(encoding)))
    return kept


def _table_at(parent: Any, dotted: str) -> Any:
    """The table of a dotted name, arrays by id or name; made where there is none."""
    name, _, rest = dotted.partition(".")
    if isinstance(parent.get(name), list):
        for number, one in enumerate(parent[name], 1):
            label = str(one.get("id", one.get("name", number)))
            if rest == label or rest.startswith(f"{label}."):
                more = rest.removeprefix(label).removeprefix(".")
                return _table_at(one, more) if more else one
    if name not in parent:
        parent[name] = tomlkit.table()
    return _table_at(parent[name], rest) if rest else parent[name]


def _replace(path: Path, before: bytes, after: bytes) -> str:
    """Write a file anew; what it was is kept beside it once, under the name that is returned."""
    copy = path.with_name(f"{path.stem} before check{path.suffix}")
    if not copy.exists():
        write(copy, before)
    write(path, after, overwrite=True)
    return copy.name


def _fill(heads: list[str], at: int, listing: TreeList, display: Display, put: SETTERS) -> None:
    """Put every guess under its heading, new headings on the right."""
    meant = [matched(TreeRow, head) for head in heads]

    def column(name: str, heading: str) -> int:
        known = [n for n, one in enumerate(meant) if one == name]
        if known:
            return known[0]
        meant.append(name)
        put(at, len(meant) - 1, heading)
        return len(meant) - 1

    names: dict[int, list[str]] = {}
    for row, field, value in listing.guesses:
        heading = _heading(field, meant, display)
        unit = TreeRow.keys[heading].unit
        if isinstance(value, float):
            value = float(f"{value if unit is None else unit.from_si(value):.{DIGITS}g}")
        put(row, column(heading, heading), value)
        names.setdefault(row, []).append(NAMES[field])
    for row, what in names.items():
        put(row, column(GUESSED, GUESSED), ", ".join(what))


def _heading(field: str, meant: list[str | None], display: Display) -> str:
    """The list's own heading of a field that says its unit, else one in the site's units."""
    ways = TreeRow.headings_of(field)
    given = [one for one in ways if one in meant]
    us = [one for one in ways if one.rpartition("_")[2] in ("in", "lb", "gal")]
    return (given or (us if display.us else ways) or ways)[0]


def _text(path: Path, table: Table, listing: TreeList, display: Display) -> bytes:
    raw = path.read_bytes()
    encoding = encoding_of(raw, windows=True)
    text = raw.decode(encoding)
    delimiter = csv_delimiter(text, TreeRow)
    cells = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))

    def put(row: int, column: int, value: Any) -> None:
        line = cells[row - 1]
        line += [""] * (column + 1 - len(line))
        line[column] = f"{value:g}" if isinstance(value, float) else str(value)

    _fill(cells[table.heading_row - 1], table.heading_row, listing, display, put)
    out = io.StringIO()
    ends = "\r\n" if "\r\n" in text else "\n"
    csv.writer(out, delimiter=delimiter, lineterminator=ends).writerows(cells)
    return out.getvalue().encode(encoding)


def _workbook(path: Path, table: Table, listing: TreeList, display: Display) -> bytes:
    from openpyxl import load_workbook

    book = load_workbook(path)
    sheet = book[table.sheet or book.sheetnames[0]]

    def put(row: int, column: int, value: Any) -> None:
        sheet.cell(row, column + 1).value = value

    heads = [str(cell.value or "") for cell in sheet[table.heading_row]]
    _fill(heads, table.heading_row, listing, display, put)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
