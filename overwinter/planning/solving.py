"""The solver's work in a search: within the time limit, to be interrupted, with progress told."""

import time
from dataclasses import replace

import numpy as np

from overwinter.planning.options import OnProgress, PlanOptions, Progress
from overwinter.problems import UserError
from overwinter.program.model import Problem
from overwinter.solvers.choose import solve
from overwinter.solvers.report import SolverReport, Termination

LAST_ROUNDS_S = 10.0
"""Solving time a round still gets after the limit is used up: a plan that fails is no plan."""
STILL_LEAVES_OUT = 0.8
"""A gap as wide as this means trees are still left out; their price is nobody's money."""


class NoPlan(UserError):  # noqa: N818 - an event, as the report words it
    """The search was stopped before any plan was found."""


class BoundPassed(Exception):  # noqa: N818 - an event
    """The bound of a program has passed what was of interest."""


class Solving:
    """What all programs of a search have in common; its clock starts with it."""

    def __init__(self, options: PlanOptions, on_progress: OnProgress | None) -> None:
        self._options = options
        self._tell = on_progress or (lambda _progress: None)
        self._began = time.perf_counter()
        self.interrupted = False
        """The user wants to have what there is."""
        self.plan_money = np.inf
        """From this money on, a solution leaves trees out that a plan would not."""

    def seconds(self) -> float:
        """Time since the beginning."""
        return time.perf_counter() - self._began

    def seconds_left(self) -> float | None:
        """Of the time limit; None without one."""
        limit = self._options.time_limit_s
        return None if limit is None else max(limit - self.seconds(), 0.0)

    def stopped(self) -> bool:
        """Whether nothing new is to be begun."""
        return self.interrupted or self.seconds_left() == 0

    def solve(
        self,
        problem: Problem,
        phase: str,
        *,
        most: float = np.inf,
        nodes: int | None = None,
        share: float = 1.0,
    ) -> SolverReport:
        """Solve within a share of the gap, and at most so many nodes of branching.

        Raises
        ------
        BoundPassed
            The bound has passed ``most``.
        NoPlan
            Interrupted a second time.
        """
        limit = self.seconds_left()
        if limit is not None:
            limit = max(limit, LAST_ROUNDS_S)

        def on_progress(_s: float, objective: float | None, bound: float | None) -> None:
            self.tell(phase, objective, bound)
            if bound is not None and bound > most:
                raise BoundPassed

        self.tell(phase, None, None)
        report = solve(
            problem,
            solver=self._options.solver,
            gap=share * self._options.gap,
            time_limit_s=limit,
            node_limit=nodes,
            threads=self._options.threads,
            on_progress=on_progress,
        )
        if report.termination is Termination.INTERRUPTED:
            if self.interrupted:
                raise NoPlan("Stopped before any plan passed every check.")
            # finish with what there is, as quickly as a plan that holds allows
            self.interrupted = True
            self._options = replace(self._options, time_limit_s=0.0)
        return report

    def tell(self, phase: str, objective: float | None, bound: float | None) -> None:
        """Tell how far a phase has come, money; None for what is not known yet."""
        gap = None
        if objective is not None and bound is not None and objective:
            gap = max(0.0, (objective - bound) / abs(objective))
        leaves_out = gap is not None and gap > STILL_LEAVES_OUT
        if objective is not None and (leaves_out or objective > self.plan_money):
            objective = gap = None
        self._tell(Progress(phase, self.seconds(), objective, bound, gap))
