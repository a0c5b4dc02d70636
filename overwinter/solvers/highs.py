"""HiGHS: the model is passed in bulk and kept, so that a changed problem is solved from its end.

PuLP's own hand-off adds columns and rows one by one, five times slower, and begins afresh.
"""

import ctypes
import os
import signal
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import cache
from itertools import chain
from tempfile import TemporaryFile
from types import SimpleNamespace
from typing import Any

import numpy as np
import pulp
from numpy.typing import NDArray

from overwinter.model.plan import Termination
from overwinter.solvers.report import SolverFailed, SolverReport, SolverSettings

try:
    import highspy
except ImportError as error:
    raise SolverFailed(
        f"The solver HiGHS cannot be loaded ({error}). Install it anew: pip install highspy"
    ) from error

FloatArray = NDArray[np.float64]
_STATUS = highspy.HighsModelStatus
_TERMINATION = {
    _STATUS.kOptimal: Termination.OPTIMAL,
    _STATUS.kModelEmpty: Termination.OPTIMAL,
    _STATUS.kInfeasible: Termination.INFEASIBLE,
    _STATUS.kTimeLimit: Termination.TIME_LIMIT,
}
SAME = 1e-6  # an answer within this share of its bound is optimal
_FEASIBLE = 2  # HiGHS's kSolutionStatusFeasible
_POLL_S = 0.1


class Highs:
    """Solves one problem again and again, in whole numbers or relaxed; only bounds may change and
    rows be added meanwhile."""

    def __init__(self, settings: SolverSettings) -> None:
        self.settings = settings
        self._model: Any = None
        self._problem: pulp.LpProblem | None = None
        self._rows = 0

    def run(self, lp: pulp.LpProblem) -> SolverReport:
        """Solve a problem to be minimised; its variables hold the answer, or None. Raises
        ``SolverFailed``: HiGHS broke down, or the problem holds a number that is not finite."""
        assert lp.sense == pulp.LpMinimize
        report: SolverReport = lp.solve(SimpleNamespace(actualSolve=self._solve))
        return report

    def _solve(self, lp: pulp.LpProblem) -> SolverReport:
        columns = lp.variables()
        if lp is not self._problem:
            self._problem, self._rows, self._model = lp, 0, _silent_model()
            _check(self._fill(lp, columns), "take the problem")
        every = np.arange(len(columns), dtype=np.int32)
        self._model.changeColsBounds(len(every), every, *_bounds(columns))
        whole = [v.cat == pulp.LpInteger and not self.settings.relax for v in columns]
        self._model.changeColsIntegrality(len(every), every, np.array(whole, dtype=np.uint8))
        constraints = lp.constraints()
        _check(self._add_rows(constraints[self._rows :], columns), "take the rows")
        self._rows = len(constraints)
        self._configure()
        self._run()
        return self._settle(lp, columns)

    def _fill(self, lp: pulp.LpProblem, columns: Sequence[pulp.LpVariable]) -> Any:
        index = {id(v): i for i, v in enumerate(columns)}
        costs = np.zeros(len(columns))
        for variable, cost in lp.objective.items():
            costs[index[id(variable)]] = cost
        _check_finite(costs)
        none, empty = np.zeros(0), np.zeros(0, dtype=np.int32)
        return self._model.passModel(
            len(columns),
            0,
            0,
            int(highspy.MatrixFormat.kRowwise),
            int(highspy.ObjSense.kMinimize),
            float(lp.objective.constant),
            costs,
            *_bounds(columns),
            none,
            none,
            np.zeros(1, dtype=np.int32),
            empty,
            none,
            np.zeros(len(columns), dtype=np.int32),
        )

    def _add_rows(
        self, rows: Sequence[pulp.LpConstraint], columns: Sequence[pulp.LpVariable]
    ) -> Any:
        index = {id(v): i for i, v in enumerate(columns)}
        counts = [len(row.expr) for row in rows]
        total = sum(counts)
        # id() and the dictionary both run in C: hashing PuLP's variables calls Python each time
        at = map(index.__getitem__, map(id, chain.from_iterable(row.expr for row in rows)))
        values = np.fromiter(chain.from_iterable(row.expr.values() for row in rows), float, total)
        sides = np.array([-row.constant for row in rows], dtype=float)
        senses = np.array([row.sense for row in rows])
        _check_finite(values, sides)
        return self._model.addRows(
            len(rows),
            np.where(senses == pulp.LpConstraintLE, -np.inf, sides),
            np.where(senses == pulp.LpConstraintGE, np.inf, sides),
            total,
            np.cumsum([0, *counts], dtype=np.int32)[:-1],
            np.fromiter(at, np.int32, total),
            values,
        )

    def _configure(self) -> None:
        settings, model = self.settings, self._model
        model.setOptionValue("mip_rel_gap", float(settings.gap))
        model.setOptionValue("mip_abs_gap", 1e-6 if settings.gap else 0.0)
        model.setOptionValue("threads", settings.threads)
        limit = settings.time_limit_s
        model.setOptionValue("time_limit", np.inf if limit is None else float(limit))

    def _run(self) -> None:
        """Run in a thread of its own, so that Ctrl-C reaches this one. A new thread also brings a
        new scheduler: the number of threads may differ from one solve to the next, which HiGHS
        refuses within one thread."""
        model = self._model
        thread = model.startSolve()
        try:
            ended, status = model.wait(_POLL_S)
            while not ended:
                ended, status = model.wait(_POLL_S)
        except BaseException:
            model.cancelSolve()
            thread.join()
            raise
        finally:
            _ctrl_c_is_ours()
        _check(status, "solve the problem")

    def _settle(self, lp: pulp.LpProblem, columns: Sequence[pulp.LpVariable]) -> SolverReport:
        model, info = self._model, self._model.getInfo()
        status = model.getModelStatus()
        ended = _TERMINATION.get(status, Termination.FAILED)
        if status is _STATUS.kUnboundedOrInfeasible and _bounded(lp):
            ended = Termination.INFEASIBLE
        solution = model.getSolution()
        found = info.primal_solution_status == _FEASIBLE and solution.value_valid
        answered = bool(found and ended is not Termination.INFEASIBLE)
        whole = [v.cat == pulp.LpInteger and not self.settings.relax for v in columns]
        values = solution.col_value if answered else [None] * len(columns)
        for variable, value, is_whole in zip(columns, values, whole, strict=True):
            variable.varValue = round(value) if answered and is_whole else value
        bound: float | None = None
        if any(whole):
            bound = info.mip_dual_bound if np.isfinite(info.mip_dual_bound) else None
        elif ended is Termination.OPTIMAL:
            bound = info.objective_function_value
        objective = float(pulp.value(lp.objective)) if answered else None
        if objective is not None and bound is not None:
            bound = min(bound, objective)
        report = SolverReport(ended, objective, bound)
        if ended is Termination.OPTIMAL and (report.gap is None or report.gap > SAME):
            return replace(report, termination=Termination.GAP_REACHED)
        return report


def _bounds(columns: Sequence[pulp.LpVariable]) -> tuple[FloatArray, FloatArray]:
    pairs = [(v.lowBound, v.upBound) for v in columns]
    return (
        np.array([-np.inf if low is None else low for low, _ in pairs], dtype=float),
        np.array([np.inf if up is None else up for _, up in pairs], dtype=float),
    )


def _bounded(lp: pulp.LpProblem) -> bool:
    """Whether the columns' bounds alone keep the objective from falling without end."""
    return all(
        (v.lowBound if cost > 0 else v.upBound) is not None for v, cost in lp.objective.items()
    )


def _check_finite(*numbers: FloatArray) -> None:
    """HiGHS takes what is not a number for one."""
    if not all(np.isfinite(some).all() for some in numbers):
        raise SolverFailed("The program holds a number that is not finite.")


def _check(status: Any, what: str) -> None:
    if status == highspy.HighsStatus.kError:
        raise SolverFailed(f"HiGHS would not {what}.")


def _silent_model() -> Any:
    _swallow_banner()
    model = highspy.Highs()
    model.setOptionValue("output_flag", False)
    model.setOptionValue("mip_pool_soft_limit", 1)  # cuts are dropped soon; docs/tried.md
    model.HandleUserInterrupt = True
    return model


@cache
def _swallow_banner() -> None:
    """Make the first model of the process with standard output turned aside. highspy greets there
    before any option can be set, which would spoil ``--json`` and pipes."""
    with _aside():
        highspy.Highs()


@contextmanager
def _aside() -> Iterator[None]:
    try:
        kept = os.dup(1)
    except OSError:  # no standard output at all
        yield
        return
    sys.stdout.flush()
    try:
        with TemporaryFile() as aside:
            os.dup2(aside.fileno(), 1)
            yield
            # the greeting sits in C's own buffer
            (ctypes.cdll.msvcrt if os.name == "nt" else ctypes.CDLL(None)).fflush(None)
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def _ctrl_c_is_ours() -> None:
    """Give Ctrl-C back to Python: after a search HiGHS leaves it to the operating system."""
    handler = signal.getsignal(signal.SIGINT)
    if handler is not None and threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, handler)
