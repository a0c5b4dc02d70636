"""Does it really fit? The trees of one place, laid out to scale.

First what can be proven without a search, then trees in rows, then trees in corners, then the exact
search. What is wished for (tall ones behind short ones, light-hungry ones to the glass, heavy ones
near the hand) chooses between arrangements that fit and never makes a set impossible.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from overwinter.benches import bounds
from overwinter.benches.arrange import best_arranged
from overwinter.benches.clearance import clearance_at
from overwinter.benches.corners import left_by_corners, packed_in_corners
from overwinter.benches.exact import Exact, packed_exactly
from overwinter.benches.grid import metres, units_up
from overwinter.benches.pots import Pots, pots_of
from overwinter.benches.region import Frame, Region, frame_of, regions
from overwinter.benches.results import Effort, Impossible, LaidOut, LayoutResult, Unknown, Why
from overwinter.benches.rows import packed_in_rows
from overwinter.model.plan import Layout
from overwinter.model.shelter import Place
from overwinter.model.site import Weights
from overwinter.model.stage import IntArray
from overwinter.model.tree import Tree

REACH_M = 0.75
"""From the edge one stands at to the middle of the pot. Common practice, no source."""
PATH_M = 0.45
"""Width of a path left free on ground one walks on. Common practice, no source."""

_Key = tuple[tuple[Region, ...], tuple[tuple[int, int], ...]]


@dataclass(frozen=True)
class Packing:
    """Slots ``(n, 4)`` in one division of the ground."""

    region: Region
    slots: IntArray
    found_by: str


@dataclass
class Memo:
    """What close packing found, by ground and footprints; one for a run with one ``Effort``."""

    found: dict[_Key, Packing | Exact] = field(default_factory=dict)


def lay_out(
    place: Place,
    trees: Sequence[Tree],
    *,
    clearance_m: float,
    reach_m: float = REACH_M,
    path_m: float = PATH_M,
    effort: Effort | None = None,
    memo: Memo | None = None,
    lifted_kg: Mapping[str, float] | None = None,
) -> LayoutResult:
    """Lay ``trees`` out at ``place``, or prove that they do not fit, or neither.

    Parameters
    ----------
    clearance_m
        Least distance between two footprints, m; none is needed to an edge.
    reach_m
        The middle of every tree lies this near an open side (or a path), m; may be ``inf``.
    path_m
        Width of paths on ground one walks on, m; they are left only where reach asks for them.
    effort
        Work limits; the result depends on them, never on the clock.
    memo
        Shared between calls to not search twice for the same footprints.
    lifted_kg
        By tree id: weight times how often it is lifted; None: the weight alone.

    Returns
    -------
    LaidOut, Impossible or Unknown. Does not depend on the order of ``trees``, except that the
    layouts come in that order.
    """
    if not trees:
        return LaidOut((), clearance_m, 0.0, "rows")
    ordered = sorted(trees, key=_rank)
    for bound in (bounds.too_tall, bounds.too_heavy):
        proof = bound(place, ordered)
        if proof is not None:
            return proof
    frame = frame_of(place)
    pots = pots_of(ordered, sideways=frame.sideways, lifted_kg=lifted_kg)
    ways = regions(
        place,
        clearance_m=clearance_m,
        reach_m=reach_m,
        path_m=path_m,
        pitches=_pitches(pots, units_up(clearance_m)),
    )
    result = _fitted(
        place, ways, ordered, pots, effort or Effort(), Memo() if memo is None else memo
    )
    if not isinstance(result, _Fit):
        return result
    layouts = layouts_of(frame, ordered, result.slots)
    slots = dict(zip((tree.id for tree in ordered), result.slots, strict=True))
    return LaidOut(
        tuple(layouts[tree.id] for tree in trees),
        clearance_m,
        result.shade_m2,
        result.found_by,
        np.array([slots[tree.id] for tree in trees]),
        result.region,
    )


def lay_out_as_crowded(
    place: Place,
    trees: Sequence[Tree],
    weights: Weights,
    *,
    reach_m: float = REACH_M,
    path_m: float = PATH_M,
    effort: Effort | None = None,
    memo: Memo | None = None,
    lifted_kg: Mapping[str, float] | None = None,
) -> LayoutResult:
    """``lay_out`` with the clearance the crowding asks for, else half of it, else none.

    ``LaidOut.clearance_m`` says which. Only a set that does not even fit without clearance is
    Impossible or Unknown: a fuller place asks for less clearance, so that only these remain
    impossible whatever is added, and may be cut off for good.
    """
    asked_m = clearance_at(place, trees, weights)
    result: LayoutResult = Unknown("", ())
    for clearance_m in sorted({asked_m, round(asked_m / 2, 3), 0.0}, reverse=True):
        result = lay_out(
            place,
            trees,
            clearance_m=clearance_m,
            reach_m=reach_m,
            path_m=path_m,
            effort=effort,
            memo=memo,
            lifted_kg=lifted_kg,
        )
        if isinstance(result, LaidOut):
            break
    return result


def left_over(place: Place, trees: Sequence[Tree]) -> list[Tree]:
    """Of trees that do not fit together, those that find no room once the others are set down."""
    ordered = sorted(trees, key=_rank)
    pots = pots_of(ordered, sideways=frame_of(place).sideways)
    ways = regions(
        place, clearance_m=0.0, reach_m=REACH_M, path_m=PATH_M, pitches=_pitches(pots, 0)
    )
    left = (left_by_corners(way, pots) for way in ways)
    return min(
        ([ordered[i] for i in some] for some in left),
        key=lambda some: sum(tree.footprint_m2 for tree in some),
    )


@dataclass(frozen=True)
class _Fit:
    slots: IntArray
    region: Region
    shade_m2: float
    found_by: str


def _rank(tree: Tree) -> tuple[float, float, float, float, float, str]:
    size = sorted((tree.width_m, tree.depth_m))
    light = tree.limits.light_floor_mol_m2_d
    return (-size[1], -size[0], -tree.height_m, -light, -tree.weight_kg, tree.id)


def _pitches(pots: Pots, clearance: int) -> list[int]:
    """From one tree to the next when trees of middling size stand side by side, units."""
    short, long = (int(spans[len(spans) // 2]) for spans in np.sort(pots.spans, axis=0).T)
    return sorted({short + clearance, long + clearance})


def _fitted(
    place: Place,
    ways: tuple[Region, ...],
    trees: Sequence[Tree],
    pots: Pots,
    effort: Effort,
    memo: Memo,
) -> _Fit | Impossible | Unknown:
    plain = ways[0]
    proof = (
        bounds.alone(place, ways, trees, pots)
        or bounds.area(place, plain if len(ways) == 1 else plain.without_reach(), trees, pots)
        or bounds.side_by_side(place, plain, trees, pots)
    )
    if proof is not None:
        return proof
    longest = int(pots.spans[:, 1].max())
    claimed = bounds.claimed_area(pots, plain.clearance)
    roomy = [way for way in ways if claimed <= bounds.reachable_area(way, longest)]
    for way in roomy:
        packings = list(packed_in_rows(way, pots))
        if packings:
            return _fit(way, pots, packings, "rows")
    key = (ways, tuple((int(short), int(long)) for short, long in pots.spans))
    close = memo.found.get(key)
    if close is None:
        close = memo.found[key] = _packed_close(ways, roomy, pots, effort)
    if isinstance(close, Packing):
        return _fit(close.region, pots, [close.slots], close.found_by)
    ids = tuple(tree.id for tree in trees)
    if close is Exact.NONE_EXISTS:
        return Impossible(Why.SEARCHED, f"{len(trees)} trees at {place.name}", ids)
    return Unknown(f"{len(trees)} trees at {place.name}: no arrangement found or excluded", ids)


def _fit(region: Region, pots: Pots, packings: Sequence[IntArray], found_by: str) -> _Fit:
    best = best_arranged(region, pots, packings)
    return _Fit(best.slots, region, best.shade_m2, found_by)


def _packed_close(
    ways: Sequence[Region], roomy: Sequence[Region], pots: Pots, effort: Effort
) -> Packing | Exact:
    """Corners on every division with room enough, then the exact search on undivided ground."""
    tries = effort.corner_trees // (len(pots) * max(1, len(roomy)))
    for way in roomy:
        for slots in packed_in_corners(way, pots, tries):
            return Packing(way, slots, "corners")
    if len(pots) > effort.exact_trees:
        return Exact.STOPPED
    plain = ways[0]
    exact = packed_exactly(plain, pots, effort.exact_work)
    if not isinstance(exact, Exact):
        return Packing(plain, exact, "exact")
    if exact is Exact.NONE_EXISTS and len(ways) > 1:
        # a path may still bring all within reach: only what fits nowhere at all is excluded
        boundless = packed_exactly(plain.without_reach(), pots, effort.exact_work)
        return boundless if boundless is Exact.NONE_EXISTS else Exact.STOPPED
    return exact


def layouts_of(frame: Frame, trees: Sequence[Tree], slots: IntArray) -> dict[str, Layout]:
    """Layouts by tree id, m from the front left corner, with the trees' own sides."""
    layouts = {}
    for tree, (x, y, width, _) in zip(trees, frame.to_place(slots), strict=True):
        sides = (tree.width_m, tree.depth_m)
        if units_up(tree.width_m) != width:
            sides = sides[::-1]
        layouts[tree.id] = Layout(tree.id, metres(int(x)), metres(int(y)), *sides)
    return layouts
