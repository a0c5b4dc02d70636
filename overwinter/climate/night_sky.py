"""Heat that a face loses to a clear sky over what it would lose to air alone."""

import numpy as np

from overwinter.climate.series import by_day
from overwinter.climate.sun import clear_sky_mj_m2_d, extraterrestrial_mj_m2_d
from overwinter.model.shelter import FloatArray

STEFAN_BOLTZMANN_W_M2K4 = 5.670e-8
DULLEST, CLEAREST = 0.3, 1.0
"""Bounds of the day's sun over a clear day's, as FAO-56 advises."""
MJ_PER_WH = 0.0036


def sky_loss_w_m2(
    air_c: FloatArray,
    sun_w_m2: FloatArray,
    latitude_deg: float,
    elevation_m: float,
    day_of_year: FloatArray,
) -> FloatArray:
    """Net long-wave loss of a black horizontal face at the temperature of the air, W/m2.

    FAO-56 eq. 39 with eq. 48 (the dew point is the night's minimum); clouds by the sun of the same
    noon-to-noon day, that is, of the afternoon before and the morning after each night.

    Parameters
    ----------
    air_c, sun_w_m2 : array (winter, hour)
    day_of_year : array (day,)

    Returns
    -------
    array (winter, day)
        One value for a whole day, to be lost in each of its hours.
    """
    days = by_day(air_c)
    low, high = days.min(axis=-1), days.max(axis=-1)
    vapour_kpa = 0.6108 * np.exp(17.27 * low / (low + 237.3))
    clear = clear_sky_mj_m2_d(extraterrestrial_mj_m2_d(latitude_deg, day_of_year), elevation_m)
    sun = by_day(sun_w_m2).sum(axis=-1) * MJ_PER_WH
    share = np.clip(sun / np.maximum(clear, 0.1), DULLEST, CLEAREST)
    emitted = STEFAN_BOLTZMANN_W_M2K4 * ((low + 273.16) ** 4 + (high + 273.16) ** 4) / 2
    return np.asarray(emitted * (0.34 - 0.14 * np.sqrt(vapour_kpa)) * (1.35 * share - 0.35))
