"""The HiGHS model itself: made silently, filled in bulk, every option checked."""

import contextlib
import ctypes
import difflib
import operator
import os
import sys
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
    read_rows,
    refresh_columns,
    whole_mask,
)
from overwinter.solvers.report import BadModel, SolverFailed, SolverSettings

#: Set from the settings; through the free options they would contradict the report.
_OURS = frozenset(
    {"mip_rel_gap", "mip_abs_gap", "time_limit", "mip_max_nodes", "threads", "output_flag"}
    | {"objective_bound"}
)


def new_model() -> Any:
    """An empty, silent HiGHS model."""
    _swallow_banner()
    model = highspy.Highs()
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
        highspy.Highs()
        return
    with contextlib.suppress(OSError, ValueError, AttributeError):
        sys.stdout.flush()
    try:
        with TemporaryFile() as aside:
            os.dup2(aside.fileno(), 1)
            highspy.Highs()
            _flush_c()
    finally:
        os.dup2(kept, 1)
        os.close(kept)


def _flush_c() -> None:
    library = ctypes.cdll.msvcrt if os.name == "nt" else ctypes.CDLL(None)
    library.fflush(None)


def configure(model: Any, settings: SolverSettings, sense: int = 1) -> None:
    """Set all options afresh; ``sense`` -1 if costs were turned round.

    Raises
    ------
    UserError
        An option HiGHS does not have (PuLP would pass over it in silence) or refuses.
    """
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
    cutoff = settings.cutoff_in(sense)
    if cutoff is not None:
        # for whole numbers this is where branches end, the objective's constant included
        options["objective_bound"] = cutoff
        # asked for where little is left to decide: looking through that takes as long as deciding
        options["presolve"] = "off"
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


def fill(model: Any, arrays: ProblemArrays) -> None:
    """Pass a whole problem at once: PuLP adds columns and rows one by one, five times slower."""
    rows = arrays.rows
    status = model.passModel(
        len(arrays.costs),
        len(rows),
        len(rows.values),
        int(highspy.MatrixFormat.kRowwise),
        int(highspy.ObjSense.kMinimize),
        arrays.constant,  # so that HiGHS's own gap refers to the whole objective
        arrays.costs,
        arrays.lower,
        arrays.upper,
        rows.lower,
        rows.upper,
        rows.starts,
        rows.columns,
        rows.values,
        arrays.whole.astype(np.int32),  # 0 continuous, 1 whole
    )
    _check(status, "take the model")


def same_columns(known: ProblemArrays, lp: pulp.LpProblem, *, relax: bool) -> bool:
    """Whether the problem still has the very variables that were read, of the same kinds."""
    variables = lp.variables()
    # identity: PuLP's == between variables builds a row, which is always true
    same = len(variables) == len(known.variables) and all(
        map(operator.is_, variables, known.variables)
    )
    return same and bool(np.array_equal(whole_mask(variables, relax=relax), known.whole))


def update(model: Any, known: ProblemArrays, lp: pulp.LpProblem) -> ProblemArrays:
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


def give_start(model: Any, start: FloatArray) -> None:
    """Hand over a start; HiGHS completes one with gaps by a small search of its own."""
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
