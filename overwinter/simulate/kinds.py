"""Kinds of tree: what the weather treats alike, as arrays of limits."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from overwinter.model.species import LIMITS, LeafHabit, Limits
from overwinter.model.tree import Condition, Tree
from overwinter.plants.harm import (
    ALL_YOUNG_SHARE,
    CONDITION_SHIFT_K,
    YOUNG_ROOT_SHARE,
    Array,
)
from overwinter.shelters.root_zone import pot_class

IntArray = NDArray[np.intp]


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


class KindArrays:
    """Limits of kinds side by side, float32, of shape ``(kind,)`` or with ones behind it.

    Every number of ``Limits`` by its name, reckoned for the condition of the tree, and besides:
    ``evergreen`` and ``rests`` (1 where leaves stay, where it rests in winter), ``young_share``
    (of the value, in young roots) and ``leaves_down`` (ordinal of the day on which the grower saw
    it bare; nan: not yet).
    """

    def __init__(self, table: NDArray[np.void]) -> None:
        self.table = table

    def __getattr__(self, name: str) -> Array:
        return np.asarray(self.table[name])

    def shaped(self, ones: int) -> "KindArrays":
        """The same with ``ones`` axes of length 1 behind, so that they broadcast."""
        return KindArrays(self.table.reshape(*self.table.shape, *(1,) * ones))

    def of(self, which: IntArray) -> "KindArrays":
        """The kinds picked by an index array."""
        return KindArrays(self.table[which])


def kind_arrays(kinds: Sequence[Kind]) -> KindArrays:
    """Limits of ``kinds``, each with the shift for its condition."""
    rows = [_row(kind) for kind in kinds]
    columns = np.dtype([(name, np.float32) for name in rows[0]])
    return KindArrays(np.array([tuple(row.values()) for row in rows], dtype=columns))


def _row(kind: Kind) -> dict[str, float]:
    row: dict[str, float] = {}
    for name, limit in LIMITS.items():
        value = getattr(kind.limits, name)
        value = float(limit.if_none or 0.0) if value is None else max(value, limit.least)
        row[name] = value + CONDITION_SHIFT_K[kind.condition] * limit.kills
    seen = kind.leaves_down
    return {
        **row,
        "evergreen": float(kind.limits.leaf is LeafHabit.EVERGREEN),
        "rests": float(kind.limits.rest_ceiling_c is not None),
        "young_share": ALL_YOUNG_SHARE if kind.young_roots else YOUNG_ROOT_SHARE,
        "leaves_down": math.nan if seen is None else float(seen.toordinal()),
    }
