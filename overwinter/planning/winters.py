"""The program's linear relaxation, tree by tree: whole winters as columns, priced as paths.

Derived mechanically from the rows of the program (Dantzig and Wolfe's decomposition): the rows that
say "one place at a time" and "what was not here was carried here" are kept by every path; all other
rows stay as they are, a path's entry in a row being the sum of the entries of its stays and
carries. The bound is that of the program's own linear relaxation, found in a fraction of the time
because a path costs one shortest-path step instead of hundreds of variables and rows.

Rows that tie single groups to settings and carry days are many and mostly idle; they are added
when they are broken.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwinter.domain.shelter import FloatArray
from overwinter.program.flow import Flow, Paths, cheapest_paths, flow_of, through_costs
from overwinter.program.model import Model
from overwinter.solvers.arrays import ProblemArrays, Rows, read_problem
from overwinter.solvers.growing_lp import GrowingLp, LinearAnswer, Sparse
from overwinter.solvers.report import SolverFailed

IntArray = NDArray[np.int64]

REDUCED = 1e-7
BROKEN = 1e-6
MOST_ROUNDS = 600
SMOOTHING = 0.5
"""Share of the best prices so far in those that winters are looked for with (Wentges 1997, from
memory): the prices of one solve swing far beyond the last ones, and so would the winters."""
OF_PATHS = ("one place", "carried in")
"""Families of rows that every path keeps."""
ADDED_LATE = ("suits the setting", "only on carry days", "cold after warm")


class NoPoint(SolverFailed):
    """The relaxation has no point."""


class Winters:
    """The relaxation of one program with the winters (paths) found so far."""

    def __init__(self, model: Model) -> None:
        arrays = read_problem(model.problem)
        self.model = model
        self.arrays: ProblemArrays = arrays
        column_of = {id(variable): index for index, variable in enumerate(arrays.variables)}
        self.flow: Flow = flow_of(model, column_of)
        columns = len(arrays.costs)
        moving = np.zeros(columns, dtype=np.bool_)
        moving[self.flow.stay_column] = True
        moving[self.flow.in_column[self.flow.in_column >= 0]] = True
        self.shared = np.flatnonzero(~moving)
        """Columns of the program that are no tree's own."""
        self._shared_at = np.full(columns, -1, dtype=np.int64)
        self._shared_at[self.shared] = np.arange(self.shared.size)
        self.rows: Rows = arrays.rows
        self._kept = _without(len(arrays.rows), model, OF_PATHS)
        self._late = self._kept & ~_without(len(arrays.rows), model, ADDED_LATE)
        self._row_of_entry = np.repeat(np.arange(len(self.rows)), np.diff(self.rows.starts))
        self._by_column = np.argsort(self.rows.columns, kind="stable")
        self._column_start = np.searchsorted(
            self.rows.columns[self._by_column], np.arange(columns + 1)
        )
        self._lower, self._upper = arrays.lower[self.shared], arrays.upper[self.shared]
        """Bounds of the shared columns in force."""
        self._best_prices: FloatArray | None = None
        """Price of each row with the best bound of the relaxation last solved."""
        self._best = -np.inf
        self.money: float | None = None
        """Bound on the relaxation last solved; None before and where it had no point."""
        self._lp = GrowingLp()
        self._lp_row = np.full(len(self.rows), -1, dtype=np.int64)
        self._lp_rows: list[int] = []
        self.paths: list[IntArray] = []
        """Columns of the program that make up each winter."""
        self.owner: list[int] = []
        """Group of each winter."""
        self._known: set[tuple[int, bytes]] = set()
        self._begin(np.flatnonzero(self._kept & ~self._late))
        self._first_path = self._lp.columns

    # --- set-up -------------------------------------------------------------------------------

    def _begin(self, rows: IntArray) -> None:
        flow = self.flow
        self._lp.add_columns(
            self.arrays.costs[self.shared],
            self.arrays.lower[self.shared],
            self.arrays.upper[self.shared],
            _empty(self.shared.size),
        )
        # one row a group: each of its trees has a winter or is left out
        count = flow.count.astype(np.float64)
        at = self._shared_at[flow.left_out]
        self._lp.add_rows(count, count, Sparse(np.arange(flow.groups + 1), at, np.ones(at.size)))
        self._first_path = self._lp.columns
        self._add_rows(rows)

    def _add_rows(self, rows: IntArray) -> None:
        """Add rows of the program to the linear program, over all columns there are."""
        if rows.size == 0:
            return
        self._lp_row[rows] = self.flow.groups + len(self._lp_rows) + np.arange(rows.size)
        self._lp_rows.extend(int(row) for row in rows)
        entries = self._rows_over_all(rows)
        self._lp.add_rows(self.rows.lower[rows], self.rows.upper[rows], entries)

    def _rows_over_all(self, rows: IntArray) -> Sparse:
        """Rows of the program over shared columns and winters, as the linear program has them."""
        wanted = np.full(len(self.rows), -1, dtype=np.int64)
        wanted[rows] = np.arange(rows.size)
        at_row = [wanted[self._row_of_entry]]
        at_column = [self._shared_at[self.rows.columns]]
        values = [self.rows.values]
        for number, columns in enumerate(self.paths):
            path_rows, sums = self._entries(columns)
            at_row.append(wanted[path_rows])
            at_column.append(np.full(path_rows.size, self._first_path + number))
            values.append(sums)
        row, column = _int(np.concatenate(at_row)), _int(np.concatenate(at_column))
        value: FloatArray = np.concatenate(values)
        good = (row >= 0) & (column >= 0)
        order = np.argsort(row[good], kind="stable")
        starts = np.searchsorted(row[good][order], np.arange(rows.size + 1))
        return Sparse(_int(starts), _int(column[good][order]), value[good][order])

    def _entries(self, columns: IntArray) -> tuple[IntArray, FloatArray]:
        """(rows, values) of the sum of some columns of the program, kept rows only."""
        parts = [
            self._by_column[self._column_start[c] : self._column_start[c + 1]] for c in columns
        ]
        entries = np.concatenate(parts) if parts else np.zeros(0, dtype=np.int64)
        rows = self._row_of_entry[entries]
        good = self._kept[rows]
        rows, values = rows[good], self.rows.values[entries[good]]
        found, inverse = np.unique(rows, return_inverse=True)
        sums = np.zeros(found.size)
        np.add.at(sums, inverse.ravel(), values)
        return _int(found), sums

    # --- winters ------------------------------------------------------------------------------

    def add(self, found: list[tuple[int, IntArray]]) -> int:
        """Add winters (group, columns) not known yet; returns how many were new."""
        costs, starts, positions, values = [], [0], [], []
        for group, columns in found:
            key = (group, np.sort(columns).tobytes())
            if key in self._known:
                continue
            self._known.add(key)
            rows, sums = self._entries(columns)
            inside = self._lp_row[rows] >= 0
            positions.append(np.append(self._lp_row[rows[inside]], group))
            values.append(np.append(sums[inside], 1.0))
            starts.append(starts[-1] + positions[-1].size)
            costs.append(float(self.arrays.costs[columns].sum()))
            self.paths.append(columns)
            self.owner.append(group)
        if costs:
            self._lp.add_columns(
                np.array(costs),
                np.zeros(len(costs)),
                np.full(len(costs), np.inf),
                Sparse(
                    np.array(starts, dtype=np.int64),
                    np.concatenate(positions),
                    np.concatenate(values),
                ),
            )
        return len(costs)

    def _row_prices(self, answer: LinearAnswer) -> FloatArray:
        """Price of each row of the program, 0 for those not in force."""
        by_row = np.zeros(len(self.rows))
        by_row[np.array(self._lp_rows, dtype=np.int64)] = answer.duals[self.flow.groups :]
        return by_row

    def _column_prices(self, by_row: FloatArray) -> FloatArray:
        """Price of each column of the program after prices of the rows."""
        weights = self.rows.values * by_row[self._row_of_entry]
        spent = np.bincount(self.rows.columns, weights=weights, minlength=len(self.arrays.costs))
        return self.arrays.costs - spent

    # --- solving ------------------------------------------------------------------------------

    def relax(self, tolerance: float, enough: float = np.inf) -> float:
        """Solve the relaxation; a bound on the program, at most ``tolerance`` below its own.

        Afterwards the program's variables hold the point found. ``tolerance`` is a share of the
        objective; rows added late that raise it by less are not looked for any more. A bound
        above ``enough`` is returned at once, whatever point there is.

        Raises
        ------
        NoPoint
            The bounds in force leave no point, though all trees may be left out.
        """
        self._best, self._best_prices, self.money = -np.inf, None, None
        settled_at = -np.inf
        answer = self._solved()
        for _round in range(MOST_ROUNDS):
            new = self._price(answer)
            if self._best + self.arrays.constant > enough:
                break
            near = tolerance * abs(answer.objective + self.arrays.constant)
            if new and answer.objective - self._best > near:
                answer = self._solved()
                continue
            broken = self._broken(self._values(answer))
            if broken.size == 0 or answer.objective - settled_at <= near:
                break
            settled_at = answer.objective
            self._add_rows(broken)
            answer = self._solved()
        self.hand_back(self._values(answer))
        # a bound with fewer rows holds with more
        self.money = self._best + self.arrays.constant
        return self.money

    def _solved(self) -> LinearAnswer:
        answer = self._lp.solve()
        if answer is None:
            raise NoPoint("The relaxation has no answer, though all trees may be left out.")
        return answer

    def _price(self, answer: LinearAnswer) -> int:
        """Add winters that pay, and keep the best bound; how many were added."""
        by_row = self._row_prices(answer)
        true = self._column_prices(by_row)
        duals = answer.duals[: self.flow.groups]
        if self._best_prices is not None:
            smooth = SMOOTHING * self._best_prices + (1.0 - SMOOTHING) * by_row
            new = self._look(smooth, self._column_prices(smooth), true, duals)
            if new:
                return new
        return self._look(by_row, true, true, duals)

    def _look(
        self, by_row: FloatArray, prices: FloatArray, true: FloatArray, duals: FloatArray
    ) -> int:
        """Look for winters at prices of rows and columns; add those that pay at ``true`` ones."""
        paths = cheapest_paths(self.flow, prices)
        bound = self._bound(by_row, prices, paths)
        if bound > self._best:
            self._best, self._best_prices = bound, by_row
        return self._generate(paths, prices, true, duals)

    def _bound(self, by_row: FloatArray, prices: FloatArray, paths: Paths) -> float:
        """Lagrange's bound: what keeping all rows in force at these prices costs at least."""
        side = np.where(by_row > 0.0, self.rows.lower, self.rows.upper)
        priced = np.isfinite(side)
        rows = float(side[priced] @ by_row[priced])
        each = np.minimum(paths.cost, prices[self.flow.left_out])
        own = prices[self.shared]
        own[self._shared_at[self.flow.left_out]] = 0.0  # in ``each``
        at = np.where(own > 0.0, self._lower, self._upper)
        own[~np.isfinite(at)] = 0.0  # no more than rounding below 0
        at[~np.isfinite(at)] = 0.0
        return rows + float(own @ at) + float(each @ self.flow.count)

    def _generate(
        self, paths: Paths, prices: FloatArray, true: FloatArray, duals: FloatArray
    ) -> int:
        """Add the cheapest winter of every group, and its cheapest ways round it, if they pay."""
        groups, every = self.flow.groups, np.arange(self.flow.groups)
        found = [(int(g), paths.columns(self.flow, int(g))) for g in every[np.isfinite(paths.cost)]]
        through = through_costs(self.flow, prices)
        through[self._on(paths)] = np.inf  # cells on the cheapest winter say nothing new
        for _ in range(2):
            flat = through.reshape(groups, -1).argmin(axis=1)
            least = through.reshape(groups, -1)[every, flat]
            spell, place = np.divmod(flat, self.flow.places)
            wanted = least - duals < -REDUCED
            if not wanted.any():
                break
            via = np.where(wanted[:, None], np.stack([spell, place], axis=1), -1)
            other = cheapest_paths(self.flow, prices, via)
            found += [(int(g), other.columns(self.flow, int(g))) for g in np.flatnonzero(wanted)]
            through[every, spell] = np.inf
        return self.add([(g, c) for g, c in found if true[c].sum() - duals[g] < -REDUCED])

    def near(self, money: float) -> NDArray[np.bool_]:
        """Cells ``(group, spell, place)`` on winters found that cost little more than the cheapest.

        ``money`` a tree more, at the prices of the relaxation last solved.
        """
        assert self._best_prices is not None
        prices = self._column_prices(self._best_prices)
        cost = np.array([prices[columns].sum() for columns in self.paths])
        owner = np.array(self.owner, dtype=np.int64)
        least = np.full(self.flow.groups, np.inf)
        np.minimum.at(least, owner, cost)
        shape = (self.flow.groups, self.flow.spells, self.flow.places)
        cell_of = np.full(prices.size, -1, dtype=np.int64)
        stays = np.diff(np.append(self.flow.cell_start, self.flow.stay_column.size))
        cell_of[self.flow.stay_column] = np.repeat(self.flow.cell, stays)
        found = np.zeros(np.prod(shape), dtype=np.bool_)
        for number in np.flatnonzero(cost <= least[owner] + money).tolist():
            cells = cell_of[self.paths[number]]
            found[cells[cells >= 0]] = True
        return found.reshape(shape)

    def _on(self, paths: Paths) -> NDArray[np.bool_]:
        """Which cells ``(group, spell, place)`` the winters pass."""
        on_path = np.zeros((self.flow.groups, self.flow.spells, self.flow.places), dtype=np.bool_)
        group, spell = np.nonzero(paths.stay >= 0)
        stay = paths.stay[group, spell]
        cell = self.flow.cell[np.searchsorted(self.flow.cell_start, stay, side="right") - 1]
        on_path[group, spell, cell % self.flow.places] = True
        return on_path

    def fix(self, values: Mapping[int, float]) -> None:
        """Hold shared columns of the program at values, by column, from now on."""
        columns = np.array(sorted(values), dtype=np.int64)
        at = np.array([values[column] for column in columns.tolist()])
        self.hold(columns, at, at)

    def hold(self, columns: IntArray, lower: FloatArray, upper: FloatArray) -> None:
        """Change the bounds of shared columns of the program."""
        at = self._shared_at[columns]
        self._lower[at], self._upper[at] = lower, upper
        self._lp.set_bounds(at, lower, upper)

    # --- points -------------------------------------------------------------------------------

    def _values(self, answer: LinearAnswer) -> FloatArray:
        """Values of shared columns and of all winters, 0 for those added since."""
        missing = self._first_path + len(self.paths) - answer.values.size
        return np.concatenate([answer.values, np.zeros(missing)])

    def _point(self, values: FloatArray) -> FloatArray:
        """The point in the columns of the program."""
        full = np.zeros(len(self.arrays.costs))
        full[self.shared] = values[: self.shared.size]
        winters = values[self._first_path :]
        for number in np.flatnonzero(winters).tolist():
            np.add.at(full, self.paths[number], winters[number])
        return full

    def hand_back(self, values: FloatArray) -> None:
        """Write a point into the program's variables."""
        for variable, value in zip(
            self.arrays.variables, self._point(values).tolist(), strict=True
        ):
            variable.varValue = value

    def _broken(self, values: FloatArray) -> IntArray:
        x = self._point(values)
        terms = self.rows.values * x[self.rows.columns]
        activity = np.bincount(self._row_of_entry, weights=terms, minlength=len(self.rows))
        excess = np.maximum(self.rows.lower - activity, activity - self.rows.upper)
        waiting = self._late & (self._lp_row < 0)
        return np.flatnonzero(waiting & (excess > BROKEN))


def _without(rows: int, model: Model, families: tuple[str, ...]) -> NDArray[np.bool_]:
    """A mask of all rows that are not of these families."""
    mask = np.ones(rows, dtype=np.bool_)
    for family in families:
        mask[list(model.rows[family])] = False
    return mask


def _int(numbers: NDArray[Any]) -> IntArray:
    return numbers.astype(np.int64)


def _empty(vectors: int) -> Sparse:
    return Sparse(np.zeros(vectors + 1, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0))
