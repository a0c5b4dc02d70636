"""A tree's whole winter as one path, and the cheapest path for every group at once.

Each tree moves through spells: at every spell it is at one place (a stay), and where the place
differs from the one before it has been carried. Given a price for every stay and every carry, the
cheapest winter of each group is a shortest path; with few places it is found for all groups
together, one spell after another.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.domain.shelter import FloatArray
from overwinter.program.model import Model

IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Flow:
    """The stays and carries of the program as arrays over group, spell and place.

    ``stay_*`` have shape ``(stay,)``, sorted by group, spell and place; ``cell_start`` holds the
    first stay of each cell ``(group, spell, place)`` that has any, ``cell`` its flat index.
    """

    groups: int
    spells: int
    places: int
    stay_column: IntArray
    """Column of the stay's variable in the program."""
    cell: IntArray
    cell_start: IntArray
    in_column: IntArray
    """``(group, spell, place)``: column of the carry's variable, -1 where there is none."""
    start_place: IntArray
    """``(group,)``: place on the first day, -1 for none (it joins, or stands elsewhere)."""
    present: NDArray[np.bool_]
    """``(group, spell)``."""
    count: IntArray
    """``(group,)``: trees."""
    left_out: IntArray
    """``(group,)``: column of the trees left without a place."""


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
    cells, columns = [], []
    for (group, spell), stays in model.stays.items():
        for stay in stays:
            cells.append(np.ravel_multi_index((group, spell, places[stay.place_id]), shape))
            columns.append(column_of[id(stay.variable)])
    order = np.argsort(np.array(cells, dtype=np.int64), kind="stable")
    sorted_cells = np.array(cells, dtype=np.int64)[order]
    cell, cell_start = np.unique(sorted_cells, return_index=True)
    in_column = np.full(shape, -1, dtype=np.int64)
    for (group, place_id, spell), variable in model.carried_in.items():
        in_column[group, spell, places[place_id]] = column_of[id(variable)]
    return Flow(
        *shape,
        stay_column=np.array(columns, dtype=np.int64)[order],
        cell=cell.astype(np.int64),
        cell_start=cell_start.astype(np.int64),
        in_column=in_column,
        start_place=np.array(
            [-1 if g.start.place is None else places[g.start.place] for g in data.groups],
            dtype=np.int64,
        ),
        present=np.asarray(data.suitability.present),
        count=np.array([g.count for g in data.groups], dtype=np.int64),
        left_out=np.array([column_of[id(model.left_out[g.index])] for g in data.groups]),
    )


@dataclass(frozen=True)
class Prices:
    """By cell ``(group, spell, place)``: its cheapest stay, and the carry into it."""

    stay: FloatArray
    best_stay: IntArray
    carry: FloatArray


def cell_prices(flow: Flow, price: FloatArray) -> Prices:
    """Cheapest stay and carry of each cell at prices by column of the program."""
    shape = (flow.groups, flow.spells, flow.places)
    stay_price = price[flow.stay_column]
    cheapest = np.full(shape, np.inf).reshape(-1)
    which = np.full(shape, -1, dtype=np.int64).reshape(-1)
    if stay_price.size:
        least = np.minimum.reduceat(stay_price, flow.cell_start)
        cheapest[flow.cell] = least
        lengths = np.diff(np.append(flow.cell_start, stay_price.size))
        is_least = np.flatnonzero(stay_price == np.repeat(least, lengths))
        owner = np.repeat(np.arange(flow.cell.size), lengths)[is_least]
        # the first of equals, so that equal prices give equal paths
        which[flow.cell[owner[::-1]]] = is_least[::-1]
    carry = np.where(flow.in_column >= 0, price[flow.in_column], np.inf)
    return Prices(cheapest.reshape(shape), which.reshape(shape), carry)


def forward(flow: Flow, prices: Prices) -> tuple[FloatArray, IntArray]:
    """Cheapest way to every cell, its own stay included, and the place before it.

    Returns
    -------
    ``cost`` and ``before``, both ``(group, spell, place)``; ``before`` is the place itself where
    the tree stays, -1 where it starts.
    """
    shape = (flow.groups, flow.spells, flow.places)
    cost = np.full(shape, np.inf)
    before = np.full(shape, -1, dtype=np.int64)
    rows = np.arange(flow.groups)
    here = np.full((flow.groups, flow.places), np.inf)
    started = flow.start_place >= 0
    here[rows[started], flow.start_place[started]] = 0.0
    fresh = ~started
    own = np.broadcast_to(np.arange(flow.places), here.shape)
    for spell in range(flow.spells):
        now = flow.present[:, spell]
        cheapest = np.where(fresh, 0.0, here.min(axis=1))
        origin = np.where(fresh, -1, here.argmin(axis=1))
        by_carry = cheapest[:, None] + prices.carry[:, spell]
        stays = here <= by_carry
        entered = np.where(stays, here, by_carry)
        reached = entered + prices.stay[:, spell]
        cost[now, spell] = reached[now]
        before[now, spell] = np.where(stays, own, origin[:, None])[now]
        here = np.where(now[:, None], reached, here)
        fresh = fresh & ~now
    return cost, before


def backward(flow: Flow, prices: Prices) -> FloatArray:
    """Cheapest way on from every cell to the end, its own stay not included."""
    shape = (flow.groups, flow.spells, flow.places)
    rest = np.zeros(shape)
    for spell in range(flow.spells - 2, -1, -1):
        after = rest[:, spell + 1] + prices.stay[:, spell + 1]
        moved = (after + prices.carry[:, spell + 1]).min(axis=1, keepdims=True)
        rest[:, spell] = np.minimum(after, moved)
    return rest


def cheapest_paths(flow: Flow, price: FloatArray, through: IntArray | None = None) -> Paths:
    """The cheapest winter of every group at prices by column of the program.

    ``through`` ``(group, 2)`` may name a (spell, place) that the winter must pass; -1 for none.
    """
    prices = cell_prices(flow, price)
    if through is not None:
        forced = through[:, 0] >= 0
        stay = prices.stay.copy()
        rows = np.flatnonzero(forced)
        kept = stay[rows, through[forced, 0], through[forced, 1]]
        stay[rows, through[forced, 0]] = np.inf
        stay[rows, through[forced, 0], through[forced, 1]] = kept
        prices = Prices(stay, prices.best_stay, prices.carry)
    cost, before = forward(flow, prices)
    rows = np.arange(flow.groups)
    last = flow.spells - 1
    place = cost[:, last].argmin(axis=1)
    total = cost[rows, last, place]
    stays = np.full((flow.groups, flow.spells), -1, dtype=np.int64)
    carried = np.full((flow.groups, flow.spells), -1, dtype=np.int64)
    for spell in range(last, -1, -1):
        now = flow.present[:, spell]
        stays[now, spell] = prices.best_stay[rows, spell, place][now]
        came = before[rows, spell, place]
        moved = now & (came != place)
        carried[moved, spell] = flow.in_column[rows, spell, place][moved]
        place = np.where(now & (came >= 0), came, place)
    return Paths(total, stays, carried)


def through_costs(flow: Flow, price: FloatArray) -> FloatArray:
    """Cost of the cheapest winter through every cell, ``(group, spell, place)``."""
    prices = cell_prices(flow, price)
    return forward(flow, prices)[0] + backward(flow, prices)
