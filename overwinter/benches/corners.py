"""Trees pushed into corners, largest first: second heuristic, close packed.

Keeps every largest free rectangle (the "maximal rectangles" family of bin packing; J. Jylanki, "A
thousand ways to pack the bin", 2010, cited from memory) and puts each tree, turned either way, into
a corner of the one it fits best. Several orders and notions of best are tried, then seeded
shufflings of the best order.
"""

import random
from collections.abc import Iterator, Sequence
from itertools import cycle, islice, product

import numpy as np
from numpy.typing import NDArray

from overwinter.benches.region import Pots, Region
from overwinter.model.stage import IntArray

_BESTS = ("short side", "area", "low")
_TRIES_MAX = 24


def packed_in_corners(
    region: Region, pots: Pots, tries: int, taken: Sequence[IntArray] | None = None
) -> Iterator[IntArray]:
    """Every arrangement found in ``tries``: slots ``(n, 4)`` of x, y, width, depth, units.

    ``taken`` has for each tree the slots ``(m, 4)`` that are not free for it.
    """
    free = _free_for(region, len(pots), taken)
    if taken is not None and any(
        _best_corner(region, own, size, _BESTS[0]) is None
        for own, size in zip(free, pots.sizes, strict=True)
    ):
        return
    for order, best in islice(_ways(_orders(pots), len(pots)), min(tries, _TRIES_MAX)):
        slots, left = _packed(region, pots.sizes, order, best, free)
        if not left:
            yield slots


def left_by_corners(region: Region, pots: Pots) -> list[int]:
    """The trees that find no room, where those before them in the best order stay put."""
    order, best = next(_ways(_orders(pots), len(pots)))
    free = _free_for(region, len(pots))
    return _packed(region, pots.sizes, order, best, free, go_on=True)[1]


def _ways(orders: list[list[int]], seed: int) -> Iterator[tuple[list[int], str]]:
    """Order to set trees down in and notion of the best corner, without end."""
    yield from product(orders, _BESTS)
    shuffler = random.Random(seed)
    for order in cycle(orders):
        for best in _BESTS:
            yield _shuffled(order, shuffler), best


def _orders(pots: Pots) -> list[list[int]]:
    short, long = pots.spans.T
    keys = (short * long, long, short, short + long)
    orders = [[int(i) for i in np.lexsort((-long, -short, -key))] for key in keys]
    return [order for n, order in enumerate(orders) if order not in orders[:n]]


def _shuffled(order: list[int], shuffler: random.Random) -> list[int]:
    """``order`` with trees moved a few ranks up or down."""
    ranks = {i: rank + shuffler.uniform(0, 4) for rank, i in enumerate(order)}
    return sorted(order, key=lambda i: (ranks[i], i))


def _free_for(
    region: Region, trees: int, taken: Sequence[IntArray] | None = None
) -> list[IntArray]:
    """Largest free rectangles ``(m, 4)`` of each tree; one array for all that share them."""
    ground = np.array(
        [
            (b.x, b.y, b.x + b.width + region.clearance, b.y + b.depth + region.clearance)
            for b in region.blocks
        ],
        dtype=np.int64,
    )
    if taken is None:
        return [ground] * trees
    found: dict[bytes, IntArray] = {}
    for slots in taken:
        free = ground
        if slots.tobytes() not in found:
            for slot in slots:
                free = _cut_out(free, slot, region.clearance)
            found[slots.tobytes()] = free
    return [found[slots.tobytes()] for slots in taken]


def _packed(
    region: Region,
    sizes: IntArray,
    order: list[int],
    best: str,
    free: Sequence[IntArray],
    go_on: bool = False,
) -> tuple[IntArray, list[int]]:
    """Slots, and the trees that found none: the first of them alone, unless asked to go on."""
    slots, left = np.zeros((len(sizes), 4), dtype=np.int64), list[int]()
    placed: list[IntArray] = []
    now = {id(own): (own, 0) for own in free}  # what is free yet, and how many it was cut by
    for i in order:
        mine, cut = now[id(free[i])]
        for slot in placed[cut:]:
            mine = _cut_out(mine, slot, region.clearance)
        now[id(free[i])] = mine, len(placed)
        found = _best_corner(region, mine, sizes[i], best)
        if found is not None:
            slots[i] = found
            placed.append(found)
        else:
            left.append(i)
            if not go_on:
                break
    return slots, left


def _best_corner(region: Region, free: IntArray, size: IntArray, best: str) -> IntArray | None:
    """The slot of a tree of ``size``: best free rectangle, way round and corner within reach."""
    gap = region.clearance
    ways = np.stack((size, size[::-1]))
    room = free[:, None, 2:] - free[:, None, :2] - ways[None] - gap
    fits = (room >= 0).all(axis=2)
    if not fits.any():
        return None
    which, turned = np.nonzero(fits)
    left = room[which, turned]
    slots = _corner_slots(
        free[which, :2], left, ways[turned], corners=1 if region.reach is None else 4
    )
    corners = len(slots) // len(which)
    cost = np.tile(_cost(free[which], left, ways[turned], best), (corners, 1))
    if best == "low":
        cost = np.column_stack((slots[:, 1] + slots[:, 3], slots[:, 0], cost))
    reached = region.within_reach(slots)
    if not reached.any():
        return None
    slots, cost = slots[reached], cost[reached]
    return np.asarray(slots[np.lexsort(cost.T[::-1])[0]])


def _corner_slots(at: IntArray, left: IntArray, ways: IntArray, corners: int) -> IntArray:
    pushes = np.array([(0, 0), (1, 0), (0, 1), (1, 1)][:corners], dtype=np.int64)
    where = at[None] + left[None] * pushes[:, None, :]
    return np.concatenate((where, np.broadcast_to(ways, where.shape)), axis=2).reshape(-1, 4)


def _cost(free: IntArray, left: IntArray, ways: IntArray, best: str) -> IntArray:
    """Columns to be compared in order, least first; shape ``(m, columns)``."""
    short, long = left.min(axis=1), left.max(axis=1)
    if best == "area":
        area = (free[:, 2] - free[:, 0]) * (free[:, 3] - free[:, 1]) - ways.prod(axis=1)
        return np.column_stack((area, short, free[:, 1], free[:, 0]))
    return np.column_stack((short, long, free[:, 1], free[:, 0]))


def _cut_out(free: IntArray, slot: IntArray, clearance: int) -> IntArray:
    """The largest free rectangles once ``slot`` (x, y, width, depth) and what it keeps off go."""
    x0, y0 = slot[:2]
    x1, y1 = slot[:2] + slot[2:] + clearance
    hit = (free[:, 0] < x1) & (free[:, 2] > x0) & (free[:, 1] < y1) & (free[:, 3] > y0)
    if not hit.any():
        return free
    cut, rest = free[hit], free[~hit]
    keep = (cut[:, 0] < x0, cut[:, 2] > x1, cut[:, 1] < y0, cut[:, 3] > y1)
    parts = np.concatenate([cut[side] for side in keep])
    ends = np.cumsum([0, *(int(side.sum()) for side in keep)])
    for column, edge, first, end in zip(
        (2, 0, 3, 1), (x0, x1, y0, y1), ends, ends[1:], strict=False
    ):
        parts[first:end, column] = edge
    return np.concatenate((rest, _not_contained(parts, rest)))


def _not_contained(parts: IntArray, rest: IntArray) -> IntArray:
    """Parts that lie in no other rectangle; of equal ones the first. None of ``rest`` lies in a
    part: it would have lain in what the part was cut from."""
    every = np.concatenate((parts, rest))
    low = parts[:, None, :2] >= every[None, :, :2]
    high = parts[:, None, 2:] <= every[None, :, 2:]
    inside: NDArray[np.bool_] = np.asarray(np.logical_and(low, high).all(axis=2))
    n = len(parts)
    among = inside[:, :n]
    among &= ~(among.T & (np.arange(n)[:, None] <= np.arange(n)))
    return np.asarray(parts[~inside.any(axis=1)])
