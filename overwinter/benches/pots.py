"""What the packers must know of the trees of one place, as arrays."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from overwinter.benches.region import units_up
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import IntArray
from overwinter.model.tree import Tree


@dataclass(frozen=True)
class Pots:
    """Arrays over the trees of one place, shape ``(n,)`` unless said."""

    sizes: IntArray
    """``(n, 2)``: footprint along x and y of the frame as the tree stands unturned, units."""
    height_m: FloatArray
    light: FloatArray
    """Light floor, mol/m2/d."""
    lifted_kg: FloatArray
    """Weight times how often it is lifted: the more, the nearer to the hand."""

    def __len__(self) -> int:
        return len(self.sizes)

    @property
    def spans(self) -> IntArray:
        """``(n, 2)``: shorter and longer side, units."""
        return np.sort(self.sizes, axis=1)


def pots_of(
    trees: Sequence[Tree], *, sideways: bool, lifted_kg: Mapping[str, float] | None = None
) -> Pots:
    """``trees`` in the order given; ``sideways`` as in ``region.Frame``."""
    lifted_kg = lifted_kg or {tree.id: tree.weight_kg for tree in trees}
    sides = [(units_up(tree.width_m), units_up(tree.depth_m)) for tree in trees]
    sizes = np.array(sides, dtype=np.int64).reshape(len(trees), 2)
    return Pots(
        sizes[:, ::-1] if sideways else sizes,
        np.array([tree.height_m for tree in trees], dtype=np.float64),
        np.array([tree.limits.light_floor_mol_m2_d for tree in trees], dtype=np.float64),
        np.array([lifted_kg[tree.id] for tree in trees], dtype=np.float64),
    )
