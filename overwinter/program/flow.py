"""A tree's whole winter as one path, and the cheapest path for every group at once.

Each tree moves through spells: at every spell it is at one place (a stay), and where the place
differs from the one before it has been carried. Given a price for every stay and every carry, the
cheapest winter of each group is a shortest path; with few places it is found for all groups
together, one spell after another.

On the way a tree hardens and loses hardening, and what it has decides where it may go next and what
it risks there. So a path runs through states: a place and a level of hardening (a shortest path
with a resource). A level stands for all states within it. Takes it the hardiest of them, what is
found never costs more than any true winter; the softest, and every winter found is a true one.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.domain.shelter import FloatArray
from overwinter.program.model import Model
from overwinter.program.responses import Responses

IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Nodes:
    """States at the end of a spell, sorted by group, place and level; arrays ``(node,)``."""

    group: IntArray
    place: IntArray
    """-1: nowhere yet."""
    level: IntArray
    hardening: FloatArray
    """What the level stands for."""


@dataclass(frozen=True)
class Step:
    """One spell of all groups: from the nodes before it over entries and stays to those after it.

    An entry is a state on the first day, after the carries; an arc is a stay from an entry on.
    """

    passed: IntArray
    """Nodes before, of groups that have not joined: they are the first nodes after, too."""
    pooled: IntArray
    """Nodes before, of the other groups, sorted by pool: those of a group with one level."""
    pool_start: IntArray
    of_pool: IntArray
    """``(node before,)``: its pool, -1 for none."""
    own: IntArray
    """``(entry,)``: the node before of a tree that stays where it is, -1 for none."""
    own_entry: IntArray
    """``(node before,)``: the entry of a tree that stays there, -1 for none."""
    pool: IntArray
    """``(entry,)``: where it comes from otherwise, -1 for none."""
    carried: IntArray
    """Entries of trees carried in, sorted by pool."""
    carried_start: IntArray
    """Where each pool begins in ``carried``, and the end."""
    carry: IntArray
    """``(entry,)``: column of that carry's variable."""
    entry: IntArray
    """``(arc,)``; arcs are sorted by the node after."""
    stay: IntArray
    """``(arc,)``: index into ``Flow.stay_column``."""
    option: IntArray
    extra: FloatArray
    """``(arc,)``: what the stay costs beyond what its variable costs, money."""
    node_start: IntArray
    """First arc of each node after that was not passed."""
    by_entry: IntArray
    """Arcs sorted by entry."""
    entry_start: IntArray
    """Where each entry begins in them, and the end."""
    node: IntArray
    """``(arc,)``: the node after."""
    cell: IntArray
    """Flat ``(group, place)`` of runs of arcs, sorted, and ``cell_start`` the first arc of each."""
    cell_start: IntArray
    after: Nodes


@dataclass(frozen=True)
class Flow:
    """The stays and carries of the program as arrays over group, spell and place.

    ``stay_*`` have shape ``(stay,)``, sorted by group, spell and place.
    """

    groups: int
    spells: int
    places: int
    stay_column: IntArray
    """Column of the stay's variable in the program."""
    stay_cell: IntArray
    """Flat ``(group, spell, place)``."""
    in_column: IntArray
    """``(group, spell, place)``: column of the carry's variable, -1 where there is none."""
    count: IntArray
    """``(group,)``: trees."""
    left_out: IntArray
    """``(group,)``: column of the trees left without a place."""
    start_place: IntArray
    """``(group,)``: place on the first day, -1 for none (it joins, or stands elsewhere)."""
    responses: Responses

    def steps(
        self, levels: IntArray, groups: IntArray | None = None, softest: bool = False
    ) -> tuple[Step, ...]:
        """The states of all spells, of these groups only, with so many levels of hardening each.

        A level takes the hardiest state within it, or the ``softest``.
        """
        carries = self.in_column
        if groups is not None:
            carries = np.full_like(self.in_column, -1)
            carries[groups] = self.in_column[groups]
        rule = _Levels(self.responses, levels, softest)
        return tuple(_steps(rule, carries, self.start_place))


@dataclass(frozen=True)
class Paths:
    """A winter for each group: ``cost`` ``(group,)``, ``stay`` and ``carried`` ``(group, spell)``.

    ``stay`` indexes ``Flow.stay_column`` (-1 before it joins); ``carried`` is the column of the
    carry's variable on that spell's first day, -1 for none.
    """

    cost: FloatArray
    stay: IntArray
    carried: IntArray

    def columns(self, flow: Flow, group: int) -> IntArray:
        """Columns of the program that are 1 for this winter."""
        stays = self.stay[group]
        carried = self.carried[group]
        return np.concatenate([flow.stay_column[stays[stays >= 0]], carried[carried >= 0]])


def flow_of(model: Model, column_of: Mapping[int, int]) -> Flow:
    """The flow of a model; ``column_of`` maps ``id(variable)`` to its column."""
    data = model.data
    places = {place_id: index for index, place_id in enumerate(data.season.places)}
    shape = (len(data.groups), len(data.spells), len(places))
    stays = [stay for found in model.stays.values() for stay in found]
    cells = np.array(
        [np.ravel_multi_index((s.group, s.spell, places[s.place_id]), shape) for s in stays],
        dtype=np.int64,
    )
    order = np.argsort(cells, kind="stable")
    columns = np.array([column_of[id(s.variable)] for s in stays], dtype=np.int64)
    in_column = np.full(shape, -1, dtype=np.int64)
    for (group, place_id, spell), variable in model.carried_in.items():
        in_column[group, spell, places[place_id]] = column_of[id(variable)]
    start: IntArray = np.array(
        [-1 if g.start.place is None else places[g.start.place] for g in data.groups],
        dtype=np.int64,
    )
    responses = Responses(model, [stays[i] for i in order.tolist()])
    return Flow(
        *shape,
        stay_column=columns[order],
        stay_cell=cells[order],
        in_column=in_column,
        count=np.array([g.count for g in data.groups], dtype=np.int64),
        left_out=np.array([column_of[id(model.left_out[g.index])] for g in data.groups]),
        start_place=start,
        responses=responses,
    )


# --- states -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Levels:
    """How hardening is told apart."""

    responses: Responses
    levels: IntArray
    softest: bool

    def join(self, values: FloatArray, starts: IntArray) -> FloatArray:
        """One state for each run."""
        return _least(values, starts) if self.softest else _greatest(values, starts)

    def join_two(
        self, values: FloatArray, at: IntArray, others: FloatArray, at_other: IntArray
    ) -> FloatArray:
        """One state for two, of which one may be missing (-1)."""
        none, both = (np.inf, np.minimum) if self.softest else (-np.inf, np.maximum)
        joined: FloatArray = both(np.append(values, none)[at], np.append(others, none)[at_other])
        return joined


def _steps(rule: _Levels, carries: IntArray, start: IntArray) -> Iterator[Step]:
    groups, hardening = np.arange(len(start)), rule.responses.start
    level = rule.responses.level(groups, 0, hardening, rule.levels)
    before = Nodes(groups, start, level, hardening)
    for spell in range(carries.shape[1]):
        step = _step(rule, carries[:, spell], before, spell)
        before = step.after
        yield step


def _step(rule: _Levels, carries: IntArray, before: Nodes, spell: int) -> Step:
    """``carries`` ``(group, place)``: columns of the carries on the spell's first day."""
    responses, places = rule.responses, carries.shape[1]
    levels = int(rule.levels.max(initial=1))

    def key(group: IntArray, place: IntArray, level: IntArray) -> IntArray:
        packed: IntArray = (group * places + place) * levels + level
        return packed

    here = responses.present[before.group, spell]
    passed, waiting = np.flatnonzero(~here), np.flatnonzero(here)
    pool_keys, of_pool = np.unique(
        before.group[waiting] * levels + before.level[waiting], return_inverse=True
    )
    by_pool = np.argsort(of_pool, kind="stable")
    pooled = waiting[by_pool]
    pool_start = np.searchsorted(of_pool[by_pool], np.arange(pool_keys.size))
    pool_group, pool_level = pool_keys // levels, pool_keys % levels

    # entries: who stays, and who is carried to any place that its kind may be at
    staying = waiting[before.place[waiting] >= 0]
    staying = staying[carries[before.group[staying], before.place[staying]] >= 0]
    stayed = key(before.group[staying], before.place[staying], before.level[staying])
    which, where = np.nonzero(carries[pool_group] >= 0)
    came = key(pool_group[which], where, pool_level[which])
    keys = np.unique(np.concatenate([stayed, came]))
    own, pool = np.full(keys.size, -1, dtype=np.int64), np.full(keys.size, -1, dtype=np.int64)
    own[np.searchsorted(keys, stayed)] = staying
    pool[np.searchsorted(keys, came)] = which
    group, place = keys // levels // places, keys // levels % places
    of_pools = rule.join(before.hardening[pooled], pool_start)
    hardening = rule.join_two(before.hardening, own, of_pools, pool)
    arcs = responses.arcs(group, place, hardening, spell, rule.levels)
    after_key = key(group[arcs.entry], place[arcs.entry], arcs.level)
    order = np.argsort(after_key, kind="stable")
    nodes, node_start = np.unique(after_key[order], return_index=True)
    cells, cell_start = np.unique(after_key[order] // levels, return_index=True)
    entry = arcs.entry[order]
    by_entry = np.argsort(entry, kind="stable")
    pool_of = np.full(before.group.size, -1, dtype=np.int64)
    pool_of[waiting] = of_pool
    own_entry = np.full(before.group.size, -1, dtype=np.int64)
    own_entry[own[own >= 0]] = np.flatnonzero(own >= 0)
    carried = np.flatnonzero(pool >= 0)
    carried = carried[np.argsort(pool[carried], kind="stable")]
    after = Nodes(
        group=np.concatenate([before.group[passed], nodes // levels // places]),
        place=np.concatenate([before.place[passed], nodes // levels % places]),
        level=np.concatenate([before.level[passed], nodes % levels]),
        hardening=np.concatenate(
            [before.hardening[passed], rule.join(arcs.hardening[order], node_start)]
        ),
    )
    return Step(
        passed=passed,
        pooled=pooled,
        pool_start=pool_start,
        of_pool=pool_of,
        own=own,
        own_entry=own_entry,
        pool=pool,
        carried=carried,
        carried_start=np.searchsorted(pool[carried], np.arange(pool_keys.size + 1)),
        carry=carries[group, place],
        entry=entry,
        stay=arcs.stay[order],
        option=arcs.option[order],
        extra=arcs.extra[order],
        node_start=node_start,
        by_entry=by_entry,
        entry_start=np.searchsorted(entry[by_entry], np.arange(keys.size + 1)),
        node=passed.size
        + np.repeat(np.arange(nodes.size), np.diff(np.append(node_start, entry.size))),
        cell=cells,
        cell_start=cell_start,
        after=after,
    )


def _greatest(values: FloatArray, starts: IntArray) -> FloatArray:
    return np.maximum.reduceat(values, starts) if starts.size else np.zeros(0)


def _least(values: FloatArray, starts: IntArray) -> FloatArray:
    return np.minimum.reduceat(values, starts) if starts.size else np.zeros(0)


# --- cheapest winters -------------------------------------------------------------------------


@dataclass(frozen=True)
class Prices:
    """By column of the program, and which settings are in question, ``(option, spell)``."""

    column: FloatArray
    possible: BoolArray


@dataclass(frozen=True)
class _Reached:
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
class _Ahead:
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
        self._flow, self._steps, self.prices = flow, steps, prices
        self._price = [self._arc_prices(spell) for spell in range(flow.spells)]
        self._reached: list[_Reached] = []
        cost = np.zeros(flow.groups)
        for step, price in zip(steps, self._price, strict=True):
            pooled = cost[step.pooled]
            pool = np.append(_least(pooled, step.pool_start), np.inf)
            came = pool[step.pool] + prices.column[step.carry]
            stayed = np.append(cost, np.inf)[step.own]
            arc = np.minimum(came, stayed)[step.entry] + price
            self._reached.append(_Reached(pooled, came, stayed, arc))
            cost = np.concatenate([cost[step.passed], _least(arc, step.node_start)])
        self._end = cost
        self._ahead: list[_Ahead] = []

    def _arc_prices(self, spell: int) -> FloatArray:
        step = self._steps[spell]
        price: FloatArray = self.prices.column[self._flow.stay_column[step.stay]] + step.extra
        price[~self.prices.possible[step.option, spell]] = np.inf
        return price

    def cheapest(self) -> Paths:
        """The cheapest winter of every group."""
        flow = self._flow
        paths = _no_paths(flow)
        of_group = self._steps[-1].after.group
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
        """Write down how groups came to nodes after the last spell, or before spells ``ends``."""
        for spell in range(self._flow.spells - 1, -1, -1):
            step = self._steps[spell]
            here = np.arange(who.size) if ends is None else np.flatnonzero(ends > spell)
            joined = here[node[here] >= step.passed.size]
            waits = here[node[here] < step.passed.size]
            runs = node[joined] - step.passed.size
            arc = _first_least(self._reached[spell].arc, step.node_start, runs)
            node[waits] = step.passed[node[waits]]
            node[joined] = self._entered(paths, who[joined], arc, spell)

    def _entered(self, paths: Paths, who: IntArray, arc: IntArray, spell: int) -> IntArray:
        """Write down arcs of a spell and the carries before them; the nodes they come from."""
        step, reached = self._steps[spell], self._reached[spell]
        entry = step.entry[arc]
        paths.stay[who, spell] = step.stay[arc]
        moved = reached.came[entry] < reached.stayed[entry]
        paths.carried[who[moved], spell] = step.carry[entry[moved]]
        before = step.own[entry]
        pools = step.pool[entry[moved]]
        before[moved] = step.pooled[_first_least(reached.pooled, step.pool_start, pools)]
        return before

    # --- onwards ------------------------------------------------------------------------------

    def _look_ahead(self) -> None:
        """What remains to be paid from every state to the end."""
        if self._ahead:
            return
        onward = np.zeros(self._end.size)
        for step, price in zip(reversed(self._steps), reversed(self._price), strict=True):
            arc = (price + onward[step.node])[step.by_entry]
            entry = np.append(_least_of_runs(arc, step.entry_start), np.inf)
            came = entry[step.carried] + self.prices.column[step.carry[step.carried]]
            pool = np.append(_least_of_runs(came, step.carried_start), np.inf)
            before = np.minimum(entry[step.own_entry], pool[step.of_pool])
            before[step.passed] = onward[: step.passed.size]
            self._ahead.append(_Ahead(arc, entry, came, onward))
            onward = before
        self._ahead.reverse()

    def through(self) -> FloatArray:
        """Cost of the cheapest winter through every cell, ``(group, spell, place)``."""
        self._look_ahead()
        flow = self._flow
        through = np.full((flow.spells, flow.groups * flow.places), np.inf)
        for spell, step in enumerate(self._steps):
            whole = self._reached[spell].arc + self._ahead[spell].onward[step.node]
            through[spell, step.cell] = _least(whole, step.cell_start)
        return np.moveaxis(through.reshape(flow.spells, flow.groups, flow.places), 0, 1)

    def ways_through(self, who: IntArray, spell: IntArray, place: IntArray) -> Paths:
        """The cheapest winters through one cell each; of these groups only.

        The cells must be on some winter.
        """
        self._look_ahead()
        paths = _no_paths(self._flow)
        before, after = np.empty_like(who), np.empty_like(who)
        for k in np.unique(spell).tolist():
            now = spell == k
            step, some = self._steps[k], who[now]
            whole = self._reached[k].arc + self._ahead[k].onward[step.node]
            cell = np.searchsorted(step.cell, some * self._flow.places + place[now])
            arc = _first_least(whole, step.cell_start, cell)
            paths.cost[some] = whole[arc]
            before[now] = self._entered(paths, some, arc, k)
            after[now] = step.node[arc]
        self._follow_back(paths, who, before, spell)
        self._follow_on(paths, who, after, spell)
        return paths

    def _follow_on(self, paths: Paths, who: IntArray, node: IntArray, begin: IntArray) -> None:
        """Write down the cheapest ways on from nodes after spells ``begin``."""
        for spell in range(1, self._flow.spells):
            step, ahead = self._steps[spell], self._ahead[spell]
            here = np.flatnonzero(begin < spell)
            entry, at = step.own_entry[node[here]], step.of_pool[node[here]]
            came = _first_least(ahead.came, step.carried_start[:-1], at)
            moved = ahead.came[came] < ahead.entry[entry]
            entry = np.where(moved, step.carried[came], entry)
            paths.carried[who[here[moved]], spell] = step.carry[entry[moved]]
            arc = step.by_entry[_first_least(ahead.arc, step.entry_start[:-1], entry)]
            paths.stay[who[here], spell] = step.stay[arc]
            node[here] = step.node[arc]


def _no_paths(flow: Flow) -> Paths:
    shape = (flow.groups, flow.spells)
    nothing = np.full(shape, -1, dtype=np.int64)
    return Paths(np.full(flow.groups, np.inf), nothing, nothing.copy())


def _first_least(values: FloatArray, starts: IntArray, runs: IntArray) -> IntArray:
    """Where in ``values`` the first least value of each of these runs is."""
    if runs.size == 0:
        return runs
    sizes = np.append(starts[1:], values.size)[runs] - starts[runs]
    begin = np.cumsum(sizes) - sizes
    at = np.repeat(starts[runs] - begin, sizes) + np.arange(sizes.sum())
    inside = values[at]
    least = np.flatnonzero(inside == np.repeat(_least(inside, begin), sizes))
    first: IntArray = at[least[np.searchsorted(least, begin)]]
    return first


def _least_of_runs(values: FloatArray, bounds: IntArray) -> FloatArray:
    """Least value of each run, the last bound being the end; infinite for empty ones."""
    least = np.full(bounds.size - 1, np.inf)
    some = np.flatnonzero(np.diff(bounds))
    least[some] = _least(values, bounds[:-1][some])
    return least
