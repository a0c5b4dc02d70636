"""The outdoor night temperatures at which groups of a collection stop being safe outdoors."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.plants.harm import FLUSH_SHARE, Array, margin_at_chance
from overwinter.simulate.exposures import Series
from overwinter.simulate.follow import Margins, State
from overwinter.simulate.kinds import KindArrays
from overwinter.units import Display, celsius_to_fahrenheit, fahrenheit_to_celsius

BoolArray = NDArray[np.bool_]

UNSAFE_CHANCE = 0.005
"""A night that takes one tree in two hundred is one too many to stay outdoors."""
MOST_THRESHOLDS = 5
FORECAST_ALLOWANCE_K = 1.5
"""A threshold lies one usual forecast error above the night that it warns of."""
SPARED_K = 1.0
"""A further threshold must save its trees at least so much of waiting under cover, K."""


def unsafe_days(series: Series, state: State, margin: Margins, kinds: KindArrays) -> BoolArray:
    """Days at the summer stand on which a tree should not be there, ``(n, winter, day)``."""
    whole = margin_at_chance(UNSAFE_CHANCE)
    flush = margin_at_chance(UNSAFE_CHANCE, FLUSH_SHARE)
    young = np.where(
        kinds.young_share > 0.5, whole, margin_at_chance(UNSAFE_CHANCE * 4, FLUSH_SHARE / 2)
    )
    dose = np.sqrt(UNSAFE_CHANCE) * kinds.half_dose_k_h
    return np.asarray(
        (margin.old_roots < whole)
        | (margin.top < whole)
        | (margin.new_leaves < flush)
        | (margin.young_roots < young)
        | (state.dose_k_h > dose)
    )
