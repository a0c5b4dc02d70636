"""Outer roots of every pot class on every kind of place, reduced to days, for a whole site."""

from collections.abc import Mapping

import numpy as np

from overwinter.climate.series import daily_mean, daily_min
from overwinter.model.conditions import RootZone
from overwinter.model.shelter import FloatArray, PlaceKind
from overwinter.model.site import Ground
from overwinter.shelters.lag import first_order_lag
from overwinter.shelters.root_zone import POT_CLASSES_L, Stand, class_time_constants_h, root_drive_c

_COLUMNS_AT_ONCE = 64
"""Series lagged side by side; more is no faster and holds more memory."""


def _daily_roots(drive_c: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Daily minimum and mean of the lagged drive ``(hour, column)``, ``(column, class, day)``."""
    taus = class_time_constants_h()
    lows, means = [], []
    for first in range(0, drive_c.shape[1], _COLUMNS_AT_ONCE):
        some = drive_c[:, first : first + _COLUMNS_AT_ONCE, None]
        hourly = np.moveaxis(first_order_lag(some, taus), 0, -1)
        lows.append(daily_min(hourly))
        means.append(daily_mean(hourly))
    return np.concatenate(lows), np.concatenate(means)


def _zones(low: FloatArray, mean: FloatArray) -> dict[float, RootZone]:
    """Split ``(column, class, day)``, usual columns first and then the colder winter's."""
    n = low.shape[0] // 2
    return {
        litres: RootZone(min_c=low[:n, k], mean_c=mean[:n, k], cold_min_c=low[n:, k])
        for k, litres in enumerate(POT_CLASSES_L)
    }


def _sunk_zones(drive_c: FloatArray) -> dict[float, RootZone]:
    """The soil decides, so every class is the same object."""
    low, mean = daily_min(drive_c.T), daily_mean(drive_c.T)
    n = low.shape[0] // 2
    zone = RootZone(min_c=low[:n], mean_c=mean[:n], cold_min_c=low[n:])
    return dict.fromkeys(POT_CLASSES_L, zone)


def root_zones(
    air_c: Mapping[tuple[str, Stand], tuple[FloatArray, FloatArray]],
    ground: Ground,
    cold_ground: Ground,
    day_of_year: FloatArray,
) -> dict[tuple[str, Stand], dict[float, RootZone]]:
    """Root zones by shelter and how pots stand in it.

    Parameters
    ----------
    air_c : mapping (shelter id, stand) -> arrays (setting, hour)
        Air of the winter and of the colder winter, degC.
    ground, cold_ground : Ground
        Undisturbed ground of either winter.
    day_of_year : array (hour,)

    Returns
    -------
    dict
        Same keys; each a mapping from pot class (litres) to its ``RootZone``.
    """
    drives = {
        key: np.concatenate(
            (
                root_drive_c(usual.T, key[1], ground, day_of_year),
                root_drive_c(cold.T, key[1], cold_ground, day_of_year),
            ),
            axis=1,
        )
        for key, (usual, cold) in air_c.items()
    }
    zones = {k: _sunk_zones(d) for k, d in drives.items() if k[1].kind is PlaceKind.SUNK}
    lagged = [key for key in drives if key[1].kind is not PlaceKind.SUNK]
    if lagged:
        low, mean = _daily_roots(np.concatenate([drives[key] for key in lagged], axis=1))
        first = 0
        for key in lagged:
            width = drives[key].shape[1]
            zones[key] = _zones(low[first : first + width], mean[first : first + width])
            first += width
    return zones
