"""How hard a tree is: its hardening state, one step a day.

The state a in [0, 1] says how far a tree has come from growth (0) to its full midwinter hardiness
(1). Each day allows a certain hardness, its *ceiling*; below it the tree gains, above it the tree
loses as far as the day is warm::

    ceiling = 0.3 short x cool + 0.5 cold + 0.2 frost
    gain    = ceiling / harden_days
    loss    = deharden_per_degree_day * max(0, mean - deharden_above_c)
    a'      = max(min(ceiling, a + gain), a - loss)

The stages are published: short days begin it, then cold does most, repeated frost the last of it,
with the maximum about January (Dirr & Smith 1988, read); full hardening takes 0 to 4.4 degC and
then nights slightly below freezing (Rutgers NJAES FS528, read); Scots pine comes to -22 degC by
short days alone and to -40 by short days and cold (Arora & Taulavuori 2016, read); a warm root
zone keeps roots and the foot of the stem soft (Havis, abstract read), so short days count only
where the root zone is cool. Whether roots heed day length at all is disputed (FS528 says no,
Johnson & Havis 1977 yes, both read): here cold hardens whatever the day length.

The shares of the stages and the widths of the ramps are judgements. Every ramp is continuous, a'
never falls with a and never rises with temperature: a warmer history never leaves a tree harder.
"""

import numpy as np

from overwinter.model.shelter import FloatArray

SHORT_DAY_SHARE, COLD_SHARE, FROST_SHARE = 0.3, 0.5, 0.2
"""What each stage gives; judgements. They add up to 1."""
LONG_DAY_H, SHORT_DAY_H = 14.0, 12.0
"""No effect of day length at the first, the whole at the second; a judgement."""
COOL_SPAN_K = 8.0
"""Short days count fully below ``harden_below_c``, not at all so much above it; a judgement."""
FULL_COLD_C = 4.4
"""At or below this the cold stage works fully (Rutgers NJAES FS528, read: 32 to 40 degF)."""
NO_FROST_C, FULL_FROST_C = 1.0, -2.0
"""Nights "slightly below freezing" (FS528), as a ramp about -0.5 degC; its width is a judgement."""


def hardening_ceiling(
    core_mean_c: FloatArray,
    core_min_c: FloatArray,
    day_length_h: FloatArray | float,
    harden_below_c: FloatArray | float,
) -> FloatArray:
    """The hardness that days like this one allow in the end, 0 to 1; all arguments broadcast."""
    short = short_day_share(np.asarray(day_length_h))
    below = np.asarray(harden_below_c, dtype=np.float64)
    cool = _falling(core_mean_c, below, below + COOL_SPAN_K)
    cold = _falling(core_mean_c, FULL_COLD_C, below)
    frost = _falling(core_min_c, FULL_FROST_C, NO_FROST_C)
    first = SHORT_DAY_SHARE * np.maximum(short * cool, cold)
    return np.asarray(first + COLD_SHARE * cold + FROST_SHARE * frost * cold)


def short_day_share(day_length_h: FloatArray) -> FloatArray:
    """How far a day's length hardens by itself, 0 to 1."""
    return _falling(np.asarray(day_length_h, dtype=np.float64), SHORT_DAY_H, LONG_DAY_H)


def warmth_loss(
    core_mean_c: FloatArray, deharden_above_c: FloatArray, per_degree_day: FloatArray
) -> FloatArray:
    """The share of full hardness that a day of this mean takes away; all arguments broadcast."""
    return np.asarray(per_degree_day * np.maximum(core_mean_c - deharden_above_c, 0.0))


def hardened(
    state: FloatArray, ceiling: FloatArray, loss: FloatArray, harden_days: FloatArray
) -> FloatArray:
    """The state after a day of a given ceiling and loss, 0 to 1; all arguments broadcast."""
    gained = np.minimum(ceiling, state + ceiling / harden_days)
    after: FloatArray = np.maximum(gained, state - loss)
    return after


def _falling(value: FloatArray, whole: FloatArray | float, none: FloatArray | float) -> FloatArray:
    """1 up to ``whole``, 0 from ``none`` on, straight between; ``whole`` < ``none``."""
    share: FloatArray = np.clip((none - value) / (none - np.asarray(whole)), 0.0, 1.0)
    return share
