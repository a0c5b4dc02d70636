"""The bound behind a plan: the linear relaxation of the whole program, reckoned meanwhile.

It stands for itself: whatever the search does, no plan of the same trees costs less. It takes about
as long as the search, so it runs beside it in a thread of its own (the solver lets Python go).
"""

import threading

from overwinter.planning.winters import Winters
from overwinter.problems import UserError
from overwinter.program.build import build
from overwinter.program.data import ProgramData
from overwinter.program.model import Model
from overwinter.solvers.choose import solve

AT_ONCE = 40_000
"""Up to so many variables an interior point of the program itself is faster than its winters."""
TOLERANCE = 2e-4
"""How near to its own best value the relaxation is solved, share of it."""
ROUNDING = 1e-6
"""What the interior point may lie above the bound, share of it."""


def relaxation_bound(data: ProgramData) -> float:
    """Bound on the cost of any plan, prices of trees left out included, money."""
    model = build(data, may_leave_out=True)
    if len(model.problem.variables()) > AT_ONCE:
        return Winters(model).relax(TOLERANCE)
    return _interior(model)


def _interior(model: Model) -> float:
    options = {"solver": "ipm", "run_crossover": "off"}
    report = solve(model.problem, solver="highs", relax=True, options=options)
    if report.bound is None:  # it did not come to an end: once more, by the simplex method
        report = solve(model.problem, solver="highs", relax=True)
        assert report.bound is not None
    return report.bound - ROUNDING * abs(report.bound)


class BoundMeanwhile:
    """Reckons the bound in a thread from the moment it is made."""

    def __init__(self, data: ProgramData) -> None:
        self._data = data
        self._bound: float | None = None
        # a daemon: a second Ctrl-C must not wait for it
        self._thread = threading.Thread(target=self._work, name="bound", daemon=True)
        self._thread.start()

    def _work(self) -> None:
        try:
            self._bound = relaxation_bound(self._data)
        except UserError:  # the solver broke down: the plan stands without this bound
            self._bound = None

    def wait(self, seconds: float | None) -> float | None:
        """The bound, after at most so many seconds (None: as long as it takes)."""
        self._thread.join(seconds)
        return None if self._thread.is_alive() else self._bound
