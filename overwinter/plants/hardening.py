"""Hardening, leaf fall and waking, one step a day.

**Hardening.** The state a in [0, 1] says how far a tree has come from growth (0) to its full
midwinter hardiness (1). Each day allows a certain hardness, its *ceiling*; below it the tree gains,
above it the tree loses as far as the day is warm::

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

from overwinter.plants.harm import Array

# From the day on that is shorter than 12.5 h, every day adds the square of what its mean lacks of
# 28.5 degC (the form, day length and temperature of Delpierre and others 2009, from memory). The
# sums are ours, set on three dates: oaks in Germany turn about 19 October (German weather service,
# mean of 2011 to 2023, read) and are bare early in November, trees at 42 N in Massachusetts turn
# about 10 October and oaks there are bare about the end of it (the last three from memory). Kinds
# and years differ by a fortnight either way; what the grower sees counts instead.

BEGINS_BELOW_H = 12.5  # day length below which cold counts
WARM_C = 28.5  # a day of this mean adds nothing
TURNING_K2_D, BARE_K2_D = 8_000.0, 14_000.0  # leaves turned and beginning to fall; the last down


def leaves_left(air_mean_c: Array, day_length_h: Array) -> Array:
    """Share of the summer's leaves that a deciduous tree outdoors still has, 0 to 1.
    ``air_mean_c``: ``(..., day)``, degC, from late summer on. ``day_length_h``: ``(day,)``."""
    counts = np.cumsum(day_length_h < BEGINS_BELOW_H) > 0
    cold = np.maximum(WARM_C - air_mean_c, 0.0) ** 2 * counts
    left = (BARE_K2_D - np.cumsum(cold, axis=-1)) / (BARE_K2_D - TURNING_K2_D)
    return np.asarray(np.clip(left, 0.0, 1.0), dtype=np.float32)


def day_bare(left: Array) -> Array:
    """First day without leaves, ``(...)``; the number of days where there is none."""
    bare = left <= 0.0
    return np.asarray(np.where(bare.any(axis=-1), bare.argmax(axis=-1), left.shape[-1]))


# Sequential models of this kind are the usual ones for forest trees (Cannell & Smith 1983, Murray,
# Cannell & Smith 1989: thermal time above 5 degC falls as chill days add up; both from memory).
# Here warmth counts the more the more of the chilling owed is there, with the square of that share:
# a tree without any chilling does not wake at all, one with half of it needs four times the warmth.
# The square is a judgement between the trees that will not break bud unchilled and those that do so
# late.

BUD_BREAK_BASE_C = 5.0  # daily means above it are warmth, as in the models named above
SPREAD = 0.2  # first buds at 1 - SPREAD of the warmth, last at 1 + SPREAD: a judgement


def warmth_k_d(air_mean_c: Array) -> Array:
    """Warmth of a day of this mean air temperature (degC, any shape), K d."""
    return np.asarray(np.maximum(air_mean_c - BUD_BREAK_BASE_C, 0.0))


def waking_warmth(chill: Array, today_k_d: Array, chill_need: Array) -> Array:
    """Warmth of a day that counts, K d; all arguments broadcast. ``chill``: earned up to this day,
    in the unit of ``chill_need``; ``today_k_d``: K d above ``BUD_BREAK_BASE_C``."""
    met = np.where(chill_need > 0, np.minimum(chill / np.maximum(chill_need, 1e-9), 1.0), 1.0)
    return np.asarray(met**2 * today_k_d)


def bud_break_share(warmth: Array, bud_break_k_d: Array) -> Array:
    """Share of buds that have broken at a sum of warmth that counts (K d), 0 to 1."""
    done = warmth / bud_break_k_d
    return np.asarray(np.clip((done - (1.0 - SPREAD)) / (2.0 * SPREAD), 0.0, 1.0))


SHORT_DAY_SHARE, COLD_SHARE, FROST_SHARE = 0.3, 0.5, 0.2  # judgements; they add up to 1
LONG_DAY_H, SHORT_DAY_H = 14.0, 12.0  # day lengths of no effect and of all of it; a judgement
COOL_SPAN_K = 8.0  # above `harden_below_c`, from where short days do not count; a judgement
FULL_COLD_C = 4.4  # the cold stage works fully below it (Rutgers NJAES FS528, read: 32 to 40 degF)
NO_FROST_C, FULL_FROST_C = 1.0, -2.0
"""Nights "slightly below freezing" (FS528), as a ramp about -0.5 degC; its width is a judgement."""


def hardening_ceiling(
    core_mean_c: Array,
    core_min_c: Array,
    day_length_h: Array | float,
    harden_below_c: Array | float,
) -> Array:
    """The hardness that days like this one allow in the end, 0 to 1; all arguments broadcast."""
    short = short_day_share(day_length_h)
    cool = _falling(core_mean_c, harden_below_c, harden_below_c + COOL_SPAN_K)
    cold = _falling(core_mean_c, FULL_COLD_C, harden_below_c)
    frost = _falling(core_min_c, FULL_FROST_C, NO_FROST_C)
    first = SHORT_DAY_SHARE * np.maximum(short * cool, cold)
    return np.asarray(first + COLD_SHARE * cold + FROST_SHARE * frost * cold)


def short_day_share(day_length_h: Array | float) -> Array:
    """How far a day's length hardens by itself, 0 to 1."""
    return _falling(day_length_h, SHORT_DAY_H, LONG_DAY_H)


def warmth_loss(core_mean_c: Array, deharden_above_c: Array, per_degree_day: Array) -> Array:
    """The share of full hardness that a day of this mean takes away; all arguments broadcast."""
    return np.asarray(per_degree_day * np.maximum(core_mean_c - deharden_above_c, 0.0))


def hardened(state: Array, ceiling: Array, loss: Array, harden_days: Array) -> Array:
    """The state after a day of a given ceiling and loss, 0 to 1; all arguments broadcast."""
    gained = np.minimum(ceiling, state + ceiling / harden_days)
    return np.asarray(np.maximum(gained, state - loss))


def _falling(value: Array | float, whole: Array | float, none: Array | float) -> Array:
    """1 up to ``whole``, 0 from ``none`` on, straight between; ``whole`` < ``none``."""
    return np.asarray(np.clip((none - value) / (none - whole), 0.0, 1.0))
