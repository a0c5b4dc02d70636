"""The suitability table: what the integer program knows of physics and plants."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.domain.season import Spell
from overwinter.domain.shelter import FloatArray
from overwinter.suitability.groups import Group
from overwinter.suitability.options import Option

BoolArray = NDArray[np.bool_]


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
