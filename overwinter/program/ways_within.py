"""All winters that cost little at given prices, not only the cheapest."""

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.program.beginnings import Beginnings, beginnings, carried_on, whole_ways
from overwinter.program.flow import IntArray
from overwinter.program.sweep import Sweep


def ways_within(sweep: Sweep, limit: FloatArray, most: int) -> list[tuple[int, IntArray]] | None:
    """Every winter that costs no more than its group's ``limit`` ``(group,)``.

    As (group, columns of the program), more than once where a stay stands for several settings.
    None if there are more than ``most``, beginnings that can still end within the limit counted as
    well.
    """
    sweep.look_ahead()
    now = beginnings(np.arange(sweep.flow.groups))
    by_spell: list[Beginnings] = []
    for spell in range(sweep.flow.spells):
        now = carried_on(sweep, spell, now, limit)
        if now.node.size > most:
            return None
        by_spell.append(now)
    return whole_ways(sweep, by_spell, np.arange(now.node.size))
