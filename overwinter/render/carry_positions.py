"""Where on its place a tree stands: in words, how far from the aisle, and what stands before it."""

from collections.abc import Mapping

from overwinter.model.plan import Layout, Plan
from overwinter.model.shelter import Place, Side
from overwinter.units import Display

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
