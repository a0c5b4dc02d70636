"""CBC, in a process of its own: files in our own folder, Ctrl-C heeded, its log always read."""

import contextlib
import difflib
import os
import re
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pulp

from overwinter.problems import UserError
from overwinter.solvers.arrays import FloatArray, ProblemArrays, read_problem
from overwinter.solvers.cbc_files import (
    CbcSolution,
    bound_in,
    progress_in,
    read_solution,
    why_stopped,
    write_mps,
    write_start,
)
from overwinter.solvers.report import (
    Progress,
    SolverFailed,
    SolverReport,
    SolverSettings,
    Termination,
)
from overwinter.solvers.settle import Outcome, settle

#: Options that may be given by name; the others are either ours or a way to stop it working.
_OPTIONS = frozenset(
    {"presolve", "preprocess", "cuts", "heuristicsOnOff", "strongBranching", "trustPseudoCosts"}
    | {"randomCbcSeed", "randomSeed", "passFeasibilityPump", "passCuts", "nodeStrategy"}
)
LOG = "log.txt"
_POLL_S = 0.05
_OVERTIME_S = 5.0  # CBC looks at the clock between steps, some of them long
_GRACE_S = 5.0
_LOG_LINES = 8


class CbcAdapter(pulp.COIN_CMD):  # type: ignore[misc]  # PuLP is untyped
    """PuLP's CBC, run by ourselves; the answer is in ``report``.

    File names are given relative to the folder, so that a blank in its path does no harm. One
    thread only: CBC's parallel search does not give the same answer every time.
    """

    def __init__(
        self,
        settings: SolverSettings | None = None,
        *,
        start: Mapping[str, float] | None = None,
        on_progress: Progress | None = None,
    ) -> None:
        super().__init__(path=find_cbc(), msg=False)
        self.settings = settings or SolverSettings()
        self.start = start
        self.on_progress = on_progress
        self.report: SolverReport | None = None

    def actualSolve(self, lp: pulp.LpProblem, **_: Any) -> int:  # noqa: N802 - PuLP's name
        """Solve; called by ``problem.solve(adapter)``."""
        began = time.monotonic()
        arrays = read_problem(lp, relax=self.settings.relax)
        options = option_words(self.settings, arrays.sense)
        start = arrays.start_vector(self.start)
        with _folder() as folder:
            outcome = self._run(arrays, start, folder, options)
        self.report = settle(
            lp,
            arrays,
            outcome,
            solver="CBC",
            seconds=time.monotonic() - began,
            start=start,
            cutoff=self.settings.cutoff_in(arrays.sense),
        )
        return int(lp.status)

    def _run(
        self,
        arrays: ProblemArrays,
        start: FloatArray | None,
        folder: Path,
        options: list[str],
    ) -> Outcome:
        if np.any(arrays.lower > arrays.upper):  # CBC's reader would mend it in silence
            return Outcome(Termination.INFEASIBLE, None, None, "")
        write_mps(arrays, folder / "model.mps")
        words = ["model.mps"]
        if start is not None:
            write_start(start, folder / "start.mst")
            words += ["-mips", "start.mst"]
        words += [*options, "-solve", "-printingOptions", "all", "-solution", "answer.sol"]
        code, ended_by = self._execute(words, folder, arrays.sense)
        return _outcome(arrays, folder, code, ended_by)

    def _execute(
        self, words: list[str], folder: Path, sense: int
    ) -> tuple[int, Termination | None]:
        """Run CBC to its end; the second value says why we ended it, if we did."""
        with (folder / LOG).open("wb") as log:
            try:
                process = subprocess.Popen(
                    [self.path, *words],
                    cwd=folder,
                    stdin=subprocess.DEVNULL,
                    stdout=log,
                    stderr=subprocess.STDOUT,
                    start_new_session=True,  # a terminal's Ctrl-C must reach us alone
                )
            except OSError as error:
                raise SolverFailed(f"CBC could not be started: {error}.") from error
        try:
            ended_by = self._watch(process, folder, sense)
        finally:
            if process.poll() is None:
                process.kill()
            process.wait()
        return process.returncode, ended_by

    def _watch(
        self, process: subprocess.Popen[bytes], folder: Path, sense: int
    ) -> Termination | None:
        began = time.monotonic()
        limit = self.settings.time_limit_s
        overdue = began + limit + max(_OVERTIME_S, limit / 2) if limit else float("inf")
        ended_by: Termination | None = None
        give_up = float("inf")
        log_size = 0
        while process.poll() is None:
            try:
                with contextlib.suppress(subprocess.TimeoutExpired):
                    process.wait(_POLL_S)
                log_size = self._tell(folder, log_size, time.monotonic() - began, sense)
                if ended_by is None and time.monotonic() > overdue:
                    ended_by = Termination.TIME_LIMIT
                    give_up = _ask_to_stop(process)
            except KeyboardInterrupt:
                if ended_by is Termination.INTERRUPTED:  # a second Ctrl-C: leave now
                    raise
                ended_by = Termination.INTERRUPTED
                give_up = _ask_to_stop(process)
            if time.monotonic() > give_up:
                process.kill()
        return ended_by

    def _tell(self, folder: Path, known_size: int, seconds: float, sense: int) -> int:
        """Report progress if the log has grown; CBC writes it in blocks of some kilobytes."""
        if self.on_progress is None:
            return known_size
        size = (folder / LOG).stat().st_size
        if size > known_size:
            best, bound = progress_in(_read_log(folder))
            self.on_progress(
                seconds,
                None if best is None else sense * best,
                None if bound is None else sense * bound,
            )
        return size


def find_cbc() -> str:
    """The CBC that PuLP brings, else one on the PATH; not yet known to run.

    Raises
    ------
    UserError
        There is neither.
    """
    brought = str(pulp.PULP_CBC_CMD.pulp_cbc_path)
    if os.access(brought, os.X_OK):
        return str(Path(brought).resolve())
    found = shutil.which("cbc")
    if found is None:
        raise UserError("no CBC came with PuLP for this machine, and none is on the PATH")
    return found


def option_words(settings: SolverSettings, sense: int) -> list[str]:
    """CBC's words for the settings; ``sense`` -1 if costs were turned round.

    Raises
    ------
    UserError
        An option that CBC does not have or that may not be set.
    """
    words = ["-timeMode", "elapsed", "-ratio", repr(float(settings.gap))]
    if settings.time_limit_s is not None:
        words += ["-sec", repr(float(settings.time_limit_s))]
    if settings.node_limit is not None:
        words += ["-maxNodes", str(settings.node_limit)]
    cutoff = settings.cutoff_in(sense)
    if cutoff is not None:
        words += ["-cutoff", repr(cutoff)]
    for name, value in settings.options.items():
        if name not in _OPTIONS:
            near = difflib.get_close_matches(name, _OPTIONS, n=1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            raise UserError(f"CBC has no option '{name}' that may be set here.{hint}")
        words += [f"-{name}", _option_value(name, value)]
    return words


def _option_value(name: str, value: bool | int | float | str) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    text = str(value)
    if not re.fullmatch(r"[\w.+]+", text):
        raise UserError(f"CBC refuses {value!r} for its option '{name}'.")
    return text


@contextlib.contextmanager
def _folder() -> Iterator[Path]:
    try:
        folder = tempfile.TemporaryDirectory(prefix="overwinter-", ignore_cleanup_errors=True)
    except OSError as error:
        raise SolverFailed(f"CBC needs a temporary folder it can write to: {error}.") from error
    with folder as name:
        yield Path(name)


def _ask_to_stop(process: subprocess.Popen[bytes]) -> float:
    """Ask CBC to end with its best answer so far; returns the time to stop waiting for it."""
    if os.name == "posix":
        process.send_signal(signal.SIGINT)
    else:  # there is no gentle way without a console
        process.kill()
    return time.monotonic() + _GRACE_S


def _read_log(folder: Path) -> str:
    return (folder / LOG).read_text(encoding="utf-8", errors="replace")


def _outcome(
    arrays: ProblemArrays, folder: Path, code: int, ended_by: Termination | None
) -> Outcome:
    log = _read_log(folder)
    found = re.search(r"^Version:\s*(\S+)", log, re.MULTILINE)
    version = found.group(1) if found else "unknown"
    try:
        solution = read_solution(folder / "answer.sol", arrays)
    except (OSError, ValueError) as error:
        if ended_by is None:
            raise _failure(log, code) from error
        return Outcome(ended_by, None, bound_in(log), version)
    if ended_by is None and (code != 0 or "read with 0 errors" not in log):
        raise _failure(log, code)
    termination = why_stopped(solution.heading, log)
    if ended_by is not None and solution.heading.startswith("Stopped"):
        termination = ended_by
    values = _values(arrays, solution)
    ended = termination is Termination.OPTIMAL
    duals = ended and not arrays.whole.any()
    return Outcome(
        termination=termination,
        values=values,
        bound=_bound(arrays, values, log, ended=ended),
        version=version,
        row_duals=solution.row_duals if duals else None,
        column_duals=solution.column_duals if duals else None,
    )


def _values(arrays: ProblemArrays, solution: CbcSolution) -> FloatArray | None:
    if not solution.is_answer:
        return None
    stopped = not solution.heading.startswith("Optimal")
    rounded = np.where(arrays.whole, np.rint(solution.columns), solution.columns)
    # stopped inside its first relaxation CBC claims an answer all the same
    if stopped and not arrays.keeps_all(rounded):
        return None
    return solution.columns


def _bound(
    arrays: ProblemArrays, values: FloatArray | None, log: str, *, ended: bool
) -> float | None:
    if ended and "Lower bound:" not in log:
        return None if values is None else arrays.objective(values)
    return bound_in(log) if arrays.whole.any() else None


def _failure(log: str, code: int) -> SolverFailed:
    lines = [line for line in log.splitlines() if line.strip()][-_LOG_LINES:]
    said = "\n  ".join(lines) if lines else "(nothing)"
    return SolverFailed(f"CBC failed with exit code {code}. Its last words:\n  {said}")
