"""A linear program that grows rows and columns between solves, as arrays, kept inside HiGHS.

PuLP has no way to add a column to rows that were solved with already without reading them all
again; for a program whose columns number in the thousands and are added a few at a time, that
reading would cost more than the solving. Integer programs go through ``choose.solve``.
"""

from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from overwinter.solvers.arrays import FloatArray
from overwinter.solvers.highs_model import new_model
from overwinter.solvers.report import SolverFailed

IntArray = NDArray[np.int64]

_DUAL, _PRIMAL = 1, 4
_LOWER, _BASIC = highspy.HighsBasisStatus.kLower, highspy.HighsBasisStatus.kBasic
_STATUS = {int(status): status for status in highspy.HighsBasisStatus.__members__.values()}
_OPTIMAL, _PASSED = highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kObjectiveBound
_STALLED = highspy.HighsModelStatus.kIterationLimit
_ENDED = (_OPTIMAL, _PASSED, highspy.HighsModelStatus.kInfeasible)

PATIENCE = 1.0
"""Steps of the simplex method for each row and column. Of those here it takes 0.6 at most, or 6 and
more once it goes round and round."""


@dataclass(frozen=True, slots=True)
class Sparse:
    """Vectors one after another: ``starts`` (vectors + 1), then positions and values."""

    starts: IntArray
    positions: IntArray
    values: FloatArray

    def __len__(self) -> int:
        return len(self.starts) - 1


@dataclass(frozen=True, slots=True)
class LinearAnswer:
    """An optimal point: value by column, dual by row."""

    objective: float
    values: FloatArray
    duals: FloatArray
    optimal: bool = True
    """False where the method ended early: duals that show that every point costs more than asked,
    and values that need not keep all rows."""


@dataclass(frozen=True, slots=True)
class Basis:
    """Where a simplex method stood: status by column and by row, as HiGHS numbers them."""

    columns: NDArray[np.int8]
    rows: NDArray[np.int8]


class GrowingLp:
    """Least-cost linear program; rows ``lower <= A x <= upper``.

    After ``patience`` steps for each row and column the simplex method is helped on.
    """

    def __init__(self, threads: int = 1, patience: float = PATIENCE) -> None:
        self._patience = patience
        self._model = new_model()
        self._model.setOptionValue("threads", threads)
        self._model.setOptionValue("presolve", "off")  # the last basis is worth more
        # rows here are of one size as they are; scaled, the simplex method takes up to 6 times
        # as long on degenerate programs
        self._model.setOptionValue("simplex_scale_strategy", 0)
        self._shake(0.0)
        self.rows = 0
        self.columns = 0
        self._stands = False
        """The last point keeps all bounds and rows that there are now."""

    def add_rows(self, lower: FloatArray, upper: FloatArray, entries: Sparse) -> None:
        """Add rows over the columns there are."""
        self._model.addRows(
            len(lower),
            lower,
            upper,
            len(entries.values),
            entries.starts[:-1].astype(np.int32),
            entries.positions.astype(np.int32),
            entries.values,
        )
        self.rows += len(lower)
        self._stands = False

    def add_columns(
        self, costs: FloatArray, lower: FloatArray, upper: FloatArray, entries: Sparse
    ) -> None:
        """Add columns with their entries in the rows there are."""
        self._model.addCols(
            len(costs),
            costs,
            lower,
            upper,
            len(entries.values),
            entries.starts[:-1].astype(np.int32),
            entries.positions.astype(np.int32),
            entries.values,
        )
        self.columns += len(costs)

    def set_bounds(self, columns: IntArray, lower: FloatArray, upper: FloatArray) -> None:
        """Change the bounds of columns."""
        self._model.changeColsBounds(len(columns), columns.astype(np.int32), lower, upper)
        self._stands = False

    def set_costs(self, columns: IntArray, costs: FloatArray) -> None:
        """Change the costs of columns."""
        self._model.changeColsCost(len(columns), columns.astype(np.int32), costs)

    def drop_idle(self, may: NDArray[np.bool_], least_share: float) -> NDArray[np.bool_]:
        """Take rows away that do not bind at the last point; which, ``(row,)``.

        Only rows that ``may`` go, and only if they are ``least_share`` of all rows; the method
        then stands where it stood. The others are numbered anew, in the same order.
        """
        found = self._model.getBasis()
        rows = found.row_status  # read once: every look at it makes a list of all
        idle = may & np.array([status == _BASIC for status in rows], dtype=np.bool_)
        if idle.sum() <= least_share * self.rows:
            return np.zeros_like(idle)
        gone = np.flatnonzero(idle).astype(np.int32)
        self._model.deleteRows(gone.size, gone)
        self.rows -= gone.size
        kept = highspy.HighsBasis()
        kept.col_status = found.col_status
        kept.row_status = [rows[row] for row in np.flatnonzero(~idle).tolist()]
        self._model.setBasis(kept)
        return idle

    def basis(self) -> Basis:
        """Where the method stands after the last solve."""
        found = self._model.getBasis()
        return Basis(
            np.array([int(status) for status in found.col_status], dtype=np.int8),
            np.array([int(status) for status in found.row_status], dtype=np.int8),
        )

    def set_basis(self, basis: Basis) -> None:
        """Go on from where the method stood once; what was added since takes no part there."""
        columns, rows = self.columns - basis.columns.size, self.rows - basis.rows.size
        wanted = highspy.HighsBasis()
        wanted.col_status = [_STATUS[s] for s in basis.columns.tolist()] + [_LOWER] * columns
        wanted.row_status = [_STATUS[s] for s in basis.rows.tolist()] + [_BASIC] * rows
        self._model.setBasis(wanted)
        self._stands = False

    def solve(self, most: float = np.inf) -> LinearAnswer | None:
        """The optimal point; None if no point keeps all rows.

        From an objective above ``most`` on it need not be found.

        Raises
        ------
        SolverFailed
            HiGHS ended in any other way.
        """
        # after new columns the last point still stands, after new rows its prices do
        self._model.setOptionValue("simplex_strategy", _PRIMAL if self._stands else _DUAL)
        self._model.setOptionValue("objective_bound", most)
        steps = int(self._patience * (self.rows + self.columns))
        self._model.setOptionValue("simplex_iteration_limit", steps)
        self._model.run()
        if self._model.getModelStatus() == _STALLED:
            self._run_shaken()
        if self._model.getModelStatus() not in _ENDED:
            # a basis gone bad: once more from nothing
            self._model.clearSolver()
            self._run_shaken()
        status = self._model.getModelStatus()
        self._stands = status == _OPTIMAL
        if status == highspy.HighsModelStatus.kInfeasible:
            return None
        if status not in (_OPTIMAL, _PASSED):
            raise SolverFailed(f"HiGHS failed: {self._model.modelStatusToString(status)}.")
        solution = self._model.getSolution()
        return LinearAnswer(
            objective=float(self._model.getInfo().objective_function_value),
            values=np.array(solution.col_value),
            duals=np.array(solution.row_dual),
            optimal=status == _OPTIMAL,
        )

    def _shake(self, much: float) -> None:
        """How much bounds and costs are shaken, so that no step stands still.

        A few new columns or rows on top of an optimal point need none, which doubles the work.
        """
        self._model.setOptionValue("primal_simplex_bound_perturbation_multiplier", much)
        self._model.setOptionValue("dual_simplex_cost_perturbation_multiplier", much)

    def _run_shaken(self) -> None:
        """Go on to the end, shaken."""
        self._shake(1.0)
        self._model.setOptionValue("simplex_iteration_limit", highspy.kHighsIInf)
        self._model.run()
        self._shake(0.0)
