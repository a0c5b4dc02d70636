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

from overwinter.benches.pots import Pots
from overwinter.benches.region import IntArray, Region

_BESTS = ("short side", "area", "low")
_TRIES_MAX = 24


def packed_in_corners(
    region: Region, pots: Pots, tries: int, taken: Sequence[IntArray] | None = None
) -> Iterator[IntArray]:
    """Every arrangement found in ``tries``: slots ``(n, 4)`` of x, y, width, depth, units.

    ``taken`` has for each tree the slots ``(m, 4)`` that are not free for it.
    """
    for order, best in islice(_ways(_orders(pots), len(pots)), min(tries, _TRIES_MAX)):
        slots = _packed(region, pots.sizes, order, best, taken)
        if slots is not None:
            yield slots


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


def _packed(
    region: Region,
    sizes: IntArray,
    order: list[int],
    best: str,
    taken: Sequence[IntArray] | None,
) -> IntArray | None:
    gap = region.clearance
    free = np.array(
        [(b.x, b.y, b.x + b.width + gap, b.y + b.depth + gap) for b in region.blocks],
        dtype=np.int64,
    )
    around = np.array([0, 0, gap, gap])
    others = [set() if taken is None else set(map(tuple, taken[i].tolist())) for i in order]
    for_all = set.intersection(*others)
    for other in sorted(for_all):
        free = _cut_out(free, other + around)
    slots = np.zeros((len(sizes), 4), dtype=np.int64)
    for i, own in zip(order, others, strict=True):
        mine = free
        for other in sorted(own - for_all):
            mine = _cut_out(mine, other + around)
        slot = _best_corner(region, mine, sizes[i], best)
        if slot is None:
            return None
        slots[i] = slot
        free = _cut_out(free, slot + around)
    return slots


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


def _cut_out(free: IntArray, taken: IntArray) -> IntArray:
    """The largest free rectangles once ``taken`` (x, y, width, depth) is gone."""
    x0, y0 = taken[:2]
    x1, y1 = taken[:2] + taken[2:]
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
    among &= ~(among.T & np.triu(np.ones((n, n), dtype=np.bool_)))
    return np.asarray(parts[~inside.any(axis=1)])
