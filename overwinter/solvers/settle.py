"""The last step of every adapter: check the raw answer, hand it back, write the report."""

from dataclasses import dataclass

import numpy as np
import pulp

from overwinter.solvers.arrays import WHOLE_TOLERANCE, FloatArray, ProblemArrays
from overwinter.solvers.report import (
    SolverFailed,
    SolverReport,
    Termination,
    relative_gap,
)

#: A bound may pass the objective by this share (rounding in the solvers), no more.
BOUND_TOLERANCE = 1e-6

#: PuLP's own map from the first to the second calls an unsolved problem infeasible.
_STATUS = {
    Termination.INFEASIBLE: (pulp.LpStatusInfeasible, pulp.LpSolutionInfeasible),
    Termination.INFEASIBLE_OR_UNBOUNDED: (pulp.LpStatusInfeasible, pulp.LpSolutionInfeasible),
    Termination.UNBOUNDED: (pulp.LpStatusUnbounded, pulp.LpSolutionUnbounded),
}
_UNSOLVED = (pulp.LpStatusNotSolved, pulp.LpSolutionNoSolutionFound)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a solver said, in least-cost form with the constant: nothing of it checked yet.

    ``values`` in column order, ``None`` unless the solver calls them a feasible point;
    ``row_duals`` and ``column_duals`` only for a linear problem solved to the end.
    """

    termination: Termination
    values: FloatArray | None
    bound: float | None
    version: str
    row_duals: FloatArray | None = None
    column_duals: FloatArray | None = None


def settle(
    problem: pulp.LpProblem,
    arrays: ProblemArrays,
    outcome: Outcome,
    *,
    solver: str,
    seconds: float,
    start: FloatArray | None,
    cutoff: float | None = None,
) -> SolverReport:
    """Check and round the answer, write it into the problem's variables, and report.

    Without a feasible point every variable's value is cleared, so that nobody can read the
    leftovers of a relaxation. A good start is never lost: if the solver ends with nothing, or
    with something worse, the start is the answer. Beyond a ``cutoff`` (in least-cost form) there
    are no answers, and nothing is proven: a search whose bound has reached it ends as infeasible.

    Raises
    ------
    SolverFailed
        The values break a row or are not whole, or the bound contradicts them.
    """
    good_start = start is not None and arrays.keeps_all(start)
    values = _checked(arrays, outcome.values, solver)
    termination = outcome.termination
    if termination is Termination.INFEASIBLE_OR_UNBOUNDED and arrays.bounded:
        termination = Termination.INFEASIBLE
    if good_start:
        assert start is not None
        values = _better(arrays, values, _rounded(arrays, start))
    bound = outcome.bound
    if cutoff is not None:
        values, bound, termination = _cut_off(arrays, values, bound, termination, cutoff)
    if termination in _STATUS:
        if values is not None and termination is Termination.INFEASIBLE:
            raise SolverFailed(f"{solver} says 'infeasible', yet an answer exists.")
        values = None
    objective = None if values is None else arrays.objective(values)
    gap = None
    if objective is not None and bound is not None:
        gap, bound = _gap(objective, bound, solver)
        if termination is Termination.OPTIMAL and gap > BOUND_TOLERANCE:
            termination = Termination.GAP_REACHED
    _write_back(problem, arrays, values, termination, outcome)
    return SolverReport(
        solver=solver,
        version=outcome.version,
        termination=termination,
        has_solution=values is not None,
        objective=None if objective is None else arrays.sense * objective,
        bound=None if bound is None else arrays.sense * bound,
        gap=gap,
        seconds=seconds,
        start_taken=good_start if start is not None else None,
    )


def _cut_off(
    arrays: ProblemArrays,
    values: FloatArray | None,
    bound: float | None,
    termination: Termination,
    limit: float,
) -> tuple[FloatArray | None, float | None, Termination]:
    """Values, bound and end of a search that did not look beyond ``limit``."""
    if bound is not None:
        bound = min(bound, limit)
    if values is None or arrays.objective(values) <= limit:
        return values, bound, termination
    ended = termination in (Termination.OPTIMAL, Termination.GAP_REACHED)
    nothing = ended and (bound is None or bound >= limit)
    return None, bound, Termination.INFEASIBLE if nothing else termination


def _rounded(arrays: ProblemArrays, x: FloatArray) -> FloatArray:
    whole = np.where(arrays.whole, np.rint(x), x)
    # adding 0.0 turns the minus zeros of rint into plain ones
    return np.clip(whole, arrays.lower, arrays.upper) + 0.0


def _checked(arrays: ProblemArrays, x: FloatArray | None, solver: str) -> FloatArray | None:
    if x is None:
        return None
    off = float(np.max(np.abs(x - np.rint(x))[arrays.whole], initial=0.0))
    if off > WHOLE_TOLERANCE:
        raise SolverFailed(f"{solver} handed back {off:g} off a whole number; not a plan.")
    rounded = _rounded(arrays, x)
    if not arrays.keeps_all(rounded):
        worst = float(np.max(arrays.rows.broken_by(rounded), initial=0.0))
        raise SolverFailed(
            f"{solver} handed back values that break a row by {worst:.2g} of its size once "
            "whole numbers are made whole. Try the other solver."
        )
    return rounded


def _better(arrays: ProblemArrays, found: FloatArray | None, start: FloatArray) -> FloatArray:
    if found is None or arrays.objective(start) < arrays.objective(found):
        return start
    return found


def _gap(objective: float, bound: float, solver: str) -> tuple[float, float]:
    """The gap, and the bound drawn back to the objective where rounding put it beyond."""
    if bound > objective:
        if bound - objective > BOUND_TOLERANCE * max(1.0, abs(objective)):
            raise SolverFailed(
                f"{solver} claims nothing below {bound:.9g} exists, yet its answer costs "
                f"{objective:.9g}. Do not trust it; try the other solver."
            )
        bound = objective
    return relative_gap(objective, bound), bound


def _write_back(
    problem: pulp.LpProblem,
    arrays: ProblemArrays,
    values: FloatArray | None,
    termination: Termination,
    outcome: Outcome,
) -> None:
    found: list[float] | list[None]
    found = [None] * len(arrays.variables) if values is None else values.tolist()
    for variable, value in zip(arrays.variables, found, strict=True):
        variable.varValue = value
        variable.dj = None
    if values is not None and outcome.row_duals is not None and outcome.column_duals is not None:
        duals = (arrays.sense * outcome.row_duals).tolist()
        for constraint, dual in zip(problem.constraints(), duals, strict=True):
            constraint.pi = dual
        reduced = (arrays.sense * outcome.column_duals).tolist()
        for variable, dual in zip(arrays.variables, reduced, strict=True):
            variable.dj = dual
    if values is None:
        problem.assignStatus(*_STATUS.get(termination, _UNSOLVED))
    else:
        ended = termination is Termination.OPTIMAL
        kind = pulp.LpSolutionOptimal if ended else pulp.LpSolutionIntegerFeasible
        problem.assignStatus(pulp.LpStatusOptimal, kind)
