"""Names of alike trees together, with how many they are."""

from collections.abc import Iterable, Sequence
from itertools import groupby

from overwinter.model.tree import numbered_name


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
