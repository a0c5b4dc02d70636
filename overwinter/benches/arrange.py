"""Who stands in which slot: what is wished for, never what is required.

In order, each only where the ones before leave a choice: tall trees do not stand between the light
and shorter ones; trees with a high light floor stand near the light; heavy trees stand near an edge
one can lift from. Of equal footprints each takes the slot that suits it, and the whole arrangement
is mirrored where that makes it better.
"""

from collections.abc import Sequence

import numpy as np

from overwinter.benches.region import UNITS_PER_M, Pots, Region
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import IntArray

# Far enough apart that the order decides: a hand's width of shade (0.1 m taller over 0.1 m) weighs
# as much as the worst placing by light, which weighs as much as a hundred placings by weight.
_SHADE_WORTH, _LIGHT_WORTH, _WEIGHT_WORTH = 100.0, 1.0, 0.01
_TINY = 1e-12


def best_arranged(region: Region, pots: Pots, packings: Sequence[IntArray]) -> IntArray:
    """The best slots by tree reached from any of ``packings``, each ``(n, 4)``."""
    images = (image for slots in packings for image in _mirrored(region, slots))
    starts = [_by_height(region, pots, image) for image in images]
    return min(starts, key=lambda slots: cost_of(region, pots, slots))


def _mirrored(region: Region, slots: IntArray) -> list[IntArray]:
    """``slots`` and its mirror images, as far as all can be reached and no path is stood on."""
    images = [slots]
    if region.paths:
        return images
    for axes in ((0,), (1,), (0, 1)):
        image = slots.copy()
        for axis in axes:
            extent = (region.width, region.depth)[axis]
            image[:, axis] = extent - slots[:, axis] - slots[:, axis + 2]
        if region.within_reach(image).all():
            images.append(image)
    return images


def shading_m(slots: IntArray) -> FloatArray:
    """``(n, n)``: over what width (m) slot i stands between the light (y = 0) and slot j."""
    start, end = slots[:, 0], slots[:, 0] + slots[:, 2]
    overlap = np.minimum(end[:, None], end[None]) - np.maximum(start[:, None], start[None])
    before = (slots[:, 1] + slots[:, 3])[:, None] <= slots[None, :, 1]
    return np.where(before, np.maximum(overlap, 0), 0) / UNITS_PER_M


def cost_of(region: Region, pots: Pots, slots: IntArray) -> float:
    """What slots ``(n, 4)`` by tree leave to wish for; to nine decimals, so that sums in another
    order are equal. Shade is the width of ``shading_m`` times how much taller its tree is."""
    taller = np.maximum(pots.height_m[:, None] - pots.height_m, 0.0)
    shade_m2 = float((shading_m(slots) * taller).sum())
    from_light = (slots[:, 1] + slots[:, 3] / 2) / max(region.depth, 1)
    from_hand = region.distance(slots) / (2 * max(region.depth + region.width, 1))
    light = float(pots.light @ from_light) / max(float(pots.light.sum()), _TINY)
    weight = float(pots.weight_kg @ from_hand) / max(float(pots.weight_kg.sum()), _TINY)
    return round(_SHADE_WORTH * shade_m2 + _LIGHT_WORTH * light + _WEIGHT_WORTH * weight, 9)


def _by_height(region: Region, pots: Pots, slots: IntArray) -> IntArray:
    """Slots by tree: of equal footprints the shortest nearest the light; of those equally tall the
    hungriest for light; of those alike in this too the heaviest nearest the hand."""
    wide, long = np.sort(slots[:, 2:], axis=1).T
    middle = 2 * slots[:, 1] + slots[:, 3]
    from_light = np.lexsort((slots[:, 0], middle, wide, long))
    trees = np.lexsort((-pots.weight_kg, -pots.light, pots.height_m, wide, long))
    alike = np.stack((pots.light, pots.height_m, wide, long))[:, trees]
    run = np.cumsum((alike != np.roll(alike, 1, axis=1)).any(axis=0))
    placed = np.empty_like(slots)
    placed[trees] = slots[from_light[np.lexsort((region.distance(slots)[from_light], run))]]
    return placed
