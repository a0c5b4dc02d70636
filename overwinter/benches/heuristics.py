"""Two quick ways to set trees down: in rows, and pushed into corners.

In rows along the light, as a grower sets them out: first heuristic, and the best looking. Two ways:
rows one behind the other, the row of the tallest farthest from the light; or files that run away
from the light, each with its short trees in front. Rows are filled either in order of height or,
closer packed, deepest tree first (the first-fit decreasing-height shelf of strip packing). Ground
divided by paths is filled block by block.

In corners, largest first: second heuristic, close packed. Keeps every largest free rectangle (the
"maximal rectangles" family of bin packing; J. Jylanki, "A thousand ways to pack the bin", 2010,
cited from memory) and puts each tree, turned either way, into a corner of the one whose shorter
side it fits best; then so again in seeded shufflings of the order.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product
from random import Random

import numpy as np
from numpy.typing import NDArray

from overwinter.benches.region import Block, Pots, Region
from overwinter.model.stage import IntArray

_AIR = 1000  # spare length is shared out up to 10 cm between neighbours
TRIES = 24
"""Orders tried in corners, on all divisions of the ground together; with the first alone, crowded
winters of 120 to 150 trees cost up to 9 % more."""


@dataclass(slots=True)
class _Row:
    block: int
    depth: int = 0
    used: int = 0
    members: list[int] = field(default_factory=list)


def packed_in_rows(region: Region, pots: Pots) -> Iterator[IntArray]:
    """Every arrangement in rows that fits: slots ``(n, 4)`` of x, y, width, depth, units."""
    for files, tallest_last in product((False, True), (True, False)):
        ground = region.transposed() if files else region
        sizes = pots.sizes[:, ::-1] if files else pots.sizes
        rows = _filled(ground, sizes, _order(pots, sizes, tallest_last), first_fit=not tallest_last)
        if rows is None:
            continue
        slots = _settled(ground, sizes, rows, pots, files)
        if slots is not None:
            yield slots[:, [1, 0, 3, 2]] if files else slots


def _order(pots: Pots, sizes: IntArray, tallest_last: bool) -> Sequence[int]:
    if tallest_last:
        return [int(i) for i in np.lexsort((-sizes[:, 1], -pots.light, pots.height_m))]
    return [int(i) for i in np.lexsort((pots.height_m, -sizes[:, 0], -sizes[:, 1]))]


def _filled(
    region: Region, sizes: IntArray, order: Sequence[int], *, first_fit: bool
) -> list[_Row] | None:
    """Rows of every tree, or None where one finds no room."""
    gap = region.clearance
    rows: list[_Row] = []
    spare = [block.depth + gap for block in region.blocks]
    widths = [block.width + gap for block in region.blocks]
    for i in order:
        width, depth = int(sizes[i, 0]) + gap, int(sizes[i, 1]) + gap
        row = None
        for candidate in rows if first_fit else rows[-1:]:
            # most rows are full
            if candidate.used + width > widths[candidate.block]:
                continue
            if depth - candidate.depth <= spare[candidate.block]:
                row = candidate
                break
        if row is None:
            open_blocks = [b for b in range(len(spare)) if spare[b] >= depth and widths[b] >= width]
            if not open_blocks:
                return None
            row = _Row(max(open_blocks, key=lambda b: (spare[b], -b)))
            rows.append(row)
        spare[row.block] -= max(0, depth - row.depth)
        row.depth = max(row.depth, depth)
        row.used += width
        row.members.append(i)
    return rows


def _settled(
    region: Region, sizes: IntArray, rows: list[_Row], pots: Pots, files: bool
) -> IntArray | None:
    """Slots of the rows: airy, else pushed to the front, whichever way all can be reached."""
    if files:
        for row in rows:
            row.members.sort(key=lambda i: (pots.height_m[i], i))
    else:
        rows = sorted(rows, key=lambda row: float(pots.height_m[row.members].mean()))
    for airy in (True, False):
        slots = np.zeros((len(sizes), 4), dtype=np.int64)
        slots[:, 2:] = sizes
        for number, block in enumerate(region.blocks):
            mine = [row for row in rows if row.block == number]
            if mine:
                _stand(slots, block, region.clearance, mine, airy)
        if region.within_reach(slots).all():
            return slots
    return None


def _stand(slots: IntArray, block: Block, gap: int, rows: list[_Row], airy: bool) -> None:
    """Write x and y of the trees of ``rows``; airy: shared out over the block."""
    spare_depth = block.depth + gap - sum(row.depth for row in rows)
    between_rows = min(spare_depth // len(rows), _AIR) if airy else 0
    y = block.y
    for row in rows:
        spare = block.width + gap - row.used
        between = min(spare // len(row.members), _AIR) if airy else 0
        x = block.x + ((spare - between * (len(row.members) - 1)) // 2 if airy else 0)
        for i in row.members:
            slots[i, :2] = x, y
            x += int(slots[i, 2]) + gap + between
        y += row.depth + between_rows


def packed_in_corners(
    region: Region, pots: Pots, taken: Sequence[IntArray] | None = None, tries: int = TRIES
) -> IntArray | None:
    """Slots ``(n, 4)`` of x, y, width, depth, units; None where no try sets all trees down.
    ``taken`` has for each tree the slots ``(m, 4)`` that are not free for it."""
    free, order, shuffler = _free_for(region, len(pots), taken), _largest_first(pots), Random(0)
    for _ in range(tries):
        slots, left = _packed(region, pots.sizes, order, free)
        if not left:
            return slots
        # trees moved a few ranks up or down
        ranks = {i: rank + shuffler.uniform(0, 4) for rank, i in enumerate(_largest_first(pots))}
        order = sorted(ranks, key=lambda i: (ranks[i], i))
    return None


def left_by_corners(region: Region, pots: Pots) -> list[int]:
    """The trees that find no room, where those before them, largest first, stay put."""
    free = _free_for(region, len(pots))
    return _packed(region, pots.sizes, _largest_first(pots), free, go_on=True)[1]


def _largest_first(pots: Pots) -> list[int]:
    short, long = np.sort(pots.sizes, axis=1).T
    return [int(i) for i in np.lexsort((-long, -short * long))]


def _free_for(
    region: Region, trees: int, taken: Sequence[IntArray] | None = None
) -> list[IntArray]:
    """Largest free rectangles ``(m, 4)`` of each tree; one array for all that share them."""
    gap = region.clearance
    corners = [(b.x, b.y, b.x + b.width + gap, b.y + b.depth + gap) for b in region.blocks]
    ground = np.array(corners, dtype=np.int64)
    if taken is None:
        return [ground] * trees
    found: dict[bytes, IntArray] = {}
    for slots in taken:
        free = ground
        if slots.tobytes() not in found:
            for slot in slots:
                free = _cut_out(free, slot, gap)
            found[slots.tobytes()] = free
    return [found[slots.tobytes()] for slots in taken]


def _packed(
    region: Region, sizes: IntArray, order: list[int], free: Sequence[IntArray], go_on: bool = False
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
        found = _best_corner(region, mine, sizes[i])
        if found is not None:
            slots[i] = found
            placed.append(found)
        else:
            left.append(i)
            if not go_on:
                break
    return slots, left


def _best_corner(region: Region, free: IntArray, size: IntArray) -> IntArray | None:
    """The slot of a tree of ``size``: best free rectangle, way round and corner within reach."""
    gap = region.clearance
    ways = np.stack((size, size[::-1]))
    room = free[:, None, 2:] - free[:, None, :2] - ways[None] - gap
    fits = (room >= 0).all(axis=2)
    if not fits.any():
        return None
    which, turned = np.nonzero(fits)
    left = room[which, turned]
    slots = _corner_slots(free[which, :2], left, ways[turned], 1 if region.reach is None else 4)
    short, long, x, y = left.min(axis=1), left.max(axis=1), *free[which, :2].T
    cost = np.tile((x, y, long, short), len(slots) // len(which))
    reached = region.within_reach(slots)
    if not reached.any():
        return None
    return np.asarray(slots[reached][np.lexsort(cost[:, reached])[0]])


def _corner_slots(at: IntArray, left: IntArray, ways: IntArray, corners: int) -> IntArray:
    pushes = np.array([(0, 0), (1, 0), (0, 1), (1, 1)][:corners], dtype=np.int64)
    where = at[None] + left[None] * pushes[:, None, :]
    return np.concatenate((where, np.broadcast_to(ways, where.shape)), axis=2).reshape(-1, 4)


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
    for axis, edge, first, end in zip((2, 0, 3, 1), (x0, x1, y0, y1), ends, ends[1:], strict=False):
        parts[first:end, axis] = edge
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
