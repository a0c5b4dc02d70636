"""Looks for winters that pay at given prices (the pricing problem of column generation)."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from overwinter.domain.shelter import FloatArray
from overwinter.planning.courses import Courses
from overwinter.program.flow import Flow, Step
from overwinter.program.sweep import Paths, Prices, Sweep

IntArray = NDArray[np.int64]
Ways = list[tuple[int, IntArray]]
"""(group, columns) of winters."""

REDUCED = 1e-7
MISLEADING = 0.2
"""Of what bound and value are apart, if it is because states are not told apart."""
LEVELS = 40
FINER = 4
MOST_LEVELS = 640
"""Levels of hardening; so many times as many where they mislead, until there are so many."""
ROUND_IT = 2
"""Ways round the cheapest winter that are looked for each time, for every group."""
HALVINGS = 5


class Pricing:
    """The states of all groups, and the cheapest ways through them."""

    def __init__(self, flow: Flow, courses: Courses) -> None:
        self._flow, self._courses = flow, courses
        self._levels: IntArray = np.full(flow.groups, LEVELS, dtype=np.int64)
        """Levels of hardening that each group's states are told apart by."""
        self._steps = flow.steps(self._levels)
        self._missed: FloatArray = np.zeros(flow.groups)
        """By how much each group's cheapest way was found too cheap last, money for all of it."""
        self._doubtful: IntArray = np.zeros(0, dtype=np.int64)
        """Groups whose cheapest way has been none that a tree comes through."""
        self._sure_steps: tuple[Step, ...] = ()
        self._lot_steps: tuple[Step, ...] = ()

    def sweep(self, columns: FloatArray) -> Sweep:
        """The cheapest ways at prices by column of the program."""
        return Sweep(self._flow, self._steps, self._courses.prices(columns))

    def ways(self, sweep: Sweep, paths: Paths, duals: FloatArray) -> Ways:
        """The cheapest winter of every group, and its cheapest ways round it.

        ``duals`` ``(group,)`` are the prices of a tree's winter.
        """
        groups, every = self._flow.groups, np.arange(self._flow.groups)
        found = _listed(self._flow, paths, every[np.isfinite(paths.cost)])
        through = sweep.through()
        through[self._on(paths)] = np.inf  # cells on the cheapest winter say nothing new
        for _ in range(ROUND_IT):
            flat = through.reshape(groups, -1).argmin(axis=1)
            least = through.reshape(groups, -1)[every, flat]
            spell, place = np.divmod(flat, self._flow.places)
            who = np.flatnonzero(least - duals < -REDUCED)
            if who.size == 0:
                break
            found += _listed(self._flow, sweep.ways_through(who, spell[who], place[who]), who)
            through[every, spell] = np.inf
        return found + self._sure_ways(paths, sweep.prices)

    def _on(self, paths: Paths) -> NDArray[np.bool_]:
        """Which cells ``(group, spell, place)`` the winters pass."""
        shape = (self._flow.groups, self._flow.spells, self._flow.places)
        on_path = np.zeros(shape, dtype=np.bool_)
        on_path.reshape(-1)[self._flow.stay_cell[paths.stay[paths.stay >= 0]]] = True
        return on_path

    def ways_near(self, columns: FloatArray, money: float) -> Ways:
        """The cheapest winters through every cell, ``money`` above the group's cheapest at most."""
        groups = np.arange(self._flow.groups)
        sweep = self.sweep(columns)
        most = sweep.cheapest().cost + money
        through = sweep.through().reshape(groups.size, -1)
        found: Ways = []
        while True:
            cell = through.argmin(axis=1)
            who = np.flatnonzero(through[groups, cell] <= most)
            if who.size == 0:
                return found
            spell, place = np.divmod(cell[who], self._flow.places)
            found += _listed(self._flow, sweep.ways_through(who, spell, place), who)
            through[groups, cell] = np.inf

    # --- states that must be told apart ------------------------------------------------------

    def _sure_ways(self, paths: Paths, prices: Prices) -> Ways:
        """True winters of groups whose cheapest way is none, because states were not told apart."""
        groups = np.flatnonzero(np.isfinite(paths.cost))
        listed = _listed(self._flow, paths, groups)
        courses = [self._courses.course(g, columns) for g, columns in listed]
        cost = np.array([prices.column[course.columns].sum() for course in courses])
        missed = cost + self._courses.extra(courses, mixed=True) - paths.cost[groups]
        self._missed[:] = 0.0
        self._missed[groups] = missed * self._flow.count[groups]
        doubtful = groups[~np.isfinite(missed)]
        if doubtful.size == 0:
            return []
        if not np.isin(doubtful, self._doubtful).all():
            self._doubtful = np.union1d(doubtful, self._doubtful)
            self._sure_steps = self._flow.steps(self._levels, self._doubtful, softest=True)
        sure = Sweep(self._flow, self._sure_steps, prices).cheapest()
        return _listed(self._flow, sure, doubtful[np.isfinite(sure.cost[doubtful])])

    def tell_apart(self, near: float, apart: float) -> bool:
        """Tell states apart more finely where that misleads; False if it does not (any more).

        ``near`` is what bound and value may be apart, ``apart`` what they are, money.
        """
        coarse = self._levels < MOST_LEVELS
        if self._missed[coarse].sum() < MISLEADING * apart:
            return False
        misled = coarse & (self._missed > near / self._flow.groups)
        if not misled.any():
            return False
        self._levels[misled] = np.minimum(FINER * self._levels[misled], MOST_LEVELS)
        self._steps = self._flow.steps(self._levels)
        if self._doubtful.size:
            self._sure_steps = self._flow.steps(self._levels, self._doubtful, softest=True)
        return True

    # --- chilling ----------------------------------------------------------------------------

    def demand_chilling(self) -> None:
        """Look for winters of lots that chill every tree, too."""
        self._lot_steps = self._flow.steps(self._levels, self._courses.lots)

    def chilled_ways(
        self, by_row: FloatArray, of_columns: Callable[[FloatArray], FloatArray], most: float
    ) -> Ways:
        """Winters of lots with chilling just as dear as they need it to earn what they owe.

        The price of chilling is halved in, from none to ``most`` for all that a tree owes;
        ``of_columns`` turns prices of rows into those of columns.
        """
        lots = self._courses.lots
        low, high = np.zeros(lots.size), most / self._courses.owed[lots]
        found: Ways = []
        for _ in range(HALVINGS if lots.size else 0):
            dearer, middle = by_row.copy(), (low + high) / 2.0
            dearer[self._courses.chill_row[lots]] += middle
            prices = self._courses.prices(of_columns(dearer))
            paths = Sweep(self._flow, self._lot_steps, prices).cheapest()
            some = np.isfinite(paths.cost[lots])
            listed = _listed(self._flow, paths, lots[some])
            enough = np.ones(some.size, dtype=np.bool_)
            enough[some] = self._courses.chilled([self._courses.course(g, c) for g, c in listed])
            found += listed
            low, high = np.where(enough, low, middle), np.where(enough, middle, high)
        return found


def _listed(flow: Flow, paths: Paths, groups: IntArray) -> Ways:
    return [(int(g), paths.columns(flow, int(g))) for g in groups]
