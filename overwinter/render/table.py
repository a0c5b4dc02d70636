"""A table of raw values: the same rows for the screen, CSV, a workbook and ``--json``."""

import csv
import io
from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import chain, groupby, pairwise, zip_longest
from textwrap import wrap
from typing import Self, TypeVar

from overwinter.model.tree import numbered_name
from overwinter.render.words import short_date, tree_names

WIDTH = 80  # columns of a screen where nothing better is known
NARROWEST = 6  # text is not folded into less; words are broken before numbers are
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What a spreadsheet may take for the beginning of a formula, wide forms of the signs included."""
TREE = "tree"  # heading of the column that names trees

T = TypeVar("T")
Cell = str | int | float | date | None
Columns = Mapping[str, Callable[[T], Cell]]  # headings with units; what stands below them


class Figure(float):
    """A number, and how many decimals of it are shown."""

    digits: int

    def __new__(cls, value: float, digits: int = 2) -> Self:
        """``value`` with its decimals."""
        found = super().__new__(cls, value)
        found.digits = digits
        return found

    def __str__(self) -> str:
        return f"{round(self, self.digits) + 0.0:.{self.digits}f}"


@dataclass(frozen=True)
class Table:
    """A titled table of raw values."""

    name: str
    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    @classmethod
    def of(cls, name: str, title: str, items: Iterable[T], columns: Columns[T]) -> Self:
        """A row for each item."""
        rows = (tuple(cell(item) for cell in columns.values()) for item in items)
        return cls(name, title, tuple(columns), tuple(rows))

    def records(self) -> list[dict[str, Cell]]:
        """Rows as mappings from heading to value."""
        return [dict(zip(self.headings, row, strict=True)) for row in self.rows]

    def only_columns(self, *headings: str) -> Self:
        """These columns alone."""
        rows = tuple(tuple(row[name] for name in headings) for row in self.records())
        return replace(self, headings=headings, rows=rows)

    def only_trees(self, names: Container[str]) -> Self:
        """Rows about these trees alone; a table that is not about trees stays as it is."""
        if TREE not in self.headings:
            return self
        at = self.headings.index(TREE)
        return replace(self, rows=tuple(row for row in self.rows if row[at] in names))


def _shown(cells: Sequence[Cell]) -> list[str]:
    return [
        "-" if cell is None else short_date(cell) if isinstance(cell, date) else str(cell)
        for cell in cells
    ]


def render(table: Table, width: int = WIDTH) -> str:
    """A table as plain text, columns aligned by spaces, long texts folded to the width."""
    title = "\n".join(wrap(table.title, width))
    if not table.rows:
        return f"{title}\n  none\n"
    numeric = [
        any(isinstance(cell, int | float) for cell in cells)
        for cells in zip(*table.rows, strict=True)
    ]
    rows = list(map(_shown, table.rows))
    widths = _widths([table.headings, *rows], numeric, width)
    if table.headings[0] == TREE:  # a name is said once
        for above, row in reversed(list(pairwise(rows))):
            row[0] = "" if row[0] == above[0] else row[0]

    def lines(cells: Sequence[str]) -> list[str]:
        folded = [wrap(cell, wide) for cell, wide in zip(cells, widths, strict=True)]
        return [
            "".join(
                f"  {cell:{'>' if right else '<'}{wide}}"
                for cell, wide, right in zip(line, widths, numeric, strict=True)
            ).rstrip()
            for line in zip_longest(*folded, fillvalue="")
        ]

    rule = "".join(f"  {'-' * wide}" for wide in widths)
    return "\n".join([title, *lines(table.headings), rule, *chain(*map(lines, rows)), ""])


def _widths(rows: Sequence[Sequence[str]], numeric: Sequence[bool], width: int) -> list[int]:
    """The width of each column: numbers in full, the widest texts folded until all fits. A heading
    of numbers is folded at its blanks before any text is."""
    room = width - 2 * len(numeric)
    columns = list(zip(*rows, strict=True))
    most = [max(map(len, cells)) for cells in columns]
    least = [_least(cells, right) for cells, right in zip(columns, numeric, strict=True)]
    if sum(most) > room:
        most = [n if right else m for right, m, n in zip(numeric, most, least, strict=True)]
    for floor in (least, [min(n, NARROWEST) for n in least]):
        while sum(most) > room and most != floor:
            spare = [k for k, (m, n) in enumerate(zip(most, floor, strict=True)) if m > n]
            most[max(spare, key=most.__getitem__)] -= 1
    return most


def _least(cells: Sequence[str], right: bool) -> int:
    """Numbers and words are not broken."""
    heading, *body = cells
    return max(map(len, [*heading.split(), *(body if right else " ".join(body).split())]))


def csv_text(table: Table) -> str:
    """A table as CSV (RFC 4180) with a heading row; numbers rounded as on the screen."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(table.headings)
    for row in table.rows:
        formulas = (isinstance(cell, str) and cell.startswith(FORMULA_STARTS) for cell in row)
        writer.writerow([f"'{c}" if runs else c for c, runs in zip(row, formulas, strict=True)])
    return text.getvalue()


def alike_joined(table: Table) -> Table:
    """The table with trees of one row of the list joined that differ in nothing else."""
    if TREE not in table.headings:
        return table
    at = table.headings.index(TREE)
    joined: dict[tuple[str, ...], list[tuple[Cell, ...]]] = {}
    for row in table.rows:
        shown = _shown(row)
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
