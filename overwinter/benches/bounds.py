"""Proofs, without any search, that trees cannot stand at a place together."""

from collections.abc import Sequence
from enum import StrEnum

import numpy as np

from overwinter.benches.region import Pots, Region
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import IntArray


class Why(StrEnum):
    """Why a set of trees is not laid out at a place.

    All but NOT_FOUND are proofs that no arrangement exists at this clearance.
    """

    TOO_TALL = "a tree is taller than the headroom"
    TOO_HEAVY = "the trees together are heavier than the load limit"
    TOO_LARGE = "a tree is larger than the place"
    OUT_OF_REACH = "a tree cannot be reached wherever it stands"
    AREA = "the trees together take more area than there is"
    SIDE_BY_SIDE = "the large trees fit neither side by side nor one behind the other"
    SEARCHED = "an exhaustive search found no arrangement"
    NOT_FOUND = "within the work limit an arrangement was neither found nor excluded"


def alone(ways: Sequence[Region], pots: Pots) -> Why | None:
    """Why a tree cannot stand here even by itself: too large, or beyond reach."""
    for size in np.unique(pots.sizes, axis=0):
        if not any(_alone(way, size) is None for way in ways):
            whys = {_alone(way, size) for way in ways}
            return Why.OUT_OF_REACH if Why.OUT_OF_REACH in whys else Why.TOO_LARGE
    return None


def _alone(region: Region, size: IntArray) -> Why | None:
    """Why one tree cannot stand in ``region``; None when it can."""
    why = Why.TOO_LARGE
    for width, depth in (size, size[::-1]):
        for block in region.blocks:
            if width > block.width or depth > block.depth:
                continue
            far = (block.x + block.width - width, block.y + block.depth - depth)
            corners = [(x, y, width, depth) for x in (block.x, far[0]) for y in (block.y, far[1])]
            if region.within_reach(np.array(corners, dtype=np.int64)).any():
                return None
            why = Why.OUT_OF_REACH
    return why


def area(region: Region, pots: Pots) -> bool:
    """Whether footprints with clearance pass the area an arm reaches; ``region`` undivided."""
    room = reachable_area(region, int(pots.spans[:, 1].max()))
    return claimed_area(pots, region.clearance) > room


def claimed_area(pots: Pots, clearance: int) -> int:
    """Area of all footprints, each side longer by the clearance; units squared."""
    return int((pots.sizes + clearance).prod(axis=1).sum())


def reachable_area(region: Region, longest_side: int) -> int:
    """Upper bound of the area that boxes with clearance can take; units squared.

    A tree whose middle is within reach sticks out of the reach by at most half its longest side.
    """
    gap = region.clearance
    total = sum((block.width + gap) * (block.depth + gap) for block in region.blocks)
    if region.reach is None or region.paths:
        return total
    dead = [_dead_length(region, axis, longest_side) for axis in (0, 1)]
    return total - max(0, dead[0] - gap) * max(0, dead[1] - gap)


def _dead_length(region: Region, axis: int, longest_side: int) -> int:
    """Length along ``axis`` that no footprint can come to from the edges of that axis."""
    extent = region.depth if axis else region.width
    reached = (region.reach or 0) + longest_side // 2 + 1
    ends = {edge.at for edge in region.edges if edge.axis == axis}
    return max(0, extent - reached * len(ends))


def side_by_side(region: Region, pots: Pots) -> bool:
    """Whether the large trees stand in each other's way: dual feasible functions on both sides.

    A side longer than ``room - k`` counts as the whole room, one shorter than ``k`` as nothing; if
    what each tree counts at least, turned either way, adds up to more than one place, the trees do
    not fit (S. Fekete and J. Schepers, "A general framework for bounds for higher-dimensional
    orthogonal packing problems", 2004, the function u(eps); cited from memory).
    """
    gap = region.clearance
    boxes = pots.sizes + gap
    across = _counted(boxes, region.width + gap)
    along = _counted(boxes[:, ::-1], region.depth + gap)
    unturned = across[:, None, :, 0] * along[None, :, :, 0]
    turned = across[:, None, :, 1] * along[None, :, :, 1]
    return bool(np.minimum(unturned, turned).sum(axis=2).max() > 1.0 + 1e-9)


def _counted(boxes: IntArray, room: int) -> FloatArray:
    """What each side ``(n, 2)`` counts for each threshold: ``(threshold, n, 2)``, 0 to 1."""
    sides = np.unique(boxes)
    thresholds = np.unique(np.concatenate(([0], sides[2 * sides <= room], room + 1 - sides)))
    thresholds = thresholds[(thresholds >= 0) & (2 * thresholds <= room)][:, None, None]
    counted = np.where(boxes[None] > room - thresholds, 1.0, boxes[None] / room)
    return np.where(boxes[None] < thresholds, 0.0, counted)
