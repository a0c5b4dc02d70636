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

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwinter.domain.shelter import FloatArray
from overwinter.program.build import build
from overwinter.program.data import ProgramData
from overwinter.program.flow import Flow, Paths, Prices, Step, Sweep, flow_of
from overwinter.program.model import Model
from overwinter.solvers.arrays import ProblemArrays, Rows, read_problem
from overwinter.solvers.growing_lp import GrowingLp, LinearAnswer, Sparse
from overwinter.solvers.report import SolverFailed

IntArray = NDArray[np.int64]

REDUCED = 1e-7
BROKEN = 1e-6
MOST_ROUNDS = 600
CLOSE = 0.02
"""So near to its own value the relaxation's prices show whose hardening must be known better."""
MISLEADING = 0.2
"""Of what bound and value are apart, if it is because states are not told apart."""
LEVELS = 40
FINER = 4
MOST_LEVELS = 640
"""Levels of hardening; so many times as many where they mislead, until there are so many."""
HALVINGS = 5
ENOUGH = 1e-6
"""Chilling by which a tree may fall short; as the checks of single trees have it."""
SMOOTHING = 0.5
"""Share of the best prices so far in those that winters are looked for with (Wentges 1997, from
memory): the prices of one solve swing far beyond the last ones, and so would the winters."""
OF_PATHS = ("one place", "carried in")
"""Families of rows that every path keeps."""
OF_HISTORIES = ("cold after warm",)
"""Families that every path keeps whose hardening is known."""
ADDED_LATE = ("suits the setting", "only on carry days", "cold after warm")


@dataclass(frozen=True, slots=True)
class Course:
    """A winter of one group's trees."""

    group: int
    columns: IntArray
    """Columns of the program that are 1."""
    stays: IntArray
    """``(spell,)``, -1 before the trees join."""
    carried: NDArray[np.bool_]
    """``(spell,)``: on its first day."""


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
        of_paths = (*OF_PATHS, *OF_HISTORIES) if self.flow.responses.knows else OF_PATHS
        self.kept = _without(len(arrays.rows), model, of_paths)
        """Rows of the program that are not kept by every path."""
        self._late = self.kept & ~_without(len(arrays.rows), model, ADDED_LATE)
        self._row_of_entry = np.repeat(np.arange(len(self.rows)), np.diff(self.rows.starts))
        self._by_column = np.argsort(self.rows.columns, kind="stable")
        self._column_start = np.searchsorted(
            self.rows.columns[self._by_column], np.arange(columns + 1)
        )
        self._lower, self._upper = arrays.lower[self.shared], arrays.upper[self.shared]
        """Bounds of the shared columns in force."""
        self._setting_at, self._day_at = self._choices(column_of)
        self._stay_at = np.full(columns, -1, dtype=np.int64)
        """Stay of each column of the program, and spell of each carry, -1 for others."""
        self._stay_at[self.flow.stay_column] = np.arange(self.flow.stay_column.size)
        self._carry_at = np.full(columns, -1, dtype=np.int64)
        carries = self.flow.in_column >= 0
        self._carry_at[self.flow.in_column[carries]] = np.nonzero(carries)[1]
        self._best_prices: FloatArray | None = None
        """Price of each row with the best bound of the relaxation last solved."""
        self._best = -np.inf
        self.money: float | None = None
        """Bound on the relaxation last solved; None before and where it had no point."""
        self.objective = np.inf
        """Of the point found; ``_prices`` are its prices of the rows."""
        self._prices: FloatArray = np.zeros(len(self.rows))
        self._lp = GrowingLp()
        self._lp_row = np.full(len(self.rows), -1, dtype=np.int64)
        self._lp_rows: list[int] = []
        self.paths: list[IntArray] = []
        """Columns of the program that make up each winter."""
        self.owner: list[int] = []
        """Group of each winter."""
        self.courses: list[Course] = []
        self._in_rows: list[tuple[IntArray, FloatArray]] = []
        """Kept rows of the program in which each winter is, and with how much."""
        self._own_money: list[float] = []
        """Cost of each winter's columns; ``_extra`` is what hardening makes of it."""
        self._extra: FloatArray = np.zeros(0)
        self._known: set[tuple[int, bytes]] = set()
        self._levels: IntArray = np.full(self.flow.groups, LEVELS, dtype=np.int64)
        """Levels of hardening that each group's states are told apart by."""
        self._steps = self.flow.steps(self._levels)
        self._missed: FloatArray = np.zeros(self.flow.groups)
        """By how much each group's cheapest way was found too cheap last, money for all of it."""
        self._doubtful: IntArray = np.zeros(0, dtype=np.int64)
        """Groups whose cheapest way has been none that a tree comes through."""
        self._sure_steps: tuple[Step, ...] = ()
        self._chill, self._owed, self._chill_row = self._chilling()
        self._lots: IntArray = np.zeros(0, dtype=np.int64)
        """Groups of which every tree must earn what it owes; others may as a mean."""
        self._lot_steps: tuple[Step, ...] = ()
        self._begin(np.flatnonzero(self.kept & ~self._late))
        self._first_path = self._lp.columns

    # --- set-up -------------------------------------------------------------------------------

    def _choices(self, column_of: Mapping[int, int]) -> tuple[IntArray, IntArray]:
        """Where settings ``(option, spell)`` and carry days ``(spell,)`` are among the shared
        columns; -1 for what is open anyway, -2 for what is not."""
        model, spells = self.model, self.flow.spells
        options = model.data.suitability.options
        settings = np.full((len(options), spells), -2, dtype=np.int64)
        for option in options:
            for spell in range(spells):
                found = model.settings[option.shelter_id, spell]
                if option.setting in found:
                    variable = found[option.setting]
                    settings[option.index, spell] = (
                        -1 if variable is None else self._shared_at[column_of[id(variable)]]
                    )
        days = np.full(spells, -1, dtype=np.int64)
        for spell, variable in model.carry_day.items():
            days[spell] = self._shared_at[column_of[id(variable)]]
        return settings, days

    def _chilling(self) -> tuple[FloatArray, FloatArray, IntArray]:
        """What each stay earns; what each group's trees owe, and in which row (-1: nothing)."""
        stay = self._stay_at[self.rows.columns]
        rows = np.zeros(len(self.rows), dtype=np.bool_)
        rows[list(self.model.rows["chilling"])] = True
        inside = np.flatnonzero(rows[self._row_of_entry] & (stay >= 0))
        chill = np.zeros(self.flow.stay_column.size)
        chill[stay[inside]] = self.rows.values[inside]
        of_row = np.full(self.flow.groups, -1, dtype=np.int64)
        group = self.flow.stay_cell[stay[inside]] // (self.flow.spells * self.flow.places)
        of_row[group] = self._row_of_entry[inside]
        owed = np.where(of_row >= 0, self.rows.lower[of_row] / self.flow.count, 0.0)
        return chill, owed, of_row

    def _open(self, at: IntArray) -> NDArray[np.bool_]:
        """Which choices may still be made."""
        may: NDArray[np.bool_] = np.append(self._upper > 0.5, [False, True])[at]
        return may

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
        entries = self._rows_over(rows, np.arange(len(self.paths)), self._first_path)
        self._lp.add_rows(self.rows.lower[rows], self.rows.upper[rows], entries)

    def _rows_over(self, rows: IntArray, numbers: IntArray, first: int) -> Sparse:
        """Rows over shared columns, and over winters as columns from ``first`` on."""
        wanted = np.full(len(self.rows), -1, dtype=np.int64)
        wanted[rows] = np.arange(rows.size)
        at_row = [wanted[self._row_of_entry]]
        at_column = [self._shared_at[self.rows.columns]]
        values = [self.rows.values]
        for place, number in enumerate(numbers.tolist()):
            path_rows, sums = self._in_rows[number]
            at_row.append(wanted[path_rows])
            at_column.append(np.full(path_rows.size, first + place))
            values.append(sums)
        row, column = _int(np.concatenate(at_row)), _int(np.concatenate(at_column))
        value: FloatArray = np.concatenate(values)
        good = (row >= 0) & (column >= 0)
        order = np.argsort(row[good], kind="stable")
        starts = np.searchsorted(row[good][order], np.arange(rows.size + 1))
        return Sparse(_int(starts), _int(column[good][order]), value[good][order])

    @property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Bounds of the shared columns that are held now."""
        return self._lower, self._upper

    @property
    def costs(self) -> FloatArray:
        """Cost of each winter found for one tree; infinite where it is not open now."""
        return np.array(self._own_money) + self._extra

    def entries(self, rows: IntArray, numbers: IntArray) -> Sparse:
        """Rows of the program over the shared columns and then these winters."""
        return self._rows_over(rows, numbers, self.shared.size)

    def _entries(self, columns: IntArray) -> tuple[IntArray, FloatArray]:
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
        return _int(found), sums

    # --- winters ------------------------------------------------------------------------------

    def add(self, found: list[tuple[int, IntArray]]) -> int:
        """Add winters (group, columns) not known yet; returns how many were new."""
        costs, starts, positions, values = [], [0], [], []
        new = self._new(found)
        extra = self._extra_of(new)
        for course, more in zip(new, extra.tolist(), strict=True):
            rows, sums = self._entries(course.columns)
            inside = self._lp_row[rows] >= 0
            positions.append(np.append(self._lp_row[rows[inside]], course.group))
            values.append(np.append(sums[inside], 1.0))
            starts.append(starts[-1] + positions[-1].size)
            own = float(self.arrays.costs[course.columns].sum())
            costs.append(own + (more if np.isfinite(more) else 0.0))
            self.paths.append(course.columns)
            self.owner.append(course.group)
            self.courses.append(course)
            self._in_rows.append((rows, sums))
            self._own_money.append(own)
        self._extra = np.concatenate([self._extra, extra])
        if costs:
            self._lp.add_columns(
                np.array(costs),
                np.zeros(len(costs)),
                np.where(np.isfinite(extra), np.inf, 0.0),
                Sparse(
                    np.array(starts, dtype=np.int64),
                    np.concatenate(positions),
                    np.concatenate(values),
                ),
            )
        return len(costs)

    def _new(self, found: list[tuple[int, IntArray]]) -> list[Course]:
        """Winters not known yet."""
        new = []
        for group, columns in found:
            key = (group, np.sort(columns).tobytes())
            if key not in self._known:
                self._known.add(key)
                new.append(self._course(group, columns))
        return new

    def _course(self, group: int, columns: IntArray) -> Course:
        at = self._stay_at[columns]
        at = at[at >= 0]
        stays = np.full(self.flow.spells, -1, dtype=np.int64)
        stays[self.flow.stay_cell[at] // self.flow.places % self.flow.spells] = at
        spells = self._carry_at[columns]
        carried = np.zeros(self.flow.spells, dtype=np.bool_)
        carried[spells[spells >= 0]] = True
        return Course(group, columns, stays, carried)

    def _extra_unchilled(self, courses: Sequence[Course]) -> FloatArray:
        """Cost of winters beyond that of their columns; infinite for those that are not open."""
        if not courses:
            return np.zeros(0)
        extra = self.flow.responses.of_winters(
            np.array([course.group for course in courses], dtype=np.int64),
            np.stack([course.stays for course in courses]),
            self._open(self._setting_at),
        )
        carried = np.stack([course.carried for course in courses])
        extra[carried[:, ~self._open(self._day_at)].any(axis=1)] = np.inf
        return extra

    def _extra_of(self, courses: Sequence[Course]) -> FloatArray:
        """The same; infinite also where a tree would not be chilled that must be."""
        extra = self._extra_unchilled(courses)
        if self._lots.size and courses:
            extra[~self._chilled(courses)] = np.inf
        return extra

    def _chilled(self, courses: Sequence[Course]) -> NDArray[np.bool_]:
        """Which of these winters earn every tree what it owes; True for groups that may mix."""
        chill = np.append(self._chill, 0.0)
        earned = np.array([chill[course.stays].sum() for course in courses])
        group = np.array([course.group for course in courses], dtype=np.int64)
        return ~np.isin(group, self._lots) | (earned >= self._owed[group] - ENOUGH)

    def demand_chilling(self) -> None:
        """From now on no tree makes up for the chilling that another one of its group lacks.

        The rows know the mean only. A bound found from now on holds for single trees as well.
        """
        self._lots = np.flatnonzero((self.flow.count > 1) & (self._owed > 0.0))
        self._lot_steps = self.flow.steps(self._levels, self._lots)
        self._reckon_again()

    def _chilled_ways(self, by_row: FloatArray) -> list[tuple[int, IntArray]]:
        """Winters of lots with chilling just as dear as they need it to earn what they owe.

        The price of chilling is halved in, from none to the mean cost of a tree for all it owes.
        """
        low = np.zeros(self._lots.size)
        high = self.objective / self.flow.count.sum() / self._owed[self._lots]
        found: list[tuple[int, IntArray]] = []
        for _ in range(HALVINGS if self._lots.size else 0):
            dearer = by_row.copy()
            middle = (low + high) / 2.0
            dearer[self._chill_row[self._lots]] += middle
            prices = self._flow_prices(self._column_prices(dearer))
            paths = Sweep(self.flow, self._lot_steps, prices).cheapest()
            some = np.isfinite(paths.cost[self._lots])
            ways = self._ways(paths, self._lots[some])
            enough = np.ones(some.size, dtype=np.bool_)
            enough[some] = self._chilled([self._course(g, columns) for g, columns in ways])
            found += ways
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        return found

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
            apart = answer.objective - self._best
            if apart > near and (not new or apart < CLOSE * abs(answer.objective)):
                told = self._tell_apart(near, apart)
                if told and not new:
                    continue
            if new and apart > near:
                answer = self._solved()
                continue
            broken = self._broken(self._values(answer))
            if broken.size == 0 or answer.objective - settled_at <= near:
                break
            settled_at = answer.objective
            self._add_rows(broken)
            answer = self._solved()
        self.hand_back(self._values(answer))
        self.objective = answer.objective + self.arrays.constant
        self._prices = self._row_prices(answer)
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
        sweep = Sweep(self.flow, self._steps, self._flow_prices(prices))
        paths = sweep.cheapest()
        bound = self._bound(by_row, prices, paths)
        if bound > self._best:
            self._best, self._best_prices = bound, by_row
        return self._generate(sweep, paths, by_row, true, duals)

    def _flow_prices(self, prices: FloatArray) -> Prices:
        """Prices of columns with what is not open any more priced out."""
        closed = self.flow.in_column[:, ~self._open(self._day_at), :]
        if closed.size:
            prices = prices.copy()
            prices[closed[closed >= 0]] = np.inf
        return Prices(prices, self._open(self._setting_at))

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
        self,
        sweep: Sweep,
        paths: Paths,
        by_row: FloatArray,
        true: FloatArray,
        duals: FloatArray,
    ) -> int:
        """Add the cheapest winter of every group, and its cheapest ways round it, if they pay."""
        groups, every = self.flow.groups, np.arange(self.flow.groups)
        found = self._ways(paths, every[np.isfinite(paths.cost)])
        through = sweep.through()
        through[self._on(paths)] = np.inf  # cells on the cheapest winter say nothing new
        for _ in range(2):
            flat = through.reshape(groups, -1).argmin(axis=1)
            least = through.reshape(groups, -1)[every, flat]
            spell, place = np.divmod(flat, self.flow.places)
            who = np.flatnonzero(least - duals < -REDUCED)
            if who.size == 0:
                break
            found += self._ways(sweep.ways_through(who, spell[who], place[who]), who)
            through[every, spell] = np.inf
        found += self._sure_ways(paths, sweep.prices)
        found += self._chilled_ways(by_row)
        return self.add(self._paying(found, true, duals))

    def _sure_ways(self, paths: Paths, prices: Prices) -> list[tuple[int, IntArray]]:
        """True winters of groups whose cheapest way is none, because states are not told apart."""
        groups = np.flatnonzero(np.isfinite(paths.cost))
        courses = [self._course(g, columns) for g, columns in self._ways(paths, groups)]
        cost = np.array([prices.column[course.columns].sum() for course in courses])
        missed = cost + self._extra_unchilled(courses) - paths.cost[groups]
        self._missed[:] = 0.0
        self._missed[groups] = missed * self.flow.count[groups]
        doubtful = groups[~np.isfinite(missed)]
        if doubtful.size == 0:
            return []
        if not np.isin(doubtful, self._doubtful).all():
            self._doubtful = np.union1d(doubtful, self._doubtful)
            self._sure_steps = self.flow.steps(self._levels, self._doubtful, softest=True)
        sure = Sweep(self.flow, self._sure_steps, prices).cheapest()
        return self._ways(sure, doubtful[np.isfinite(sure.cost[doubtful])])

    def _tell_apart(self, near: float, apart: float) -> bool:
        """Tell states apart more finely where that misleads; False if it does not (any more)."""
        coarse = self._levels < MOST_LEVELS
        if self._missed[coarse].sum() < MISLEADING * apart:
            return False
        misled = coarse & (self._missed > near / self.flow.groups)
        if not misled.any():
            return False
        self._levels[misled] = np.minimum(FINER * self._levels[misled], MOST_LEVELS)
        self._steps = self.flow.steps(self._levels)
        if self._doubtful.size:
            self._sure_steps = self.flow.steps(self._levels, self._doubtful, softest=True)
        return True

    def _ways(self, paths: Paths, groups: IntArray) -> list[tuple[int, IntArray]]:
        return [(int(g), paths.columns(self.flow, int(g))) for g in groups]

    def _paying(
        self, found: list[tuple[int, IntArray]], true: FloatArray, duals: FloatArray
    ) -> list[tuple[int, IntArray]]:
        """Winters that cost less than their group's price."""
        if not found:
            return found
        group = np.array([g for g, _ in found], dtype=np.int64)
        extra = self._extra_of([self._course(g, columns) for g, columns in found])
        cost = np.array([true[columns].sum() for _, columns in found]) + extra
        pays = cost - duals[group] < -REDUCED
        return [one for one, good in zip(found, pays.tolist(), strict=True) if good]

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
        groups = np.arange(self.flow.groups)
        prices = self._flow_prices(self._column_prices(self._prices))
        sweep = Sweep(self.flow, self._steps, prices)
        most = sweep.cheapest().cost + money
        through = sweep.through().reshape(groups.size, -1)
        found: list[tuple[int, IntArray]] = []
        while True:
            cell = through.argmin(axis=1)
            who = np.flatnonzero(through[groups, cell] <= most)
            if who.size == 0:
                break
            spell, place = np.divmod(cell[who], self.flow.places)
            found += self._ways(sweep.ways_through(who, spell, place), who)
            through[groups, cell] = np.inf
        self.add(found)

    def near_winters(self, money: float) -> IntArray:
        """Numbers of the winters found that cost little more than their group's cheapest."""
        prices = self._column_prices(self._prices)
        cost = np.array([prices[columns].sum() for columns in self.paths]) + self._extra
        owner = np.array(self.owner, dtype=np.int64)
        least = np.full(self.flow.groups, np.inf)
        np.minimum.at(least, owner, cost)
        return np.flatnonzero(np.isfinite(cost) & (cost <= least[owner] + money))

    def _on(self, paths: Paths) -> NDArray[np.bool_]:
        """Which cells ``(group, spell, place)`` the winters pass."""
        shape = (self.flow.groups, self.flow.spells, self.flow.places)
        on_path = np.zeros(shape, dtype=np.bool_)
        on_path.reshape(-1)[self.flow.stay_cell[paths.stay[paths.stay >= 0]]] = True
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
        self._reckon_again()

    def _reckon_again(self) -> None:
        """Costs of all winters with what is open now; those that are not are shut out."""
        if not self.paths:
            return
        extra = self._extra_of(self.courses)
        changed = np.flatnonzero(extra != self._extra)
        self._extra = extra
        may = np.isfinite(extra[changed])
        costs = np.array(self._own_money)[changed] + np.where(may, extra[changed], 0.0)
        at = self._first_path + changed
        self._lp.set_costs(at, costs)
        self._lp.set_bounds(at, np.zeros(at.size), np.where(may, np.inf, 0.0))

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


def winters_of(data: ProgramData) -> Winters:
    """The relaxation of the program of ``data``, in which trees may be left out."""
    known = data.suitability.hardening is not None
    kept = (*OF_PATHS, *OF_HISTORIES) if known else OF_PATHS
    return Winters(build(data, may_leave_out=True, without=kept))


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
