"""Says on stderr how far a plan has come, once it lasts long enough to wonder."""

from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from overwinter.search.options import Progress

QUIET_S = 2.0
"""Nothing is said before the search has lasted this long."""
RENEW_S = 0.2
"""Seconds between renewals of a line on a terminal."""
EVERY_S = 5.0
"""Seconds between lines where the line cannot be written over."""


class ProgressLine:
    """Receives ``Progress`` and writes one line that renews itself, or a line every few seconds."""

    def __init__(self, stream: TextIO, currency: str) -> None:
        self._stream = stream
        self._currency = currency
        self._renews = stream.isatty()
        self._last_s = float("-inf")
        self._width = 0

    def __call__(self, progress: "Progress") -> None:
        """Show one report, if it is time."""
        if progress.seconds < QUIET_S:
            return
        least = RENEW_S if self._renews else EVERY_S
        if 0.0 <= progress.seconds - self._last_s < least:
            return
        self._last_s = progress.seconds
        text = describe(progress, self._currency)
        if self._renews:
            self._stream.write("\r" + text.ljust(self._width))
            self._width = len(text)
        else:
            self._stream.write(text + "\n")
        self._stream.flush()

    def close(self) -> None:
        """Wipe the line, so that what follows starts on a clean one."""
        if self._renews and self._width:
            self._stream.write("\r" + " " * self._width + "\r")
            self._stream.flush()
            self._width = 0


def describe(progress: "Progress", currency: str) -> str:
    """One report in words: the plan in hand and how far it is proven."""
    text = f"{progress.phase.value}, {progress.seconds:.0f} s"
    if progress.objective is None:
        return text
    found = f"{text}: plan in hand {progress.objective:.2f} {currency}"
    if progress.bound is None:
        return found
    gap = max(progress.objective - progress.bound, 0.0) / max(abs(progress.objective), 1e-9)
    return f"{found}, within {gap * 100:.1f} % of the bound"
