"""The proven bound: branch and bound over heater programmes, a linear relaxation at each node.

With the programmes decided the relaxation is nearly whole, so nothing else is branched on. A node
allows each shelter some of its programmes; it is divided by whether a shelter is on a setting in a
stage, where that is least decided.
"""

import heapq
import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import count

import numpy as np

from overwinter.model.plan import Termination
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import BoolArray
from overwinter.search.heating import Settings
from overwinter.search.program import Program
from overwinter.solvers.highs import Highs
from overwinter.solvers.report import SolverSettings

WHOLE = 1e-4  # A programme chosen by less than this, or by all but this, is decided


@dataclass(order=True)
class _Node:
    bound: float
    number: int
    allowed: dict[str, BoolArray] = field(compare=False)
    """By shelter: programmes that may still be chosen."""
    chosen: dict[str, FloatArray] = field(compare=False)
    """By shelter: values of x in the relaxation."""


class Bound:
    """The tree of nodes; ``value`` is what no plan can cost less than."""

    def __init__(self, program: Program, threads: int) -> None:
        self.program, self.problem = program, program.problem
        self.highs = Highs(SolverSettings(relax=True, threads=threads))
        self.open: list[_Node] = []
        self.closed = np.inf  # least bound of the nodes in which every programme is decided
        self._numbers = count()

    @property
    def value(self) -> float | None:
        """Money; None before the first relaxation is solved."""
        best = min(self.open[0].bound if self.open else np.inf, self.closed)
        return float(best) if np.isfinite(best) else None

    def begin(self, seconds: float, first: Settings) -> Settings:
        """Solve the root; the programmes it thinks likely, nothing if the time did not suffice.

        first : programmes to solve for before the others are open; from there the root takes half
            of the time.
        """
        every = {h: np.ones(len(x), dtype=np.bool_) for h, x in self.program.x.items()}
        began = time.monotonic()
        self.under(first, seconds)
        node = self._solved(every, began + seconds - time.monotonic())
        if node is None:
            return {}
        self._keep(node)
        return self.program.favoured(node.chosen)

    def under(self, settings: Settings, seconds: float) -> float:
        """Value of the relaxation under some programmes; infinite if it was not solved in time."""
        ways = self.program.programmes
        one = {h: np.array([way.settings == settings[h] for way in ways[h]]) for h in ways}
        node = self._solved(one, seconds)
        return math.inf if node is None else node.bound

    def divide(self, enough: float, left_s: Callable[[], float]) -> list[Settings]:
        """Divide the node of the least bound; the programmes its parts think likely.

        enough : a node whose bound is at least this is of no interest.
        """
        if not self.open or self.open[0].bound >= enough:
            return []
        node = heapq.heappop(self.open)
        shelter_id, on = self._split(node)
        found = []
        for part in (on, ~on):
            allowed = {**node.allowed, shelter_id: node.allowed[shelter_id] & part}
            below = self._solved(allowed, left_s()) if left_s() > 0 else None
            if below is None:  # not solved in time: the node's own bound stands for this part
                self.closed = min(self.closed, node.bound)
                continue
            below.bound = max(below.bound, node.bound)
            if np.isfinite(below.bound):
                self._keep(below)
                found.append(self.program.favoured(below.chosen))
        return found

    def _keep(self, node: _Node) -> None:
        if all(x.max() > 1 - WHOLE for x in node.chosen.values()):
            self.closed = min(self.closed, node.bound)
        else:
            heapq.heappush(self.open, node)

    def _solved(self, allowed: dict[str, BoolArray], seconds: float) -> _Node | None:
        """The relaxation with some programmes allowed; an infinite bound if there is no plan."""
        self._allow(allowed)
        self.highs.settings = replace(self.highs.settings, time_limit_s=max(seconds, 0.01))
        report = self.highs.run(self.program.lp)
        self._allow({h: np.ones_like(one) for h, one in allowed.items()})  # others solve it, too
        if report.termination is Termination.INFEASIBLE:
            return _Node(np.inf, next(self._numbers), allowed, {})
        if report.termination is not Termination.OPTIMAL or report.objective is None:
            return None
        return _Node(report.objective, next(self._numbers), allowed, self.program.chosen())

    def _allow(self, allowed: dict[str, BoolArray]) -> None:
        for shelter_id, columns in self.program.x.items():
            for column, may in zip(columns, allowed[shelter_id], strict=True):
                column.upBound = 1.0 if may else 0.0

    def _split(self, node: _Node) -> tuple[str, BoolArray]:
        """The shelter, and its programmes on some setting in some stage, that are least decided."""
        best: tuple[float, str, BoolArray] | None = None
        for shelter_id, x in node.chosen.items():
            if x.max() > 1 - WHOLE:
                continue
            ways = np.array([p.settings for p in self.problem.programmes[shelter_id]])
            for k in range(self.problem.first, self.problem.stages):
                for setting in np.unique(ways[:, k]):
                    on = ways[:, k] == setting
                    undecided = abs(float(x[on].sum()) - 0.5)
                    if best is None or undecided < best[0]:
                        best = (undecided, shelter_id, on)
        assert best is not None
        return best[1], best[2]
