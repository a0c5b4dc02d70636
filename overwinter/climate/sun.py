"""Daylight and sun: on the flat, on faces of any slope, and as light for plants.

FAO-56 is Allen, Pereira, Raes & Smith 1998, "Crop evapotranspiration", FAO Irrigation and Drainage
Paper 56; equation numbers are its own. Declination and equation of time are Spencer's series of
1971 (memory; checked against pvlib), not FAO-56's plain sines, which are up to 0.5 degrees off.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.model.site import LAST_LIGHT_H, STARTS_H, Location, Site
from overwinter.units import HOURS_PER_DAY

SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
MJ_PER_M2_D_PER_W_M2 = 0.0864  # a mean of 1 W/m2 over a day, MJ/(m2 d)
W_M2_PER_MJ_M2_H = 1e6 / 3600

MOL_PER_MJ = 2.06
"""Photosynthetic light per MJ of sun when 45 % of it is photosynthetic (4.57 mol/MJ). Published
values run to 2.30 (50 %, 4.6 mol/MJ); a tree promised light should get it."""

RANGE_FACTOR_INLAND = 0.16  # kRs of FAO-56 eq. 50 away from large water (memory; 0.19 on coasts)
NORTH_FROM_DEG, LESS_PER_DEG = 50.0, 0.017
"""Nearer to a pole than this a day's range tells of less sun, by this share a degree: found at one
station, Northway in Alaska (63 N), whose sun eq. 50 makes 23 to 41 % too bright."""


def inverse_relative_distance(day_of_year: FloatArray | float) -> FloatArray:
    """Inverse relative distance Earth-Sun, dimensionless (FAO-56 eq. 23)."""
    return np.asarray(1 + 0.033 * np.cos(2 * np.pi / 365 * np.asarray(day_of_year)))


def _year_angle_rad(day_of_year: FloatArray | float) -> FloatArray:
    """At noon of the day: within a day the declination moves by up to 0.4 degrees."""
    return np.asarray(2 * np.pi / 365 * (np.asarray(day_of_year, dtype=np.float64) - 0.5))


def declination_rad(day_of_year: FloatArray | float) -> FloatArray:
    """Solar declination, rad (Spencer 1971)."""
    g = _year_angle_rad(day_of_year)
    first = 0.006918 - 0.399912 * np.cos(g) + 0.070257 * np.sin(g)
    second = -0.006758 * np.cos(2 * g) + 0.000907 * np.sin(2 * g)
    return np.asarray(first + second - 0.002697 * np.cos(3 * g) + 0.00148 * np.sin(3 * g))


def sunset_angle_rad(latitude_deg: float, day_of_year: FloatArray | float) -> FloatArray:
    """Sunset hour angle, rad (FAO-56 eq. 25); 0 in polar night, pi in polar day."""
    cosine = -np.tan(np.deg2rad(latitude_deg)) * np.tan(declination_rad(day_of_year))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def day_length_h(latitude_deg: float, day_of_year: FloatArray | float) -> FloatArray:
    """Daylight hours, h (FAO-56 eq. 34): the sun's centre over a flat horizon."""
    return np.asarray(24 / np.pi * sunset_angle_rad(latitude_deg, day_of_year))


def extraterrestrial_mj_m2_d(latitude_deg: float, day_of_year: FloatArray | float) -> FloatArray:
    """Radiation on a horizontal plane above the atmosphere, MJ/(m2 d) (FAO-56 eq. 21)."""
    latitude, delta = np.deg2rad(latitude_deg), declination_rad(day_of_year)
    sunset = sunset_angle_rad(latitude_deg, day_of_year)
    daily = sunset * np.sin(latitude) * np.sin(delta)
    daily = daily + np.cos(latitude) * np.cos(delta) * np.sin(sunset)
    scale = 24 * 60 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN
    return np.asarray(scale * inverse_relative_distance(day_of_year) * daily)


def clear_sky_mj_m2_d(extraterrestrial: FloatArray | float, elevation_m: float) -> FloatArray:
    """Radiation under a clear sky, MJ/(m2 d) (FAO-56 eq. 37), at ``elevation_m`` (m)."""
    return (0.75 + 2e-5 * elevation_m) * np.asarray(extraterrestrial, dtype=np.float64)


def sun_from_temperature_range_mj_m2_d(
    min_c: FloatArray, max_c: FloatArray, at: Location, day_of_year: FloatArray
) -> FloatArray:
    """Solar radiation, MJ/(m2 d), when nothing but the day's two temperatures is known.
    FAO-56 eq. 50 (Hargreaves): kRs sqrt(Tmax - Tmin) Ra, at most the clear sky. Rough: a clear
    winter day with a small range is made dull, which is the safe side for light."""
    above = extraterrestrial_mj_m2_d(at.latitude_deg, day_of_year)
    spread = np.sqrt(np.maximum(0.0, np.asarray(max_c) - np.asarray(min_c)))
    far_deg = max(0.0, abs(at.latitude_deg) - NORTH_FROM_DEG)
    factor = RANGE_FACTOR_INLAND * (1 - LESS_PER_DEG * far_deg)
    return np.asarray(np.minimum(factor * spread * above, clear_sky_mj_m2_d(above, at.elevation_m)))


def equation_of_time_h(day_of_year: FloatArray | float) -> FloatArray:
    """Seasonal correction for solar time, h (Spencer 1971)."""
    g = _year_angle_rad(day_of_year)
    wave = 0.000075 + 0.001868 * np.cos(g) - 0.032077 * np.sin(g)
    wave += -0.014615 * np.cos(2 * g) - 0.04089 * np.sin(2 * g)
    return np.asarray(12 / np.pi * wave)


def hour_angle_rad(
    hour: FloatArray, longitude_deg: float, utc_offset_h: float, day_of_year: FloatArray
) -> FloatArray:
    """Solar hour angle, rad, at clock time ``hour`` (local standard time); 0 at solar noon.
    FAO-56 eq. 31 with longitude counted east, broadcast over ``hour`` and ``day_of_year``."""
    solar_h = np.asarray(hour) + longitude_deg / 15 - utc_offset_h
    return np.asarray(np.pi / 12 * (solar_h + equation_of_time_h(day_of_year) - 12))


def sine_of_elevation(
    latitude_deg: float, day_of_year: FloatArray | float, hour_angle: FloatArray | float
) -> FloatArray:
    """Of the height of the sun over the horizon, without refraction; negative at night."""
    latitude, delta = np.deg2rad(latitude_deg), declination_rad(day_of_year)
    sine = np.sin(latitude) * np.sin(delta)
    return np.asarray(sine + np.cos(latitude) * np.cos(delta) * np.cos(np.asarray(hour_angle)))


def extraterrestrial_hourly_w_m2(
    latitude_deg: float, longitude_deg: float, utc_offset_h: float, day_of_year: FloatArray
) -> FloatArray:
    """Mean radiation above the atmosphere in each clock hour, W/m2 (FAO-56 eq. 28). North and east
    are positive; ``utc_offset_h`` is local standard time minus UTC. Of days ``(day,)``,
    ``(day, 24)``; hour i covers [i, i + 1)."""
    day = np.asarray(day_of_year, dtype=np.float64)[:, None]
    sunset = sunset_angle_rad(latitude_deg, day)
    hour = np.arange(HOURS_PER_DAY + 1.0)[None, :]
    edges = hour_angle_rad(hour, longitude_deg, utc_offset_h, day)
    latitude, delta = np.deg2rad(latitude_deg), declination_rad(day)
    total = np.zeros((day.shape[0], HOURS_PER_DAY))
    # Clock days are shifted against solar days, so the neighbours' daylight may reach in.
    for turn in (-2 * np.pi, 0.0, 2 * np.pi):
        bound = np.clip(edges + turn, -sunset, sunset)
        start, end = bound[:, :-1], bound[:, 1:]
        total += (end - start) * np.sin(latitude) * np.sin(delta)
        total += np.cos(latitude) * np.cos(delta) * (np.sin(end) - np.sin(start))
    scale = 12 * 60 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN * W_M2_PER_MJ_M2_H
    return np.asarray(np.maximum(0.0, scale * inverse_relative_distance(day) * total))


def sun_from_daily_total(
    sun_mj_m2_d: FloatArray, at: Location, day_of_year: FloatArray
) -> FloatArray:
    """Hourly global horizontal irradiance, W/m2, that adds up to each day's total. The clearness is
    taken constant through the day: ours, a common simplification. Of totals ``(..., day)``,
    ``(..., 24 * day)``; zero all day in polar night whatever the total says."""
    shape = extraterrestrial_hourly_w_m2(*at[:3], day_of_year)
    mean = shape.mean(axis=1)
    wanted = np.asarray(sun_mj_m2_d, dtype=np.float64) / MJ_PER_M2_D_PER_W_M2
    factor = np.where(mean > 0, wanted / np.where(mean > 0, mean, 1.0), 0.0)
    return np.asarray((shape * factor[..., None]).reshape(*factor.shape[:-1], -1))


def carrying_minutes(site: Site, day: date) -> float:
    """Minutes that the household can carry on a day, by daylight, all people together."""
    house, light_h = site.household, sunset_h(site, day) - LAST_LIGHT_H - STARTS_H
    return house.people * 60.0 * max(0.0, min(house.hours_a_day, light_h))


def sunset_h(site: Site, day: date) -> float:
    """Sunset in local standard time, h (FAO-56 eq. 31 to 34: flat horizon, no refraction)."""
    day_of_year = float(day.timetuple().tm_yday)
    noon = 12.0 - (site.longitude_deg / 15.0 - site.utc_offset_h)
    noon -= float(equation_of_time_h(day_of_year))
    return noon + float(day_length_h(site.latitude_deg, day_of_year)) / 2.0


# The diffuse part is Erbs, Klein & Duffie 1982 (memory; checked against pvlib), the sky is taken
# evenly bright, the ground reflects.

GROUND_REFLECTS = 0.2  # grass and bare ground, the usual value (memory); snow reflects more
LOWEST_SINE = 0.05  # sun lower than 3 degrees: its beam is not reckoned
ROOF_SHARE = 0.4  # of an envelope of surfaces not told apart, what lies like a roof (judgement)
SLANTING = 0.1  # aslant glass lets through 1 - 0.1 (1/cos - 1), the form of ASHRAE 93 (memory)
DIFFUSE_THROUGH = 0.9  # the same over diffuse light: about that of 60 degrees


@dataclass(frozen=True)
class HourlySun:
    """Direct and diffuse sun of every hour, ``(winter, hour)``, and where the sun stands."""

    beam_w_m2: FloatArray  # direct sun on a face turned to it, W/m2
    diffuse_w_m2: FloatArray
    global_w_m2: FloatArray
    sine: FloatArray  # of the sun's height, `(hour,)`
    south: FloatArray  # of the unit vector to the sun: its part to the south, `(hour,)`
    west: FloatArray


def hourly_sun(global_w_m2: FloatArray, at: Location, day_of_year: FloatArray) -> HourlySun:
    """Split sun on the horizontal, ``(winter, hour)``; ``day_of_year`` ``(hour,)`` with fractions
    at the middle of each hour of local standard time."""
    day, hour = np.floor(day_of_year), day_of_year % 1 * 24
    angle = hour_angle_rad(hour, at.longitude_deg, at.utc_offset_h, day)
    moment = day_of_year - 0.5 - at.utc_offset_h / 24
    latitude, delta = np.deg2rad(at.latitude_deg), declination_rad(moment)
    sine = sine_of_elevation(at.latitude_deg, moment, angle)
    south = np.sin(latitude) * np.cos(delta) * np.cos(angle) - np.cos(latitude) * np.sin(delta)
    days, which = np.unique(day, return_inverse=True)
    above = extraterrestrial_hourly_w_m2(*at[:3], days)[which, hour.astype(np.intp)]
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
    a roof and walls taken together."""
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
