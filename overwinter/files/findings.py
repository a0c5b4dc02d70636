"""What was found while reading: problems that stop the tool, warnings that do not."""

from dataclasses import dataclass, field

from overwinter.problems import InputProblems, Problem


@dataclass
class Findings:
    """Gathers, so that a grower sees everything at once and not one mistake a run."""

    problems: list[Problem] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)

    def problem(
        self,
        file: str,
        row: int | str | None,
        column: str | None,
        found: str,
        expected: str,
        fix: str = "",
    ) -> None:
        """Note one mistake; the arguments are those of ``Problem``."""
        self.problems.append(Problem(file, row, column, found, expected, fix))

    def repeats(self, file: str, names: list[str], column: str) -> None:
        """Note every name that stands there more than once."""
        for name in sorted({name for name in names if names.count(name) > 1}):
            self.problem(file, None, column, f"'{name}' twice", "each name once", "Rename one.")

    def warn(self, text: str) -> None:
        """Note something the grower should know but that does not stop the tool."""
        if text not in self.warnings:
            self.warnings.append(text)

    def raise_if_any(self) -> None:
        """Raise all problems at once.

        Raises
        ------
        InputProblems
            When there is at least one.
        """
        if self.problems:
            raise InputProblems(self.problems)
