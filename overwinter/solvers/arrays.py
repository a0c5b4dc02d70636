"""A PuLP problem as arrays: read once in bulk, checked, and shared by all adapters."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain

import numpy as np
import pulp
from numpy.typing import NDArray

from overwinter.solvers.report import BadModel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]

#: Rows may be broken by this much of their own size (solvers work to 1e-6 or 1e-7).
ROW_TOLERANCE = 1e-5
#: A whole-number variable may be this far from a whole number before it is rounded.
WHOLE_TOLERANCE = 1e-6


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows ``lower <= A x <= upper``; ``A`` row by row: ``starts`` (rows + 1), then entries."""

    starts: IntArray
    columns: IntArray
    values: FloatArray
    lower: FloatArray
    upper: FloatArray

    def __len__(self) -> int:
        return len(self.lower)

    def followed_by(self, more: "Rows") -> "Rows":
        """These rows and then ``more``."""
        if not len(more):
            return self
        return Rows(
            np.concatenate([self.starts, self.starts[-1] + more.starts[1:]]),
            np.concatenate([self.columns, more.columns]),
            np.concatenate([self.values, more.values]),
            np.concatenate([self.lower, more.lower]),
            np.concatenate([self.upper, more.upper]),
        )

    def row_of_entry(self) -> NDArray[np.int64]:
        """``(entry,)``: the row it is in."""
        return np.repeat(np.arange(len(self)), np.diff(self.starts))

    def with_any(self, columns: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """``(row,)``: whether any of these ``columns`` ``(column,)`` is in it."""
        found = np.zeros(len(self), dtype=np.bool_)
        found[self.row_of_entry()[columns[self.columns]]] = True
        return found

    def broken_by(self, x: FloatArray) -> FloatArray:
        """How far each row is broken by ``x``, as a share of the row's size, shape (row,)."""
        row_of = self.row_of_entry()
        terms = self.values * x[self.columns]
        activity = np.bincount(row_of, weights=terms, minlength=len(self))
        size = np.bincount(row_of, weights=np.abs(terms), minlength=len(self))
        excess = np.maximum(self.lower - activity, activity - self.upper)
        return np.maximum(excess, 0.0) / np.maximum(1.0, size)


@dataclass(frozen=True, slots=True)
class ProblemArrays:
    """A problem in least-cost form: ``sense`` -1 means costs and constant were turned round."""

    variables: tuple[pulp.LpVariable, ...]
    sense: int
    constant: float
    costs: FloatArray
    lower: FloatArray
    upper: FloatArray
    whole: NDArray[np.bool_]
    rows: Rows

    @property
    def bounded(self) -> bool:
        """Whether the variables' bounds alone keep the objective from falling without end."""
        return bool(
            np.all(np.isfinite(np.where(self.costs > 0, self.lower, self.upper))[self.costs != 0])
        )

    def objective(self, x: FloatArray) -> float:
        """The objective at ``x`` in least-cost form, constant included."""
        return float(self.costs @ x) + self.constant

    def keeps_all(self, x: FloatArray) -> bool:
        """Whether ``x`` keeps every bound, whole-number demand and row."""
        if not np.all(np.isfinite(x)):
            return False
        slack = ROW_TOLERANCE * np.maximum(1.0, np.abs(x))
        within = bool(np.all(x >= self.lower - slack) and np.all(x <= self.upper + slack))
        whole = bool(np.all(np.abs(x - np.rint(x))[self.whole] <= WHOLE_TOLERANCE))
        return within and whole and bool(np.all(self.rows.broken_by(x) <= ROW_TOLERANCE))

    def start_vector(self, start: Mapping[str, float] | None) -> FloatArray | None:
        """The start in column order, NaN where it says nothing; ``None`` without any value."""
        if not start:
            return None
        x = np.array([start.get(v.name, np.nan) for v in self.variables], dtype=float)
        return None if np.all(np.isnan(x)) else x


def read_problem(problem: pulp.LpProblem, *, relax: bool = False) -> ProblemArrays:
    """Read a whole problem.

    Raises
    ------
    BadModel
        Two variables of one name, a number that is not finite, a row without variables that
        cannot hold, or special ordered sets (not supported).
    """
    if problem.sos1 or problem.sos2:
        raise BadModel("Special ordered sets are not supported.")
    variables = tuple(problem.variables())
    names = [v.name for v in variables]
    if len(set(names)) != len(names):
        twice = sorted(name for name, n in Counter(names).items() if n > 1)
        raise BadModel(f"Variables share a name: {', '.join(twice[:5])}.")
    empty = Rows(
        np.zeros(1, np.int32), np.zeros(0, np.int32), np.zeros(0), np.zeros(0), np.zeros(0)
    )
    blank = np.zeros(len(variables))
    whole = whole_mask(variables, relax=relax)
    arrays = ProblemArrays(variables, problem.sense, 0.0, blank, blank, blank, whole, empty)
    return replace(
        refresh_columns(arrays, problem), rows=read_rows(problem.constraints(), variables)
    )


def whole_mask(variables: Sequence[pulp.LpVariable], *, relax: bool) -> NDArray[np.bool_]:
    """Which variables must be whole numbers; none of them in a relaxation."""
    if relax:
        return np.zeros(len(variables), dtype=bool)
    return np.fromiter((v.cat == pulp.LpInteger for v in variables), bool, len(variables))


def refresh_columns(arrays: ProblemArrays, problem: pulp.LpProblem) -> ProblemArrays:
    """Read costs and bounds again, keeping the variables and rows already read."""
    objective = problem.objective if problem.objective is not None else pulp.LpAffineExpression()
    index = {id(v): i for i, v in enumerate(arrays.variables)}
    costs = np.zeros(len(arrays.variables))
    places = np.fromiter((index[id(v)] for v in objective), np.int64, len(objective))
    costs[places] = np.fromiter(objective.values(), float, len(objective))
    constant = float(objective.constant)
    if not (np.all(np.isfinite(costs)) and np.isfinite(constant)):
        raise BadModel("The objective holds a number that is not finite.")
    n = len(arrays.variables)
    bounds = [(v.lowBound, v.upBound) for v in arrays.variables]
    lower = np.fromiter((-np.inf if lo is None else lo for lo, _ in bounds), float, n)
    upper = np.fromiter((np.inf if up is None else up for _, up in bounds), float, n)
    if np.any(np.isnan(lower)) or np.any(np.isnan(upper)):
        raise BadModel("A variable has a bound that is not a number.")
    sense = problem.sense
    return replace(
        arrays,
        sense=sense,
        constant=sense * constant,
        costs=sense * costs,
        lower=lower,
        upper=upper,
    )


def read_rows(
    constraints: Sequence[pulp.LpConstraint], variables: Sequence[pulp.LpVariable]
) -> Rows:
    """Read rows over the columns ``variables``.

    Raises
    ------
    BadModel
        A number that is not finite, or a row without variables that cannot hold.
    """
    index = {id(v): i for i, v in enumerate(variables)}
    expressions = [c.expr for c in constraints]
    counts = np.fromiter(map(len, expressions), np.int64, len(expressions))
    total = int(counts.sum())
    # id() and the dictionary both run in C: hashing PuLP's variables would call Python each time
    columns = np.fromiter(
        map(index.__getitem__, map(id, chain.from_iterable(expressions))), np.int32, total
    )
    values = np.fromiter(chain.from_iterable(e.values() for e in expressions), float, total)
    starts = np.zeros(len(expressions) + 1, np.int32)
    starts[1:] = np.cumsum(counts)
    sides = np.fromiter((-c.constant for c in constraints), float, len(expressions))
    senses = np.fromiter((c.sense for c in constraints), np.int64, len(expressions))
    lower = np.where(senses == pulp.LpConstraintLE, -np.inf, sides)
    upper = np.where(senses == pulp.LpConstraintGE, np.inf, sides)
    finite = np.isfinite(sides)
    np.logical_and.at(finite, np.repeat(np.arange(len(counts)), counts), np.isfinite(values))
    _refuse(constraints, ~finite, "holds a number that is not finite")
    rows = Rows(starts, columns, values, lower, upper)
    filled = np.bincount(
        np.repeat(np.arange(len(counts)), counts), weights=values != 0, minlength=len(counts)
    )
    impossible = (filled == 0) & (np.maximum(lower, -upper) > ROW_TOLERANCE)
    _refuse(constraints, impossible, "has no variable and cannot hold")
    return rows


def _refuse(
    constraints: Sequence[pulp.LpConstraint], at_fault: NDArray[np.bool_], what: str
) -> None:
    if not at_fault.any():
        return
    first = int(np.flatnonzero(at_fault)[0])
    name = constraints[first].name or f"number {first + 1}"
    raise BadModel(f"Row {name} {what} ({int(at_fault.sum())} such rows).")
