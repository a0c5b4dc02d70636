"""Who stands in which slot: what is wished for, never what is required.

In order, each only where the ones before leave a choice: tall trees do not stand between the light
and shorter ones; trees with a high light floor stand near the light; heavy trees, and those that
come and go, stand near an edge one can lift from, and big ones that never move far from it. Trees
with equal footprints change slots, and the whole arrangement may be mirrored, as long as that makes
it better.
"""

from collections.abc import Sequence

import numpy as np

from overwinter.benches.region import UNITS_PER_M, Pots, Region, flipped_slots
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import IntArray

# Far enough apart that the order decides: a hand's width of shade (0.1 m taller over 0.1 m) weighs
# as much as the worst placing by light, which weighs as much as a hundred placings by weight.
_SHADE_WORTH, _LIGHT_WORTH, _WEIGHT_WORTH = 100.0, 1.0, 0.01
_WORK = 500_000  # pairs looked at: hundreds of trees are not exchanged to the last
_LEAST_GAIN = 1e-9
_TINY = 1e-12


def best_arranged(region: Region, pots: Pots, packings: Sequence[IntArray]) -> IntArray:
    """The best slots by tree reached from any of ``packings``, each ``(n, 4)``."""
    starts = [slots for packing in packings for slots in _mirrored(region, packing)]
    return _exchanged(region, pots, min(starts, key=lambda slots: cost_of(region, pots, slots)))


def _mirrored(region: Region, slots: IntArray) -> list[IntArray]:
    """``slots`` and its mirror images, as far as all can be reached and no path is stood on."""
    images = [slots]
    if region.paths:
        return images
    for axes in ((True, False), (False, True), (True, True)):
        image = flipped_slots(region, slots, axes)
        if region.within_reach(image).all():
            images.append(image)
    return images


def shading_m(slots: IntArray) -> FloatArray:
    """``(n, n)``: over what width (m) slot i stands between the light (y = 0) and slot j."""
    start, end = slots[:, 0], slots[:, 0] + slots[:, 2]
    overlap = np.minimum(end[:, None], end[None]) - np.maximum(start[:, None], start[None])
    before = (slots[:, 1] + slots[:, 3])[:, None] <= slots[None, :, 1]
    return np.where(before, np.maximum(overlap, 0), 0) / UNITS_PER_M


def _wishes(region: Region, pots: Pots, slots: IntArray) -> FloatArray:
    """``(tree, slot)``: how far each slot is from the light and the hand, by the tree's share."""
    from_light = (slots[:, 1] + slots[:, 3] / 2) / max(region.depth, 1)
    from_hand = region.distance(slots) / (2 * max(region.depth + region.width, 1))
    light = pots.light / max(float(pots.light.sum()), _TINY)
    weight = pots.lifted_kg / max(float(pots.lifted_kg.sum()), _TINY)
    return _LIGHT_WORTH * np.outer(light, from_light) + _WEIGHT_WORTH * np.outer(weight, from_hand)


def cost_of(region: Region, pots: Pots, slots: IntArray) -> float:
    """What slots ``(n, 4)`` by tree leave to wish for; to nine decimals, so that sums in another
    order are equal. Shade is the width of ``shading_m`` times how much taller its tree is."""
    taller = np.maximum(pots.height_m[:, None] - pots.height_m, 0.0)
    shade_m2 = float((shading_m(slots) * taller).sum())
    return round(_SHADE_WORTH * shade_m2 + float(_wishes(region, pots, slots).trace()), 9)


def _exchanged(region: Region, pots: Pots, slots: IntArray) -> IntArray:
    """Like trees by height from the light on, then steepest descent over exchanges of two."""
    spans = np.sort(slots[:, 2:], axis=1)
    like = (spans[:, None] == spans[None]).all(axis=2)
    np.fill_diagonal(like, False)
    if not like.any():
        return slots
    starts = (slots, _by_height(pots, slots, spans))
    slots = min(starts, key=lambda start: cost_of(region, pots, start))
    wishes = _wishes(region, pots, slots)
    shading = shading_m(slots)
    who = np.arange(len(slots))  # tree in each slot
    for _ in range(min(2 * len(slots), _WORK // len(slots) ** 2)):
        change = np.where(like, _change(shading, wishes, pots.height_m, who), np.inf)
        here, there = np.unravel_index(int(change.argmin()), change.shape)
        if change[here, there] > -_LEAST_GAIN:
            break
        who[[here, there]] = who[[there, here]]
    return slots[np.argsort(who)]


def _by_height(pots: Pots, slots: IntArray, spans: IntArray) -> IntArray:
    """Slots by tree: of trees with equal footprints the shortest nearest the light."""
    middle = 2 * slots[:, 1] + slots[:, 3]
    from_light = np.lexsort((slots[:, 0], middle, spans[:, 0], spans[:, 1]))
    shortest = np.lexsort((-pots.light, pots.height_m, spans[:, 0], spans[:, 1]))
    placed = np.empty_like(slots)
    placed[shortest] = slots[from_light]
    return placed


def _change(
    shading: FloatArray, wishes: FloatArray, height_m: FloatArray, who: IntArray
) -> FloatArray:
    """``(slot, slot)``: change of the cost when the trees of two slots change places."""
    height_m = height_m[who]
    taller = np.maximum(height_m[:, None] - height_m[None], 0.0)
    # (s, t): shade of and on slot s, were the tree of slot t in it and all others where they are
    moved = shading @ taller.T + shading.T @ taller
    stays = np.diag(moved)
    pair = shading * taller + (shading * taller).T
    swapped = shading * taller.T + (shading * taller.T).T
    shade = moved + moved.T + swapped - (stays[:, None] + stays[None] - pair)
    wish = wishes[who]
    own = np.diag(wish)
    return _SHADE_WORTH * shade + wish + wish.T - own[:, None] - own[None]
