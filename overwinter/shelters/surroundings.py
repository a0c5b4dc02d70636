"""What surrounds every shelter hour by hour: outdoor air, sun, ground, house.

A colder winter is the same weather shifted down; the ground follows by the share of an annual
wave that reaches its depth, the house and the sun do not.
"""

from dataclasses import dataclass

import numpy as np

from overwinter.climate.ground import damping_per_m, kusuda_c
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
    """Shapes ``(hour,)`` unless said."""

    air_c: FloatArray
    sun_w_m2: FloatArray
    day_of_year: FloatArray
    """With fractions: the middle of each hour."""
    ground: Ground
    house_c: float

    @property
    def floor_ground_c(self) -> FloatArray:
        """Ground behind floors and buried walls, degC."""
        return kusuda_c(FLOOR_GROUND_DEPTH_M, self.day_of_year, self.ground)


def hourly_days_of_year(season: Season) -> FloatArray:
    """Day of the year at the middle of each hour of the season, ``(hour,)``."""
    days = days_of_year(season.site.starts, season.days)
    middle = (np.arange(HOURS_PER_DAY) + 0.5) / HOURS_PER_DAY
    return np.asarray((days[:, None] + middle).reshape(-1))


def colder_ground(ground: Ground, colder_by_k: float, depth_m: float) -> Ground:
    """The ground at ``depth_m`` after a winter colder by ``colder_by_k`` (K)."""
    share = float(np.exp(-depth_m * damping_per_m(ground.diffusivity_m2_d)))
    return Ground(
        mean_c=ground.mean_c - colder_by_k * share,
        amplitude_k=ground.amplitude_k,
        coldest_day=ground.coldest_day,
        diffusivity_m2_d=ground.diffusivity_m2_d,
    )


def surroundings(season: Season, colder_by_k: float = 0.0) -> Surroundings:
    """The season's surroundings, or those of a winter colder by ``colder_by_k`` (K)."""
    ground = colder_ground(season.site.ground, colder_by_k, FLOOR_GROUND_DEPTH_M)
    return Surroundings(
        air_c=np.asarray(season.weather.air_c - colder_by_k),
        sun_w_m2=season.weather.sun_w_m2,
        day_of_year=hourly_days_of_year(season),
        ground=ground,
        house_c=season.site.house_c,
    )
