"""What is wrong with an input, said so that a grower can mend it."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake in one place of one input file.

    ``row`` is the line or sheet row as a person counts it (the heading is row 1), or the dotted
    key of a TOML table; ``None`` where the whole file is meant.
    """

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
        self.problems = tuple(
            sorted(
                problems,
                key=lambda p: (
                    p.file,
                    p.row if isinstance(p.row, int) else 0,
                    str(p.row),
                    p.column or "",
                ),
            )
        )
        self.lines = tuple(_lines(self.problems))
        """A sentence each, the same mistake in many rows once."""
        super().__init__("\n".join(self.lines))

    @property
    def table(self) -> "pd.DataFrame":
        """One row a problem: file, row, column, found, expected, fix."""
        import pandas as pd

        return pd.DataFrame([asdict(problem) for problem in self.problems])


def _lines(problems: Sequence[Problem]) -> list[str]:
    """One line a mistake; the same one in several rows of a table is said once."""
    rows: dict[Problem, list[int]] = {}
    for one in dict.fromkeys(problems):
        if isinstance(one.row, int):
            rows.setdefault(replace(one, row=None), []).append(one.row)
    lines = []
    for one in dict.fromkeys(problems):
        same = rows.get(replace(one, row=None), [])
        if not isinstance(one.row, int) or len(same) == 1:
            lines.append(str(one))
        elif one.row == same[0]:
            listed = ", ".join(map(str, same[1:]))
            lines.append(f"{one} The same in row{'s' * (len(same) > 2)} {listed}.")
    return lines


class UserError(Exception):
    """A request that cannot be carried out; the text is the whole message for the user."""


class AuditRefused(Exception):
    """A plan that broke its own rules and must not be shown; the text lists what it broke."""
