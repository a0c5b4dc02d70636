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

from overwinter.model.shelter import FloatArray
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
    column: IntArray
    """``(arc,)``: column of that stay's variable."""
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
        return tuple(_steps(rule, carries, self.start_place, self.stay_column))


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
        return least_each(values, starts) if self.softest else _greatest(values, starts)

    def join_two(
        self, values: FloatArray, at: IntArray, others: FloatArray, at_other: IntArray
    ) -> FloatArray:
        """One state for two, of which one may be missing (-1)."""
        none, both = (np.inf, np.minimum) if self.softest else (-np.inf, np.maximum)
        joined: FloatArray = both(np.append(values, none)[at], np.append(others, none)[at_other])
        return joined


def _steps(
    rule: _Levels, carries: IntArray, start: IntArray, stay_column: IntArray
) -> Iterator[Step]:
    groups, hardening = np.arange(len(start)), rule.responses.start
    level = rule.responses.level(groups, 0, hardening, rule.levels)
    before = Nodes(groups, start, level, hardening)
    for spell in range(carries.shape[1]):
        step = _step(rule, carries[:, spell], before, spell, stay_column)
        before = step.after
        yield step


def _step(
    rule: _Levels, carries: IntArray, before: Nodes, spell: int, stay_column: IntArray
) -> Step:
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
    keys = _sorted_once(np.concatenate([stayed, came]))
    own, pool = np.full(keys.size, -1, dtype=np.int64), np.full(keys.size, -1, dtype=np.int64)
    own[np.searchsorted(keys, stayed)] = staying
    pool[np.searchsorted(keys, came)] = which
    group, place = keys // levels // places, keys // levels % places
    of_pools = rule.join(before.hardening[pooled], pool_start)
    hardening = rule.join_two(before.hardening, own, of_pools, pool)
    arcs = responses.arcs(group, place, hardening, spell, rule.levels)
    after_key = key(group[arcs.entry], place[arcs.entry], arcs.level)
    order = np.argsort(after_key, kind="stable")
    nodes, node_start = _runs(after_key[order])
    cells, cell_start = _runs(after_key[order] // levels)
    entry, stay = arcs.entry[order], arcs.stay[order]
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
        stay=stay,
        column=stay_column[stay],
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


def _sorted_once(values: IntArray) -> IntArray:
    """Each value once, sorted; for a million of them far faster than by hashing."""
    return _runs(np.sort(values))[0]


def _runs(values: IntArray) -> tuple[IntArray, IntArray]:
    """The values of sorted ones, each once, and where each begins."""
    begins = np.flatnonzero(np.append(True, values[1:] != values[:-1])[: values.size])
    return values[begins], begins


def _greatest(values: FloatArray, starts: IntArray) -> FloatArray:
    return np.maximum.reduceat(values, starts) if starts.size else np.zeros(0)


def least_each(values: FloatArray, starts: IntArray) -> FloatArray:
    """Least value of each run of values; ``starts`` ``(run,)``, none empty."""
    return np.minimum.reduceat(values, starts) if starts.size else np.zeros(0)
