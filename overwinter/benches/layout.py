"""Does it really fit? The trees of one place, laid out to scale. Trees in rows first, then in
corners. What is wished for (tall ones behind short ones, light-hungry ones to the glass, heavy ones
near the hand) chooses between arrangements that fit and never makes a set impossible."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import chain

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
from overwinter.model.stage import IntArray
from overwinter.model.tree import Tree

LARGEST_CLEARANCE_M, CLEARANCE_SHARE_OF_SIDE = 0.03, 0.06
"""Trees keep 6 % of the mean side of their footprints apart, at most 3 cm; where that does not fit,
footprints (pot and crown) may touch but never overlap. Common practice, no source. By size, as 3 cm
between seedlings would take half the bench."""


@dataclass(frozen=True, slots=True)
class LaidOut:
    """Every tree has its rectangle."""

    clearance_m: float  # least clearance kept between any two trees, m
    slots: IntArray  # `(n, 4)` in the frame and units of `region`, in the order of the trees given
    region: Region


def clearance_at(trees: Sequence[Tree]) -> float:
    """Clearance (m, whole mm) asked for between trees."""
    side_m = sum(tree.width_m + tree.depth_m for tree in trees) / (2 * max(1, len(trees)))
    full_m = min(LARGEST_CLEARANCE_M, CLEARANCE_SHARE_OF_SIDE * side_m)
    return math.floor(full_m * 1000 + 1e-6) / 1000


def lay_out(place: Place, trees: Sequence[Tree], *, clearance_m: float) -> LaidOut | None:
    """Lay ``trees`` out at ``place``, ``clearance_m`` between two footprints; None where no
    arrangement was found. The order of ``trees`` decides nothing but that of the slots."""
    if not trees:
        plain = regions(place, clearance_m=clearance_m)[0]
        return LaidOut(clearance_m, np.empty((0, 4), dtype=np.int64), plain)
    ordered = sorted(trees, key=_rank)
    found = _fitted(place, ordered, clearance_m)
    if found is None:
        return None
    region, pots, packings = found
    best = best_arranged(region, pots, list(packings))
    slots = dict(zip((tree.id for tree in ordered), best, strict=True))
    return LaidOut(clearance_m, np.array([slots[tree.id] for tree in trees]), region)


def fits(place: Place, trees: Sequence[Tree]) -> bool:
    """Whether ``lay_out`` would find room without clearance; nothing is arranged."""
    return not trees or _fitted(place, sorted(trees, key=_rank), 0.0) is not None


def lay_out_as_crowded(place: Place, trees: Sequence[Tree]) -> LaidOut | None:
    """``lay_out`` with the clearance asked for, else with none; ``LaidOut.clearance_m`` says which.
    Only a set that does not even fit without clearance is not laid out."""
    asked = lay_out(place, trees, clearance_m=clearance_at(trees))
    return asked or lay_out(place, trees, clearance_m=0.0)


def left_over(place: Place, trees: Sequence[Tree]) -> list[Tree]:
    """Of trees that do not fit together, those that find no room once the others are set down."""
    ordered = sorted(trees, key=_rank)
    pots = pots_of(ordered, sideways=frame_of(place).sideways)
    ways = regions(place, clearance_m=0.0, pitches=_pitches(pots, 0))
    return [ordered[i] for i in min((left_by_corners(way, pots) for way in ways), key=len)]


def _rank(tree: Tree) -> tuple[float, float, float, float, float, str]:
    size = sorted((tree.width_m, tree.depth_m))
    light = tree.limits.light_floor_mol_m2_d
    return (-size[1], -size[0], -tree.height_m, -light, -tree.weight_kg, tree.id)


def _pitches(pots: Pots, clearance: int) -> list[int]:
    """From one tree to the next when trees of middling size stand side by side, units."""
    middling = np.sort(np.sort(pots.sizes), axis=0)[len(pots) // 2]
    return sorted({int(side) + clearance for side in middling})


def _fitted(
    place: Place, ordered: Sequence[Tree], clearance_m: float
) -> tuple[Region, Pots, Iterator[IntArray]] | None:
    """Arrangements of all trees in one division, found as they are asked for."""
    pots = pots_of(ordered, sideways=frame_of(place).sideways)
    ways = regions(place, clearance_m=clearance_m, pitches=_pitches(pots, units_up(clearance_m)))
    claimed = (pots.sizes + ways[0].clearance).prod(axis=1).sum()
    roomy = [way for way in ways if claimed <= way.area]
    for way in roomy:
        packings = packed_in_rows(way, pots)
        for first in packings:
            return way, pots, chain((first,), packings)
    # that it fits is worth a search, that it stands airily is not
    tries = 1 if clearance_m else max(1, TRIES // max(1, len(roomy)))
    for way in roomy:
        slots = packed_in_corners(way, pots, tries=tries)
        if slots is not None:
            return way, pots, iter((slots,))
    return None


def layouts_of(place: Place, trees: Sequence[Tree], slots: IntArray) -> dict[str, Layout]:
    """Layouts by tree id, m from the front left corner, with the trees' own sides."""
    layouts = {}
    for tree, (x, y, width, _) in zip(trees, frame_of(place).to_place(slots), strict=True):
        sides = (tree.width_m, tree.depth_m)
        if units_up(tree.width_m) != width:
            sides = sides[::-1]
        layouts[tree.id] = Layout(tree.id, int(x) / UNITS_PER_M, int(y) / UNITS_PER_M, *sides)
    return layouts
