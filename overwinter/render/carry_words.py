"""The sentences of a carry list: settings, guards, water, pests; and spots on a bench.

All checks are common practice, no source, but for watering well and letting the tops dry before
trees go under cover (UMass Extension, read) and mesh of 6 mm or finer (extension, read).
"""

from collections.abc import Mapping
from datetime import date

from overwinter.model.plan import Layout, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Place, Side
from overwinter.model.species import LeafHabit
from overwinter.model.tree import Condition, Tree
from overwinter.render.cautions import dries_at
from overwinter.render.words import long_date, place_name, short_date
from overwinter.units import Display

_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")

NEAR_ROOF_M = 0.10
"""Headroom left over below which the tree must be tilted in."""


def day_words(day: date, *, year: bool = True) -> str:
    """``Sat 1 Nov 2025``, the same whatever the machine's language is."""
    return f"{_DAYS[day.weekday()]} {long_date(day) if year else short_date(day)}"


def place_words(season: Season, place_id: str | None) -> str:
    """``Garage, bench 2``; a tree without a source arrives that day."""
    return "arrives today" if place_id is None else place_name(season, place_id)


def guard_words(tree: Tree, place: Place) -> str:
    """What to do about mice once the tree stands; empty where none come or none care."""
    if place.rodent_exposure <= 0.0 or tree.limits.rodent_appeal <= 0.0:
        return ""
    if place.guarded:
        return "close the mesh guard down to the ground, no gap wider than 6 mm (1/4 in)"
    return "no guard here and mice can come: look for gnawing every week"


def water_words(season: Season, tree: Tree, place: Place) -> str:
    """The water check before a tree goes to ``place``."""
    if season.shelter_by_id[place.shelter_id].open_air:
        return "water once it stands, never onto a frozen root ball"
    if tree.limits.leaf is LeafHabit.EVERGREEN:
        return "watered well the day before, leaves dry when it goes in"
    return "soil moist all through, not dripping; no saucer left under it"


def pest_words(tree: Tree, *, out: bool) -> str:
    """The pest check before a tree is moved."""
    if out:
        return "look for scale, aphids and mould before it joins the others"
    if tree.limits.leaf is LeafHabit.EVERGREEN:
        return "both sides of leaves, twigs, drain holes: scale, mites, aphids, slugs"
    return "take off fallen leaves and weeds; bark and drain holes: scale, slugs, nests"


def tree_notes(season: Season, tree: Tree, place: Place, day: date) -> list[str]:
    """What else to mind about this tree on this day."""
    notes = []
    if tree.quarantine_until is not None and day < tree.quarantine_until:
        until = day_words(tree.quarantine_until, year=False)
        notes.append(f"new: keep it apart from all others until {until}")
    if tree.condition is Condition.WEAK:
        notes.append("weak: look at it twice")
    if tree.young_roots:
        notes.append("young roots: hold it by the pot, frost hurts them sooner")
    if dries_at(season, tree, place, day):
        notes.append("frozen roots give its leaves no water: out of wind and winter sun")
    spare_m = place.headroom_m - tree.height_m
    if spare_m < NEAR_ROOF_M:
        notes.append(f"only {season.site.display.length(max(spare_m, 0.0))} to the top: tilt it in")
    return notes


ROW_DEPTH_M = 0.45
"""A place shallower than this has one row (judgement: about one pot deep)."""

LAP_M = 0.01
"""Rectangles that share less than this along the aisle do not stand in each other's way."""


def layout_of(plan: Plan, place_id: str, stage: int) -> Mapping[str, Layout]:
    """The drawn rectangles of a place in a stage, by tree; empty where nothing is drawn."""
    drawn = plan.layouts.get(place_id, {}).get(stage, ())
    return {layout.tree_id: layout for layout in drawn}


def distances_m(place: Place, layout: Layout) -> dict[Side, float]:
    """Distance from each open side to the near edge of the rectangle, m, nearest side first."""
    every = {
        Side.FRONT: layout.y_m,
        Side.LEFT: layout.x_m,
        Side.RIGHT: place.width_m - layout.x_m - layout.width_m,
        Side.BACK: place.depth_m - layout.y_m - layout.depth_m,
    }
    reachable = {side: gap for side, gap in every.items() if side in place.open_sides}
    return dict(sorted(reachable.items(), key=lambda item: item[1]))


def remoteness_m(place: Place, layout: Layout | None) -> float:
    """How far an arm must reach to set the tree down, m; 0 where no rectangle is drawn."""
    if layout is None:
        return 0.0
    return round(next(iter(distances_m(place, layout).values()), 0.0), 3)


def stands_before(place: Place, other: Layout, mine: Layout) -> bool:
    """Whether ``other`` lies between ``mine`` and the side ``mine`` is nearest to."""
    near = distances_m(place, mine)
    if not near:
        return False
    side = next(iter(near))
    if side in (Side.FRONT, Side.BACK):
        lap = _lap(mine.x_m, mine.width_m, other.x_m, other.width_m)
    else:
        lap = _lap(mine.y_m, mine.depth_m, other.y_m, other.depth_m)
    return lap > LAP_M and distances_m(place, other)[side] < near[side]


def _lap(start_a: float, length_a: float, start_b: float, length_b: float) -> float:
    return min(start_a + length_a, start_b + length_b) - max(start_a, start_b)


def row_words(place: Place, layout: Layout) -> str:
    """ "front row", "middle row" or "back row"; empty on a place one pot deep."""
    if place.depth_m < ROW_DEPTH_M:
        return ""
    share = (layout.y_m + layout.depth_m / 2.0) / place.depth_m
    if share < 0.4:
        return "front row"
    return "middle row" if share <= 0.6 else "back row"


def position_words(place: Place, layout: Layout | None, display: Display) -> str:
    """Where the near left corner of the pot's rectangle goes, seen from the aisle; may be empty."""
    if layout is None:
        return ""
    parts = [
        f"{display.length(max(layout.x_m, 0.0))} from the left",
        f"{display.length(max(layout.y_m, 0.0))} from the front",
        row_words(place, layout),
    ]
    return ", ".join(part for part in parts if part)
