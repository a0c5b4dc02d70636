"""When a tree needs light, and how a light meter's reading becomes a daily light integral.

DLI (mol/(m2 d)) = PPFD (umol/(m2 s)) x hours x 0.0036 (Torres & Lopez, Purdue HO-238-W, read).
Illuminance per PPFD depends on the lamp: Thimijan & Heins 1983, HortScience 18:818-822 (read on
pages that cite it).
"""

from enum import Enum

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.model.species import LeafHabit, Limits

BoolArray = NDArray[np.bool_]

LUX_PER_FOOT_CANDLE = 10.764
"""One lumen per square foot; the factor is the square of feet in a metre."""
MOL_H_PER_UMOL_S = 0.0036


class LightKind(Enum):
    """Kinds of light; the value is lux per umol/(m2 s)."""

    SUN = 54.0
    FLUORESCENT = 74.0
    METAL_HALIDE = 71.0
    HIGH_PRESSURE_SODIUM = 82.0


def needs_light(
    limits: Limits, resting: bool | BoolArray, mean_air_c: FloatArray | float
) -> BoolArray:
    """Whether a tree needs its daily light at this mean air temperature (degC).

    Evergreens need it whenever they stand warmer than ``dark_below_c``; deciduous trees only
    outside their rest. ``resting`` and ``mean_air_c`` broadcast.
    """
    awake = limits.leaf is LeafHabit.EVERGREEN or ~np.asarray(resting, dtype=np.bool_)
    needed: BoolArray = awake & (np.asarray(mean_air_c) > limits.dark_below_c)
    return needed


def dli_mol_m2_d(ppfd_umol_m2_s: float, hours: float) -> float:
    """Daily light integral of ``hours`` a day at a steady PPFD."""
    return ppfd_umol_m2_s * hours * MOL_H_PER_UMOL_S


def ppfd_umol_m2_s(lux: float, kind: LightKind) -> float:
    """PPFD of an illuminance in lux."""
    return lux / kind.value


def dli_of_foot_candles(foot_candles: float, hours: float, kind: LightKind) -> float:
    """Daily light integral, mol/(m2 d), of ``hours`` a day at an illuminance in foot-candles."""
    return dli_mol_m2_d(ppfd_umol_m2_s(foot_candles * LUX_PER_FOOT_CANDLE, kind), hours)
