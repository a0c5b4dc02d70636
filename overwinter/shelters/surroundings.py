"""What surrounds every shelter hour by hour: outdoor air, sun, ground, house."""

from dataclasses import dataclass

import numpy as np

from overwinter.climate.ground import kusuda_c
from overwinter.climate.series import days_of_year
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray
from overwinter.model.site import Ground
from overwinter.units import HOURS_PER_DAY

FLOOR_GROUND_DEPTH_M = 1.0
"""Ground behind floors and buried walls is taken at this depth: a judgement; near the edge of a
floor the ground is colder, in the middle of a large one warmer."""


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

    @property
    def floor_ground_c(self) -> FloatArray:
        """Ground behind floors and buried walls, degC."""
        return kusuda_c(FLOOR_GROUND_DEPTH_M, self.day_of_year, self.ground)


def hourly_days_of_year(season: Season) -> FloatArray:
    """Day of the year at the middle of each hour from noon of the first day, ``(hour,)``."""
    days = days_of_year(season.site.starts, season.days)
    middle = 0.5 + (np.arange(HOURS_PER_DAY) + 0.5) / HOURS_PER_DAY
    return np.asarray((days[:, None] + middle).reshape(-1))


def surroundings(season: Season) -> Surroundings:
    """What surrounds the season's shelters."""
    return Surroundings(
        air_c=season.winters.air_c,
        sun_w_m2=season.winters.sun_w_m2,
        day_of_year=hourly_days_of_year(season),
        ground=season.site.ground,
        house_c=season.site.house_c,
    )
