"""The program's linear relaxation, tree by tree: whole winters as columns, priced as paths.

Derived mechanically from the rows of the program (Dantzig and Wolfe's decomposition): the rows that
say "one place at a time" and "what was not here was carried here" are kept by every path; all other
rows stay as they are, a path's entry in a row being the sum of the entries of its stays and
carries. It is found in a fraction of the time of the program's own linear relaxation, because a
path costs one shortest-path step instead of hundreds of variables and rows.

Where the table says how hardening answers, a winter is reckoned with the hardening that its trees
truly have: the bound is then above that of the program, which knows hardening only from above.

Rows that tie single groups to settings and carry days are many and mostly idle; they are added
when they are broken.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.planning.courses import Course, Courses
from overwinter.planning.found_winters import FoundWinters
from overwinter.planning.outlook import Outlook
from overwinter.planning.pricing import REDUCED, Pricing, Ways
from overwinter.planning.rows_in_force import BROKEN, ComingRows, RowsInForce
from overwinter.program.build import build
from overwinter.program.data import ProgramData
from overwinter.program.flow import Flow, flow_of
from overwinter.program.model import Model
from overwinter.solvers.arrays import ProblemArrays, Rows, read_problem
from overwinter.solvers.growing_lp import Basis, GrowingLp, LinearAnswer, Sparse
from overwinter.solvers.report import SolverFailed

IntArray = NDArray[np.int64]

MOST_ROUNDS = 600
FAR = 1.0
"""A bound so far below the value, share of it, is of prices that are nowhere near good ones yet."""
FAR_ABOVE = 0.01
"""So far above what is of interest, share of it, the value does not matter any more."""
CLOSE = 0.02
"""So near to its own value the relaxation's prices show whose hardening must be known better."""
SMOOTHING = 0.5
"""Share of the best prices so far in those that winters are looked for with (Wentges 1997, from
memory): the prices of one solve swing far beyond the last ones, and so would the winters."""
OF_PATHS = ("one place", "carried in")
"""Families of rows that every path keeps."""
OF_HISTORIES = ("cold after warm",)
"""Families that every path keeps whose hardening is known."""
ADDED_LATE = ("suits the setting", "only on carry days", "cold after warm")
IDLE = 0.1
"""Rows added late that bind no longer are taken away again once they are this share of all."""


@dataclass(frozen=True)
class Stand:
    """Where a relaxation ended."""

    basis: Basis
    prices: FloatArray
    """Of all rows of the program, those with the best bound."""


class NoPoint(SolverFailed):
    """The relaxation has no point."""


class Winters:
    """The relaxation of one program with the winters (paths) found so far."""

    def __init__(self, model: Model, stop: Callable[[], bool] = lambda: False) -> None:
        arrays = read_problem(model.problem)
        self._stop = stop
        self.patient = False
        """Solve relaxations to their end, stopped or not."""
        self.model = model
        self.arrays: ProblemArrays = arrays
        column_of = {id(variable): index for index, variable in enumerate(arrays.variables)}
        self.column_of = column_of
        """Column of each variable of the program, by ``id``."""
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
        of_paths = (*OF_PATHS, *OF_HISTORIES) if self.flow.responses.knows else OF_PATHS
        self.kept = ~model.rows_of(of_paths)
        """Rows of the program that are not kept by every path."""
        late = self.kept & model.rows_of(ADDED_LATE)
        self._in_force = RowsInForce(self.rows, columns, self.kept, late, self.flow.groups)
        self._lower, self._upper = arrays.lower[self.shared], arrays.upper[self.shared]
        """Bounds of the shared columns in force."""
        self._courses = Courses(model, self.flow, self.rows, column_of)
        self._pricing = Pricing(self.flow, self._courses)
        self._best_prices: FloatArray | None = None
        """Price of each row with the best bound of the relaxation last solved."""
        self._best = self._near_bound = -np.inf
        self.money: float | None = None
        """Bound on the relaxation last solved; None before and where it had no point."""
        self.objective = np.inf
        """Of the point found; ``_prices`` are its prices of the rows."""
        self._prices: FloatArray = np.zeros(len(self.rows))
        self.lp = GrowingLp()
        self._rows_stay = False
        """A basis is kept somewhere, which knows rows by their numbers."""
        self._held_anew = False
        """Bounds have changed since the last relaxation."""
        self._found = FoundWinters(self._courses)
        self._first_path = self.shared.size
        self._begin()

    # --- set-up -------------------------------------------------------------------------------

    def _begin(self) -> None:
        flow = self.flow
        self.lp.add_columns(
            self.arrays.costs[self.shared],
            self.arrays.lower[self.shared],
            self.arrays.upper[self.shared],
            _empty(self.shared.size),
        )
        # one row a group: each of its trees has a winter or is left out
        count = flow.count.astype(np.float64)
        at = self._shared_at[flow.left_out]
        self.lp.add_rows(count, count, Sparse(np.arange(flow.groups + 1), at, np.ones(at.size)))
        self._add_rows(self._in_force.at_first)

    def _add_rows(self, rows: IntArray) -> None:
        """Add rows of the program to the linear program, over all columns there are."""
        if rows.size == 0:
            return
        self._in_force.come(rows)
        entries = self.entries(rows, np.arange(len(self._found)))
        self.lp.add_rows(self.rows.lower[rows], self.rows.upper[rows], entries)

    def _drop_idle(self) -> None:
        """Take rows away that were added late and bind no longer."""
        if not self._rows_stay:
            self._in_force.leave(self.lp.drop_idle(self._in_force.may_leave, IDLE))

    @property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Bounds of the shared columns that are held now."""
        return self._lower, self._upper

    @property
    def courses(self) -> Sequence[Course]:
        """Each winter found."""
        return self._found.each

    @property
    def owner(self) -> IntArray:
        """Group of each winter found."""
        return self._found.owner

    @property
    def costs(self) -> FloatArray:
        """Cost of each winter found for one tree; infinite where it is not open now."""
        return self._found.costs

    def entries(self, rows: IntArray, numbers: IntArray) -> Sparse:
        """Rows of the program over the shared columns and then these winters."""
        sums = (self._found.in_rows[number] for number in numbers.tolist())
        return self._in_force.over(rows, self._shared_at, sums, self._first_path)

    # --- winters ------------------------------------------------------------------------------

    def add(self, found: Ways) -> int:
        """Add winters (group, columns) not known yet; returns how many were new."""
        new = self._found.new(found)
        if not new:
            return 0
        starts, positions, values, in_rows = [0], [], [], []
        for course in new:
            rows, sums = self._in_force.of_columns(course.columns)
            at = self._in_force.at[rows]
            inside = at >= 0
            positions.append(np.append(at[inside], course.group))
            values.append(np.append(sums[inside], 1.0))
            starts.append(starts[-1] + positions[-1].size)
            in_rows.append((rows, sums))
        own = np.array([self.arrays.costs[course.columns].sum() for course in new])
        extra = self._found.add(new, in_rows, own)
        open_ = np.isfinite(extra)
        self.lp.add_columns(
            own + np.where(open_, extra, 0.0),
            np.zeros(own.size),
            np.where(open_, np.inf, 0.0),
            Sparse(
                np.array(starts, dtype=np.int64),
                np.concatenate(positions),
                np.concatenate(values),
            ),
        )
        return len(new)

    def _column_prices(self, by_row: FloatArray) -> FloatArray:
        """Price of each column of the program after prices of the rows."""
        return self._in_force.reduced(self.arrays.costs, by_row)

    # --- solving ------------------------------------------------------------------------------

    def relax(self, tolerance: float, enough: float = np.inf, *, every_row: bool = False) -> float:
        """Solve the relaxation; a bound on the program, at most ``tolerance`` below its own.

        Afterwards the program's variables hold the point found. ``tolerance`` is a share of the
        objective; rows added late that raise it by less are not looked for any more, nor, unless
        ``every_row`` is asked for, those that the point breaks by as little. A bound above
        ``enough`` is returned at once, whatever point there is; that of a search told to stop as
        soon as all trees have winters, unless it is ``patient``.

        Raises
        ------
        NoPoint
            The bounds in force leave no point, though all trees may be left out.
        """
        self._best, self._best_prices, self.money = -np.inf, None, None
        self._near_bound = -np.inf
        coming = ComingRows(self._in_force, 0.0 if every_row else tolerance)
        self._begin_anew()
        if self._best + self.arrays.constant > enough:
            self.money = self._best + self.arrays.constant
            return self.money
        answer, before = self._solved((1.0 + FAR_ABOVE) * enough - self.arrays.constant), np.inf
        for _round in range(MOST_ROUNDS):
            new = self._price(answer)
            if self._is_enough(answer, enough):
                break
            if not answer.optimal:
                answer = self._solved()
                continue
            near = tolerance * abs(answer.objective + self.arrays.constant)
            apart = answer.objective - self._best
            if apart > near and (not new or apart < CLOSE * abs(answer.objective)):
                told = self._pricing.tell_apart(near, apart)
                if told and not new:
                    continue
            falls, before = before - answer.objective > near, answer.objective
            open_ = new > 0 and apart > near
            # once the value stands, rows come before what is left to do for the bound
            if not (open_ and falls):
                point = self._point(self._values(answer))
                broken = coming.next(point, answer.objective, near)
                if broken.size:
                    self._bring_in(broken)
                    answer, before = self._solved(), np.inf
                    continue
            if not open_:
                break
            answer = self._solved()
        self.hand_back(self._values(answer))
        self.objective = answer.objective + self.arrays.constant
        self._prices = self._in_force.prices(answer.duals)
        # a bound with fewer rows holds with more
        self.money = self._best + self.arrays.constant
        return self.money

    def _is_enough(self, answer: LinearAnswer, enough: float) -> bool:
        """Whether the bound is above ``enough``, or the search is to stop and has a point."""
        if self._best + self.arrays.constant > enough:
            return True
        return not self.patient and self._stop() and answer.optimal and self._all_in(answer)

    def _bring_in(self, broken: IntArray) -> None:
        """Rows that are broken into force, with winters that keep clear of them.

        Without those the linear program would leave trees out at first.
        """
        self._drop_idle()
        columns = self._column_prices(self._good_prices)
        columns[self._in_force.used_by(broken, self._shared_at < 0)] = np.inf
        self._add_cheapest(columns)
        self._add_rows(broken)
        # prices that know nothing of the new rows lead astray
        self._near_bound, self._best_prices = -np.inf, None

    def _add_cheapest(self, columns: FloatArray) -> FloatArray:
        """Add each group's cheapest winter at prices by column; what it costs at least."""
        sweep = self._pricing.sweep(columns)
        paths = sweep.cheapest()
        chilled, least = self._pricing.chilled(columns, paths)
        self.add(self._pricing.cheapest(sweep, paths) + chilled)
        return least

    def _begin_anew(self) -> None:
        """The bound that prices known give what is held anew, and the cheapest winters at them.

        Without winters that are open the linear program would leave trees out at first, at a
        price beyond all others.
        """
        anew, self._held_anew = self._held_anew, False
        if not anew or not np.isfinite(self.objective):
            return
        columns = self._column_prices(self._prices)
        least = self._add_cheapest(columns)
        self._best = self._near_bound = self._bound(self._prices, columns, least)
        self._best_prices = self._prices

    @property
    def _good_prices(self) -> FloatArray:
        """Those with the best bound of the relaxation last solved."""
        return self._prices if self._best_prices is None else self._best_prices

    def stand(self) -> Stand:
        """Where the relaxation last solved ended."""
        self._drop_idle()
        self._rows_stay = True
        return Stand(self.lp.basis(), self._good_prices)

    def begin_at(self, stand: Stand) -> None:
        """Begin the next relaxation where one of more choice ended."""
        self.lp.set_basis(stand.basis)
        self._prices = stand.prices

    def _solved(self, most: float = np.inf) -> LinearAnswer:
        answer = self.lp.solve(most)
        if answer is None:
            raise NoPoint("The relaxation has no answer, though all trees may be left out.")
        return answer

    def _all_in(self, answer: LinearAnswer) -> bool:
        """Whether no tree is left out, if only for want of winters."""
        return bool(answer.values[self._shared_at[self.flow.left_out]].max(initial=0.0) <= BROKEN)

    def _price(self, answer: LinearAnswer) -> int:
        """Add winters that pay, and keep the best bound; how many were added."""
        by_row = self._in_force.prices(answer.duals)
        true = self._column_prices(by_row)
        duals = answer.duals[: self.flow.groups]
        far = answer.objective - self._near_bound > FAR * abs(answer.objective)
        if self._best_prices is not None and not far:
            smooth = SMOOTHING * self._best_prices + (1.0 - SMOOTHING) * by_row
            new = self._look(smooth, self._column_prices(smooth), true, duals)
            if new:
                return new
        return self._look(by_row, true, true, duals)

    def _look(
        self, by_row: FloatArray, prices: FloatArray, true: FloatArray, duals: FloatArray
    ) -> int:
        """Look for winters at prices of rows and columns; add those that pay at ``true`` ones."""
        sweep = self._pricing.sweep(prices)
        paths = sweep.cheapest()
        chilled, least = self._pricing.chilled(prices, paths)
        bound = self._bound(by_row, prices, least)
        self._best = max(bound, self._best)
        if bound > self._near_bound:
            self._near_bound, self._best_prices = bound, by_row
        found = self._pricing.ways(sweep, paths, duals)
        return self.add(self._paying(found + chilled, true, duals))

    def _bound(self, by_row: FloatArray, prices: FloatArray, least: FloatArray) -> float:
        """Lagrange's bound: what keeping all rows in force at these prices costs at least.

        ``least`` ``(group,)`` is what a group's winters cost at them.
        """
        side = np.where(by_row > 0.0, self.rows.lower, self.rows.upper)
        priced = np.isfinite(side)
        rows = float(side[priced] @ by_row[priced])
        each = np.minimum(least, prices[self.flow.left_out])
        own = prices[self.shared]
        own[self._shared_at[self.flow.left_out]] = 0.0  # in ``each``
        at = np.where(own > 0.0, self._lower, self._upper)
        own[~np.isfinite(at)] = 0.0  # no more than rounding below 0
        at[~np.isfinite(at)] = 0.0
        return rows + float(own @ at) + float(each @ self.flow.count)

    def _paying(self, found: Ways, true: FloatArray, duals: FloatArray) -> Ways:
        """Winters that cost less than their group's price."""
        if not found:
            return found
        group = np.array([g for g, _ in found], dtype=np.int64)
        cost = self._courses.costs(found, true)
        pays = cost - duals[group] < -REDUCED
        return [one for one, good in zip(found, pays.tolist(), strict=True) if good]

    def outlook(self) -> Outlook:
        """What the best prices of the relaxation last solved say.

        Their bound may be a little below ``money``.
        """
        by_row = self._good_prices
        columns = self._column_prices(by_row)
        sweep = self._pricing.sweep(columns)
        _chilled, least = self._pricing.chilled(columns, sweep.cheapest())
        bound = self._bound(by_row, columns, least) + self.arrays.constant
        return Outlook(bound, columns, sweep, np.minimum(least, columns[self.flow.left_out]))

    def within(self, outlook: Outlook, limit: FloatArray) -> IntArray:
        """Numbers of the winters found that cost no more than ``limit`` ``(group,)``."""
        cost = self._found.costs_at(outlook.columns)
        return np.flatnonzero(np.isfinite(cost) & (cost <= limit[self.owner]))

    def near(self, money: float) -> NDArray[np.bool_]:
        """Cells ``(group, spell, place)`` on winters found that cost little more than the cheapest.

        ``money`` a tree more, at the prices of the relaxation last solved.
        """
        found = np.zeros(self.flow.groups * self.flow.spells * self.flow.places, dtype=np.bool_)
        for number in self.near_winters(money).tolist():
            stays = self.courses[number].stays
            found[self.flow.stay_cell[stays[stays >= 0]]] = True
        return found.reshape(self.flow.groups, self.flow.spells, self.flow.places)

    def look_near(self, money: float) -> None:
        """Look for the cheapest winters through every cell; add those little above the cheapest.

        ``money`` a tree more, at the prices of the relaxation last solved.
        """
        self.add(self._pricing.ways_near(self._column_prices(self._prices), money))

    def near_winters(self, money: float) -> IntArray:
        """Numbers of the winters found that cost little more than their group's cheapest."""
        cost = self._found.costs_at(self._column_prices(self._prices))
        owner = self.owner
        least = np.full(self.flow.groups, np.inf)
        np.minimum.at(least, owner, cost)
        return np.flatnonzero(np.isfinite(cost) & (cost <= least[owner] + money))

    def fix(self, values: Mapping[int, float]) -> None:
        """Hold shared columns of the program at values, by column, from now on."""
        columns = np.array(sorted(values), dtype=np.int64)
        at = np.array([values[column] for column in columns.tolist()])
        self.hold(columns, at, at)

    def hold(self, columns: IntArray, lower: FloatArray, upper: FloatArray) -> None:
        """Change the bounds of shared columns of the program."""
        at = self._shared_at[columns]
        same = (self._lower[at] == lower) & (self._upper[at] == upper)
        self._held_anew |= not same.all()
        self._lower[at], self._upper[at] = lower, upper
        self.lp.set_bounds(at, lower, upper)
        everywhere = np.ones(len(self.arrays.costs))
        everywhere[self.shared] = self._upper
        self._reckoned_again(self._found.keep_open(everywhere))

    def demand_chilling(self) -> None:
        """From now on no winter makes up for the chilling that another one of its group lacks.

        The rows know the mean only.
        """
        self._reckoned_again(self._found.demand_chilling())
        columns = self._column_prices(self._prices)
        self.add(self._pricing.chilled(columns, self._pricing.sweep(columns).cheapest())[0])

    def _reckoned_again(self, changed: IntArray) -> None:
        """Costs of winters that cost otherwise now; those that are not open are shut out."""
        if changed.size == 0:
            return
        costs = self._found.costs[changed]
        may = np.isfinite(costs)
        at = self._first_path + changed
        # shut out at cost 0, they still spoil the simplex method's shaking of costs: half as many
        # solves again at 300 trees
        self.lp.set_costs(at, np.where(may, costs, self._found.own_money[changed]))
        self.lp.set_bounds(at, np.zeros(at.size), np.where(may, np.inf, 0.0))

    # --- points -------------------------------------------------------------------------------

    def _values(self, answer: LinearAnswer) -> FloatArray:
        """Values of shared columns and of all winters, 0 for those added since."""
        missing = self._first_path + len(self._found) - answer.values.size
        return np.concatenate([answer.values, np.zeros(missing)])

    def _point(self, values: FloatArray) -> FloatArray:
        """The point in the columns of the program."""
        full = np.zeros(len(self.arrays.costs))
        full[self.shared] = values[: self.shared.size]
        winters = values[self._first_path :]
        for number in np.flatnonzero(winters).tolist():
            np.add.at(full, self._found.each[number].columns, winters[number])
        return full

    def hand_back(self, values: FloatArray) -> None:
        """Write a point into the program's variables."""
        for variable, value in zip(
            self.arrays.variables, self._point(values).tolist(), strict=True
        ):
            variable.varValue = value


def winters_of(data: ProgramData, stop: Callable[[], bool] = lambda: False) -> Winters:
    """The relaxation of the program of ``data``, in which trees may be left out.

    ``stop`` says whether to come to an end.
    """
    known = data.suitability.hardening is not None
    kept = (*OF_PATHS, *OF_HISTORIES) if known else OF_PATHS
    return Winters(build(data, may_leave_out=True, without=kept), stop)


def _empty(vectors: int) -> Sparse:
    return Sparse(np.zeros(vectors + 1, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros(0))
