"""How deep snow lies, told from the air alone: a rough rule, all of it judgement."""

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.model.winters import SnowLies

FALLS_M_D = {SnowLies.NEVER: 0.0, SnowLies.SOMETIMES: 0.005, SnowLies.USUALLY: 0.015}
"""Snow that a day with a mean below freezing brings on average, m of lying snow."""
DEEPEST_M = 0.4
MELTS_M_PER_K_D = 0.01
"""Lying snow that goes in a day for each kelvin of its mean above freezing: 3 mm of water from
snow of 300 kg/m3."""


def snow_depth_m(mean_air_c: FloatArray, lies: SnowLies) -> FloatArray:
    """Depth of lying snow at the end of each day, ``(winter, day)``, none before the first."""
    depth = np.zeros(mean_air_c.shape)
    if lies is SnowLies.NEVER:
        return depth
    today = np.zeros(mean_air_c.shape[0])
    change = np.where(mean_air_c < 0, FALLS_M_D[lies], -MELTS_M_PER_K_D * mean_air_c)
    for day in range(mean_air_c.shape[1]):
        today = np.clip(today + change[:, day], 0.0, DEEPEST_M)
        depth[:, day] = today
    return depth
