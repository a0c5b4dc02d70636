"""Root zones of every class of pot on every kind of stand, reduced to days, for a whole site.

The wall follows the air at once but for a short lag and is credited no latent heat, as ice forms
there first. Inside, the water of the mix freezes before the pot gets colder (a lumped enthalpy
balance). A sunk pot follows the soil around it, under its mulch, whose water freezes too.
"""

from dataclasses import replace

import numpy as np

from overwinter.climate.ground import YEAR_D, damping_per_m, kusuda_c
from overwinter.climate.series import by_day
from overwinter.model.conditions import RootZone
from overwinter.model.shelter import FloatArray, PlaceKind
from overwinter.model.site import Ground
from overwinter.shelters.lag import first_order_lag
from overwinter.shelters.root_zone import (
    MEDIUM_CAPACITY_J_M3K,
    Stand,
    mean_time_constant_h,
    outer_root_time_constant_h,
    root_drive_c,
)
from overwinter.units import HOURS_PER_DAY

FUSION_J_M3 = 334e6
"""Latent heat of a cubic metre of water, from handbooks (memory)."""
WATER_SHARE = 0.4
"""Water in a moist mix, by volume, as in ``root_zone.MEDIUM_CAPACITY_J_M3K``."""
ICE_J_M3K, WATER_J_M3K = 1.93e6, 4.18e6
POT_FUSION_K = WATER_SHARE * FUSION_J_M3 / MEDIUM_CAPACITY_J_M3K
"""Cooling by so many kelvins would take as much heat as freezing all the water, K."""
POT_FROZEN_CAPACITY = 1 - WATER_SHARE * (WATER_J_M3K - ICE_J_M3K) / MEDIUM_CAPACITY_J_M3K
"""Heat capacity of the frozen mix as a share of the moist one."""

SUBSTEPS = 2
"""Steps of the enthalpy balance in an hour: within 0.1 K of the exact one from 1 litre up."""

MULCH_W_MK = 0.12
"""Moist bark or leaves; dry bark is near 0.06, sodden near 0.3: a judgement."""
FILM_M2K_W = 0.05
"""Outer film of a bed in light wind."""
BED_DEPTH_M = 0.25
"""Soil that holds sunk pots and cools as one: about a large pot deep. At this depth the bed lies
between the top layer and the mean of a layered model with freezing (tests)."""
SOIL_W_MK = 1.2
SOIL_J_M3K = 2.2e6
SOIL_WATER_SHARE = 0.25
"""Moist loam; conductivity 0.5 dry to 1.5 wet (Heiskanen 2000 for sandy soil), the rest memory."""
DEEP_M = 1.0
"""The soil below is undisturbed here."""


def enthalpy_lag_c(
    drive_c: FloatArray,
    time_constant_h: FloatArray | float,
    fusion_k: float,
    frozen_capacity: float,
) -> FloatArray:
    """Follow ``drive_c`` ``(hour, ...)`` with a lag, freezing and thawing at 0 degC on the way.

    Parameters
    ----------
    fusion_k : heat of fusion over heat capacity, K.
    frozen_capacity : heat capacity once frozen, a share of the unfrozen one.
    """
    # Single precision is faster and within 2e-4 K over a winter.
    drive_c = np.asarray(drive_c, dtype=np.float32)
    part = np.asarray(1.0 / SUBSTEPS / np.asarray(time_constant_h), dtype=np.float32)
    water, thawing = 1.0 - np.exp(-part), part
    frozen = frozen_capacity * (1.0 - np.exp(-part / frozen_capacity))
    shape = np.broadcast_shapes(drive_c.shape[1:], part.shape)
    now = np.array(np.broadcast_to(drive_c[:HOURS_PER_DAY].mean(axis=0), shape))
    heat = np.where(now >= 0, now, now * frozen_capacity - fusion_k).astype(np.float32)
    out, ice = np.empty((drive_c.shape[0], *shape), np.float32), np.empty(shape, np.float32)
    for hour in range(drive_c.shape[0]):
        after = out[hour]
        for _ in range(SUBSTEPS):
            rate = np.where(heat > 0, water, np.where(heat < -fusion_k, frozen, thawing))
            np.subtract(drive_c[hour], now, out=ice)
            np.multiply(ice, rate, out=ice)
            heat += ice
            np.add(heat, fusion_k, out=ice)
            np.minimum(ice, 0.0, out=ice)
            np.divide(ice, frozen_capacity, out=ice)
            np.maximum(heat, 0.0, out=after)
            after += ice
            now = after
    return out


def ground_under_cover(ground: Ground, cover_m2k_w: float) -> Ground:
    """Undisturbed ground once a cover of resistance R (m2 K/W) lies on it all year.

    The yearly wave in a half-space behind a resistance: its surface swings by 1 / (1 + R Y) of the
    air's, with the soil's admittance Y = (1 + i) lambda k; the angle is the delay.
    """
    admittance = (1 + 1j) * SOIL_W_MK * damping_per_m(ground.diffusivity_m2_d)
    share = 1.0 / (1.0 + cover_m2k_w * admittance)
    delay_d = float(-np.angle(share)) * YEAR_D / (2 * np.pi)
    return replace(
        ground,
        amplitude_k=ground.amplitude_k * float(abs(share)),
        coldest_day=(ground.coldest_day + delay_d) % YEAR_D,
    )


def bed_c(
    air_c: FloatArray, cover_m: float, snow_m: FloatArray, ground: Ground, day_of_year: FloatArray
) -> FloatArray:
    """Soil of a mulched bed about sunk pots, degC, ``(hour, column)``.

    Parameters
    ----------
    air_c : ``(hour, column)``, degC.
    snow_m : ``(hour, column)``, lying snow; insulates like fresh mulch of the same depth.
    """
    up = 1.0 / (FILM_M2K_W + (cover_m + np.asarray(snow_m)) / MULCH_W_MK)
    down = SOIL_W_MK / (DEEP_M - BED_DEPTH_M / 2)
    mulched = ground_under_cover(ground, cover_m / MULCH_W_MK)
    deep = kusuda_c(DEEP_M, day_of_year, mulched)[:, None]
    drive = (up * air_c + down * deep) / (up + down)
    capacity = BED_DEPTH_M * SOIL_J_M3K
    hours = float(capacity / (np.mean(up) + down) / 3600.0)
    fusion_k = SOIL_WATER_SHARE * FUSION_J_M3 / SOIL_J_M3K
    return enthalpy_lag_c(np.asarray(drive), hours, fusion_k, 0.75)


def _days(hourly_c: FloatArray, shape: tuple[int, int]) -> FloatArray:
    """``(hour, ..., setting x winter)`` to ``(..., setting, winter, day, 24)``."""
    last = np.moveaxis(hourly_c, 0, -1)
    return by_day(np.ascontiguousarray(last)).reshape(*last.shape[:-2], *shape, -1, HOURS_PER_DAY)


def _least(days_c: FloatArray) -> FloatArray:
    return np.asarray(days_c.min(axis=-1), dtype=np.float32)


def root_zones(
    air_c: FloatArray,
    stand: Stand,
    classes_l: tuple[float, ...],
    snow_m: FloatArray,
    ground: Ground,
    day_of_year: FloatArray,
) -> dict[float, RootZone]:
    """Root zones of each class of pot on one kind of stand in one shelter.

    Parameters
    ----------
    air_c : ``(setting, winter, hour)``, degC.
    snow_m : ``(winter, day)``; counts in the open only: give zeros under cover.
    day_of_year : ``(hour,)``.
    """
    settings, winters, hours = air_c.shape
    shape = (settings, winters)
    air = np.ascontiguousarray(air_c.reshape(-1, hours).T)
    if stand.kind is PlaceKind.SUNK:
        snow = np.tile(np.repeat(snow_m, HOURS_PER_DAY, axis=1), (settings, 1)).T
        soil = _days(bed_c(air, stand.cover_m, snow, ground, day_of_year), shape)
        mean = np.asarray(soil.mean(axis=-1), dtype=np.float32)
        return dict.fromkeys(classes_l, RootZone(_least(soil), _least(soil), mean))
    drive = root_drive_c(air, stand, ground, day_of_year)[:, None, :]
    wall_h = np.array([outer_root_time_constant_h(litres) for litres in classes_l])[:, None]
    core_h = np.array([mean_time_constant_h(litres) for litres in classes_l])[:, None]
    wall = _least(_days(first_order_lag(drive, wall_h), shape))
    core = _days(enthalpy_lag_c(drive, core_h, POT_FUSION_K, POT_FROZEN_CAPACITY), shape)
    core_min = _least(core)
    # A frozen mix conducts faster than the wall's lag, which is that of the moist one, allows.
    wall = np.minimum(wall, core_min)
    core_mean = np.asarray(core.mean(axis=-1), dtype=np.float32)
    return {
        litres: RootZone(wall[i], core_min[i], core_mean[i]) for i, litres in enumerate(classes_l)
    }
