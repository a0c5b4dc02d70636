"""Alike trees on one line: rows of a table, or names in a sentence, with how many they are.

For people only; CSV and JSON have one row a tree.
"""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import groupby

from overwinter.model.tree import numbered_name
from overwinter.render.tables import Cell, Table


def tree_names(names: Iterable[str]) -> str:
    """``Yew, Elms (all 5), Figs (3 of 8: 1-2, 5)``: trees of one row of the tree list together.

    Parted by semicolons where a name has a comma.
    """
    rows: dict[str, list[str]] = {}
    for name in names:
        rows.setdefault(numbered_name(name)[0], []).append(name)
    comma = any("," in row for row in rows)
    return ("; " if comma else ", ").join(_of_one_row(row, some) for row, some in rows.items())


def _of_one_row(row: str, names: Sequence[str]) -> str:
    if len(names) == 1:
        return names[0]
    numbers = sorted(numbered_name(name)[1] for name in names)
    of = max(numbered_name(name)[2] for name in names)
    if len(numbers) == of:
        return f"{row} (all {of})"
    return f"{row} ({len(numbers)} of {of}: {_runs(numbers)})"


def _runs(numbers: Sequence[int]) -> str:
    """``1-3, 5``."""
    runs = []
    for _, run in groupby(enumerate(numbers), key=lambda pair: pair[1] - pair[0]):
        first, *rest = [number for _, number in run]
        runs.append(f"{first}-{rest[-1]}" if rest else str(first))
    return ", ".join(runs)


def alike_joined(table: Table) -> Table:
    """The table with one row for trees of one row of the tree list that differ in nothing else.

    It stands where the first of them stood.
    """
    at = next((n for n, column in enumerate(table.columns) if column.name == "tree"), None)
    if at is None:
        return table
    joined: dict[tuple[str, ...], list[tuple[Cell, ...]]] = {}
    for row in table.rows:
        shown = [column.show(cell) for column, cell in zip(table.columns, row, strict=True)]
        shown[at] = numbered_name(shown[at])[0]
        joined.setdefault(tuple(shown), []).append(row)
    rows = tuple(
        (*some[0][:at], tree_names(str(row[at]) for row in some), *some[0][at + 1 :])
        for some in joined.values()
    )
    return replace(table, rows=rows)
