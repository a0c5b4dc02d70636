"""Does it fit: area, load and the layouts drawn to scale."""

from collections import Counter
from collections.abc import Iterator, Sequence
from math import isfinite

import numpy as np

from overwinter.audit.costs import Ledger
from overwinter.audit.report import SLACK, Finding, PlaceUse, Rule, excess
from overwinter.model.plan import Layout
from overwinter.model.tree import Tree

SHIFT_M = 0.001
"""What is nearer than this to where it stood has not been moved."""

Fault = tuple[float, str, str]
"""By how much, unit, in words."""


def area_enough(ledger: Ledger) -> Iterator[Finding]:
    """Footprints on a place sum to no more than the fullest share of its area."""
    fullest = ledger.season.site.weights.fullest_share
    for (place_id, stage), trees in ledger.occupants.items():
        area = fullest * ledger.season.places[place_id].area_m2
        over = excess(sum(tree.footprint_m2 for tree in trees), area)
        if over and stage >= ledger.free_stages.start:
            text = f"{len(trees)} trees crowd {place_id} past {fullest:.0%} of its area"
            yield Finding(Rule.AREA, None, place_id, stage, over, "m²", text)


def load_borne(ledger: Ledger) -> Iterator[Finding]:
    """Trees on a place weigh no more than it may carry."""
    for (place_id, stage), trees in ledger.occupants.items():
        most = ledger.season.places[place_id].load_limit_kg
        over = excess(sum(tree.weight_kg for tree in trees), most)
        if over and stage >= ledger.free_stages.start:
            text = f"{len(trees)} trees overload {place_id}"
            yield Finding(Rule.LOAD, None, place_id, stage, over, "kg", text)


def layouts_hold(ledger: Ledger) -> Iterator[Finding]:
    """Unless nothing was to be drawn, every place under cover is; each tree once, inside, apart."""
    drawn = {
        (p, k): layouts
        for p, by_stage in ledger.plan.layouts.items()
        for k, layouts in by_stage.items()
    }
    for (place_id, stage), layouts in drawn.items():
        if place_id not in ledger.season.places or not 0 <= stage < len(ledger.stages):
            text = f"a layout is drawn for {place_id} where there is no such place or stage"
            yield Finding(Rule.LAYOUT, None, place_id, stage, 1, "layout", text)
        elif stage >= ledger.free_stages.start:
            for over, unit, text in _faults(ledger, place_id, stage, layouts):
                yield Finding(Rule.LAYOUT, None, place_id, stage, over, unit, text)
    asked = bool(drawn) or ledger.plan.proof.misfits is not None
    for place_id, stage in ledger.occupants if asked else ():
        due = stage >= ledger.free_stages.start and not ledger.shelter_of(place_id).open_air
        if due and (place_id, stage) not in drawn:
            text = f"no layout is drawn for {place_id}"
            yield Finding(Rule.LAYOUT, None, place_id, stage, 1, "layout", text)


def spots_kept(ledger: Ledger) -> Iterator[Finding]:
    """A tree that stays keeps its spot, or its shift is listed; no newcomer is sent onto it."""
    listed = Counter((s.stage, s.place_id, s.tree_id) for s in ledger.plan.shifts)
    for place_id, by_stage in ledger.plan.layouts.items():
        for stage in sorted(by_stage):
            if stage < ledger.free_stages.start or place_id not in ledger.season.places:
                continue
            before = {one.tree_id: one for one in _stood(ledger, place_id, stage - 1)}
            for now in by_stage[stage]:
                was = before.get(now.tree_id)
                off = 0.0 if was is None else _apart(was, now)
                told = listed.pop((stage, place_id, now.tree_id), 0)
                if told != (off > SHIFT_M):
                    newcomers = [one for one in by_stage[stage] if one.tree_id not in before]
                    text = _untold(place_id, now, was, newcomers) if not told else ""
                    text = text or f"a shift of {now.tree_id} on {place_id} is listed wrongly"
                    yield Finding(Rule.SPOT, now.tree_id, place_id, stage, off or 1.0, "m", text)
    for stage, place_id, tree_id in listed:
        if stage >= ledger.free_stages.start:
            text = f"a shift of {tree_id} is listed for {place_id}, where it is not drawn"
            yield Finding(Rule.SPOT, tree_id, place_id, stage, 1, "shifts", text)


def _stood(ledger: Ledger, place_id: str, stage: int) -> Sequence[Layout]:
    """Where trees stood in a stage; what the plan began from is known better than the plan."""
    start = ledger.start
    if start is not None and start.layouts is not None and stage == start.fixed_stages - 1:
        return start.layouts.get(place_id, ())
    return ledger.plan.layouts.get(place_id, {}).get(stage, ())


def _apart(one: Layout, other: Layout) -> float:
    """How far a tree's rectangle moved or was turned, m."""
    return max(
        abs(one.x_m - other.x_m),
        abs(one.y_m - other.y_m),
        abs(one.width_m - other.width_m),
    )


def _untold(place_id: str, now: Layout, was: Layout | None, newcomers: Sequence[Layout]) -> str:
    for one in newcomers:
        if was is not None and next(_overlaps((one, was)), None):
            return (
                f"{one.tree_id} is sent to a spot of {place_id} where {now.tree_id} stands, "
                "which nobody is told to move"
            )
    return f"{now.tree_id} is drawn elsewhere on {place_id}, and nobody is told to move it"


def _faults(ledger: Ledger, place_id: str, stage: int, drawn: Sequence[Layout]) -> Iterator[Fault]:
    place = ledger.season.places[place_id]
    standing = {tree.id: tree for tree in ledger.occupants.get((place_id, stage), ())}
    times = Counter(layout.tree_id for layout in drawn)
    odd = [t for t in dict.fromkeys([*standing, *times]) if times[t] != 1 or t not in standing]
    if odd:
        text = f"the layout of {place_id} and its trees differ: " + ", ".join(odd)
        yield len(odd), "trees", text
    for layout in drawn:
        if not all(map(isfinite, (layout.x_m, layout.y_m, layout.width_m, layout.depth_m))):
            yield 1, "figure", f"{layout.tree_id} is drawn nowhere on {place_id}"
            continue
        out = max(
            -layout.x_m,
            -layout.y_m,
            layout.x_m + layout.width_m - place.width_m,
            layout.y_m + layout.depth_m - place.depth_m,
        )
        if excess(out):
            yield out, "m", f"{layout.tree_id} is drawn over the edge of {place_id}"
        tree = standing.get(layout.tree_id)
        off = 0.0 if tree is None else _off_size(layout, tree)
        if excess(off):
            yield off, "m", f"{layout.tree_id} is drawn {off:.3f} m off its size"
    for one, other, overlap in _overlaps(drawn):
        yield overlap, "m", f"{one.tree_id} and {other.tree_id} overlap on {place_id}"


def _off_size(layout: Layout, tree: Tree) -> float:
    straight = max(abs(tree.width_m - layout.width_m), abs(tree.depth_m - layout.depth_m))
    turned = max(abs(tree.depth_m - layout.width_m), abs(tree.width_m - layout.depth_m))
    return min(straight, turned)


def _overlaps(drawn: Sequence[Layout]) -> Iterator[tuple[Layout, Layout, float]]:
    """Pairs of rectangles and how far they would have to be moved apart, m.

    From left to right each is held against those that begin before it ends: a nursery's ground
    carries thousands, and far more pairs.
    """
    order = sorted(drawn, key=lambda layout: layout.x_m)
    left = np.array([layout.x_m for layout in order])
    right = left + np.array([layout.width_m for layout in order])
    front = np.array([layout.y_m for layout in order])
    back = front + np.array([layout.depth_m for layout in order])
    for number, end in enumerate(np.searchsorted(left, right).tolist()):
        others = slice(number + 1, end)
        along = np.minimum(right[others], right[number]) - left[others]
        deep = np.minimum(back[others], back[number]) - np.maximum(front[others], front[number])
        overlap = np.minimum(along, deep)
        for other in np.flatnonzero(overlap > SLACK).tolist():
            yield order[number], order[number + 1 + other], float(overlap[other])


def place_uses(ledger: Ledger) -> tuple[PlaceUse, ...]:
    """How full every occupied place is in every stage."""
    fullest = ledger.season.site.weights.fullest_share
    uses = []
    for place_id, place in ledger.season.places.items():
        for stage in range(len(ledger.stages)):
            trees = ledger.occupants.get((place_id, stage), ())
            if trees:
                area = sum(tree.footprint_m2 for tree in trees)
                share = area / (fullest * place.area_m2)
                load = sum(tree.weight_kg for tree in trees)
                uses.append(PlaceUse(place_id, stage, len(trees), area, share, load))
    return tuple(uses)
