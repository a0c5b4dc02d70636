"""How much air the crowding level asks for between two trees.

Up to the comfortable share of the area, trees keep 6 % of the mean side of their footprints apart,
at most 3 cm; from there the clearance falls in a straight line to none at the fullest share, where
footprints (pot and crown) may touch but never overlap. Tying it to the size of the trees keeps
``fill x (1 + 6 %)^2`` below what rectangles pack to. Common practice, no source.
"""

import math
from collections.abc import Sequence

from overwinter.model.shelter import Place
from overwinter.model.site import Weights
from overwinter.model.tree import Tree

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
