"""How trees wake: chilling from the first day of rest on, then warmth until buds break.

Sequential models of this kind are the usual ones for forest trees (Cannell & Smith 1983, Murray,
Cannell & Smith 1989: thermal time above 5 degC falls as chill days add up; both from memory). Here
warmth counts the more the more of the chilling owed is there, with the square of that share: a tree
without any chilling does not wake at all, one with half of it needs four times the warmth. The
square is a judgement between the trees that will not break bud unchilled and those that do so late.
"""

from typing import NamedTuple

import numpy as np

from overwinter.model.shelter import FloatArray

BUD_BREAK_BASE_C = 5.0
"""Daily warmth is counted above this mean air temperature (the base of the models named above)."""
SPREAD = 0.2
"""The first buds break at 1 - SPREAD of the warmth, the last at 1 + SPREAD: a judgement."""


class WakingLimits(NamedTuple):
    """The limits that waking needs, as arrays that broadcast against the days' conditions."""

    chill_need: FloatArray
    bud_break_k_d: FloatArray


def warmth_k_d(air_mean_c: FloatArray) -> FloatArray:
    """Warmth of a day of this mean air temperature (degC, any shape), K d."""
    warmth: FloatArray = np.maximum(air_mean_c - BUD_BREAK_BASE_C, 0.0)
    return warmth


def waking_step(
    chill: FloatArray,
    warmth: FloatArray,
    chill_today: FloatArray,
    warmth_today: FloatArray,
    limits: WakingLimits,
) -> tuple[FloatArray, FloatArray]:
    """Chilling and effective warmth after a day; all arguments broadcast. Neither ever falls.

    Parameters
    ----------
    chill : since the first day of rest, in the unit of the kind's chill model.
    warmth : so far, K d, counted as far as chilling allowed.
    chill_today : of the day, 0 before rest begins; warm hours of the Utah model take nothing away.
    warmth_today : of the day, K d above ``BUD_BREAK_BASE_C``.
    """
    chilled = chill + np.maximum(chill_today, 0.0)
    needed = np.maximum(limits.chill_need, 1e-9)
    met = np.where(limits.chill_need > 0, np.minimum(chilled / needed, 1.0), 1.0)
    return chilled, warmth + met**2 * warmth_today


def bud_break_share(warmth: FloatArray, limits: WakingLimits) -> FloatArray:
    """Share of buds that have broken at this effective warmth (K d), 0 to 1."""
    done = warmth / limits.bud_break_k_d
    share: FloatArray = np.clip((done - (1.0 - SPREAD)) / (2.0 * SPREAD), 0.0, 1.0)
    return share
