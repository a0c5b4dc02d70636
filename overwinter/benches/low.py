"""Heavy ones low: of two trees that could change places for the whole winter, the heavier lower."""

from collections.abc import Callable, Mapping, Sequence
from itertools import combinations

from overwinter.model.shelter import Place, PlaceKind
from overwinter.model.tree import Tree

Stay = tuple[str | None, ...]
"""Place of one tree in each spell, as in ``Plan.stays``."""

LIFT = {
    PlaceKind.SUNK: 0,
    PlaceKind.GROUND: 0,
    PlaceKind.FLOOR: 0,
    PlaceKind.BENCH: 1,
    PlaceKind.SHELF: 2,
}
"""How far up a tree is lifted, in steps: ground, waist, above. Common practice, no source."""


def heavier_low(
    stays: Mapping[str, Stay],
    trees: Sequence[Tree],
    places: Mapping[str, Place],
    may_change: Callable[[Tree, Tree], bool],
) -> dict[str, Stay]:
    """``stays`` with whole winters exchanged between trees so that heavy ones are lifted less.

    Exchanged are only trees with equal footprints (so that every layout stays valid) in the same
    shelters in every spell, within headroom, and where ``may_change(heavier, lighter)`` agrees; it
    must see to it that each tree is safe where the other one was and that no cost rises. As many
    trees are carried on the same days as before; the load of a place may change by their
    difference, so places with a load limit are left alone.
    """
    found = dict(stays)
    heaviest_first = sorted(
        (tree for tree in trees if tree.id in found), key=lambda tree: (-tree.weight_kg, tree.id)
    )
    for heavy, light in combinations(heaviest_first, 2):
        here, there = found[heavy.id], found[light.id]
        if (
            heavy.weight_kg > light.weight_kg
            and _lifted(here, places) > _lifted(there, places)
            and _alike(heavy, light, here, there, places)
            and may_change(heavy, light)
        ):
            found[heavy.id], found[light.id] = there, here
    return found


def _lifted(stay: Stay, places: Mapping[str, Place]) -> int:
    return sum(LIFT[places[place_id].kind] for place_id in stay if place_id is not None)


def _alike(heavy: Tree, light: Tree, here: Stay, there: Stay, places: Mapping[str, Place]) -> bool:
    """Whether neither layouts nor loads nor shelters forbid the exchange."""
    if sorted((heavy.width_m, heavy.depth_m)) != sorted((light.width_m, light.depth_m)):
        return False
    for mine, its in zip(here, there, strict=True):
        if (mine is None) != (its is None):
            return False
        if mine is None or its is None or mine == its:
            continue
        old, new = places[mine], places[its]
        if old.shelter_id != new.shelter_id:
            return False
        if heavy.height_m > new.headroom_m or light.height_m > old.headroom_m:
            return False
        if new.load_limit_kg != float("inf"):
            return False
    return True
