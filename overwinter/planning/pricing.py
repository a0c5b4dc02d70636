"""Looks for winters that pay at given prices (the pricing problem of column generation)."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.planning.courses import ENOUGH, Courses
from overwinter.program.chilled_ways import Chilling, cheapest_chilled
from overwinter.program.flow import Flow, Step
from overwinter.program.objective import LEFT_OUT_EACH
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
PRICES_TRIED = 6
"""Prices of chilling that are tried at most to find the right one."""
DEAREST = 1e3
"""Of what leaving a tree out costs, the price for all that it owes at which nothing else counts."""
MOST_BEGINNINGS = 100_000
"""Beginnings of winters that are looked through at most for the cheapest ones that chill enough."""


@dataclass(frozen=True)
class _Line:
    """Winters of some groups by what they cost and earn, at the prices of a moment."""

    cost: FloatArray
    earned: FloatArray

    def replaced(self, some: NDArray[np.bool_], other: "_Line") -> "_Line":
        """With some of them from ``other``."""
        return _Line(
            np.where(some, other.cost, self.cost), np.where(some, other.earned, self.earned)
        )


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
        self._lacking: IntArray = np.zeros(0, dtype=np.int64)
        """Groups whose cheapest way has earned too little chilling."""
        self._lacking_steps: tuple[Step, ...] = ()
        """Their states; none where they have to be told apart anew."""
        self._does_chill: dict[int, IntArray] = {}
        """By group: columns of a winter that was found to earn it enough."""

    def sweep(self, columns: FloatArray) -> Sweep:
        """The cheapest ways at prices by column of the program."""
        return Sweep(self._flow, self._steps, self._courses.prices(columns))

    def ways(self, sweep: Sweep, paths: Paths, duals: FloatArray) -> Ways:
        """The cheapest winter of every group, and its cheapest ways round it.

        ``duals`` ``(group,)`` are the prices of a tree's winter.
        """
        groups = np.arange(self._flow.groups)
        found = self.cheapest(sweep, paths)
        through = sweep.through()
        through[self._on(paths)] = np.inf  # cells on the cheapest winter say nothing new
        cells = []
        for _ in range(ROUND_IT):
            flat = through.reshape(groups.size, -1).argmin(axis=1)
            least = through.reshape(groups.size, -1)[groups, flat]
            spell, place = np.divmod(flat, self._flow.places)
            pays = least - duals < -REDUCED
            cells.append(np.stack([groups, spell, place])[:, pays])
            through[groups, spell] = np.inf
        who, spell, place = np.concatenate(cells, axis=1)
        return found + _listed(self._flow, sweep.ways_through(who, spell, place))

    def cheapest(self, sweep: Sweep, paths: Paths) -> Ways:
        """The cheapest winter of every group, and a true one where that is none."""
        found = _listed(self._flow, paths, np.flatnonzero(np.isfinite(paths.cost)))
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
        least = sweep.cheapest().cost
        most = np.where(np.isfinite(least), least + money, -np.inf)
        through = sweep.through().reshape(groups.size, -1)
        found: Ways = []
        while True:
            cell = through.argmin(axis=1)
            who = np.flatnonzero(through[groups, cell] <= most)
            if who.size == 0:
                return found
            spell, place = np.divmod(cell[who], self._flow.places)
            found += _listed(self._flow, sweep.ways_through(who, spell, place))
            through[groups, cell] = np.inf

    # --- states that must be told apart ------------------------------------------------------

    def _sure_ways(self, paths: Paths, prices: Prices) -> Ways:
        """True winters of groups whose cheapest way is none, because states were not told apart."""
        groups = np.flatnonzero(np.isfinite(paths.cost))
        listed = _listed(self._flow, paths, groups)
        cost = self._courses.costs(listed, prices.column, mixed=True)
        missed = cost - paths.cost[groups]
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
        self._lacking_steps = ()
        return True

    # --- chilling ----------------------------------------------------------------------------

    def chilled(self, columns: FloatArray, paths: Paths) -> tuple[Ways, FloatArray]:
        """Winters that earn what is owed, and what each group's winters that do cost at least.

        ``paths`` are the cheapest at prices by column of the program. A price of chilling is
        looked for at which it pays just as much to earn enough as not to (Handler and Zang 1980,
        from memory), from the winters on that did earn enough before; the winters little dearer
        than what that price shows to be the least are all looked through.
        """
        courses, flow = self._courses, self._flow
        least = paths.cost.copy()
        open_ = courses.owing[np.isfinite(least[courses.owing])]
        cost, earned = paths.cost[open_], self._earned(paths, open_)
        lacking = earned < courses.owed[open_] - ENOUGH
        open_, short = open_[lacking], _Line(cost[lacking], earned[lacking])
        if open_.size == 0:
            return [], least
        self._know_lacking(open_)
        owed = courses.owed[open_]
        found: Ways = []
        tight = np.zeros(flow.groups)
        enough = self._chilled_before(columns, open_)
        price = _price_between(short, enough, DEAREST * LEFT_OUT_EACH / owed)
        for _ in range(PRICES_TRIED):
            priced = np.zeros(flow.groups)
            priced[open_] = price
            ways = self._sweep_owing(columns, priced).cheapest()
            some = np.isfinite(ways.cost[open_])
            listed = _listed(flow, ways, open_[some])
            found += listed
            bound = ways.cost[open_] + price * owed
            better = bound > least[open_]
            least[open_[better]], tight[open_[better]] = bound[better], price[better]
            earned = self._earned(ways, open_)
            line = _Line(ways.cost[open_] + price * earned, earned)
            does = earned >= owed - ENOUGH
            self._does_chill.update(
                way for way, good in zip(listed, does[some].tolist(), strict=True) if good
            )
            enough = enough.replaced(does & (line.cost < enough.cost), line)
            short = short.replaced(~does, line)
            price = _price_between(short, enough, price)
            if (np.abs(price - priced[open_]) <= REDUCED * price).all():
                break
        known = np.full(flow.groups, np.inf)
        known[open_] = enough.cost
        exact = self._looked_through(columns, least, tight, known)
        return found + exact[0], exact[1]

    def _looked_through(
        self,
        columns: FloatArray,
        least: FloatArray,
        price: FloatArray,
        known: FloatArray,
    ) -> tuple[Ways, FloatArray]:
        """The cheapest winters that earn enough, where one is ``known``.

        ``price`` is that of chilling which shows that none costs less than ``least``; all
        ``(group,)``.
        """
        courses = self._courses
        open_ = np.flatnonzero(np.isfinite(known) & (known > least + REDUCED))
        if open_.size == 0:
            return [], least
        found = cheapest_chilled(
            self._sweep_owing(columns, price),
            open_,
            Chilling(courses.chill, courses.owed - ENOUGH, price),
            known + REDUCED,
            MOST_BEGINNINGS,
        )
        if found is None:
            return [], least
        exact = least.copy()
        exact[open_] = np.maximum(least[open_], np.minimum(found[1], known)[open_])
        return found[0], exact

    def _chilled_before(self, columns: FloatArray, groups: IntArray) -> _Line:
        """What winters that were found to earn these groups enough cost now; infinite for none."""
        line = _Line(np.full(groups.size, np.inf), np.full(groups.size, np.inf))
        ways = [(g, self._does_chill[g]) for g in groups.tolist() if g in self._does_chill]
        if ways:
            at = np.searchsorted(groups, [g for g, _ in ways])
            line.cost[at] = self._courses.costs(ways, columns)
            stays = [self._courses.course(g, way).stays for g, way in ways]
            line.earned[at] = self._courses.chill[np.array(stays)].sum(axis=1)
        return line

    def _know_lacking(self, groups: IntArray) -> None:
        """Know the states of these groups: often less than half of those that owe chilling."""
        if not np.isin(groups, self._lacking).all():
            self._lacking = np.union1d(groups, self._lacking)
            self._lacking_steps = ()
        if not self._lacking_steps:
            self._lacking_steps = self._flow.steps(self._levels, self._lacking)

    def _sweep_owing(self, columns: FloatArray, price: FloatArray) -> Sweep:
        """Cheapest ways of groups known to lack chilling, a price ``(group,)`` taken off for it."""
        courses, flow = self._courses, self._flow
        cheaper = columns.copy()
        cheaper[flow.stay_column] -= courses.chill[:-1] * price[courses.group_of_stay]
        return Sweep(flow, self._lacking_steps, courses.prices(cheaper))

    def _earned(self, paths: Paths, groups: IntArray) -> FloatArray:
        """Chilling earned by the winters of these groups."""
        earned: FloatArray = self._courses.chill[paths.stay[groups]].sum(axis=1)
        return earned


def _price_between(short: _Line, enough: _Line, price: FloatArray) -> FloatArray:
    """The price of chilling at which both cost the same; as before where one is not known."""
    both = np.isfinite(enough.cost)
    between = price.copy()
    dearer = np.maximum(enough.cost[both] - short.cost[both], 0.0)  # but for rounding
    between[both] = dearer / (enough.earned - short.earned)[both]
    return between


def _listed(flow: Flow, paths: Paths, some: IntArray | None = None) -> Ways:
    numbers = np.arange(paths.cost.size) if some is None else some
    groups = paths.group[numbers].tolist()
    return [(g, paths.columns(flow, n)) for g, n in zip(groups, numbers.tolist(), strict=True)]
