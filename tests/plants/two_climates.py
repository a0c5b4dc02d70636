"""Winters of two climates outdoors, drawn from monthly means, for dates of buds and leaves."""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from overwinter.climate.generator import draw_winters
from overwinter.climate.series import chill_hours_weight, utah_weight
from overwinter.climate.sun import day_length_h
from overwinter.model.season import WinterRecipe
from overwinter.model.site import Location

STARTS, DAYS, WINTERS = date(2026, 8, 20), 296, 60


@dataclass(frozen=True)
class Outdoors:
    """Daily means (degC), chilling and day lengths of many winters."""

    mean_c: np.ndarray
    chill_hours: np.ndarray
    utah: np.ndarray
    day_length_h: np.ndarray

    def day_of_year(self, index: np.ndarray) -> float:
        """Mean day of the year of day indices, one a winter."""
        return float(np.mean([(STARTS + timedelta(int(i))).timetuple().tm_yday for i in index]))


def outdoors(
    mean_c: tuple[float, ...], swing_k: float, coldest_c: float, latitude_deg: float
) -> Outdoors:
    """Winters with these monthly means (January first) and a daily swing about them."""
    low = tuple(m - swing_k / 2 for m in mean_c)
    high = tuple(m + swing_k / 2 for m in mean_c)
    recipe = WinterRecipe(low, high, None, coldest_c, 3.0)
    winters = draw_winters(
        recipe, WINTERS, 1, STARTS, DAYS, Location(latitude_deg, 0.0, 0.0, 300.0)
    )
    air = winters.air_c.reshape(WINTERS, DAYS, 24)
    number = [(STARTS + timedelta(i)).timetuple().tm_yday for i in range(DAYS)]
    length = day_length_h(latitude_deg, np.array(number, dtype=np.float64))
    return Outdoors(
        air.mean(axis=2),
        chill_hours_weight(air).sum(axis=2),
        utah_weight(air).sum(axis=2),
        np.asarray(length),
    )


def harvard_forest() -> Outdoors:
    """Petersham, Massachusetts, 42.5 N, 350 m; monthly means of about 1990 to 2014, from memory."""
    mean = (-6.3, -4.9, -0.4, 6.7, 12.9, 17.6, 20.3, 19.4, 15.3, 9.0, 3.6, -2.8)
    return outdoors(mean, 10.4, -24.0, 42.5)


def southern_germany() -> Outdoors:
    """Low stations at 50 N, 1951 to 1990; monthly means from memory."""
    mean = (-0.5, 0.6, 4.4, 8.5, 13.2, 16.4, 18.1, 17.6, 14.0, 9.1, 4.0, 0.7)
    return outdoors(mean, 8.5, -14.0, 50.0)
