"""Root zones of every class of pot on every kind of stand, reduced to days, for a whole site.

The wall follows the air but for a short lag, and is drawn towards the mix behind it while that
freezes. Inside, the water of the mix freezes before the pot gets colder (a lumped enthalpy
balance). A sunk pot follows the soil around it, under its mulch, whose water freezes too.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from overwinter.climate.ground import YEAR_D, damping_per_m, kusuda_c
from overwinter.climate.series import by_day
from overwinter.model.shelter import FloatArray, PlaceKind, RootZone
from overwinter.model.site import Ground
from overwinter.shelters.network import first_order_lag
from overwinter.shelters.root_zone import (
    MEDIUM_CAPACITY_J_M3K,
    OpenSky,
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

HELD_BY_ICE = 0.4
"""How far freezing mix draws the wall towards itself: 0.4 halves the misses against a model of
rings with freezing (tests), and makes no coldest night too warm."""

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
SOIL_FROZEN_CAPACITY = 0.75
"""Moist loam; conductivity 0.5 dry to 1.5 wet (Heiskanen 2000 for sandy soil), the rest memory."""
DEEP_M = 1.0
"""The soil below is undisturbed here."""


class Drive(NamedTuple):
    """What something freezing follows: one stand or bed of one shelter."""

    goal_c: FloatArray
    """``(hour, 1, column)``"""
    time_constant_h: FloatArray
    """``(class, 1)``"""


def freezing_lags_c(
    drives: Sequence[Drive], fusion_k: float, frozen_capacity: float
) -> list[FloatArray]:
    """Follow each drive with a lag, freezing and thawing at 0 degC on the way.

    Parameters
    ----------
    fusion_k : heat of fusion over heat capacity, K.
    frozen_capacity : heat capacity once frozen, a share of the unfrozen one.

    Returns
    -------
    list of arrays (hour, class, column), degC.
    """
    # Single precision is faster and within 2e-4 K over a winter; what may freeze runs in one array.
    goals = [np.asarray(drive.goal_c, dtype=np.float32) for drive in drives]
    taus = [np.asarray(drive.time_constant_h, dtype=np.float32) for drive in drives]
    frosty = [goal.min(axis=(0, 1)) <= 0 for goal in goals]
    found = []
    for goal, tau, cold in zip(goals, taus, frosty, strict=True):
        found.append(np.empty((goal.shape[0], tau.shape[0], goal.shape[2]), np.float32))
        if not cold.all():
            found[-1][..., ~cold] = _warm_lag_c(goal[..., ~cold], tau)
    if not any(cold.any() for cold in frosty):
        return found
    goal = np.concatenate([g[..., c] for g, c in zip(goals, frosty, strict=True)], axis=-1)
    tau = np.concatenate(
        [np.tile(t, (1, int(c.sum()))) for t, c in zip(taus, frosty, strict=True)], axis=-1
    )
    frozen = _freezing_lag_c(np.ascontiguousarray(goal), tau, fusion_k, frozen_capacity)
    first = 0
    for one, cold in zip(found, frosty, strict=True):
        last = first + int(cold.sum())
        one[..., cold] = frozen[..., first:last]
        first = last
    return found


def _started(drive_c: FloatArray, time_constant_h: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Room for the answer, and the state before the first hour: the first day's mean."""
    shape = np.broadcast_shapes(drive_c.shape[1:], time_constant_h.shape)
    start = np.array(np.broadcast_to(drive_c[:HOURS_PER_DAY].mean(axis=0), shape))
    return np.empty((drive_c.shape[0], *shape), np.float32), start


def _warm_lag_c(drive_c: FloatArray, time_constant_h: FloatArray) -> FloatArray:
    """Where it never freezes."""
    out, now = _started(drive_c, time_constant_h)
    follows = 1.0 - np.exp(-1.0 / time_constant_h)
    for hour in range(drive_c.shape[0]):
        after = out[hour]
        np.subtract(drive_c[hour], now, out=after)
        after *= follows
        after += now
        now = after
    return out


def _freezing_lag_c(
    drive_c: FloatArray, time_constant_h: FloatArray, fusion_k: float, frozen_capacity: float
) -> FloatArray:
    out, now = _started(drive_c, time_constant_h)
    part = 1.0 / SUBSTEPS / time_constant_h
    water, thawing = 1.0 - np.exp(-part), part
    frozen = frozen_capacity * (1.0 - np.exp(-part / frozen_capacity))
    heat = np.where(now >= 0, now, now * frozen_capacity - fusion_k).astype(np.float32)
    ice, rate = np.empty_like(heat), np.empty_like(heat)
    water, thawing, frozen = (np.broadcast_to(r, heat.shape) for r in (water, thawing, frozen))
    for hour in range(drive_c.shape[0]):
        after = out[hour]
        for _ in range(SUBSTEPS):
            np.copyto(rate, thawing)
            np.copyto(rate, water, where=heat > 0)
            np.copyto(rate, frozen, where=heat < -fusion_k)
            np.subtract(drive_c[hour], now, out=ice)
            ice *= rate
            heat += ice
            np.add(heat, fusion_k, out=ice)
            np.minimum(ice, 0.0, out=ice)
            ice /= frozen_capacity
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


def bed_drive(
    air_c: FloatArray, cover_m: float, snow_m: FloatArray, ground: Ground, day_of_year: FloatArray
) -> Drive:
    """What the soil of a mulched bed about sunk pots follows.

    Parameters
    ----------
    air_c : ``(hour, column)``, degC.
    snow_m : ``(hour, column)``, lying snow; insulates like fresh mulch of the same depth.
    """
    up = 1.0 / (FILM_M2K_W + (cover_m + np.asarray(snow_m)) / MULCH_W_MK)
    down = SOIL_W_MK / (DEEP_M - BED_DEPTH_M / 2)
    mulched = ground_under_cover(ground, cover_m / MULCH_W_MK)
    deep = kusuda_c(DEEP_M, day_of_year, mulched)[:, None]
    goal = (up * air_c + down * deep) / (up + down)
    capacity = BED_DEPTH_M * SOIL_J_M3K
    hours = float(capacity / (np.mean(up) + down) / 3600.0)
    return Drive(np.asarray(goal)[:, None, :], np.array([[hours]]))


def _days(hourly_c: FloatArray, shape: tuple[int, int]) -> FloatArray:
    """``(hour, ..., setting x winter)`` to ``(..., setting, winter, day, 24)``."""
    last = np.moveaxis(hourly_c, 0, -1)
    return by_day(np.ascontiguousarray(last)).reshape(*last.shape[:-2], *shape, -1, HOURS_PER_DAY)


def _least(days_c: FloatArray) -> FloatArray:
    return np.asarray(days_c.min(axis=-1), dtype=np.float32)


def wall_beside_ice_c(lag_c: FloatArray, core_c: FloatArray) -> FloatArray:
    """The wall, degC, where the mix behind it freezes; in place of ``lag_c``, shapes alike.

    Freezing water holds the wall between the air and 0 degC, until all is ice.
    """
    if lag_c.min() < 0:
        held = np.minimum(core_c, 0.0)
        held -= lag_c
        held *= HELD_BY_ICE
        held *= lag_c < 0
        lag_c += held
    return lag_c


@dataclass(frozen=True)
class StandAir:
    """One kind of stand and the air about it."""

    stand: Stand
    air_c: FloatArray
    """``(setting, winter, hour)``"""
    snow_m: FloatArray
    """``(winter, day)``; zeros under cover."""
    open_sky: OpenSky | None = None
    """In the open."""


def root_zones(
    stands: Sequence[StandAir],
    classes_l: tuple[float, ...],
    ground: Ground,
    day_of_year: FloatArray,
) -> list[dict[float, RootZone]]:
    """Root zones of each class of pot on each stand; ``day_of_year`` ``(hour,)``."""
    core_h = np.array([mean_time_constant_h(litres) for litres in classes_l])[:, None]
    wall_h = np.array([outer_root_time_constant_h(litres) for litres in classes_l])[:, None]
    pots: dict[int, Drive] = {}
    beds: dict[int, Drive] = {}
    walls_follow: dict[int, FloatArray] = {}
    for number, at in enumerate(stands):
        settings, _, hours = at.air_c.shape
        air = np.ascontiguousarray(at.air_c.reshape(-1, hours).T)
        if at.stand.kind is PlaceKind.SUNK:
            snow = np.tile(np.repeat(at.snow_m, HOURS_PER_DAY, axis=1), (settings, 1)).T
            beds[number] = bed_drive(air, at.stand.cover_m, snow, ground, day_of_year)
            continue
        goal = root_drive_c(air, at.stand, ground, day_of_year)
        wall_goal = goal
        if at.open_sky is not None:
            night_k, sun_k = at.open_sky.offsets_k(at.stand)
            # The wall in the shade has none of the sun.
            wall_goal, goal = goal - night_k.T, goal - night_k.T + sun_k.T
        pots[number], walls_follow[number] = Drive(goal[:, None, :], core_h), wall_goal
    lagged = freezing_lags_c(list(pots.values()), POT_FUSION_K, POT_FROZEN_CAPACITY)
    bed_fusion_k = SOIL_WATER_SHARE * FUSION_J_M3 / SOIL_J_M3K
    soils = freezing_lags_c(list(beds.values()), bed_fusion_k, SOIL_FROZEN_CAPACITY)
    cores = dict(zip(pots, lagged, strict=True)) | dict(zip(beds, soils, strict=True))
    found = []
    for number, at in enumerate(stands):
        shape = (at.air_c.shape[0], at.air_c.shape[1])
        core = _days(cores[number], shape)
        least, mean = _least(core), np.asarray(core.mean(axis=-1), dtype=np.float32)
        if number in beds:
            found.append(dict.fromkeys(classes_l, RootZone(least[0], least[0], mean[0])))
            continue
        wall_c = wall_beside_ice_c(
            first_order_lag(walls_follow[number][:, None, :], wall_h), cores[number]
        )
        # A frozen mix conducts faster than the wall's lag, which is that of the moist one, allows.
        wall = np.minimum(_least(_days(wall_c, shape)), least)
        zones = (RootZone(wall[i], least[i], mean[i]) for i in range(len(classes_l)))
        found.append(dict(zip(classes_l, zones, strict=True)))
    return found
