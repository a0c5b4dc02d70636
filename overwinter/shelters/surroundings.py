"""What surrounds every shelter hour by hour: air, sun, sky, ground, house; light on its places."""

from collections.abc import Hashable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from overwinter.climate.air import cold_sky_share, sky_loss_w_m2
from overwinter.climate.ground import kusuda_c
from overwinter.climate.series import daily_sum, days_of_year
from overwinter.climate.sun import HourlySun, dli_mol_m2_d, hourly_sun, sun_on_face
from overwinter.model.season import Season, Winters
from overwinter.model.shelter import FloatArray, Place, Shelter
from overwinter.model.site import Ground
from overwinter.shelters.network import (
    HOUSE,
    LEVEL_SUN,
    OUTDOORS,
    GroundAt,
    SkyOver,
    SunOn,
)
from overwinter.units import HOURS_PER_DAY, MJ_PER_WH


@dataclass(frozen=True)
class Surroundings:
    """Of all winters side by side."""

    air_c: FloatArray
    """``(winter, hour)``"""
    sun_w_m2: FloatArray
    """``(winter, hour)``"""
    day_of_year: FloatArray
    """``(hour,)``, with fractions: the middle of each hour."""
    ground: Ground
    house_c: float
    latitude_deg: float
    longitude_deg: float
    utc_offset_h: float
    elevation_m: float

    @cached_property
    def sky_loss_w_m2(self) -> FloatArray:
        """Loss of a horizontal black face to the sky, ``(winter, hour)``."""
        days = np.floor(self.day_of_year[::HOURS_PER_DAY])
        loss = sky_loss_w_m2(self.air_c, self.sun_w_m2, self.latitude_deg, self.elevation_m, days)
        return np.repeat(loss, HOURS_PER_DAY, axis=1)

    @cached_property
    def sun(self) -> HourlySun:
        """Direct and diffuse."""
        return hourly_sun(
            self.sun_w_m2,
            self.latitude_deg,
            self.longitude_deg,
            self.utc_offset_h,
            self.day_of_year,
        )

    def source(self, of: Hashable) -> FloatArray:
        """What a source of a shelter's network gives, broadcast to ``(winter, hour)``."""
        if isinstance(of, SunOn):
            return sun_on_face(self.sun, of.faces_deg, of.slope_deg, of.through_glass)
        if isinstance(of, SkyOver):
            return cold_sky_share(of.slope_deg) * self.sky_loss_w_m2
        if isinstance(of, GroundAt):
            return kusuda_c(of.depth_m, self.day_of_year, self.ground)
        if of == HOUSE:
            return np.asarray(self.house_c)
        return {OUTDOORS: self.air_c, LEVEL_SUN: self.sun_w_m2}[str(of)]

    def sources(self, wanted: tuple[Hashable, ...]) -> FloatArray:
        """Those of a network, ``(hour, source, winter)``."""
        winters, hours = self.air_c.shape
        found = np.empty((hours, len(wanted), winters))
        for number, of in enumerate(wanted):
            found[:, number] = np.broadcast_to(self.source(of), self.air_c.shape).T
        return found


def hourly_days_of_year(season: Season) -> FloatArray:
    """Day of the year at the middle of each hour from noon of the first day, ``(hour,)``."""
    days = days_of_year(season.site.starts, season.days)
    middle = 0.5 + (np.arange(HOURS_PER_DAY) + 0.5) / HOURS_PER_DAY
    return np.asarray((days[:, None] + middle).reshape(-1))


def surroundings(season: Season) -> Surroundings:
    """What surrounds the season's shelters."""
    site = season.site
    return Surroundings(
        air_c=season.winters.air_c,
        sun_w_m2=season.winters.sun_w_m2,
        day_of_year=hourly_days_of_year(season),
        ground=site.ground,
        house_c=site.house_c,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        utc_offset_h=site.utc_offset_h,
        elevation_m=site.elevation_m,
    )


def outdoor_dli_mol_m2_d(winters: Winters) -> FloatArray:
    """Outdoor daily light integral, mol/(m2 d), ``(winter, day)``, at the low published factor."""
    return dli_mol_m2_d(daily_sum(winters.sun_w_m2) * MJ_PER_WH)


def place_dli_mol_m2_d(outdoor_dli: FloatArray, shelter: Shelter, place: Place) -> FloatArray:
    """Light at ``place``, mol/(m2 d), ``(winter, day)``: daylight let in, and lamps."""
    inside = outdoor_dli * shelter.transmission + shelter.lamp_mol_m2_d
    return np.asarray(inside * place.light_share)
