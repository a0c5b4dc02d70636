"""Trees that owe chilling, kept cold enough in the coldest spells to earn it wherever they go.

The program asks a group for its mean chilling, and a tree found short is planned again by itself.
Of thousands of trees hundreds would be short. For large winters their choice is narrowed instead,
so that no winter left to them falls short. It only takes plans away: bounds are reckoned without.
"""

from dataclasses import replace

import numpy as np

from overwinter.domain.shelter import FloatArray
from overwinter.program.data import ProgramData
from overwinter.program.model import needs_chill_row
from overwinter.suitability.table import BoolArray

AMPLE = 1.5
"""As many spells are kept cold as could earn so many times what is owed."""


def surely_chilled(data: ProgramData) -> ProgramData:
    """``data`` with the options of groups that owe chilling narrowed."""
    table = data.suitability
    allowed = table.allowed.copy()
    for group in data.groups:
        g = group.index
        if needs_chill_row(data, g):
            owed = group.tree.limits.chill_need - group.start.chill
            allowed[g] = _narrowed(table.allowed[g], table.chill[g], owed)
    return replace(data, suitability=replace(table, allowed=allowed))


def _narrowed(allowed: BoolArray, chill: FloatArray, owed: float) -> BoolArray:
    """Options (option, spell) of which any choice earns ``owed``; as they were if there is none."""
    most = np.where(allowed, chill, 0.0).max(axis=0)
    order = np.argsort(-most, kind="stable")
    reach = np.cumsum(most[order])
    if reach[-1] < owed:
        return allowed
    cold = order[: int(np.searchsorted(reach, min(AMPLE * owed, reach[-1]))) + 1]
    least = np.zeros(most.size)
    least[cold] = most[cold] * (owed / most[cold].sum())
    return allowed & (chill >= least - 1e-9)
