"""Kinds of tree: what the weather treats alike, as arrays of limits."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from overwinter.model.species import ChillModel, LeafHabit, Limits
from overwinter.model.tree import Condition, Tree
from overwinter.plants.harm import (
    ALL_YOUNG_SHARE,
    CONDITION_SHIFT_K,
    YOUNG_ROOT_SHARE,
    Array,
)
from overwinter.shelters.root_zone import pot_class


@dataclass(frozen=True, slots=True)
class Kind:
    """What decides the harm that a day does to a tree; many trees are of one kind."""

    limits: Limits
    pot_class_l: float
    young_roots: bool
    condition: Condition
    leaves_down: date | None = None
    """Day on which the grower saw it bare."""


def kind_of(tree: Tree) -> Kind:
    """The kind of one tree."""
    return Kind(
        tree.limits, pot_class(tree.pot_litres), tree.young_roots, tree.condition, tree.leaves_down
    )


_FLOORLESS_C = -1000.0
_CEILINGLESS_C = 1000.0


@dataclass(frozen=True)
class KindArrays:
    """Limits of kinds side by side, float32, shape ``(kind,)`` or with ones behind it."""

    root_kill_c: Array
    root_kill_unhardened_c: Array
    young_kill_c: Array
    young_share: Array
    top_kill_c: Array
    top_kill_unhardened_c: Array
    new_leaf_kill_c: Array
    half_dose_k_h: Array
    rest_ceiling_c: Array
    """Far above any air where the kind needs no rest."""
    rests: Array
    """1 where it rests in winter, 0 where it stays in growth."""
    chill_need: Array
    by_utah: Array
    """1 where chilling is counted in Utah units."""
    bud_break_k_d: Array
    drying: Array
    light_floor_mol_m2_d: Array
    dark_below_c: Array
    evergreen: Array
    leaves_down: Array
    """Ordinal of the day on which the grower saw it bare; nan: not yet."""
    harden_days: Array
    harden_below_c: Array
    deharden_above_c: Array
    deharden_per_degree_day: Array

    def shaped(self, ones: int) -> "KindArrays":
        """The same with ``ones`` axes of length 1 behind, so that they broadcast."""
        return KindArrays(
            **{
                name: array.reshape(*array.shape, *(1,) * ones)
                for name, array in vars(self).items()
            }
        )

    def of(self, which: object) -> "KindArrays":
        """The kinds picked by an index, slice or index array."""
        return KindArrays(**{name: array[which] for name, array in vars(self).items()})


def kind_arrays(kinds: Sequence[Kind]) -> KindArrays:
    """Limits of ``kinds``, each with the shift for its condition."""

    def shifted(value: float, kind: Kind) -> float:
        return value + CONDITION_SHIFT_K[kind.condition]

    def row(kind: Kind) -> dict[str, float]:
        limits = kind.limits
        rests = limits.rest_ceiling_c is not None
        return {
            "root_kill_c": shifted(limits.root_kill_c, kind),
            "root_kill_unhardened_c": shifted(limits.root_kill_unhardened_c, kind),
            "young_kill_c": shifted(limits.root_kill_young_c, kind),
            "young_share": ALL_YOUNG_SHARE if kind.young_roots else YOUNG_ROOT_SHARE,
            "top_kill_c": shifted(limits.top_kill_c, kind),
            "top_kill_unhardened_c": shifted(limits.top_kill_unhardened_c, kind),
            "new_leaf_kill_c": shifted(limits.new_leaf_kill_c, kind),
            "half_dose_k_h": limits.chill_injury_k_h if limits.air_floor_c is not None else 1e9,
            "rest_ceiling_c": _CEILINGLESS_C if not rests else float(limits.rest_ceiling_c or 0.0),
            "rests": float(rests),
            "chill_need": limits.chill_need,
            "by_utah": float(limits.chill_model is ChillModel.UTAH),
            "bud_break_k_d": max(limits.bud_break_k_d, 1.0),
            "drying": limits.drying,
            "light_floor_mol_m2_d": max(limits.light_floor_mol_m2_d, 1e-3),
            "dark_below_c": limits.dark_below_c,
            "evergreen": float(limits.leaf is LeafHabit.EVERGREEN),
            "leaves_down": math.nan if kind.leaves_down is None else kind.leaves_down.toordinal(),
            "harden_days": limits.harden_days,
            "harden_below_c": limits.harden_below_c,
            "deharden_above_c": limits.deharden_above_c,
            "deharden_per_degree_day": limits.deharden_per_degree_day,
        }

    rows = [row(kind) for kind in kinds]
    names = KindArrays.__dataclass_fields__
    return KindArrays(**{n: np.array([r[n] for r in rows], dtype=np.float32) for n in names})
