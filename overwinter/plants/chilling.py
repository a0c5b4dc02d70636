"""Chilling: chill hours, Utah units, and portions of the Dynamic model.

Requirements in the species table are counted in hours or Utah units (weights of one hour in
``climate.chill_weights``). The Dynamic model is here to show how far the counts disagree: chill
models are not proportional across climates (Luedeling & Brown 2011, abstract read), so a
requirement holds only near where it was measured.
"""

import numpy as np

from overwinter.climate.chill_weights import chill_hours_weight, utah_weight
from overwinter.model.shelter import FloatArray
from overwinter.model.species import ChillModel
from overwinter.units import HOURS_PER_DAY

# Fishman, Erez & Couvillon 1987, J. Theor. Biol. 124:473-483 and 126:309-321; constants and
# recursion read in the documentation and code of the model, not in the papers.
E0_K = 4153.5
E1_K = 12888.8
A0_PER_H = 139500.0
A1_PER_H = 2.567e18
SLOPE = 1.6
TRANSITION_K = 277.0
OFFSET_K = 273.0
"""What the model's implementations add to degC (not 273.15)."""


def chill_weight(air_c: FloatArray, model: ChillModel) -> FloatArray:
    """Chilling earned by each hour at ``air_c`` (degC, any shape), in the model's unit."""
    return chill_hours_weight(air_c) if model is ChillModel.HOURS else utah_weight(air_c)


def chill_by_day(air_c: FloatArray, model: ChillModel) -> FloatArray:
    """Chilling of each day from hourly air ``(..., 24 * day)``, degC; ``(..., day)``."""
    weight = chill_weight(air_c, model)
    days: FloatArray = weight.reshape(*weight.shape[:-1], -1, HOURS_PER_DAY).sum(axis=-1)
    return days


def counting_days(outdoor_chill_by_day: FloatArray) -> slice:
    """Days over which Utah units are customarily counted, from the outdoor chilling ``(day,)``.

    The stretch over which the running sum rises most: autumn warmth counts for nothing before it,
    spring warmth does not take back what was earned.
    """
    running = np.concatenate([[0.0], np.cumsum(outdoor_chill_by_day)])
    end = int(np.argmax(running - np.minimum.accumulate(running)))
    return slice(int(np.argmin(running[: end + 1])), end)


def dynamic_portions(air_c: FloatArray) -> FloatArray:
    """Chill portions of the Dynamic model, running sum after each hour, ``(..., hour)``.

    An intermediate builds up in the cold and is destroyed by warmth; once it is whole, a portion
    is fixed for good.
    """
    kelvin = np.asarray(air_c, dtype=np.float64) + OFFSET_K
    steep = np.exp(SLOPE * TRANSITION_K * (kelvin - TRANSITION_K) / kelvin)
    fixed_share = steep / (1.0 + steep)
    balance = A0_PER_H / A1_PER_H * np.exp((E1_K - E0_K) / kelvin)
    decay = np.exp(-A1_PER_H * np.exp(-E1_K / kelvin))
    left = np.zeros(kelvin.shape[:-1])
    gained = np.zeros(kelvin.shape)
    for hour in range(kelvin.shape[-1]):
        built = balance[..., hour] - (balance[..., hour] - left) * decay[..., hour]
        whole = built >= 1.0
        gained[..., hour] = np.where(whole, fixed_share[..., hour] * built, 0.0)
        left = built - gained[..., hour]
    portions: FloatArray = np.cumsum(gained, axis=-1)
    return portions
