"""Says on stderr how far a solve has come, once it lasts long enough to wonder."""

from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from overwinter.planning.options import Progress

QUIET_S = 2.0
"""Nothing is said before a solve has lasted this long."""
RENEW_S = 0.2
"""Seconds between renewals of a line on a terminal."""
EVERY_S = 5.0
"""Seconds between lines where the line cannot be written over."""


class ProgressLine:
    """Receives ``Progress`` and writes one line that renews itself, or a line every few seconds."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream
        self._renews = stream.isatty()
        self._last_s = float("-inf")
        self._width = 0

    def __call__(self, progress: "Progress") -> None:
        """Show one report, if it is time."""
        if progress.urgent:
            self.close()
            self._stream.write(describe(progress) + "\n")
            self._stream.flush()
            return
        if progress.seconds < QUIET_S:
            return
        least = RENEW_S if self._renews else EVERY_S
        # what comes after counts its seconds from 0 again
        if 0.0 <= progress.seconds - self._last_s < least:
            return
        self._last_s = progress.seconds
        text = describe(progress)
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


def describe(progress: "Progress") -> str:
    """One report in words."""
    if progress.urgent:
        return progress.phase
    text = f"{progress.phase}, {progress.seconds:.0f} s"
    if progress.beside:
        return text
    if progress.objective is None:
        return f"{text}: nothing found yet"
    found = f"{text}: best so far {progress.objective:.2f}, not checked yet"
    if progress.gap is None:
        return found
    return f"{found}, within {progress.gap * 100:.2f} % of the best"
