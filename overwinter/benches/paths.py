"""Where one walks: the free strips through a finished layout from which trees are reached."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from overwinter.benches.region import PATH_M, REACH_M, WALKABLE
from overwinter.model.plan import Layout
from overwinter.model.shelter import Place, Side

_TINY_M = 1e-4


@dataclass(frozen=True, slots=True)
class Strip:
    """A free rectangle right through a place, m from its front left corner."""

    x_m: float
    y_m: float
    width_m: float
    depth_m: float


def paths_left(place: Place, layouts: Sequence[Layout]) -> tuple[Strip, ...]:
    """Paths one needs on ``place``: none where every tree is in reach of an open side."""
    if place.kind not in WALKABLE or all(_from_side(place, it) <= REACH_M for it in layouts):
        return ()
    strips: list[Strip] = []
    if place.open_sides & {Side.FRONT, Side.BACK}:
        spans = [(it.x_m, it.x_m + it.width_m) for it in layouts]
        for start, end in _gaps(spans, place.width_m):
            strips.append(Strip(start, 0.0, end - start, place.depth_m))
    if place.open_sides & {Side.LEFT, Side.RIGHT}:
        spans = [(it.y_m, it.y_m + it.depth_m) for it in layouts]
        for start, end in _gaps(spans, place.depth_m):
            strips.append(Strip(0.0, start, place.width_m, end - start))
    return tuple(strips)


def _from_side(place: Place, it: Layout) -> float:
    """From the nearest open side to the middle of a tree, m."""
    x, y = it.x_m + it.width_m / 2, it.y_m + it.depth_m / 2
    every = {
        Side.FRONT: y,
        Side.BACK: place.depth_m - y,
        Side.LEFT: x,
        Side.RIGHT: place.width_m - x,
    }
    return min((every[side] for side in place.open_sides), default=0.0) - _TINY_M


def _gaps(spans: list[tuple[float, float]], extent: float) -> Iterator[tuple[float, float]]:
    """Free stretches at least a path's width long between the spans, m."""
    reached = 0.0
    for start, end in [*sorted(spans), (extent, extent)]:
        if start - reached >= PATH_M - _TINY_M:
            yield reached, start
        reached = max(reached, end)
