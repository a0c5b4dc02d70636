"""Sun on walls, roofs and glass by where they face, from sun on the horizontal.

The diffuse part is Erbs, Klein & Duffie 1982 (memory; checked against pvlib), the sky is taken
evenly bright, the ground reflects.
"""

from dataclasses import dataclass

import numpy as np

from overwinter.climate.sun import (
    declination_rad,
    extraterrestrial_hourly_w_m2,
    hour_angle_rad,
    sine_of_elevation,
)
from overwinter.model.shelter import FloatArray

GROUND_REFLECTS = 0.2
"""Grass and bare ground, the usual value (memory); snow reflects more."""
LOWEST_SINE = 0.05
"""Sun lower than 3 degrees: its beam is not reckoned."""
ROOF_SHARE = 0.4
"""Of an envelope whose surfaces are not told apart, the part that lies like a roof (judgement)."""
SLANTING = 0.1
"""Glass lets less through aslant: 1 - 0.1 (1/cos - 1), the form of ASHRAE 93 (memory)."""
DIFFUSE_THROUGH = 0.9
"""The same over diffuse light: about that of 60 degrees."""


@dataclass(frozen=True)
class HourlySun:
    """Direct and diffuse sun of every hour, ``(winter, hour)``, and where the sun stands."""

    beam_w_m2: FloatArray
    """Direct sun over the sine of the sun's height: on a face turned to it, W/m2."""
    diffuse_w_m2: FloatArray
    global_w_m2: FloatArray
    sine: FloatArray
    """Of the sun's height, ``(hour,)``."""
    south: FloatArray
    """Of the unit vector to the sun: its part to the south, ``(hour,)``."""
    west: FloatArray


def hourly_sun(
    global_w_m2: FloatArray,
    latitude_deg: float,
    longitude_deg: float,
    utc_offset_h: float,
    day_of_year: FloatArray,
) -> HourlySun:
    """Split sun on the horizontal, ``(winter, hour)``; ``day_of_year`` ``(hour,)`` with fractions
    at the middle of each hour of local standard time."""
    day, hour = np.floor(day_of_year), day_of_year % 1 * 24
    angle = hour_angle_rad(hour, longitude_deg, utc_offset_h, day)
    moment = day_of_year - 0.5 - utc_offset_h / 24
    latitude, delta = np.deg2rad(latitude_deg), declination_rad(moment)
    sine = sine_of_elevation(latitude_deg, moment, angle)
    south = np.sin(latitude) * np.cos(delta) * np.cos(angle) - np.cos(latitude) * np.sin(delta)
    days, which = np.unique(day, return_inverse=True)
    above = extraterrestrial_hourly_w_m2(latitude_deg, longitude_deg, utc_offset_h, days)
    above = above[which, hour.astype(np.intp)]
    clear = np.minimum(1.0, global_w_m2 / np.where(above > 1, above, np.inf))
    share = np.where(
        clear <= 0.22,
        1 - 0.09 * clear,
        0.9511 + clear * (-0.1604 + clear * (4.388 + clear * (-16.638 + 12.336 * clear))),
    )
    share = np.where(clear > 0.8, 0.165, share)
    share = np.where(sine > LOWEST_SINE, share, 1.0)
    diffuse = share * global_w_m2
    return HourlySun(
        beam_w_m2=(global_w_m2 - diffuse) / np.maximum(sine, LOWEST_SINE),
        diffuse_w_m2=diffuse,
        global_w_m2=global_w_m2,
        sine=sine,
        south=np.asarray(south),
        west=np.asarray(np.cos(delta) * np.sin(angle)),
    )


def sky_share(slope_deg: float | None) -> float:
    """Share of what a face sees that is sky."""
    if slope_deg is None:
        return ROOF_SHARE + (1 - ROOF_SHARE) / 2
    return float(1 + np.cos(np.deg2rad(slope_deg))) / 2


def sun_on_face(
    sun: HourlySun, faces_deg: float | None, slope_deg: float | None, through_glass: bool = False
) -> FloatArray:
    """Sun on a face, W/m2, ``(winter, hour)``; with ``through_glass`` less what slanting costs.

    ``faces_deg`` from north over east, None all round; ``slope_deg`` 0 a flat roof, 90 a wall, None
    a roof and walls taken together.
    """
    if slope_deg is None:
        roof = sun_on_face(sun, None, 0.0, through_glass)
        walls = sun_on_face(sun, faces_deg, 90.0, through_glass)
        return ROOF_SHARE * roof + (1 - ROOF_SHARE) * walls
    slope = np.deg2rad(slope_deg)
    if faces_deg is None:
        # The mean over all directions of a wall's share; a slope's is near it.
        level = np.sqrt(np.maximum(0.0, 1 - sun.sine**2))
        aim = np.maximum(0.0, sun.sine) * np.cos(slope) + level * np.sin(slope) / np.pi
        slant = np.where(slope_deg < 45, aim, np.maximum(aim, 0.5))
    else:
        facing = np.deg2rad(faces_deg)
        level = -sun.south * np.cos(facing) - sun.west * np.sin(facing)
        aim = np.maximum(0.0, sun.sine * np.cos(slope) + level * np.sin(slope))
        slant = aim
    aim = np.where(sun.sine > LOWEST_SINE, aim, 0.0)
    seen = sky_share(slope_deg)
    indirect = seen * sun.diffuse_w_m2 + (1 - seen) * GROUND_REFLECTS * sun.global_w_m2
    if through_glass:
        aim = aim * np.clip(1 - SLANTING * (1 / np.maximum(slant, 0.05) - 1), 0, 1)
        indirect = indirect * DIFFUSE_THROUGH
    return np.asarray(sun.beam_w_m2 * aim + indirect)
