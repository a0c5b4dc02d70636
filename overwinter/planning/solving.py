"""The solver's work in a search: within the time limit, to be interrupted, with progress told."""

import contextlib
import signal
import threading
import time
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from overwinter.planning.options import OnProgress, PlanOptions, Progress
from overwinter.problems import UserError
from overwinter.program.model import Problem
from overwinter.solvers.choose import solve
from overwinter.solvers.report import SolverReport, Termination

LAST_ROUNDS_S = 10.0
"""Solving time a round still gets after the limit is used up: a plan that fails is no plan."""
HASTY_GAP = 0.05
"""So near to the best of its program an answer is taken at once after that."""
STOPPING = "stopping: a plan that holds is finished first; Ctrl-C again gives up"
STILL_LEAVES_OUT = 0.8
"""A gap as wide as this means trees are still left out; their price is nobody's money."""


class NoPlan(UserError):
    """The search was stopped before any plan was found."""


class BoundPassed(Exception):
    """The bound of a program has passed what was of interest."""


class Solving:
    """What all programs of a search have in common; its clock starts with it."""

    def __init__(self, options: PlanOptions, on_progress: OnProgress | None) -> None:
        self._options = options
        self._tell = on_progress or (lambda _progress: None)
        self._began = time.perf_counter()
        self.interrupted = False
        """The user wants to have what there is."""
        self._in_solver = False
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

    def ended_by(self) -> Termination | None:
        """What brings the search to its end before its time; None for nothing."""
        if self.interrupted:
            return Termination.INTERRUPTED
        return Termination.TIME_LIMIT if self.stopped() else None

    @contextlib.contextmanager
    def noting_ctrl_c(self) -> Iterator[None]:
        """Bring the search to an end at the first Ctrl-C, wherever it comes; a second one raises.

        Raises
        ------
        KeyboardInterrupt
            At the second.
        """
        before = signal.getsignal(signal.SIGINT)
        in_main = threading.current_thread() is threading.main_thread()
        if not in_main or before is not signal.default_int_handler:
            yield
            return
        signal.signal(signal.SIGINT, lambda _number, _frame: self._note_ctrl_c())
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, before)

    def _note_ctrl_c(self) -> None:
        if self.interrupted:
            raise KeyboardInterrupt
        self._interrupt()
        if self._in_solver:  # which then ends with the best it has
            raise KeyboardInterrupt

    def _interrupt(self) -> None:
        """From now on finish with what there is, as quickly as a plan that holds allows."""
        self.interrupted = True
        self._options = replace(self._options, time_limit_s=0.0)
        with contextlib.suppress(RuntimeError):  # in the middle of writing something else
            self._tell(Progress(STOPPING, self.seconds(), urgent=True))

    def solve(
        self,
        problem: Problem,
        phase: str,
        *,
        most: float = np.inf,
        nodes: int | None = None,
        share: float = 1.0,
        cutoff: float | None = None,
    ) -> SolverReport:
        """Solve within a share of the gap, and at most so many nodes of branching.

        Answers that cost more than ``cutoff`` are none.

        Raises
        ------
        BoundPassed
            The bound has passed ``most``.
        KeyboardInterrupt
            Interrupted a second time.
        """
        gap, limit, interrupted = share * self._options.gap, self.seconds_left(), self.interrupted
        if limit is not None:
            gap = gap if limit > 0.0 else max(gap, HASTY_GAP)
            limit = max(limit, LAST_ROUNDS_S)

        def on_progress(_s: float, objective: float | None, bound: float | None) -> None:
            self.tell(phase, objective, bound)
            if bound is not None and bound > most:
                raise BoundPassed

        self.tell(phase, None, None)
        self._in_solver = True
        try:
            report = solve(
                problem,
                solver=self._options.solver,
                gap=gap,
                time_limit_s=limit,
                node_limit=nodes,
                cutoff=cutoff,
                threads=self._options.threads,
                on_progress=on_progress,
            )
        finally:
            self._in_solver = False
        if report.termination is Termination.INTERRUPTED:
            if interrupted:
                raise KeyboardInterrupt
            if not self.interrupted:
                self._interrupt()
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
