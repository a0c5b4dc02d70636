"""Does it fit: headroom, footprint, area, load, and the drawn layouts."""

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, PlaceUse, Rule
from overwinter.model.plan import Layout
from overwinter.model.season import Spell
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree

SLACK_M = 1e-6
"""Lengths this near to a limit count as kept (rounding of inches)."""
SLACK_M2 = 1e-6
SLACK_KG = 1e-6


def check_headroom(ledger: Ledger) -> list[Finding]:
    """No tree is taller than the clear height of its place."""
    found = []
    for tree, spell, place in ledger.stays():
        over = tree.height_m - place.headroom_m
        if over > SLACK_M:
            text = f"{tree.name} is too tall for {place.id}"
            found.append(_stay(Rule.HEADROOM, tree, place, spell, over, "m", text))
    return found


def check_width(ledger: Ledger) -> list[Finding]:
    """Each tree's footprint, turned or not, lies within its place."""
    found = []
    for tree, spell, place in ledger.stays():
        straight = max(tree.width_m - place.width_m, tree.depth_m - place.depth_m)
        turned = max(tree.depth_m - place.width_m, tree.width_m - place.depth_m)
        over = min(straight, turned)
        if over > SLACK_M:
            text = f"{tree.name} is too wide for {place.id}"
            found.append(_stay(Rule.WIDTH, tree, place, spell, over, "m", text))
    return found


def check_area(ledger: Ledger) -> list[Finding]:
    """Footprints on a place sum to no more than the fullest share of its area."""
    fullest = ledger.season.site.weights.fullest_share
    found = []
    for (place_id, number), trees in ledger.occupants.items():
        place = ledger.season.places[place_id]
        over = sum(tree.footprint_m2 for tree in trees) - fullest * place.area_m2
        if over > SLACK_M2:
            text = f"{len(trees)} trees crowd {place_id} past {fullest:.0%} of its area"
            found.append(_place(ledger, Rule.AREA, place_id, number, over, "m2", text))
    return found


def check_load(ledger: Ledger) -> list[Finding]:
    """Trees on a place weigh no more than it may carry."""
    found = []
    for (place_id, number), trees in ledger.occupants.items():
        over = sum(tree.weight_kg for tree in trees) - ledger.season.places[place_id].load_limit_kg
        if over > SLACK_KG:
            text = f"{len(trees)} trees overload {place_id}"
            found.append(_place(ledger, Rule.LOAD, place_id, number, over, "kg", text))
    return found


def check_layouts(ledger: Ledger) -> list[Finding]:
    """Where a layout is drawn it holds each tree once, inside its place, apart from the others."""
    found = []
    for place_id, by_spell in ledger.plan.layouts.items():
        if place_id not in ledger.season.places:
            text = f"a layout is drawn for {place_id}, which is no place"
            found.append(Finding(Rule.LAYOUT, None, place_id, None, 1.0, "place", text))
            continue
        for number, drawn in by_spell.items():
            if not 0 <= number < len(ledger.spells):
                text = f"a layout of {place_id} is drawn for spell {number}, which is none"
                found.append(Finding(Rule.LAYOUT, None, place_id, None, 1.0, "spell", text))
                continue
            for over, unit, text in _layout_faults(ledger, place_id, number, drawn):
                found.append(_place(ledger, Rule.LAYOUT, place_id, number, over, unit, text))
    return found


def _layout_faults(
    ledger: Ledger, place_id: str, number: int, drawn: tuple[Layout, ...]
) -> list[tuple[float, str, str]]:
    place = ledger.season.places[place_id]
    standing = {tree.id: tree for tree in ledger.occupants.get((place_id, number), ())}
    names = [layout.tree_id for layout in drawn]
    faults: list[tuple[float, str, str]] = []
    odd = sorted(set(names) ^ set(standing)) + sorted(n for n, k in Counter(names).items() if k > 1)
    if odd:
        faults.append(
            (len(odd), "trees", f"the layout of {place_id} and its trees differ: " + ", ".join(odd))
        )
    for layout in drawn:
        out = max(
            -layout.x_m,
            -layout.y_m,
            layout.x_m + layout.width_m - place.width_m,
            layout.y_m + layout.depth_m - place.depth_m,
        )
        if out > SLACK_M:
            faults.append((out, "m", f"{layout.tree_id} is drawn over the edge of {place_id}"))
        small = _too_small(layout, standing.get(layout.tree_id))
        if small > SLACK_M:
            faults.append((small, "m", f"{layout.tree_id} is drawn smaller than it is"))
    for one, other, overlap in _overlaps(drawn):
        text = f"{one.tree_id} and {other.tree_id} overlap on {place_id}"
        faults.append((overlap, "m", text))
    return faults


def _too_small(layout: Layout, tree: Tree | None) -> float:
    if tree is None:
        return 0.0
    straight = max(tree.width_m - layout.width_m, tree.depth_m - layout.depth_m)
    turned = max(tree.depth_m - layout.width_m, tree.width_m - layout.depth_m)
    return min(straight, turned)


def _overlaps(drawn: Sequence[Layout]) -> Iterator[tuple[Layout, Layout, float]]:
    """Pairs of rectangles and how far they would have to be moved apart, m.

    From left to right each is held against those that begin before it ends; a nursery's ground
    carries thousands, and far more pairs.
    """
    order = sorted(drawn, key=lambda layout: layout.x_m)
    left = np.array([layout.x_m for layout in order])
    right = left + np.array([layout.width_m for layout in order])
    front = np.array([layout.y_m for layout in order])
    back = front + np.array([layout.depth_m for layout in order])
    ends = np.searchsorted(left, right)
    for number, end in enumerate(ends.tolist()):
        others = slice(number + 1, end)
        along = np.minimum(right[others], right[number]) - left[others]
        deep = np.minimum(back[others], back[number]) - np.maximum(front[others], front[number])
        overlap = np.minimum(along, deep)
        for other in np.flatnonzero(overlap > SLACK_M).tolist():
            yield order[number], order[number + 1 + other], float(overlap[other])


def place_uses(ledger: Ledger) -> tuple[PlaceUse, ...]:
    """How full every occupied place is in every spell."""
    fullest = ledger.season.site.weights.fullest_share
    uses = []
    for (place_id, number), trees in ledger.occupants.items():
        footprint = sum(tree.footprint_m2 for tree in trees)
        uses.append(
            PlaceUse(
                place_id=place_id,
                spell=number,
                trees=len(trees),
                footprint_m2=footprint,
                share=footprint / (fullest * ledger.season.places[place_id].area_m2),
                load_kg=sum(tree.weight_kg for tree in trees),
            )
        )
    order = {place_id: number for number, place_id in enumerate(ledger.season.places)}
    return tuple(sorted(uses, key=lambda use: (order[use.place_id], use.spell)))


def _stay(
    rule: Rule, tree: Tree, place: Place, spell: Spell, over: float, unit: str, text: str
) -> Finding:
    return Finding(rule, tree.id, place.id, spell.start, over, unit, text, spell.index)


def _place(
    ledger: Ledger, rule: Rule, place_id: str, number: int, over: float, unit: str, text: str
) -> Finding:
    start = ledger.spells[number].start
    return Finding(rule, None, place_id, start, over, unit, text, number)
