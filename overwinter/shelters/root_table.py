"""Root zones of every class of pot on every kind of stand, reduced to days, for a whole site.

The wall follows the air but for a short lag, and is drawn towards the mix behind it while that
freezes. Inside, the water of the mix freezes before the pot gets colder (a lumped enthalpy
balance). A sunk pot follows the soil around it, under its mulch, whose water freezes too.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from overwinter.climate.ground import YEAR_D, damping_per_m, kusuda_c
from overwinter.model.shelter import FloatArray, PlaceKind, RootZone
from overwinter.model.site import Ground
from overwinter.shelters import root_zone
from overwinter.shelters.root_zone import OpenSky, Stand
from overwinter.units import HOURS_PER_DAY

FUSION_J_M3 = 334e6  # latent heat of a cubic metre of water, from handbooks (memory)
WATER_SHARE = 0.4  # water in a moist mix, by volume, as in `root_zone.MEDIUM_CAPACITY_J_M3K`
ICE_J_M3K, WATER_J_M3K = 1.93e6, 4.18e6
POT_FUSION_K = WATER_SHARE * FUSION_J_M3 / root_zone.MEDIUM_CAPACITY_J_M3K
"""Cooling by so many kelvins would take as much heat as freezing all the water, K."""
POT_FROZEN_CAPACITY = 1 - WATER_SHARE * (WATER_J_M3K - ICE_J_M3K) / root_zone.MEDIUM_CAPACITY_J_M3K
"""Heat capacity of the frozen mix as a share of the moist one."""

HELD_BY_ICE = 0.4
"""How far freezing mix draws the wall towards itself: 0.4 halves the misses against a model of
rings with freezing (tests), and makes no coldest night too warm."""

SUBSTEPS = 2
"""Steps of the enthalpy balance in an hour. Against sixteen the coldest of a winter is within
0.15 K (once 0.44) from 1 litre up, a day up to 1.9 K off as the last water freezes."""

MULCH_W_MK = 0.12  # moist bark or leaves; dry bark is near 0.06, sodden near 0.3: a judgement
FILM_M2K_W = 0.05  # outer film of a bed in light wind
BED_DEPTH_M = 0.25
"""Soil that holds sunk pots and cools as one: about a large pot deep. At this depth the bed lies
between the top layer and the mean of a layered model with freezing (tests)."""
SOIL_W_MK = 1.2
SOIL_J_M3K = 2.2e6
SOIL_WATER_SHARE = 0.25
SOIL_FROZEN_CAPACITY = 0.75
"""Moist loam; conductivity 0.5 dry to 1.5 wet (Heiskanen 2000 for sandy soil), the rest memory."""
DEEP_M = 1.0  # the soil below is undisturbed here


class Drive(NamedTuple):
    """What pots or beds follow, ``(hour, column)``, and how fast, ``(class, column)``."""

    goal_c: FloatArray
    time_constant_h: FloatArray


def _drive(goal_c: FloatArray, time_constant_h: FloatArray | float) -> Drive:
    """The same time constants, by class, for all columns; single precision is within 2e-4 K."""
    hours = np.reshape(time_constant_h, (-1, 1)).astype(np.float32)
    goal = np.asarray(goal_c, dtype=np.float32)
    return Drive(goal, np.broadcast_to(hours, (hours.shape[0], goal.shape[1])))


def freezing_days_c(drive: Drive, fusion_k: float, frozen_capacity: float) -> Iterator[FloatArray]:
    """Follow a drive with a lag, freezing and thawing at 0 degC on the way, day by day.

    fusion_k : heat of fusion over heat capacity, K.
    frozen_capacity : heat capacity once frozen, a share of the unfrozen one.

    Yields degC at the end of each hour, ``(24, class, column)``; overwritten by the next day's.
    """
    goal, tau = drive
    now = np.array(np.broadcast_to(goal[:HOURS_PER_DAY].mean(axis=0), tau.shape))
    follows = 1.0 - np.exp(-1.0 / tau)
    thawing = 1.0 / SUBSTEPS / tau
    water = 1.0 - np.exp(-thawing)
    frozen = frozen_capacity * (1.0 - np.exp(-thawing / frozen_capacity))
    heat = np.where(now >= 0, now, now * frozen_capacity - fusion_k).astype(np.float32)
    ice, rate = np.empty_like(heat), np.empty_like(heat)
    day = np.empty((HOURS_PER_DAY, *tau.shape), np.float32)
    for first in range(0, goal.shape[0], HOURS_PER_DAY):
        if now.min() > 0 and goal[first : first + HOURS_PER_DAY].min() > 0:
            # without ice one step an hour is exact
            for hour, after in enumerate(day, first):
                np.subtract(goal[hour], now, out=after)
                after *= follows
                after += now
                now = after
            heat[...] = now
        else:
            for hour, after in enumerate(day, first):
                for _ in range(SUBSTEPS):
                    np.copyto(rate, thawing)
                    np.copyto(rate, water, where=heat > 0)
                    np.copyto(rate, frozen, where=heat < -fusion_k)
                    np.subtract(goal[hour], now, out=ice)
                    ice *= rate
                    heat += ice
                    np.add(heat, fusion_k, out=ice)
                    np.minimum(ice, 0.0, out=ice)
                    ice /= frozen_capacity
                    np.maximum(heat, 0.0, out=after)
                    after += ice
                    now = after
        now = now.copy()
        yield day


def wall_days_c(drive: Drive) -> Iterator[FloatArray]:
    """``root_zone.first_order_lag`` of a drive day by day, ``(24, class, column)``."""
    goal, tau = drive.goal_c[:, None], drive.time_constant_h
    now = before = goal[0]
    for first in range(0, goal.shape[0], HOURS_PER_DAY):
        today = goal[first : first + HOURS_PER_DAY]
        day = root_zone.first_order_lag(today, tau, now, before)
        now, before = day[-1], today[-1]
        yield day


def ground_under_cover(ground: Ground, cover_m2k_w: float) -> Ground:
    """Undisturbed ground once a cover of resistance R (m2 K/W) lies on it all year. The yearly wave
    in a half-space behind a resistance: its surface swings by 1 / (1 + R Y) of the air's, with the
    soil's admittance Y = (1 + i) lambda k; the angle is the delay."""
    admittance = (1 + 1j) * SOIL_W_MK * damping_per_m(ground.diffusivity_m2_d)
    share = 1.0 / (1.0 + cover_m2k_w * admittance)
    delay_d = float(-np.angle(share)) * YEAR_D / (2 * np.pi)
    swing_k, coldest_day = ground.amplitude_k * float(abs(share)), ground.coldest_day + delay_d
    return replace(ground, amplitude_k=swing_k, coldest_day=coldest_day % YEAR_D)


def bed_drive(
    air_c: FloatArray, cover_m: float, snow_m: FloatArray, ground: Ground, day_of_year: FloatArray
) -> Drive:
    """What the soil of a mulched bed about sunk pots follows. ``air_c``: ``(hour, column)``, degC.
    ``snow_m``: ``(hour, column)``, lying snow; insulates like fresh mulch of the same depth."""
    up = 1.0 / (FILM_M2K_W + (cover_m + np.asarray(snow_m)) / MULCH_W_MK)
    down = SOIL_W_MK / (DEEP_M - BED_DEPTH_M / 2)
    mulched = ground_under_cover(ground, cover_m / MULCH_W_MK)
    deep = kusuda_c(DEEP_M, day_of_year, mulched)[:, None]
    goal = (up * air_c + down * deep) / (up + down)
    hours = float(BED_DEPTH_M * SOIL_J_M3K / (np.mean(up) + down) / 3600.0)
    return _drive(goal, hours)


def wall_beside_ice_c(lag_c: FloatArray, core_c: FloatArray) -> FloatArray:
    """The wall, degC, where the mix behind it freezes; in place of ``lag_c``, shapes alike.
    Freezing water holds the wall between the air and 0 degC, until all is ice."""
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
    air_c: FloatArray  # `(setting, winter, hour)`
    snow_m: FloatArray  # `(winter, day)`; zeros under cover
    open_sky: OpenSky | None = None  # in the open


def _by_day(core: Drive, wall: Drive | None, fusion_k: float, frozen_capacity: float) -> FloatArray:
    """Coldest of wall (or core), coldest and mean of core, degC, ``(3, class, column, day)``."""
    days = core.goal_c.shape[0] // HOURS_PER_DAY
    walls = None if wall is None else wall_days_c(wall)
    found = np.empty((days, 3, *core.time_constant_h.shape), np.float32)
    for day, inside in enumerate(freezing_days_c(core, fusion_k, frozen_capacity)):
        coldest, least, mean = found[day]
        inside.min(axis=0, out=least)
        inside.mean(axis=0, out=mean)
        coldest[...] = least
        if walls is not None:
            held = wall_beside_ice_c(next(walls), inside)
            # A frozen mix conducts faster than the wall's lag, that of the moist one, allows.
            np.minimum(held.min(axis=0), least, out=coldest)
    return np.moveaxis(found, 0, -1)


def root_zones(
    stands: Sequence[StandAir],
    classes_l: tuple[float, ...],
    ground: Ground,
    day_of_year: FloatArray,
) -> list[dict[float, RootZone]]:
    """Root zones of each class of pot on each stand; ``day_of_year`` ``(hour,)``."""
    core_h = np.array([root_zone.mean_time_constant_h(litres) for litres in classes_l])
    wall_h = np.array([root_zone.outer_root_time_constant_h(litres) for litres in classes_l])
    cores: list[Drive] = []
    walls: list[Drive] = []
    beds: list[Drive] = []
    for at in stands:
        settings, _, hours = at.air_c.shape
        air = np.ascontiguousarray(at.air_c.reshape(-1, hours).T)
        if at.stand.kind is PlaceKind.SUNK:
            snow = np.tile(np.repeat(at.snow_m, HOURS_PER_DAY, axis=1), (settings, 1)).T
            beds.append(bed_drive(air, at.stand.cover_m, snow, ground, day_of_year))
            continue
        goal = root_zone.root_drive_c(air, at.stand)
        wall_goal = goal
        if at.open_sky is not None:
            night_k, sun_k = at.open_sky.offsets_k(at.stand)
            # The wall in the shade has none of the sun.
            wall_goal, goal = goal - night_k.T, goal - night_k.T + sun_k.T
        cores.append(_drive(goal, core_h))
        walls.append(_drive(wall_goal, wall_h))
    bed_fusion_k = SOIL_WATER_SHARE * FUSION_J_M3 / SOIL_J_M3K
    in_pots = _parts(cores, walls, POT_FUSION_K, POT_FROZEN_CAPACITY)
    in_beds = _parts(beds, [], bed_fusion_k, SOIL_FROZEN_CAPACITY)
    found = []
    for at in stands:
        sunk = at.stand.kind is PlaceKind.SUNK
        part = next(in_beds if sunk else in_pots)
        zones = part.reshape(*part.shape[:2], *at.air_c.shape[:2], -1)
        by_class = enumerate(classes_l)
        found.append({one: RootZone(*zones[:, 0 if sunk else n]) for n, one in by_class})
    return found


def _parts(
    cores: list[Drive], walls: list[Drive], fusion_k: float, frozen_capacity: float
) -> Iterator[FloatArray]:
    """``_by_day`` of each drive; all run side by side."""
    if not cores:
        return iter(())
    wall = _together(walls) if walls else None
    found = _by_day(_together(cores), wall, fusion_k, frozen_capacity)
    ends = np.cumsum([drive.goal_c.shape[1] for drive in cores])[:-1]
    return iter(np.split(found, ends, axis=2))


def _together(drives: list[Drive]) -> Drive:
    return Drive(*(np.concatenate(parts, axis=1) for parts in zip(*drives, strict=True)))
