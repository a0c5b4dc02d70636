"""Progress on stderr: silent while short, then the gap, on one line where it can be renewed."""

import io

import pytest

from overwinter.cli.progress import ProgressLine, describe
from overwinter.planning.options import Progress


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
    line = ProgressLine(screen)
    for seconds in (0.0, 1.0, 1.99):
        line(Progress("solving", seconds, 10.0, 9.0, 0.1))
    line.close()
    assert screen.getvalue() == ""


def test_pipe_gets_a_line_every_few_seconds() -> None:
    """In a pipe lines can't be renewed, so they come five seconds apart."""
    screen = Screen(terminal=False)
    line = ProgressLine(screen)
    for tenths in range(130):
        line(Progress("solving", tenths / 10, 10.0, 9.0, 0.1))
    line.close()
    assert [text.split(":")[0] for text in screen.getvalue().splitlines()] == [
        "solving, 2 s",
        "solving, 7 s",
        "solving, 12 s",
    ]


def test_seconds_that_begin_again() -> None:
    """What is asked beside a plan counts from 0; it is heard all the same, and claims no plan."""
    screen = Screen(terminal=False)
    line = ProgressLine(screen)
    line(Progress("solving", 60.0, 10.0, 9.0, 0.1))
    line(Progress("last safe opening of Shed", 3.0, beside=True))
    line(Progress("last safe opening of Shed", 5.0, beside=True))
    assert screen.getvalue().splitlines()[1:] == ["last safe opening of Shed, 3 s"]


def test_terminal_line_is_renewed_and_wiped() -> None:
    """On a terminal one line is written over, leaves no rest of a longer one, and goes away."""
    screen = Screen(terminal=True)
    line = ProgressLine(screen)
    line(Progress("a long phase", 3.0, 10.0, 9.0, 0.1))
    line(Progress("b", 4.0))
    line.close()
    first, second, wiped, end = screen.getvalue().split("\r")[1:]
    assert second.startswith("b, 4 s: nothing found yet ")
    assert len(first) == len(second)
    assert (wiped.strip(), len(wiped), end) == ("", len("b, 4 s: nothing found yet"), "")


def test_what_is_urgent_is_said_at_once() -> None:
    """On a line of its own, however short the wait was, after the line that renews itself."""
    screen = Screen(terminal=True)
    line = ProgressLine(screen)
    line(Progress("b", 4.0))
    line(Progress("stopping", 0.1, urgent=True))
    assert screen.getvalue().endswith("\rstopping\n")


@pytest.mark.parametrize(
    ("progress", "text"),
    [
        (Progress("round 1", 3.2), "round 1, 3 s: nothing found yet"),
        (
            Progress("round 1", 3.2, 412.3),
            "round 1, 3 s: best so far 412.30, not checked yet",
        ),
        (
            Progress("round 1", 3.2, 412.3, 400.0, 0.0298),
            "round 1, 3 s: best so far 412.30, not checked yet, within 2.98 % of the best",
        ),
    ],
)
def test_words(progress: Progress, text: str) -> None:
    """What is known so far is said, and no more."""
    assert describe(progress) == text
