"""Which rows of a program its linear program has now, and what stands in them."""

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.solvers.arrays import Rows
from overwinter.solvers.growing_lp import Sparse

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

BROKEN = 1e-6
"""A row is broken by more than this, in its own unit (trees, m2, kg): rounding stays below."""
MUCH = 0.2
"""Rows broken by so much of their largest entry, as by that part of a group's trees, come first:
with them in force, many of the others are kept as well."""
LITTLE = 1000.0
"""Rows broken by less than the tolerance times this, in the same measure, do not count."""


class RowsInForce:
    """The rows of a program with so many ``columns``; none is in force at first.

    ``kept`` ``(row,)`` are those that the linear program has to keep; of them, ``late`` ones come
    in when they are broken. In it they come after ``first`` rows of its own.
    """

    def __init__(
        self, rows: Rows, columns: int, kept: BoolArray, late: BoolArray, first: int
    ) -> None:
        self.rows, self.kept, self._late, self._first = rows, kept, late, first
        self._row_of_entry = rows.row_of_entry()
        self._by_column = np.argsort(rows.columns, kind="stable")
        self._least_price = np.where(np.isfinite(rows.upper), -np.inf, 0.0)
        self._most_price = np.where(np.isfinite(rows.lower), np.inf, 0.0)
        self._largest: FloatArray = np.zeros(len(rows))
        np.maximum.at(self._largest, self._row_of_entry, np.abs(rows.values))
        self._column_start = np.searchsorted(rows.columns[self._by_column], np.arange(columns + 1))
        self.at: IntArray = np.full(len(rows), -1, dtype=np.int64)
        """``(row,)``: its number in the linear program, -1 while it is not in force."""
        self._numbers: IntArray = np.zeros(0, dtype=np.int64)
        """Rows in force, in the order of the linear program."""

    @property
    def at_first(self) -> IntArray:
        """Rows that are to be in force from the beginning."""
        return np.flatnonzero(self.kept & ~self._late)

    @property
    def may_leave(self) -> BoolArray:
        """Rows of the linear program that could go while they do not bind."""
        return np.append(np.zeros(self._first, dtype=np.bool_), self._late[self._numbers])

    def come(self, rows: IntArray) -> None:
        """Number rows that are added to the linear program now."""
        self.at[rows] = self._first + self._numbers.size + np.arange(rows.size)
        self._numbers = np.concatenate([self._numbers, rows])

    def leave(self, gone: BoolArray) -> None:
        """Number the others anew, as these rows of the linear program are taken away."""
        stays = ~gone[self._first :]
        self.at[self._numbers[~stays]] = -1
        self._numbers = self._numbers[stays]
        self.at[self._numbers] = self._first + np.arange(self._numbers.size)

    # --- entries ------------------------------------------------------------------------------

    def of_columns(self, columns: IntArray) -> tuple[IntArray, FloatArray]:
        """(rows, values) of the sum of some columns of the program, kept rows only."""
        parts = [
            self._by_column[self._column_start[c] : self._column_start[c + 1]] for c in columns
        ]
        entries = np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)
        rows = self._row_of_entry[entries]
        good = self.kept[rows]
        rows, values = rows[good], self.rows.values[entries[good]]
        found, inverse = np.unique(rows, return_inverse=True)
        sums = np.zeros(found.size)
        np.add.at(sums, inverse.ravel(), values)
        return found.astype(np.int64), sums

    def over(
        self,
        rows: IntArray,
        shared_at: IntArray,
        sums: Iterable[tuple[IntArray, FloatArray]],
        first: int,
    ) -> Sparse:
        """Rows over shared columns (``shared_at``, -1 for others), and ``sums`` from ``first`` on.

        Each of the ``sums`` is one more column: rows of the program, and its entries there.
        """
        wanted = np.full(len(self.rows), -1, dtype=np.int64)
        wanted[rows] = np.arange(rows.size)
        at_row, at_column = [wanted[self._row_of_entry]], [shared_at[self.rows.columns]]
        values = [self.rows.values]
        for column, (inside, entries) in enumerate(sums, first):
            at_row.append(wanted[inside])
            at_column.append(np.full(inside.size, column))
            values.append(entries)
        row, column_at = np.concatenate(at_row), np.concatenate(at_column)
        good = (row >= 0) & (column_at >= 0)
        row, column_at, value = row[good], column_at[good], np.concatenate(values)[good]
        order = np.argsort(row, kind="stable")
        starts = np.searchsorted(row[order], np.arange(rows.size + 1))
        return Sparse(starts.astype(np.int64), column_at[order], value[order])

    # --- prices and points --------------------------------------------------------------------

    def prices(self, duals: FloatArray) -> FloatArray:
        """Price of each row of the program, 0 for those not in force.

        Of the sign that its side has, whatever rounding made of it: then any prices bound.
        """
        by_row = np.zeros(len(self.rows))
        by_row[self._numbers] = duals[self._first :]
        np.clip(by_row, self._least_price, self._most_price, out=by_row)
        return by_row

    def reduced(self, costs: FloatArray, by_row: FloatArray) -> FloatArray:
        """Cost of each column of the program less what its rows pay at these prices."""
        weights = self.rows.values * by_row[self._row_of_entry]
        return costs - np.bincount(self.rows.columns, weights=weights, minlength=costs.size)

    def broken(self, point: FloatArray, much: float = 0.0) -> IntArray:
        """Late rows that are not in force and that a point of the program breaks.

        ``much`` is by how much at least, share of a row's largest entry.
        """
        terms = self.rows.values * point[self.rows.columns]
        activity = np.bincount(self._row_of_entry, weights=terms, minlength=len(self.rows))
        excess = np.maximum(self.rows.lower - activity, activity - self.rows.upper)
        most = np.maximum(BROKEN, much * self._largest)
        return np.flatnonzero(self._late & (self.at < 0) & (excess > most))

    def used_by(self, rows: IntArray, some: BoolArray) -> IntArray:
        """Columns of the program, of ``some`` ``(column,)``, that use these rows up."""
        wanted = np.zeros(len(self.rows), dtype=np.bool_)
        wanted[rows] = True
        columns = self.rows.columns
        uses = wanted[self._row_of_entry] & (self.rows.values > 0.0) & some[columns]
        return np.unique(columns[uses]).astype(np.int64)


class ComingRows:
    """Which broken rows come next, while one relaxation is solved.

    Those that a point breaks by little are left out, by how little ``tolerance`` says, share of
    the value; 0 for none.
    """

    def __init__(self, rows: RowsInForce, tolerance: float) -> None:
        self._rows = rows
        self._least = min(MUCH, LITTLE * tolerance)
        self._last = -np.inf
        """The value when rows came last."""
        self._all = False
        """Whether those were all that count."""

    def next(self, point: FloatArray, value: float, near: float) -> IntArray:
        """Rows to come, at a point of some value; none once all do not raise it by ``near``.

        Unless none may be left out: at a degenerate point there may be others then.
        """
        rises = value - self._last > near
        if self._all and not rises and self._least > 0.0:
            return np.zeros(0, dtype=np.int64)
        self._last = value
        much = self._rows.broken(point, MUCH) if rises else np.zeros(0, dtype=np.int64)
        self._all = much.size == 0 or self._least == MUCH
        return self._rows.broken(point, self._least) if much.size == 0 else much
