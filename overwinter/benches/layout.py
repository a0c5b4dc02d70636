"""Does it really fit? The trees of one place, laid out to scale.

Trees in rows first, then in corners. What is wished for (tall ones behind short ones, light-hungry
ones to the glass, heavy ones near the hand) chooses between arrangements that fit and never makes a
set impossible.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import NamedTuple

import numpy as np

from overwinter.benches.arrange import best_arranged
from overwinter.benches.heuristics import TRIES, left_by_corners, packed_in_corners, packed_in_rows
from overwinter.benches.region import (
    UNITS_PER_M,
    Pots,
    Region,
    frame_of,
    pots_of,
    regions,
    units_up,
)
from overwinter.model.plan import Layout
from overwinter.model.shelter import Place
from overwinter.model.site import Weights
from overwinter.model.stage import IntArray
from overwinter.model.tree import Tree


@dataclass(frozen=True, slots=True)
class LaidOut:
    """Every tree has its rectangle."""

    clearance_m: float
    """Least clearance kept between any two trees, m."""
    slots: IntArray
    """``(n, 4)`` in the frame and units of ``region``, in the order of the trees given."""
    region: Region


Memo = dict[tuple[tuple[Region, ...], bytes], tuple[Region, IntArray] | None]
"""What close packing found, by ground and footprints; one for a run: a division of the ground, and
slots ``(n, 4)`` in it."""


class _Fit(NamedTuple):
    """Arrangements of all trees in one division, found as they are asked for."""

    region: Region
    pots: Pots
    packings: Iterator[IntArray]


# Up to the comfortable share of the area, trees keep 6 % of the mean side of their footprints
# apart, at most 3 cm; from there the clearance falls in a straight line to none at the fullest
# share, where footprints (pot and crown) may touch but never overlap. Tying it to the size of the
# trees keeps fill x (1 + 6 %)^2 below what rectangles pack to. Common practice, no source.

LARGEST_CLEARANCE_M = 0.03
CLEARANCE_SHARE_OF_SIDE = 0.06


def clearance_for(fill_share: float, weights: Weights, mean_side_m: float = 0.5) -> float:
    """Clearance (m, whole mm) asked at ``fill_share``: footprint area / area of the place.

    ``mean_side_m`` is the mean side of the footprints; the default gives the largest clearance.
    """
    span = weights.fullest_share - weights.comfortable_share
    if fill_share <= weights.comfortable_share:
        ease = 1.0
    elif span <= 0.0:
        ease = 0.0
    else:
        ease = max(0.0, (weights.fullest_share - fill_share) / span)
    full_m = min(LARGEST_CLEARANCE_M, CLEARANCE_SHARE_OF_SIDE * mean_side_m)
    return math.floor(full_m * ease * 1000 + 1e-6) / 1000


def clearance_at(place: Place, trees: Sequence[Tree], weights: Weights) -> float:
    """Clearance (m) the crowding of ``trees`` at ``place`` asks for."""
    if not trees:
        return 0.0
    fill = sum(tree.footprint_m2 for tree in trees) / place.area_m2
    mean_side = sum(tree.width_m + tree.depth_m for tree in trees) / (2 * len(trees))
    return clearance_for(fill, weights, mean_side)


def lay_out(
    place: Place,
    trees: Sequence[Tree],
    *,
    clearance_m: float,
    memo: Memo | None = None,
    lifted_kg: Mapping[str, float] | None = None,
) -> LaidOut | None:
    """Lay ``trees`` out at ``place``; None where no arrangement was found.

    clearance_m : least distance between two footprints; none is needed to an edge.
    memo : shared between calls to not search twice for the same footprints.
    lifted_kg : by tree id, weight times how often it is lifted; None: the weight alone.

    The order of ``trees`` decides nothing but that of the slots.
    """
    if not trees:
        plain = regions(place, clearance_m=clearance_m)[0]
        return LaidOut(clearance_m, np.empty((0, 4), dtype=np.int64), plain)
    ordered = sorted(trees, key=_rank)
    fit = _fitted(place, ordered, clearance_m, memo, lifted_kg)
    if fit is None:
        return None
    best = best_arranged(fit.region, fit.pots, list(fit.packings))
    slots = dict(zip((tree.id for tree in ordered), best, strict=True))
    return LaidOut(clearance_m, np.array([slots[tree.id] for tree in trees]), fit.region)


def fits(place: Place, trees: Sequence[Tree], memo: Memo) -> bool:
    """Whether ``lay_out`` would find room without clearance; nothing is arranged."""
    ordered = sorted(trees, key=_rank)
    return not trees or _fitted(place, ordered, 0.0, memo=memo) is not None


def lay_out_as_crowded(
    place: Place,
    trees: Sequence[Tree],
    weights: Weights,
    *,
    memo: Memo | None = None,
    lifted_kg: Mapping[str, float] | None = None,
) -> LaidOut | None:
    """``lay_out`` with the clearance the crowding asks for, else with none.

    ``LaidOut.clearance_m`` says which. Only a set that does not even fit without clearance is not
    laid out: a fuller place asks for less clearance.
    """
    asked_m = clearance_at(place, trees, weights)
    result = lay_out(place, trees, clearance_m=asked_m, memo=memo, lifted_kg=lifted_kg)
    return result or lay_out(place, trees, clearance_m=0.0, memo=memo, lifted_kg=lifted_kg)


def left_over(place: Place, trees: Sequence[Tree]) -> list[Tree]:
    """Of trees that do not fit together, those that find no room once the others are set down."""
    ordered = sorted(trees, key=_rank)
    pots = pots_of(ordered, sideways=frame_of(place).sideways)
    longest = int(pots.sizes.max())
    ways = regions(place, clearance_m=0.0, pitches=_pitches(pots, 0))
    roomiest = max(ways, key=lambda way: way.reachable_area(longest))
    return [ordered[i] for i in left_by_corners(roomiest, pots)]


def _rank(tree: Tree) -> tuple[float, float, float, float, float, str]:
    size = sorted((tree.width_m, tree.depth_m))
    light = tree.limits.light_floor_mol_m2_d
    return (-size[1], -size[0], -tree.height_m, -light, -tree.weight_kg, tree.id)


def _pitches(pots: Pots, clearance: int) -> list[int]:
    """From one tree to the next when trees of middling size stand side by side, units."""
    middling = np.sort(np.sort(pots.sizes), axis=0)[len(pots) // 2]
    return sorted({int(side) + clearance for side in middling})


def _fitted(
    place: Place,
    ordered: Sequence[Tree],
    clearance_m: float,
    memo: Memo | None = None,
    lifted_kg: Mapping[str, float] | None = None,
) -> _Fit | None:
    pots = pots_of(ordered, sideways=frame_of(place).sideways, lifted_kg=lifted_kg)
    ways = regions(place, clearance_m=clearance_m, pitches=_pitches(pots, units_up(clearance_m)))
    longest, claimed = int(pots.sizes.max()), pots.claimed_area(ways[0].clearance)
    roomy = [way for way in ways if claimed <= way.reachable_area(longest)]
    for way in roomy:
        packings = packed_in_rows(way, pots)
        for first in packings:
            return _Fit(way, pots, chain((first,), packings))
    found = {} if memo is None else memo
    key = (ways, pots.sizes.tobytes())
    if key not in found:
        tries = max(1, TRIES // max(1, len(roomy)))
        close = ((way, packed_in_corners(way, pots, tries=tries)) for way in roomy)
        found[key] = next(((way, slots) for way, slots in close if slots is not None), None)
    packed = found[key]
    return None if packed is None else _Fit(packed[0], pots, iter((packed[1],)))


def layouts_of(place: Place, trees: Sequence[Tree], slots: IntArray) -> dict[str, Layout]:
    """Layouts by tree id, m from the front left corner, with the trees' own sides."""
    layouts = {}
    for tree, (x, y, width, _) in zip(trees, frame_of(place).to_place(slots), strict=True):
        sides = (tree.width_m, tree.depth_m)
        if units_up(tree.width_m) != width:
            sides = sides[::-1]
        layouts[tree.id] = Layout(tree.id, int(x) / UNITS_PER_M, int(y) / UNITS_PER_M, *sides)
    return layouts
