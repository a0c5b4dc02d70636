"""Trees in rows along the light, as a grower sets them out: first heuristic, and the best looking.

Two ways: rows one behind the other, the row of the tallest farthest from the light; or files that
run away from the light, each with its short trees in front. Rows are filled either in order of
height or, closer packed, deepest tree first (the first-fit decreasing-height shelf of strip
packing). Ground divided by paths is filled block by block.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product
from typing import NamedTuple

import numpy as np

from overwinter.benches.region import Block, Pots, Region
from overwinter.model.stage import IntArray


@dataclass(slots=True)
class _Row:
    block: int
    depth: int = 0
    used: int = 0
    members: list[int] = field(default_factory=list)


class _Push(NamedTuple):
    """Where the rows of a block go: shared out over it, or to one end and one side."""

    airy: bool
    far_side: bool
    far_end: bool


_PUSHES = (
    _Push(True, False, False),
    *(_Push(False, side, end) for side, end in product((False, True), repeat=2)),
)
_AIR = 1000  # spare length is shared out up to 10 cm between neighbours


def packed_in_rows(region: Region, pots: Pots) -> Iterator[IntArray]:
    """Every arrangement in rows that fits: slots ``(n, 4)`` of x, y, width, depth, units."""
    for files, tallest_last, facing in product((False, True), (True, False), (0, 1, 2)):
        ground = region.transposed() if files else region
        sizes = _faced(pots.sizes[:, ::-1] if files else pots.sizes, facing)
        rows = _filled(ground, sizes, _order(pots, sizes, tallest_last), first_fit=not tallest_last)
        if rows is None:
            continue
        slots = _settled(ground, sizes, rows, pots, files)
        if slots is not None:
            yield slots[:, [1, 0, 3, 2]] if files else slots


def _faced(sizes: IntArray, facing: int) -> IntArray:
    """Sizes as they stand (0), all as shallow (1) or all as narrow (2) as they can be turned."""
    if facing == 0:
        return sizes
    narrow_first = np.sort(sizes, axis=1)
    return narrow_first if facing == 2 else narrow_first[:, ::-1]


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
    """Slots of the rows: airy, else pushed to an end, whichever way all can be reached."""
    if files:
        for row in rows:
            row.members.sort(key=lambda i: (pots.height_m[i], i))
    else:
        rows = sorted(rows, key=lambda row: float(pots.height_m[row.members].mean()))
    for push in _PUSHES:
        slots = np.zeros((len(sizes), 4), dtype=np.int64)
        slots[:, 2:] = sizes
        for number, block in enumerate(region.blocks):
            mine = [row for row in rows if row.block == number]
            if mine:
                _stand(slots, block, region.clearance, mine, push)
        if region.within_reach(slots).all():
            return slots
    return None


def _stand(slots: IntArray, block: Block, gap: int, rows: list[_Row], push: _Push) -> None:
    """Write x and y of the trees of ``rows``."""
    spare_depth = block.depth + gap - sum(row.depth for row in rows)
    between_rows = min(spare_depth // len(rows), _AIR) if push.airy else 0
    y = 0
    for row in reversed(rows) if push.far_end else rows:
        spare = block.width + gap - row.used
        between = min(spare // len(row.members), _AIR) if push.airy else 0
        x = (spare - between * (len(row.members) - 1)) // 2 if push.airy else 0
        for i in reversed(row.members) if push.far_side else row.members:
            width, depth = slots[i, 2:]
            slots[i, 0] = block.x + (block.width - x - width if push.far_side else x)
            slots[i, 1] = block.y + (block.depth - y - depth if push.far_end else y)
            x += int(width) + gap + between
        y += row.depth + between_rows
