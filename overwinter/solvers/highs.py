"""HiGHS, in this process: options checked, Ctrl-C heeded, one model kept for further rows."""

import contextlib
import ctypes
import difflib
import operator
import os
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from tempfile import TemporaryFile
from typing import Any

import highspy
import numpy as np
import pulp

from overwinter.problems import UserError
from overwinter.solvers.arrays import (
    FloatArray,
    ProblemArrays,
    read_problem,
    read_rows,
    refresh_columns,
    whole_mask,
)
from overwinter.solvers.report import (
    BadModel,
    SolverFailed,
    SolverReport,
    SolverSettings,
    Termination,
)
from overwinter.solvers.settle import Outcome, settle

Progress = Callable[[float, float | None, float | None], None]

_STATUS = highspy.HighsModelStatus
_TERMINATION = {
    _STATUS.kOptimal: Termination.OPTIMAL,
    _STATUS.kModelEmpty: Termination.OPTIMAL,
    _STATUS.kInfeasible: Termination.INFEASIBLE,
    _STATUS.kUnbounded: Termination.UNBOUNDED,
    _STATUS.kUnboundedOrInfeasible: Termination.INFEASIBLE_OR_UNBOUNDED,
    _STATUS.kTimeLimit: Termination.TIME_LIMIT,
    _STATUS.kSolutionLimit: Termination.NODE_LIMIT,  # what a node limit comes back as
    _STATUS.kIterationLimit: Termination.NODE_LIMIT,
    _STATUS.kInterrupt: Termination.INTERRUPTED,
}
_BROKEN = {
    _STATUS.kLoadError,
    _STATUS.kModelError,
    _STATUS.kPresolveError,
    _STATUS.kSolveError,
    _STATUS.kPostsolveError,
    _STATUS.kNotset,
}
#: Set from the settings; through the free options they would contradict the report.
_OURS = frozenset({"mip_rel_gap", "time_limit", "mip_max_nodes", "threads", "output_flag"})
_FEASIBLE = 2  # HiGHS's kSolutionStatusFeasible
_POLL_S = 0.05
_CALLBACK = highspy.cb.HighsCallbackType


class HighsAdapter(pulp.HiGHS):  # type: ignore[misc, unused-ignore]
    """PuLP's HiGHS with its silences removed; the answer is in ``report``.

    PuLP's own hand-off adds columns and rows one by one; here the whole model is passed in
    arrays. Solving the same problem again with more rows adds only these to the model kept.
    """

    def __init__(
        self,
        settings: SolverSettings | None = None,
        *,
        start: dict[str, float] | None = None,
        on_progress: Progress | None = None,
    ) -> None:
        super().__init__(msg=False)
        self.settings = settings or SolverSettings()
        self.start = start
        self.on_progress = on_progress
        self.report: SolverReport | None = None
        self._model: Any = None
        self._arrays: ProblemArrays | None = None
        self._problem: pulp.LpProblem | None = None

    def actualSolve(self, lp: pulp.LpProblem, **_: Any) -> int:  # noqa: N802 - PuLP's name
        """Solve; called by ``problem.solve(adapter)``."""
        began = time.monotonic()
        arrays = self._take_in(lp)
        _configure(self._model, self.settings)
        start = arrays.start_vector(self.start)
        if start is not None:
            _give_start(self._model, start)
        self._run(arrays)
        outcome = self._outcome(arrays)
        self.report = settle(
            lp, arrays, outcome, solver="HiGHS", seconds=time.monotonic() - began, start=start
        )
        return int(lp.status)

    def _take_in(self, lp: pulp.LpProblem) -> ProblemArrays:
        """Pass the problem to HiGHS, or only what is new since the last time."""
        known, relax = self._arrays, self.settings.relax
        if known is not None and lp is self._problem and _same_columns(known, lp, relax=relax):
            arrays = _update(self._model, known, lp)
        else:
            arrays = read_problem(lp, relax=relax)
            self._model = new_model()
            _check(self._model.passModel(_as_highs_lp(arrays)), "take the model")
        self._arrays, self._problem = arrays, lp
        return arrays

    def _run(self, arrays: ProblemArrays) -> None:
        """Run HiGHS in a thread of its own, so that Ctrl-C and progress reach this one.

        A new thread also brings a new scheduler: the number of threads may differ from one
        solve to the next, which HiGHS refuses within one thread.
        """
        watch = _Watch(arrays)
        watch.attach(self._model)
        failure: list[BaseException] = []

        def work() -> None:
            try:
                if self._model.run() == highspy.HighsStatus.kError:
                    raise SolverFailed("HiGHS stopped with an error.")
            except BaseException as error:
                failure.append(error)

        worker = threading.Thread(target=work, name="HiGHS", daemon=True)
        worker.start()
        self._wait(worker, watch)
        if failure:
            raise failure[0]

    def _wait(self, worker: threading.Thread, watch: "_Watch") -> None:
        while worker.is_alive():
            try:
                worker.join(_POLL_S)
                if self.on_progress is not None and watch.news:
                    watch.news = False
                    self.on_progress(*watch.latest)
            except KeyboardInterrupt:
                if watch.stop:  # a second Ctrl-C: leave now, without the best plan so far
                    raise
                watch.stop = True
            except BaseException:
                watch.stop = True
                worker.join()
                raise

    def _outcome(self, arrays: ProblemArrays) -> Outcome:
        model = self._model
        status = model.getModelStatus()
        if status in _BROKEN:
            raise SolverFailed(f"HiGHS failed: {model.modelStatusToString(status)}.")
        termination = _TERMINATION.get(status, Termination.FAILED)
        info = model.getInfo()
        values = None
        solution = model.getSolution()
        if info.primal_solution_status == _FEASIBLE and solution.value_valid:
            values = np.array(solution.col_value, dtype=float)
        linear = not arrays.whole.any()
        ended = termination is Termination.OPTIMAL
        bound: float | None = None
        if linear:
            bound = arrays.objective(values) if ended and values is not None else None
        elif np.isfinite(info.mip_dual_bound):
            bound = float(info.mip_dual_bound)
        duals = linear and ended and solution.dual_valid
        return Outcome(
            termination=termination,
            values=values,
            bound=bound,
            version=str(model.version()),
            row_duals=np.array(solution.row_dual, dtype=float) if duals else None,
            column_duals=np.array(solution.col_dual, dtype=float) if duals else None,
        )


class _Watch:
    """What the running solver tells this side, and the one thing this side tells it: stop."""

    def __init__(self, arrays: ProblemArrays) -> None:
        self.sense = arrays.sense
        self.stop = False
        self.news = False
        self.latest: tuple[float, float | None, float | None] = (0.0, None, None)

    def attach(self, model: Any) -> None:
        model.setCallback(self._called, None)
        for kind in (
            _CALLBACK.kCallbackSimplexInterrupt,
            _CALLBACK.kCallbackIpmInterrupt,
            _CALLBACK.kCallbackMipInterrupt,
            _CALLBACK.kCallbackMipLogging,
            _CALLBACK.kCallbackMipImprovingSolution,
        ):
            model.startCallback(kind)

    def _called(self, kind: Any, _message: str, said: Any, answer: Any, _data: Any) -> None:
        if kind in (_CALLBACK.kCallbackMipLogging, _CALLBACK.kCallbackMipImprovingSolution):
            self.latest = (
                float(said.running_time),
                self._told(said.mip_primal_bound),
                self._told(said.mip_dual_bound),
            )
            self.news = True
        elif self.stop and answer is not None:
            answer.user_interrupt = True

    def _told(self, number: float) -> float | None:
        return self.sense * float(number) if np.isfinite(number) else None


def new_model() -> Any:
    """An empty, silent HiGHS model."""
    _swallow_banner()
    model = highspy.Highs()  # type: ignore[no-untyped-call]
    model.setOptionValue("output_flag", False)
    return model


@cache
def _swallow_banner() -> None:
    """Make the first model of the process with standard output turned aside.

    highspy greets on standard output before any option can be set, which would spoil ``--json``
    and pipes. The text sits in C's own buffer, which is emptied before output is turned back.
    """
    try:
        kept = os.dup(1)
    except OSError:  # no standard output at all
        highspy.Highs()  # type: ignore[no-untyped-call]
        return
    with contextlib.suppress(OSError, ValueError, AttributeError):
        sys.stdout.flush()
    try:
        with TemporaryFile() as aside:
            os.dup2(aside.fileno(), 1)
            highspy.Highs()  # type: ignore[no-untyped-call]
            _flush_c()
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def _flush_c() -> None:
    library = ctypes.cdll.msvcrt if os.name == "nt" else ctypes.CDLL(None)
    library.fflush(None)


def _configure(model: Any, settings: SolverSettings) -> None:
    model.resetOptions()
    model.setOptionValue("output_flag", False)
    options: dict[str, Any] = {
        "mip_rel_gap": float(settings.gap),
        "mip_abs_gap": 1e-6 if settings.gap else 0.0,
        "threads": settings.threads,
    }
    if settings.time_limit_s is not None:
        options["time_limit"] = float(settings.time_limit_s)
    if settings.node_limit is not None:
        options["mip_max_nodes"] = settings.node_limit
    for name in settings.options:
        if name in _OURS:
            raise UserError(f"HiGHS option '{name}' is set by its own setting, not as an option.")
    for name, value in {**options, **settings.options}.items():
        _set_option(model, name, value)


def _set_option(model: Any, name: str, value: Any) -> None:
    known = vars(highspy.HighsOptions)
    if name not in known:
        near = difflib.get_close_matches(name, known, n=1)
        hint = f" Did you mean '{near[0]}'?" if near else ""
        raise UserError(f"HiGHS has no option '{name}'.{hint}")
    if model.setOptionValue(name, value) != highspy.HighsStatus.kOk:
        raise UserError(f"HiGHS refuses {value!r} for its option '{name}'.")


def _as_highs_lp(arrays: ProblemArrays) -> Any:
    lp = highspy.HighsLp()
    n, m = len(arrays.costs), len(arrays.rows)
    lp.num_col_, lp.num_row_ = n, m
    lp.offset_ = arrays.constant  # so that HiGHS's own gap refers to the whole objective
    lp.col_cost_ = arrays.costs
    lp.col_lower_, lp.col_upper_ = arrays.lower, arrays.upper
    lp.row_lower_, lp.row_upper_ = arrays.rows.lower, arrays.rows.upper
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.num_col_, lp.a_matrix_.num_row_ = n, m
    lp.a_matrix_.start_ = arrays.rows.starts
    lp.a_matrix_.index_ = arrays.rows.columns
    lp.a_matrix_.value_ = arrays.rows.values
    if arrays.whole.any():
        kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
        lp.integrality_ = [kinds[w] for w in arrays.whole.tolist()]
    return lp


def _same_columns(known: ProblemArrays, lp: pulp.LpProblem, *, relax: bool) -> bool:
    variables = lp.variables()
    # identity: PuLP's == between variables builds a row, which is always true
    same = len(variables) == len(known.variables) and all(
        map(operator.is_, variables, known.variables)
    )
    return same and bool(np.array_equal(whole_mask(variables, relax=relax), known.whole))


def _update(model: Any, known: ProblemArrays, lp: pulp.LpProblem) -> ProblemArrays:
    """Bring a model up to date: costs and bounds as they are now, rows added since."""
    arrays = refresh_columns(known, lp)
    every = np.arange(len(arrays.costs), dtype=np.int32)
    model.changeColsCost(len(every), every, arrays.costs)
    model.changeColsBounds(len(every), every, arrays.lower, arrays.upper)
    model.changeObjectiveOffset(arrays.constant)
    constraints = lp.constraints()
    if len(constraints) < len(known.rows):
        raise BadModel("Rows were taken away from a problem that is being solved again.")
    more = read_rows(constraints[len(known.rows) :], known.variables)
    if len(more):
        done = model.addRows(
            len(more),
            more.lower,
            more.upper,
            len(more.values),
            more.starts[:-1],
            more.columns,
            more.values,
        )
        _check(done, "take the new rows")
    return replace(arrays, rows=known.rows.followed_by(more))


def _give_start(model: Any, start: FloatArray) -> None:
    said = np.flatnonzero(~np.isnan(start)).astype(np.int32)
    if len(said) == len(start):
        solution = highspy.HighsSolution()
        solution.col_value = start.tolist()
        model.setSolution(solution)
    else:
        model.setSolution(len(said), said, start[said])


def _check(status: Any, what: str) -> None:
    if status == highspy.HighsStatus.kError:
        raise SolverFailed(f"HiGHS would not {what}.")
