"""Two quick ways to set trees down: in rows, and pushed into corners.

In rows along the light, as a grower sets them out: first heuristic, and the best looking. Two ways:
rows one behind the other, the row of the tallest farthest from the light; or files that run away
from the light, each with its short trees in front. Rows are filled either in order of height or,
closer packed, deepest tree first (the first-fit decreasing-height shelf of strip packing). Ground
divided by paths is filled block by block.

In corners, largest first: second heuristic, close packed. Keeps every largest free rectangle (the
"maximal rectangles" family of bin packing; J. Jylanki, "A thousand ways to pack the bin", 2010,
cited from memory) and puts each tree, turned either way, into a corner of the one whose shorter
side it fits best; then so again with the first tree that found no room ahead of all others.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from overwinter.benches.region import Block, Pots, Region
from overwinter.model.stage import IntArray

_AIR = 1000  # spare length is shared out up to 10 cm between neighbours
TRIES = 24
"""Orders tried in corners, on all divisions of the ground together; with the first alone, crowded
winters of 120 to 150 trees cost up to 9 % more."""


_Slot = tuple[int, int, int, int]  # x, y, width, depth, units
_Rectangle = tuple[int, int, int, int]  # x and y of the near left, of the far right corner, units
_Free = list[_Rectangle]  # six in the middle: arrays take three times as long (docs/tried.md)


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
    free, order = _free_for(region, len(pots), taken), _largest_first(pots)
    for _ in range(tries):
        slots, left = _packed(region, pots.sizes, order, free)
        if not left:
            return slots
        order.remove(left[0])
        order.insert(0, left[0])  # who found no room comes first
    return None


def left_by_corners(region: Region, pots: Pots) -> list[int]:
    """The trees that find no room, where those before them, largest first, stay put."""
    free = _free_for(region, len(pots))
    return _packed(region, pots.sizes, _largest_first(pots), free, go_on=True)[1]


def _largest_first(pots: Pots) -> list[int]:
    short, long = np.sort(pots.sizes, axis=1).T
    return [int(i) for i in np.lexsort((-long, -short * long))]


def _free_for(region: Region, trees: int, taken: Sequence[IntArray] | None = None) -> list[_Free]:
    """Largest free rectangles of each tree; one list for all that share them."""
    gap = region.clearance
    ground = [(b.x, b.y, b.x + b.width + gap, b.y + b.depth + gap) for b in region.blocks]
    if taken is None:
        return [ground] * trees
    found: dict[bytes, _Free] = {}
    for slots in taken:
        free = ground
        if slots.tobytes() not in found:
            for slot in slots.tolist():
                free = _cut_out(free, slot, gap)
            found[slots.tobytes()] = free
    return [found[slots.tobytes()] for slots in taken]


def _packed(
    region: Region, sizes: IntArray, order: list[int], free: Sequence[_Free], go_on: bool = False
) -> tuple[IntArray, list[int]]:
    """Slots, and the trees that found none: the first of them alone, unless asked to go on."""
    slots, left = np.zeros((len(sizes), 4), dtype=np.int64), list[int]()
    placed: list[_Slot] = []
    now = {id(own): (own, 0) for own in free}  # what is free yet, and how many it was cut by
    for i in order:
        mine, cut = now[id(free[i])]
        for slot in placed[cut:]:
            mine = _cut_out(mine, slot, region.clearance)
        now[id(free[i])] = mine, len(placed)
        found = _best_corner(region, mine, sizes[i].tolist())
        if found is not None:
            slots[i] = found
            placed.append(found)
        else:
            left.append(i)
            if not go_on:
                break
    return slots, left


def _best_corner(region: Region, free: _Free, size: Sequence[int]) -> _Slot | None:
    """The slot of a tree of ``size``: best free rectangle, way round and corner within reach."""
    best: tuple[tuple[int, ...], _Slot] | None = None
    ways = (size, size[::-1])
    for (x, y, right, back), (width, depth) in product(free, ways):
        spare_x = right - x - width - region.clearance
        spare_y = back - y - depth - region.clearance
        if spare_x < 0 or spare_y < 0:
            continue
        pushes = product((0, spare_y), (0, spare_x)) if region.reach is not None else [(0, 0)]
        for corner, (up, along) in enumerate(pushes):
            cost = (min(spare_x, spare_y), max(spare_x, spare_y), y, x, corner)
            slot = x + along, y + up, width, depth
            if (best is None or cost < best[0]) and region.reached(slot):
                best = cost, slot
    return None if best is None else best[1]


def _cut_out(free: _Free, slot: Sequence[int], clearance: int) -> _Free:
    """The largest free rectangles once ``slot`` and what it keeps off go."""
    x, y, width, depth = slot
    right, back = x + width + clearance, y + depth + clearance
    cut, rest = list[_Rectangle](), list[_Rectangle]()
    for one in free:
        hit = one[0] < right and one[2] > x and one[1] < back and one[3] > y
        (cut if hit else rest).append(one)
    if not cut:
        return free
    parts = [(x0, y0, x, y1) for x0, y0, _, y1 in cut if x0 < x]
    parts += [(right, y0, x1, y1) for _, y0, x1, y1 in cut if x1 > right]
    parts += [(x0, y0, x1, y) for x0, y0, x1, _ in cut if y0 < y]
    parts += [(x0, back, x1, y1) for x0, _, x1, y1 in cut if y1 > back]
    parts = list(dict.fromkeys(parts))
    every = parts + rest
    return rest + [p for p in parts if not any(_inside(p, one) for one in every if one is not p)]


def _inside(part: _Rectangle, one: _Rectangle) -> bool:
    low = one[0] <= part[0] and one[1] <= part[1]
    return low and part[2] <= one[2] and part[3] <= one[3]
