"""Progress on stderr: silent while short, then the gap, on one line where it can be renewed."""

import io

import pytest

from overwinter.cli.guard import ProgressLine, describe
from overwinter.search.options import Phase, Progress


class Screen(io.StringIO):
    """A stream that is a terminal, or not."""

    def __init__(self, terminal: bool) -> None:
        super().__init__()
        self._terminal = terminal

    def isatty(self) -> bool:
        """Whether lines can be written over."""
        return self._terminal


@pytest.mark.parametrize("terminal", [True, False])
def test_silent_for_two_seconds(terminal: bool) -> None:
    """Nothing is said, nor wiped, while a solve is short."""
    screen = Screen(terminal)
    line = ProgressLine(screen, "EUR")
    for seconds in (0.0, 1.0, 1.99):
        line(Progress(Phase.TREES, seconds, 10.0, 9.0))
    line.close()
    assert screen.getvalue() == ""


def test_pipe_gets_a_line_every_few_seconds() -> None:
    """In a pipe lines can't be renewed, so they come five seconds apart."""
    screen = Screen(terminal=False)
    line = ProgressLine(screen, "EUR")
    for tenths in range(130):
        line(Progress(Phase.TREES, tenths / 10, 10.0, 9.0))
    line.close()
    assert [text.split(":")[0] for text in screen.getvalue().splitlines()] == [
        "whole trees, 2 s",
        "whole trees, 7 s",
        "whole trees, 12 s",
    ]


def test_terminal_line_is_renewed_and_wiped() -> None:
    """On a terminal one line is written over, leaves no rest of a longer one, and goes away."""
    screen = Screen(terminal=True)
    line = ProgressLine(screen, "EUR")
    line(Progress(Phase.PROGRAMMES, 3.0, 10.0, 9.0))
    line(Progress(Phase.AUDIT, 4.0))
    line.close()
    first, second, wiped, end = screen.getvalue().split("\r")[1:]
    assert second.startswith("audit, 4 s ")
    assert len(first) == len(second)
    assert (wiped.strip(), len(wiped), end) == ("", len("audit, 4 s"), "")


@pytest.mark.parametrize(
    ("progress", "text"),
    [
        (Progress(Phase.TREES, 3.2), "whole trees, 3 s"),
        (Progress(Phase.TREES, 3.2, 412.3), "whole trees, 3 s: plan in hand 412.30 EUR"),
        (
            Progress(Phase.TREES, 3.2, 412.3, 400.0),
            "whole trees, 3 s: plan in hand 412.30 EUR, at most 3.0 % of it could be saved",
        ),
    ],
)
def test_words(progress: Progress, text: str) -> None:
    """What is known so far is said, and no more."""
    assert describe(progress, "EUR") == text
