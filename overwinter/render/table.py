"""A table of raw values: the same rows for the screen, for CSV and for ``--json``."""

import csv
import io
from collections.abc import Container, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from textwrap import wrap

from overwinter.model.tree import numbered_name
from overwinter.render.words import tree_names

WIDTH = 80
"""Columns of a screen where nothing better is known."""
NARROWEST = 6
"""Text is not folded into fewer columns than this; words are broken before numbers are."""

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet may take for the beginning of a formula, wide forms of the signs included."""

Cell = str | int | float | None


@dataclass(frozen=True, slots=True)
class Column:
    """A heading with its unit; ``digits`` is set for numbers, which stand on the right."""

    name: str
    unit: str = ""
    digits: int | None = None

    @property
    def heading(self) -> str:
        """Name and unit."""
        return f"{self.name}, {self.unit}" if self.unit else self.name

    def show(self, cell: Cell) -> str:
        """One cell as text."""
        if cell is None:
            return "-"
        if isinstance(cell, float) and self.digits is not None:
            return f"{round(cell, self.digits) + 0.0:.{self.digits}f}"
        return str(cell)


def texts(*names: str) -> tuple[Column, ...]:
    """Columns of words."""
    return tuple(map(Column, names))


@dataclass(frozen=True)
class Table:
    """A titled table of raw values."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def records(self) -> list[dict[str, Cell]]:
        """Rows as mappings from heading to value."""
        headings = [column.heading for column in self.columns]
        return [dict(zip(headings, row, strict=True)) for row in self.rows]

    def only_trees(self, names: Container[str]) -> "Table":
        """Rows about these trees alone; a table that is not about trees stays as it is."""
        at = _tree_column(self.columns)
        if at is None:
            return self
        return replace(self, rows=tuple(row for row in self.rows if row[at] in names))


def _tree_column(columns: Sequence[Column]) -> int | None:
    return next((n for n, column in enumerate(columns) if column.name == "tree"), None)


def render(table: Table, width: int = WIDTH) -> str:
    """A table as plain text, columns aligned by spaces, long texts folded to the width."""
    title = "\n".join(wrap(table.title, width))
    if not table.rows:
        return f"{title}\n  none\n"
    headings = [column.heading for column in table.columns]
    shown = [
        [column.show(cell) for column, cell in zip(table.columns, row, strict=True)]
        for row in table.rows
    ]
    widths = _widths(table.columns, [headings, *shown], width)
    if _tree_column(table.columns) == 0:  # a name is said once
        for above, row in reversed(list(pairwise(shown))):
            row[0] = "" if row[0] == above[0] else row[0]

    def lines(cells: Sequence[str]) -> list[str]:
        folded = [wrap(cell, wide) or [""] for cell, wide in zip(cells, widths, strict=True)]
        deep = max(map(len, folded))
        rows = zip(*([*cell, *[""] * (deep - len(cell))] for cell in folded), strict=True)
        return [_aligned(table.columns, row, widths) for row in rows]

    rule = "  " + "  ".join("-" * wide for wide in widths)
    body = [line for row in shown for line in lines(row)]
    return "\n".join([title, *lines(headings), rule, *body, ""])


def _aligned(columns: Sequence[Column], cells: Sequence[str], widths: Sequence[int]) -> str:
    padded = [
        cell.rjust(wide) if column.digits is not None else cell.ljust(wide)
        for cell, wide, column in zip(cells, widths, columns, strict=True)
    ]
    return ("  " + "  ".join(padded)).rstrip()


def _widths(columns: Sequence[Column], rows: Sequence[Sequence[str]], width: int) -> list[int]:
    """The width of each column: numbers in full, the widest texts folded until all fits.

    A heading of numbers is folded at its blanks before any text is.
    """
    room = width - 2 * len(columns)
    by_column = list(zip(*rows, strict=True))
    most = [max(map(len, cells)) for cells in by_column]
    least = [_least(column, cells) for column, cells in zip(columns, by_column, strict=True)]
    if sum(most) > room:
        text = [column.digits is None for column in columns]
        most = [m if is_text else n for is_text, m, n in zip(text, most, least, strict=True)]
    while sum(most) > room:
        spare = [m - n for m, n in zip(most, least, strict=True)]
        if max(spare) <= 0:
            least = [min(n, NARROWEST) for n in least]
            if least == most or max(m - n for m, n in zip(most, least, strict=True)) <= 0:
                break
            continue
        most[max(range(len(most)), key=lambda n: (spare[n] > 0, most[n]))] -= 1
    return most


def _least(column: Column, cells: Sequence[str]) -> int:
    """Numbers and words are not broken."""
    heading, *body = cells
    words = [word for cell in (body if column.digits is None else ()) for word in cell.split()]
    return max(map(len, [*heading.split(), *(words if column.digits is None else body)]))


def csv_text(table: Table) -> str:
    """A table as CSV with a heading row; numbers rounded as on the screen."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([column.heading for column in table.columns])
    for row in table.rows:
        cells = zip(table.columns, row, strict=True)
        writer.writerow(["" if cell is None else _csv_cell(column, cell) for column, cell in cells])
    return text.getvalue()


def no_formula(text: str) -> str:
    """Text for a cell of a CSV file, in which no spreadsheet sees a formula to run."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def _csv_cell(column: Column, cell: Cell) -> str:
    shown = column.show(cell)
    return no_formula(shown) if isinstance(cell, str) else shown


def alike_joined(table: Table) -> Table:
    """The table with one row for trees of one row of the tree list that differ in nothing else.

    It stands where the first of them stood.
    """
    at = _tree_column(table.columns)
    if at is None:
        return table
    joined: dict[tuple[str, ...], list[tuple[Cell, ...]]] = {}
    for row in table.rows:
        shown = [column.show(cell) for column, cell in zip(table.columns, row, strict=True)]
        shown[at] = numbered_name(shown[at])[0]
        joined.setdefault(tuple(shown), []).append(row)
    rows = [
        (*some[0][:at], tree_names(str(row[at]) for row in some), *some[0][at + 1 :])
        for some in joined.values()
    ]
    heads = [shown[at] for shown in joined]
    if len(list(groupby(heads))) == len(set(heads)):  # stay by stay: a tree's rows together
        first: dict[Cell, int] = {}
        for row in rows:
            first.setdefault(row[at], len(first))
        rows.sort(key=lambda row: first[row[at]])
    return replace(table, rows=tuple(rows))
