"""What surrounds every shelter hour by hour: air, sun, sky, ground and house."""

from collections.abc import Hashable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from overwinter.climate.air import cold_sky_share, sky_loss_w_m2
from overwinter.climate.ground import kusuda_c
from overwinter.climate.series import days_of_year
from overwinter.climate.sun import HourlySun, hourly_sun, sun_on_face
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray
from overwinter.model.site import Site
from overwinter.shelters.network import HOUSE, LEVEL_SUN, OUTDOORS, GroundAt, SkyOver, SunOn
from overwinter.units import HOURS_PER_DAY


@dataclass(frozen=True)
class Surroundings:
    """Of all winters side by side."""

    air_c: FloatArray
    """``(winter, hour)``"""
    sun_w_m2: FloatArray
    """``(winter, hour)``"""
    day_of_year: FloatArray
    """``(hour,)`` from noon of the first day, with fractions: the middle of each hour."""
    site: Site

    @cached_property
    def sky_loss_w_m2(self) -> FloatArray:
        """Loss of a horizontal black face to the sky, ``(winter, hour)``."""
        days, site = np.floor(self.day_of_year[::HOURS_PER_DAY]), self.site
        loss = sky_loss_w_m2(self.air_c, self.sun_w_m2, site.latitude_deg, site.elevation_m, days)
        return np.repeat(loss, HOURS_PER_DAY, axis=1)

    @cached_property
    def sun(self) -> HourlySun:
        """Direct and diffuse."""
        at = self.site.latitude_deg, self.site.longitude_deg, self.site.utc_offset_h
        return hourly_sun(self.sun_w_m2, *at, self.day_of_year)

    def source(self, of: Hashable) -> FloatArray:
        """What a source of a shelter's network gives, broadcast to ``(winter, hour)``."""
        if isinstance(of, SunOn):
            return sun_on_face(self.sun, of.faces_deg, of.slope_deg, of.through_glass)
        if isinstance(of, SkyOver):
            return cold_sky_share(of.slope_deg) * self.sky_loss_w_m2
        if isinstance(of, GroundAt):
            return kusuda_c(of.depth_m, self.day_of_year, self.site.ground)
        if of == HOUSE:
            return np.asarray(self.site.house_c)
        return {OUTDOORS: self.air_c, LEVEL_SUN: self.sun_w_m2}[str(of)]

    def sources(self, wanted: tuple[Hashable, ...]) -> FloatArray:
        """Those of a network, ``(hour, source, winter)``."""
        winters, hours = self.air_c.shape
        found = np.empty((hours, len(wanted), winters))
        for number, of in enumerate(wanted):
            found[:, number] = np.broadcast_to(self.source(of), self.air_c.shape).T
        return found


def surroundings(season: Season) -> Surroundings:
    """What surrounds the season's shelters."""
    days = days_of_year(season.site.starts, season.days)
    middle = 0.5 + (np.arange(HOURS_PER_DAY) + 0.5) / HOURS_PER_DAY
    day_of_year = np.asarray((days[:, None] + middle).reshape(-1))
    return Surroundings(season.winters.air_c, season.winters.sun_w_m2, day_of_year, season.site)
