"""Shelters whose heater setting changes on days of the winter: what the audit follows."""

import numpy as np
from numpy.typing import NDArray

from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, Shelter
from overwinter.shelters.conditions import bought, shelter_model, unheated_air
from overwinter.shelters.heater import settings_for
from overwinter.shelters.model import run_scheduled
from overwinter.shelters.surroundings import surroundings
from overwinter.units import HOURS_PER_DAY

IntArray = NDArray[np.intp]


def simulate_programme(
    season: Season, shelter: Shelter, setting_of_day: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Air and money of one shelter through all winters with a setting that changes by day.

    The physics of ``compute_conditions``, with the warmth of the last setting still in the walls.

    Parameters
    ----------
    setting_of_day : ``(winter, day)``, indices into ``settings_for(shelter, site)``.

    Returns
    -------
    Air at the end of each hour, degC, ``(winter, hour)``; money, ``(winter, day)``.
    """
    around = surroundings(season)
    model = shelter_model(shelter, season.site)
    if model is None:
        return unheated_air(shelter, around), np.zeros(setting_of_day.shape)
    settings = settings_for(shelter, season.site)
    hourly = np.repeat(setting_of_day, HOURS_PER_DAY, axis=1)
    air, heat = run_scheduled(model, around, settings, hourly)
    money = np.zeros(setting_of_day.shape)
    _, of_each = bought(np.broadcast_to(heat, (len(settings), *heat.shape)), settings)
    for i in range(len(settings)):
        money = np.where(setting_of_day == i, of_each[i], money)
    return air, money
