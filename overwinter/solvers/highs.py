"""HiGHS, in this process: options checked, Ctrl-C heeded, one model kept for further rows."""

import signal
import threading
import time
from collections.abc import Mapping
from typing import Any

import highspy
import numpy as np
import pulp

from overwinter.solvers.arrays import ProblemArrays, read_problem
from overwinter.solvers.highs_model import (
    configure,
    fill,
    give_start,
    new_model,
    same_columns,
    update,
)
from overwinter.solvers.report import (
    Progress,
    SolverFailed,
    SolverReport,
    SolverSettings,
    Termination,
)
from overwinter.solvers.settle import Outcome, settle

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
_FEASIBLE = 2  # HiGHS's kSolutionStatusFeasible
_FIRST_POLL_S, _POLL_S, _POLL_SHARE = 0.001, 0.05, 0.05
_CALLBACK = highspy.cb.HighsCallbackType


class HighsAdapter(pulp.HiGHS):  # type: ignore[misc]  # PuLP is untyped
    """PuLP's HiGHS with its silences removed; the answer is in ``report``.

    PuLP's own hand-off adds columns and rows one by one; here the whole model is passed in
    arrays. Solving the same problem again with more rows adds only these to the model kept.
    """

    def __init__(
        self,
        settings: SolverSettings | None = None,
        *,
        start: Mapping[str, float] | None = None,
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
        configure(self._model, self.settings, arrays.sense)
        start = arrays.start_vector(self.start)
        if start is not None:
            give_start(self._model, start)
        watch = self._run(arrays)
        outcome = self._outcome(arrays, watch)
        self.report = settle(
            lp,
            arrays,
            outcome,
            solver="HiGHS",
            seconds=time.monotonic() - began,
            start=start,
            cutoff=self.settings.cutoff_in(arrays.sense),
        )
        return int(lp.status)

    def _take_in(self, lp: pulp.LpProblem) -> ProblemArrays:
        """Pass the problem to HiGHS, or only what is new since the last time."""
        known, relax = self._arrays, self.settings.relax
        if known is not None and lp is self._problem and same_columns(known, lp, relax=relax):
            arrays = update(self._model, known, lp)
        else:
            arrays = read_problem(lp, relax=relax)
            self._model = new_model()
            fill(self._model, arrays)
        self._arrays, self._problem = arrays, lp
        return arrays

    def _run(self, arrays: ProblemArrays) -> "_Watch":
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
            finally:
                watch.ended.set()

        worker = threading.Thread(target=work, name="HiGHS", daemon=True)
        worker.start()
        try:
            self._wait(watch)
        finally:
            _ctrl_c_is_ours()
        if failure:
            raise failure[0]
        return watch

    def _wait(self, watch: "_Watch") -> None:
        # plain sleeps, growing with the time it takes: a Ctrl-C inside join() makes Python take the
        # running thread for ended, and inside an event's wait() it can break the event's lock
        began, pause_s = time.monotonic(), _FIRST_POLL_S
        while not watch.ended.is_set():
            try:
                time.sleep(pause_s)
                so_far_s = time.monotonic() - began
                pause_s = min(max(_POLL_SHARE * so_far_s, _FIRST_POLL_S), _POLL_S)
                if self.on_progress is not None and watch.news:
                    watch.news = False
                    self.on_progress(*watch.latest)
            except KeyboardInterrupt:
                if watch.stop:  # a second Ctrl-C: leave now, without the best plan so far
                    raise
                watch.stop = True
            except BaseException:
                watch.stop = True
                while not watch.ended.is_set():
                    time.sleep(_FIRST_POLL_S)
                raise

    def _outcome(self, arrays: ProblemArrays, watch: "_Watch") -> Outcome:
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
        self.ended = threading.Event()
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


def _ctrl_c_is_ours() -> None:
    """Give Ctrl-C back to Python: after a search HiGHS leaves it to the operating system."""
    handler = signal.getsignal(signal.SIGINT)
    if handler is not None and threading.current_thread() is threading.main_thread():
        signal.signal(signal.SIGINT, handler)
