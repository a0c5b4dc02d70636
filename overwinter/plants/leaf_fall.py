"""When deciduous leaves are down: the grower's sign that a tree goes to rest.

From the day on that is shorter than 12.5 h, every day adds the square of what its mean lacks of
28.5 degC (the form, day length and temperature of Delpierre and others 2009, from memory). The sums
are ours, set on three dates: oaks in Germany turn about 19 October (German weather service, mean of
2011 to 2023, read) and are bare early in November, trees at 42 N in Massachusetts turn about
10 October and oaks there are bare about the end of it (the last three from memory). Kinds and
years differ by a fortnight either way; what the grower sees counts instead.
"""

import numpy as np

from overwinter.model.shelter import FloatArray

BEGINS_BELOW_H = 12.5
"""Day length below which cold counts."""
WARM_C = 28.5
"""A day of this mean adds nothing."""
TURNING_K2_D, BARE_K2_D = 8_000.0, 14_000.0
"""Sums at which leaves have turned and begin to fall, and at which the last are down."""


def leaves_left(air_mean_c: FloatArray, day_length_h: FloatArray) -> FloatArray:
    """Share of the summer's leaves that a deciduous tree outdoors still has, 0 to 1.

    Parameters
    ----------
    air_mean_c : ``(..., day)``, degC, from late summer on.
    day_length_h : ``(day,)``.
    """
    counts = np.cumsum(day_length_h < BEGINS_BELOW_H) > 0
    cold = np.maximum(WARM_C - air_mean_c, 0.0) ** 2 * counts
    left = (BARE_K2_D - np.cumsum(cold, axis=-1)) / (BARE_K2_D - TURNING_K2_D)
    return np.asarray(np.clip(left, 0.0, 1.0), dtype=np.float32)


def day_bare(left: FloatArray) -> FloatArray:
    """First day without leaves, ``(...)``; the number of days where there is none."""
    bare = left <= 0.0
    return np.asarray(np.where(bare.any(axis=-1), bare.argmax(axis=-1), left.shape[-1]))
