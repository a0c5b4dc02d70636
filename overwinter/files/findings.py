"""What was found while reading: problems that stop the tool, guesses and oddities that do not."""

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from overwinter.problems import InputProblems, Problem


def closest(word: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """The known word nearest to ``word`` by spelling, or None when none is near."""
    by_folded = {name.casefold(): name for name in known}
    near = difflib.get_close_matches(word.casefold().strip(), by_folded, n=1, cutoff=cutoff)
    return by_folded[near[0]] if near else None


def meant(text: str, told: Mapping[str, str], **blanks: str) -> str:
    """The words for the first pattern that a text matches, its groups filled in; or empty."""
    found = ((words, re.fullmatch(pattern, text, re.I)) for pattern, words in told.items())
    return next((words.format(match, **blanks) for words, match in found if match), "")


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A sentence that suggests the nearest known word; empty when none is near."""
    near = closest(word, known)
    return f"Did you mean '{near}'?" if near else ""


def listed(words: Iterable[str], most: int = 12) -> str:
    """``a, b or c``, cut after ``most`` words."""
    names = list(words)
    if len(names) > most:
        return f"{', '.join(names[:most])}, ... ({len(names)} in all)"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} or {names[-1]}"


def rows_listed(numbers: Sequence[int], most: int = 5) -> str:
    """``row 2``, ``rows 2, 3``, ``13 rows (2, 3, 4, 5, 6, ...)``."""
    shown = ", ".join(map(str, numbers[:most]))
    if len(numbers) > most:
        return f"{len(numbers)} rows ({shown}, ...)"
    return f"row{'s' * (len(numbers) > 1)} {shown}"


@dataclass(frozen=True, slots=True)
class KeyGuess:
    """A key of a TOML file that was left out, with the value taken for it."""

    file: str
    table: str  # dotted, arrays by id or name: `shelter.garage.place.floor`
    key: str
    value: float | int


@dataclass
class Findings:
    """Gathers, so that a grower sees everything at once and not one mistake a run."""

    problems: list[Problem] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    assumed: list[str] = field(default_factory=list)  # for want of anything given
    guesses: list[KeyGuess] = field(default_factory=list)  # those that a key may say

    def at(self, file: str, row: int | str | None = None, column: str | None = None) -> "Where":
        """A place in an input, as ``Problem`` has it, of which something is to be said."""
        return Where(self, file, row, column)

    def repeats(self, file: str, names: list[str], column: str) -> None:
        """Note every name that stands there more than once."""
        for name in sorted({name for name in names if names.count(name) > 1}):
            self.at(file, None, column).problem(f"'{name}' twice", "each name once", "Rename one.")

    def warn(self, text: str) -> None:
        """Note something the grower should know but that does not stop the tool."""
        if text not in self.warnings:
            self.warnings.append(text)

    def assume(self, text: str, *guesses: KeyGuess) -> None:
        """Note something that was taken for granted, and the keys that would say it."""
        if text not in self.assumed:
            self.assumed.append(text)
            self.guesses += guesses

    def raise_if_any(self) -> None:
        """Raise all problems at once."""
        if self.problems:
            raise InputProblems(self.problems)


@dataclass(frozen=True, slots=True)
class Where:
    """A place that is read: a file, perhaps a row or dotted key, perhaps a column."""

    findings: Findings
    file: str
    row: int | str | None
    column: str | None
    heads: Mapping[str, str] = field(default_factory=dict)  # as written, by what they were read as

    def of(self, column: str) -> "Where":
        """A column of the row, or a key of the table."""
        return replace(self, column=self.heads.get(column, column))

    def under(self, key: str) -> "Where":
        """A table below this one, by dotted key."""
        return replace(self, row=key if self.row is None else f"{self.row}.{key}")

    def problem(self, found: str, expected: str, fix: str = "") -> None:
        """Note one mistake there."""
        problem = Problem(self.file, self.row, self.column, found, expected, fix)
        self.findings.problems.append(problem)
