"""The suitability table: what the integer program knows of physics and plants."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from overwinter.model.season import Spell
from overwinter.model.shelter import FloatArray
from overwinter.suitability.groups import Group
from overwinter.suitability.options import Option

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Hardening:
    """How the trees' hardening answers each option and spell, by kind of tree.

    A tree leaves a spell with ``clip(entry + change, low, high)``; ``change``, ``low`` and ``high``
    have shape ``(kind, option, spell)``.
    """

    kind: IntArray
    """``(group,)``: index into the other arrays."""
    change: FloatArray
    low: FloatArray
    high: FloatArray
    soft: FloatArray
    """``(kind, step, option, spell)``, even steps of hardening on entry: at the lower end of the
    step, distance from loss in scales of the cold tail, on one day of the spell."""
    hard: FloatArray
    """The same at the upper end."""
    slope: FloatArray
    """How much the distance grows at most with the hardening; so it is no more than the less of
    ``hard`` and ``soft`` with the growth since."""
    tail_chance: float
    """Chance of loss with no distance left."""


@dataclass(frozen=True)
class Suitability:
    """For each group, option and spell: allowed or not, and what it would cost and earn.

    Arrays have shape ``(group, option, spell)``.
    """

    spells: tuple[Spell, ...]
    groups: tuple[Group, ...]
    options: tuple[Option, ...]
    allowed: BoolArray
    risk_money: FloatArray
    """Expected loss of one tree in the cold tail of the spell, money."""
    rodent_money: FloatArray
    """Expected loss of one tree to rodents in the spell, money."""
    chill: FloatArray
    """Chilling earned in the spell, in the group's unit."""
    entry_least: FloatArray
    """Least hardening on the spell's first day with which the tree stands it; > 1 where none."""
    exit_most: FloatArray
    """Most hardening a tree can have left on the day after the spell."""
    present: BoolArray
    """(group, spell): the trees of the group have joined."""
    hardening: Hardening | None = None
    """None: hardening is known from above only (``risk_money``, ``entry_least``, ``exit_most``)."""

    @cached_property
    def option_at(self) -> Mapping[tuple[str, int], int]:
        """Index of the option by place and setting."""
        return {(option.place_id, option.setting): option.index for option in self.options}

    def refused(self) -> frozenset[str]:
        """Ids of the trees that every place refuses in some spell."""
        placeable = np.asarray((self.allowed.any(axis=1) | ~self.present).all(axis=1))
        return frozenset(
            tree_id
            for group in self.groups
            if not placeable[group.index]
            for tree_id in group.tree_ids
        )
