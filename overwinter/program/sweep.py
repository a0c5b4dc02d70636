"""The cheapest winters of all groups at given prices, by way of the states of ``flow``."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.program.flow import Flow, IntArray, Step, least_each

BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Paths:
    """Winters: ``group`` and ``cost`` ``(winter,)``, ``stay`` and ``carried`` ``(winter, spell)``.

    ``stay`` indexes ``Flow.stay_column`` (-1 before it joins); ``carried`` is the column of the
    carry's variable on that spell's first day, -1 for none.
    """

    group: IntArray
    cost: FloatArray
    stay: IntArray
    carried: IntArray

    def columns(self, flow: Flow, number: int) -> IntArray:
        """Columns of the program that are 1 for this winter."""
        stays = self.stay[number]
        carried = self.carried[number]
        return np.concatenate([flow.stay_column[stays[stays >= 0]], carried[carried >= 0]])


@dataclass(frozen=True)
class Prices:
    """By column of the program, and which settings are in question, ``(option, spell)``."""

    column: FloatArray
    possible: BoolArray


@dataclass(frozen=True)
class Reached:
    """What a way through one spell costs at least, from the beginning to each state."""

    pooled: FloatArray
    """To the nodes before that are pooled."""
    came: FloatArray
    """``(entry,)``, by a carry."""
    stayed: FloatArray
    """``(entry,)``, without one."""
    arc: FloatArray
    """``(arc,)``, the stay included."""


@dataclass(frozen=True)
class Ahead:
    """What a way costs at least from each state of one spell to the end."""

    arc: FloatArray
    """``(arc,)``, the stay included, sorted by entry."""
    entry: FloatArray
    """``(entry,)``; infinite for one more."""
    came: FloatArray
    """Of ``Step.carried``, the carry there included."""
    onward: FloatArray
    """``(node after,)``."""


class Sweep:
    """The cheapest ways through all spells at given prices."""

    def __init__(self, flow: Flow, steps: tuple[Step, ...], prices: Prices) -> None:
        self.flow, self.steps, self.prices = flow, steps, prices
        self.price = [self._arc_prices(spell) for spell in range(flow.spells)]
        self.reached: list[Reached] = []
        cost = np.zeros(flow.groups)
        for step, price in zip(steps, self.price, strict=True):
            pooled = cost[step.pooled]
            pool = np.append(least_each(pooled, step.pool_start), np.inf)
            came = pool[step.pool] + prices.column[step.carry]
            stayed = np.append(cost, np.inf)[step.own]
            arc = np.minimum(came, stayed)[step.entry] + price
            self.reached.append(Reached(pooled, came, stayed, arc))
            cost = np.concatenate([cost[step.passed], least_each(arc, step.node_start)])
        self._end = cost
        self.ahead: list[Ahead] = []
        self._wholes: dict[int, FloatArray] = {}

    def _arc_prices(self, spell: int) -> FloatArray:
        step = self.steps[spell]
        closed = np.where(self.prices.possible[:, spell], 0.0, np.inf)
        price: FloatArray = self.prices.column[step.column] + step.extra + closed[step.option]
        return price

    def cheapest(self) -> Paths:
        """The cheapest winter of every group, in their order."""
        flow = self.flow
        paths = _no_paths(flow, np.arange(flow.groups))
        of_group = self.steps[-1].after.group
        np.minimum.at(paths.cost, of_group, self._end)
        best = np.flatnonzero((self._end == paths.cost[of_group]) & np.isfinite(self._end))[::-1]
        last = np.full(flow.groups, -1, dtype=np.int64)
        last[of_group[best]] = best  # the first of equals, so that equal prices give equal winters
        who = np.flatnonzero(last >= 0)
        self._follow_back(paths, who, last[who])
        return paths

    def _follow_back(
        self, paths: Paths, who: IntArray, node: IntArray, ends: IntArray | None = None
    ) -> None:
        """Write down how winters ``who`` came to nodes after the last spell, or before ``ends``."""
        for spell in range(self.flow.spells - 1, -1, -1):
            step = self.steps[spell]
            here = np.arange(who.size) if ends is None else np.flatnonzero(ends > spell)
            joined = here[node[here] >= step.passed.size]
            waits = here[node[here] < step.passed.size]
            runs = node[joined] - step.passed.size
            arc = _first_least(self.reached[spell].arc, step.node_start, runs)
            node[waits] = step.passed[node[waits]]
            node[joined] = self._entered(paths, who[joined], arc, spell)

    def _entered(self, paths: Paths, who: IntArray, arc: IntArray, spell: int) -> IntArray:
        """Write down arcs of a spell and the carries before them; the nodes they come from."""
        step, reached = self.steps[spell], self.reached[spell]
        entry = step.entry[arc]
        paths.stay[who, spell] = step.stay[arc]
        moved = reached.came[entry] < reached.stayed[entry]
        paths.carried[who[moved], spell] = step.carry[entry[moved]]
        before = step.own[entry]
        pools = step.pool[entry[moved]]
        before[moved] = step.pooled[_first_least(reached.pooled, step.pool_start, pools)]
        return before

    # --- onwards ------------------------------------------------------------------------------

    def look_ahead(self) -> None:
        """What remains to be paid from every state to the end."""
        if self.ahead:
            return
        onward = np.zeros(self._end.size)
        for step, price in zip(reversed(self.steps), reversed(self.price), strict=True):
            arc = (price + onward[step.node])[step.by_entry]
            entry = np.append(least_of_runs(arc, step.entry_start), np.inf)
            came = entry[step.carried] + self.prices.column[step.carry[step.carried]]
            pool = np.append(least_of_runs(came, step.carried_start), np.inf)
            before = np.minimum(entry[step.own_entry], pool[step.of_pool])
            before[step.passed] = onward[: step.passed.size]
            self.ahead.append(Ahead(arc, entry, came, onward))
            onward = before
        self.ahead.reverse()

    def through(self) -> FloatArray:
        """Cost of the cheapest winter through every cell, ``(group, spell, place)``."""
        self.look_ahead()
        flow = self.flow
        through = np.full((flow.spells, flow.groups * flow.places), np.inf)
        for spell, step in enumerate(self.steps):
            through[spell, step.cell] = least_each(self._whole(spell), step.cell_start)
        return np.moveaxis(through.reshape(flow.spells, flow.groups, flow.places), 0, 1)

    def _whole(self, spell: int) -> FloatArray:
        """Cost of the cheapest winter through every arc of a spell, ``(arc,)``."""
        if spell not in self._wholes:
            onward = self.ahead[spell].onward[self.steps[spell].node]
            self._wholes[spell] = self.reached[spell].arc + onward
        return self._wholes[spell]

    def least_with(self, spell: int, options: BoolArray) -> FloatArray:
        """Cost of each group's cheapest winter whose stay in the spell is among ``(option,)``.

        Infinite where there is none; groups that have not joined then may have any.
        """
        self.look_ahead()
        step = self.steps[spell]
        some = np.flatnonzero(options[step.option])
        onward = self.ahead[spell].onward
        whole = self.reached[spell].arc[some] + onward[step.node[some]]
        return self._of_groups(spell, step.after.group[step.node[some]], whole)

    def least_uncarried(self, spell: int) -> FloatArray:
        """Cost of each group's cheapest winter without a carry on the spell's first day."""
        self.look_ahead()
        step, onward = self.steps[spell], self.ahead[spell].onward
        arc = self.reached[spell].stayed[step.entry] + self.price[spell]
        return self._of_groups(spell, step.after.group[step.node], arc + onward[step.node])

    def _of_groups(self, spell: int, group: IntArray, cost: FloatArray) -> FloatArray:
        step = self.steps[spell]
        least = np.full(self.flow.groups, np.inf)
        np.minimum.at(least, group, cost)
        waiting = slice(step.passed.size)
        onward = self.ahead[spell].onward[waiting]
        np.minimum.at(least, step.after.group[waiting], onward)
        return least

    def ways_through(self, who: IntArray, spell: IntArray, place: IntArray) -> Paths:
        """The cheapest winters of groups ``who`` through one cell each.

        The cells must be on some winter.
        """
        self.look_ahead()
        paths, every = _no_paths(self.flow, who), np.arange(who.size)
        before, after = np.empty_like(who), np.empty_like(who)
        for k in np.unique(spell).tolist():
            now = np.flatnonzero(spell == k)
            step, whole = self.steps[k], self._whole(k)
            cell = np.searchsorted(step.cell, who[now] * self.flow.places + place[now])
            arc = _first_least(whole, step.cell_start, cell)
            paths.cost[now] = whole[arc]
            before[now] = self._entered(paths, now, arc, k)
            after[now] = step.node[arc]
        self._follow_back(paths, every, before, spell)
        self._follow_on(paths, every, after, spell)
        return paths

    def _follow_on(self, paths: Paths, who: IntArray, node: IntArray, begin: IntArray) -> None:
        """Write down the cheapest ways on from nodes after spells ``begin``."""
        for spell in range(1, self.flow.spells):
            step, ahead = self.steps[spell], self.ahead[spell]
            here = np.flatnonzero(begin < spell)
            entry, at = step.own_entry[node[here]], step.of_pool[node[here]]
            came = _first_least(ahead.came, step.carried_start[:-1], at)
            moved = ahead.came[came] < ahead.entry[entry]
            entry = np.where(moved, step.carried[came], entry)
            paths.carried[who[here[moved]], spell] = step.carry[entry[moved]]
            arc = step.by_entry[_first_least(ahead.arc, step.entry_start[:-1], entry)]
            paths.stay[who[here], spell] = step.stay[arc]
            node[here] = step.node[arc]


def _no_paths(flow: Flow, groups: IntArray) -> Paths:
    nothing = np.full((groups.size, flow.spells), -1, dtype=np.int64)
    return Paths(groups, np.full(groups.size, np.inf), nothing, nothing.copy())


def _first_least(values: FloatArray, starts: IntArray, runs: IntArray) -> IntArray:
    """Where in ``values`` the first least value of each of these runs is."""
    if runs.size == 0:
        return runs
    sizes = np.append(starts[1:], values.size)[runs] - starts[runs]
    begin = np.cumsum(sizes) - sizes
    at = np.repeat(starts[runs] - begin, sizes) + np.arange(sizes.sum())
    inside = values[at]
    least = np.flatnonzero(inside == np.repeat(least_each(inside, begin), sizes))
    first: IntArray = at[least[np.searchsorted(least, begin)]]
    return first


def least_of_runs(values: FloatArray, bounds: IntArray) -> FloatArray:
    """Least value of each run, the last bound being the end; infinite for empty ones."""
    least = np.full(bounds.size - 1, np.inf)
    some = np.flatnonzero(np.diff(bounds))
    least[some] = least_each(values, bounds[:-1][some])
    return least
