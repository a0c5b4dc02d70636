"""How large a place is drawn, and where a long one is cut into stretches."""

import math
from collections.abc import Sequence
from itertools import pairwise

from overwinter.model.plan import Layout
from overwinter.model.shelter import Place
from overwinter.render.bench_ground import PAD, Part

INSIDE = 1.5
"""Between a tree's edge and its text, px."""
_LARGEST_SCALE, _TALLEST = 170.0, 240.0
_LEAST_BOX, _BOX_PER_DIGIT = 6.0, 7.0


def scale_px_m(place: Place, numbered: Sequence[Layout], digits: int, width_px: float) -> float:
    """px per m: the place as wide as the drawing, but the smallest pot holds ``digits``."""
    whole = min((width_px - 2 * PAD) / place.width_m, _TALLEST / place.depth_m, _LARGEST_SCALE)
    smallest = min((min(it.width_m, it.depth_m) for it in numbered), default=1.0)
    box = 2 * INSIDE + _LEAST_BOX + _BOX_PER_DIGIT * (digits - 1)
    largest = max((max(it.width_m, it.depth_m) for it in numbered), default=0.1)
    return min(max(whole, box / smallest), (width_px - 2 * PAD) / (1.5 * largest))


def stretches(place: Place, layouts: Sequence[Layout], room_m: float) -> list[Part]:
    """The place in stretches at most ``room_m`` long, cut where fewest trees stand."""
    if place.width_m <= room_m + 1e-6:
        return [Part(0.0, place.width_m, tuple(layouts))]
    widest = max((it.width_m for it in layouts), default=0.0)
    pieces = math.ceil(place.width_m / max(room_m - widest, room_m / 3))
    length = place.width_m / pieces
    cuts = [0.0, *(_cut_near(layouts, i * length, length / 6) for i in range(1, pieces))]
    parts = []
    for start, end in pairwise([*cuts, place.width_m]):
        mine = tuple(it for it in layouts if start <= it.x_m + it.width_m / 2 < end)
        low = min((it.x_m for it in mine), default=start)
        high = max((it.x_m + it.width_m for it in mine), default=end)
        parts.append(Part(min(low, start), max(high, end), mine))
    return parts


def _cut_near(layouts: Sequence[Layout], at_m: float, within_m: float) -> float:
    """A distance from the left near ``at_m`` at which fewest trees stand."""
    edges = [it.x_m + it.width_m for it in layouts if abs(it.x_m + it.width_m - at_m) < within_m]

    def crossed(x: float) -> tuple[int, float]:
        standing = sum(it.x_m < x - 1e-6 and it.x_m + it.width_m > x + 1e-6 for it in layouts)
        return standing, abs(x - at_m)

    return min([at_m, *edges], key=crossed)
