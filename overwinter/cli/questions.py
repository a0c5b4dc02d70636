"""Questions to a grower: asked at the terminal, or answered before by options and defaults."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TypeVar

import typer

from overwinter.problems import UserError

T = TypeVar("T")


class NobodyAnswers(Exception):
    """Input is at its end before the first answer, as where no person is."""


@dataclass
class Questions:
    """Asks one after the other; what was given as an option is not asked."""

    given: dict[str, str] = field(default_factory=dict)
    asks: bool = True
    """False: whatever is not given keeps its default."""
    answered: bool = False

    def ask(
        self, key: str, question: str, read: Callable[[str], T | None], default: str, wanted: str
    ) -> T:
        """The answer as ``read`` understands it (None: it does not), else it is asked again.

        Raises
        ------
        UserError
            A given answer is not understood, or nobody answers any more.
        """
        while True:
            asked = key not in self.given and self.asks
            answer = self._typed(question, default) if asked else self.given.get(key, default)
            found = read(answer.strip())
            if found is not None:
                return found
            message = f"'{answer}' is not understood; expected {wanted}."
            if not asked:
                raise UserError(f"{key}: {message}")
            typer.echo(f"  {message}")

    def _typed(self, question: str, default: str) -> str:
        try:
            answer = str(typer.prompt(question, default=default, show_default=bool(default)))
        except typer.Abort as stop:
            typer.echo()
            if isinstance(stop.__context__, KeyboardInterrupt):
                raise UserError("Stopped; nothing was written.") from None
            if self.answered:
                raise UserError("No more answers; nothing was written.") from None
            raise NobodyAnswers from None
        self.answered = True
        return answer


def text(answer: str) -> str | None:
    """Any text but none at all."""
    return answer or None


def lengths(count: int) -> Callable[[str], tuple[float, ...] | None]:
    """Reads ``3 x 2.4 m`` or ``12 ft x 8 ft`` as lengths in m; an empty answer is no length."""

    def read(answer: str) -> tuple[float, ...] | None:
        from overwinter.files.as_written import SUFFIX_OF, measure_of
        from overwinter.files.quantities import LENGTH

        if not answer or answer in ("-", "none", "no"):
            return ()
        parts = re.split(r"\s*(?:x|×|\*|by)\s*", answer)
        tail = re.search(r"[^\d\s.,/½¼¾]+$", parts[-1])
        unit = LENGTH.get(SUFFIX_OF.get(tail[0].casefold(), "") if tail else "m")
        sides = [measure_of(part, LENGTH, unit) for part in parts]
        if len(sides) != count or any(side is None or side <= 0 for side in sides):
            return None
        return tuple(side for side in sides if side is not None)

    return read


def temperature(answer: str) -> float | None:
    """degC of ``-5 °C`` or ``20 F``; a number alone is degC."""
    from overwinter.files.as_written import measure_of
    from overwinter.files.quantities import TEMPERATURE

    return measure_of(answer, TEMPERATURE, TEMPERATURE["c"])


def numbers(answer: str) -> tuple[float, ...] | None:
    """All numbers in an answer, decimal commas understood; an empty answer has none."""
    from overwinter.files.as_written import number_of

    found = [number_of(one.rstrip(".,")) for one in re.findall(r"[+-]?\d[\d.,]*", answer)]
    known = tuple(one for one in found if one is not None)
    empty = not answer or answer in ("-", "none", "no")
    return () if empty else known if known and len(known) == len(found) else None
