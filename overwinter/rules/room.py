"""Does it fit: area, load and the layouts drawn to scale."""

from collections import Counter
from collections.abc import Iterator, Sequence
from math import isfinite

import numpy as np

from overwinter.model.plan import Layout
from overwinter.model.tree import Tree
from overwinter.rules.rule import SLACK, Fault, Ledger, Rule, excess

SHIFT_M = 0.001  # what is nearer than this to where it stood has not been moved


def area_enough(ledger: Ledger) -> Iterator[Fault]:
    """Footprints on a place sum to no more than the fullest share of its area."""
    fullest = ledger.season.site.weights.fullest_share
    for place, stage, trees in ledger.chosen():
        if over := excess(sum(tree.footprint_m2 for tree in trees), fullest * place.area_m2):
            name = ledger.season.place_name(place.id)
            text = f"{len(trees)} trees crowd {name} past {100.0 * fullest:.0f} % of its area"
            yield None, place.id, stage, over, "m²", text


def layouts_hold(ledger: Ledger) -> Iterator[Fault]:
    """Every place under cover is drawn (unless the plan says that nothing was: `misfits` empty):
    each tree there once, of its size, inside, apart from the others."""
    layouts_of = ledger.plan.layouts.items()
    drawn = {(p, k): layouts for p, by_stage in layouts_of for k, layouts in by_stage.items()}
    for (place_id, stage), layouts in drawn.items():
        if place_id not in ledger.season.places or not 0 <= stage < len(ledger.stages):
            text = f"a layout is drawn for {place_id} where there is no such place or stage"
            yield None, place_id, stage, 1, "layout", text
        elif stage >= ledger.free_stages.start:
            for over, unit, text in _drawn_wrongly(ledger, place_id, stage, layouts):
                yield None, place_id, stage, over, unit, text
    asked = bool(drawn) or ledger.plan.proof.misfits is not None
    for place_id, stage in ledger.occupants if asked else ():
        due = stage >= ledger.free_stages.start and not ledger.season.shelter_of(place_id).open_air
        if due and (place_id, stage) not in drawn:
            yield None, place_id, stage, 1, "layout", f"no layout is drawn for {place_id}"


def spots_kept(ledger: Ledger) -> Iterator[Fault]:
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
                    yield now.tree_id, place_id, stage, off or 1.0, "m", text
    for stage, place_id, tree_id in listed:
        if stage >= ledger.free_stages.start:
            text = f"a shift of {tree_id} is listed for {place_id}, where it is not drawn"
            yield tree_id, place_id, stage, 1, "shifts", text


def _stood(ledger: Ledger, place_id: str, stage: int) -> Sequence[Layout]:
    """Where trees stood in a stage; what the plan began from is known better than the plan."""
    start = ledger.start
    if start is not None and start.layouts is not None and stage == start.fixed_stages - 1:
        return start.layouts.get(place_id, ())
    return ledger.plan.layouts.get(place_id, {}).get(stage, ())


def _apart(one: Layout, other: Layout) -> float:
    """How far a tree's rectangle moved or was turned, m."""
    aside, back = abs(one.x_m - other.x_m), abs(one.y_m - other.y_m)
    return max(aside, back, abs(one.width_m - other.width_m))


def _untold(place_id: str, now: Layout, was: Layout | None, newcomers: Sequence[Layout]) -> str:
    for one in newcomers:
        if was is not None and next(_overlaps((one, was)), None):
            return (
                f"{one.tree_id} is sent to a spot of {place_id} where {now.tree_id} stands, "
                "which nobody is told to move"
            )
    return f"{now.tree_id} is drawn elsewhere on {place_id}, and nobody is told to move it"


def _drawn_wrongly(
    ledger: Ledger, place_id: str, stage: int, drawn: Sequence[Layout]
) -> Iterator[tuple[float, str, str]]:
    """By how much, its unit, in words."""
    place = ledger.season.places[place_id]
    standing = {tree.id: tree for tree in ledger.occupants.get((place_id, stage), ())}
    times = Counter(layout.tree_id for layout in drawn)
    odd = [t for t in dict.fromkeys([*standing, *times]) if times[t] != 1 or t not in standing]
    if odd:
        name = ledger.season.place_name(place_id)
        text = f"others stand at {name} than are drawn there: {', '.join(odd)}"
        yield len(odd), "trees", text
    for layout in drawn:
        if not all(map(isfinite, (layout.x_m, layout.y_m, layout.width_m, layout.depth_m))):
            yield 1, "figure", f"{layout.tree_id} is drawn nowhere on {place_id}"
            continue
        right, back = layout.x_m + layout.width_m, layout.y_m + layout.depth_m
        out = max(-layout.x_m, -layout.y_m, right - place.width_m, back - place.depth_m)
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
    """Pairs of rectangles and how far they would have to be moved apart, m. From left to right each
    is held against those that begin before it ends: a nursery's ground carries thousands, and far
    more pairs."""
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


AREA = Rule("area of a place", area_enough, "no room left", "m²")
LAYOUT = Rule("layout of a place", layouts_hold)
SPOT = Rule("spots of trees that stay", spots_kept)
RULES = (AREA, LAYOUT, SPOT)
