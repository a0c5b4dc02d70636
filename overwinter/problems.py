"""What is wrong with an input, said so that a grower can mend it."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

MOST_ALIKE = 20  # lines of one kind of mistake in a column; weather has thousands of rows
MOST_ROWS = 40


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake in one place of one input file. ``row`` is as people count (the heading is 1), or
    the dotted key of a TOML table; None where the whole file is meant."""

    file: str
    row: int | str | None
    column: str | None
    found: str
    expected: str
    fix: str = ""

    def __str__(self) -> str:
        where = self.file
        if self.row is not None:
            where += f", row {self.row}" if isinstance(self.row, int) else f", [{self.row}]"
        if self.column:
            where += f", {self.column}"
        text = f"{where}: found {self.found}; expected {self.expected}."
        return f"{text} {self.fix}" if self.fix else text


class InputProblems(Exception):
    """All problems of an input at once, sorted by file and row."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=_place))
        self.lines = tuple(_lines(self.problems))
        """A sentence each, the same mistake in many rows once."""
        super().__init__("\n".join(self.lines))

    @property
    def table(self) -> "pd.DataFrame":
        """One row a problem: file, row, column, found, expected, fix."""
        import pandas as pd

        return pd.DataFrame([asdict(problem) for problem in self.problems])


def _place(one: Problem) -> tuple[str, int, str, str]:
    row = one.row if isinstance(one.row, int) else 0
    return one.file, row, str(one.row), one.column or ""


def _lines(problems: Sequence[Problem]) -> list[str]:
    """One line a mistake, said once of all its rows; of many that are alike the rows alone."""
    rows: dict[Problem, dict[int | str | None, None]] = {}
    for one in problems:
        alike = replace(one, row=None) if isinstance(one.row, int) else one
        rows.setdefault(alike, {})[one.row] = None
    lines, kinds = list[str](), defaultdict[tuple[object, ...], list[str]](list)
    for one, (first, *more) in rows.items():
        told = kinds[one.file, one.column, one.expected]
        told.append(str(first))
        if isinstance(first, int) and len(told) > MOST_ALIKE:
            told += map(str, more)
            continue
        same = f" The same in row{'s' * (len(more) > 1)} {', '.join(map(str, more))}."
        lines.append(f"{replace(one, row=first)}{same if more else ''}")
    for (file, column, expected), told in kinds.items():
        if (beyond := told[MOST_ALIKE:]) and beyond[0].isdigit():
            lines.append(
                f"{file}, {column}: the same kind of mistake (expected {expected}) in"
                f" {len(beyond)} more rows: {', '.join(sorted(beyond, key=int)[:MOST_ROWS])}"
                f"{', ...' if len(beyond) > MOST_ROWS else '.'}"
            )
    return lines


class UserError(Exception):
    """A request that cannot be carried out; the text is the whole message for the user."""


class AuditRefused(Exception):
    """A plan that broke its own rules and must not be shown; the text lists what it broke."""
