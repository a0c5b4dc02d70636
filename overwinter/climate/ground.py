"""Undisturbed ground and lying snow. Ground: Kusuda & Achenbach 1965 (ASHRAE Trans. 71(1):61-75).
T(z, t) = Tm - A exp(-z k) cos(2 pi / 365 (t - t0) - z k), k = sqrt(pi / (365 alpha)). One annual
wave only: no snow cover, no freezing of soil water, no single cold nights."""

import numpy as np

from overwinter.model.season import SnowLies
from overwinter.model.shelter import FloatArray
from overwinter.model.site import Ground

YEAR_D = 365.0
SHORTEST_RECORD_D = 150.0  # a shorter one does not fix the yearly mean and swing
FALLS_M_D = {SnowLies.NEVER: 0.0, SnowLies.SOMETIMES: 0.005, SnowLies.USUALLY: 0.015}
"""Snow that a day with a mean below freezing brings on average, m of lying snow."""
DEEPEST_M = 0.4
MELTS_M_PER_K_D = 0.01  # for each kelvin of a day's mean: 3 mm of water at 300 kg/m3


def damping_per_m(diffusivity_m2_d: float) -> float:
    """``k`` (1/m) of the annual wave; 1/k is the damping depth."""
    return float(np.sqrt(np.pi / (YEAR_D * diffusivity_m2_d)))


def kusuda_c(depth_m: FloatArray | float, day_of_year: FloatArray, ground: Ground) -> FloatArray:
    """Ground temperature (degC) at a depth (m) on days of the year, which may have fractions."""
    zk = np.asarray(depth_m, dtype=np.float64) * damping_per_m(ground.diffusivity_m2_d)
    phase = 2 * np.pi / YEAR_D * (np.asarray(day_of_year, dtype=np.float64) - ground.coldest_day)
    return np.asarray(ground.mean_c - ground.amplitude_k * np.exp(-zk) * np.cos(phase - zk))


def ground_from_weather(mean_air_c: FloatArray, day_of_year: FloatArray) -> Ground:
    """Ground parameters from air temperature, taking the bare surface to follow the air. Least
    squares of mean + cos + sin with a period of a year. Give the whole year when it is there (daily
    means of 365 days, or 12 monthly means with their mid-month days); from a winter alone the mean
    and the swing lean on extrapolation. Snow and sun on the soil keep real ground somewhat warmer,
    so this errs on the cold side."""
    days = np.unique(np.asarray(day_of_year, dtype=np.float64) % YEAR_D)
    gaps = np.diff(np.concatenate((days, days[:1] + YEAR_D)))
    span = YEAR_D - float(gaps.max())
    if span < SHORTEST_RECORD_D or days.size < 6:
        raise ValueError(
            f"{days.size} days spanning {span:.0f} days of the year; "
            f"{SHORTEST_RECORD_D:.0f} are needed for the ground temperature"
        )
    angle = 2 * np.pi / YEAR_D * np.asarray(day_of_year, dtype=np.float64)
    design = np.column_stack((np.ones_like(angle), np.cos(angle), np.sin(angle)))
    (mean, cos_part, sin_part), *_ = np.linalg.lstsq(design, mean_air_c, rcond=None)
    coldest = np.arctan2(-sin_part, -cos_part) * YEAR_D / (2 * np.pi) % YEAR_D
    return Ground(float(mean), float(np.hypot(cos_part, sin_part)), float(coldest))


def snow_depth_m(mean_air_c: FloatArray, lies: SnowLies) -> FloatArray:
    """Depth of lying snow at the end of each day, ``(winter, day)``, none before the first."""
    depth = np.zeros(mean_air_c.shape)
    if lies is SnowLies.NEVER:
        return depth
    today = np.zeros(mean_air_c.shape[0])
    change = np.where(mean_air_c < 0, FALLS_M_D[lies], -MELTS_M_PER_K_D * mean_air_c)
    for day in range(mean_air_c.shape[1]):
        today = np.clip(today + change[:, day], 0.0, DEEPEST_M)
        depth[:, day] = today
    return depth
