"""The bound behind a large plan: the linear relaxation of the whole program, reckoned meanwhile.

It stands for itself: whatever the search does, no plan of the same trees costs less. It takes about
as long as the search, so it runs beside it.
"""

import atexit
import contextlib
import os
import pickle
import subprocess
import sys
from pathlib import Path

from overwinter.planning.winters import Winters
from overwinter.program.build import build
from overwinter.program.data import ProgramData

TOLERANCE = 2e-4
"""How near to its own best value the relaxation is solved, share of it."""


def relaxation_bound(data: ProgramData) -> float:
    """Bound on the cost of any plan, prices of trees left out included, money."""
    return Winters(build(data, may_leave_out=True)).relax(TOLERANCE)


class BoundMeanwhile:
    """Reckons the bound in a process of its own from the moment it is made.

    A process, because two threads that build programs would only take turns.
    """

    def __init__(self, data: ProgramData) -> None:
        home = str(Path(__file__).parents[2])
        path = os.pathsep.join(filter(None, [home, os.environ.get("PYTHONPATH")]))
        self._bound: float | None = None
        self._process: subprocess.Popen[bytes] | None = None
        # without a process, or should it break down, the plan stands without this bound
        with contextlib.suppress(OSError, ValueError):
            self._process = subprocess.Popen(
                [sys.executable, "-m", __name__],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": path},
                start_new_session=True,  # Ctrl-C is for the search
            )
            atexit.register(self.stop)
            pipe = self._process.stdin
            assert pipe is not None
            pickle.dump(data, pipe, protocol=pickle.HIGHEST_PROTOCOL)
            pipe.close()

    def wait(self, seconds: float | None) -> float | None:
        """The bound, after at most so many seconds (None: as long as it takes)."""
        process = self._process
        if process is not None:
            assert process.stdout is not None
            with contextlib.suppress(subprocess.TimeoutExpired, OSError, ValueError):
                if process.wait(seconds) == 0:
                    self._bound = float(process.stdout.read())
            self.stop()
        return self._bound

    def stop(self) -> None:
        """End it, if it still runs."""
        process, self._process = self._process, None
        if process is not None:
            process.kill()
            process.wait()
            for pipe in (process.stdin, process.stdout):
                if pipe is not None:
                    with contextlib.suppress(OSError):
                        pipe.close()
            atexit.unregister(self.stop)


def main() -> None:
    """Read the program's data from standard input, write the bound to standard output."""
    print(repr(relaxation_bound(pickle.load(sys.stdin.buffer))))


if __name__ == "__main__":
    main()
