"""Proofs, without any search, that trees cannot stand at a place together."""

import math
from collections.abc import Sequence

import numpy as np

from overwinter.benches.grid import metres
from overwinter.benches.pots import Pots
from overwinter.benches.region import Region
from overwinter.benches.results import Impossible, Why
from overwinter.model.shelter import FloatArray, Place
from overwinter.model.stage import IntArray
from overwinter.model.tree import Tree
from overwinter.units import Display

_SI = Display()


def too_tall(place: Place, trees: Sequence[Tree]) -> Impossible | None:
    """A tree that does not pass under the headroom."""
    for tree in trees:
        if tree.height_m > place.headroom_m + 1e-9:
            detail = (
                f"{tree.name} is {_SI.length(tree.height_m)} tall; "
                f"{place.name} has {_SI.length(place.headroom_m)} headroom"
            )
            return Impossible(Why.TOO_TALL, detail, (tree.id,))
    return None


def too_heavy(place: Place, trees: Sequence[Tree]) -> Impossible | None:
    """The trees together pass the load limit."""
    weight_kg = math.fsum(tree.weight_kg for tree in trees)
    if weight_kg <= place.load_limit_kg * (1 + 1e-9):
        return None
    detail = (
        f"{len(trees)} trees weigh {_SI.weight(weight_kg)}; "
        f"{place.name} carries {_SI.weight(place.load_limit_kg)}"
    )
    return Impossible(Why.TOO_HEAVY, detail, tuple(tree.id for tree in trees))


def alone(
    place: Place, ways: Sequence[Region], trees: Sequence[Tree], pots: Pots
) -> Impossible | None:
    """A tree that cannot stand here even by itself: too large, or beyond reach."""
    for tree, size in zip(trees, pots.sizes, strict=True):
        whys = {_alone(way, size) for way in ways}
        if None in whys:
            continue
        why = Why.OUT_OF_REACH if Why.OUT_OF_REACH in whys else Why.TOO_LARGE
        detail = (
            f"{tree.name} ({_SI.length(tree.width_m)} x {_SI.length(tree.depth_m)}) at "
            f"{place.name} ({_SI.length(place.width_m)} x {_SI.length(place.depth_m)})"
        )
        return Impossible(why, detail, (tree.id,))
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


def area(place: Place, region: Region, trees: Sequence[Tree], pots: Pots) -> Impossible | None:
    """Footprints with clearance against the area an arm reaches; ``region`` undivided."""
    claimed = claimed_area(pots, region.clearance)
    room = reachable_area(region, int(pots.spans[:, 1].max()))
    if claimed <= room:
        return None
    detail = (
        f"{len(trees)} trees with clearance take {_SI.area(metres(1) ** 2 * claimed)}; "
        f"{place.name} offers {_SI.area(metres(1) ** 2 * room)} within reach"
    )
    return Impossible(Why.AREA, detail, tuple(tree.id for tree in trees))


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


def side_by_side(
    place: Place, region: Region, trees: Sequence[Tree], pots: Pots
) -> Impossible | None:
    """Large trees counted as wholes, small ones not: dual feasible functions on both sides.

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
    if np.minimum(unturned, turned).sum(axis=2).max() <= 1.0 + 1e-9:
        return None
    detail = f"{len(trees)} trees at {place.name}: the large ones stand in each other's way"
    return Impossible(Why.SIDE_BY_SIDE, detail, tuple(tree.id for tree in trees))


def _counted(boxes: IntArray, room: int) -> FloatArray:
    """What each side ``(n, 2)`` counts for each threshold: ``(threshold, n, 2)``, 0 to 1."""
    sides = np.unique(boxes)
    thresholds = np.unique(np.concatenate(([0], sides[2 * sides <= room], room + 1 - sides)))
    thresholds = thresholds[(thresholds >= 0) & (2 * thresholds <= room)][:, None, None]
    counted = np.where(boxes[None] > room - thresholds, 1.0, boxes[None] / room)
    return np.where(boxes[None] < thresholds, 0.0, counted)
