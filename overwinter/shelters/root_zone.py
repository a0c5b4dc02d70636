"""Temperature of a pot's outer roots: the young ones at the wall, which die first.

Every pot's Biot number is above 0.1, so one temperature for the pot would flatter them. The
outer roots follow the air with a first-order lag whose time constant is that of the pot wall in
exact conduction through a cylinder with the pot's ratio of volume to surface; ``root_table`` holds
it where the mix behind it freezes. No wind, no snow.
"""

from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

import numpy as np

from overwinter.climate.air import cold_sky_share
from overwinter.model.shelter import FloatArray, Place, PlaceKind
from overwinter.units import HOURS_PER_DAY

POT_CLASSES_L = (0.1, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)

HEAT_TRANSFER_W_M2K = 8.0  # of a pot in still air: a handbook order of magnitude, from memory
MEDIUM_CONDUCTIVITY_W_MK = 0.4  # moist mix; peat from 0.05 dry to 0.5 wet (Heiskanen 2000)
MEDIUM_CAPACITY_J_M3K = 1.972e6
"""40 % water by volume: 0.3 + 0.4 x 4.18 MJ/(m3 K); moist, as pots must be kept all winter."""
HEIGHT_OVER_DIAMETER = 0.9
BOTTOM_SHARE = 0.25 / (0.25 + HEIGHT_OVER_DIAMETER + 0.25)  # of a pot's surface, on the soil

SOIL_LAG_H = 4.2  # of soil 5 cm under a pot: a half-space damps a day's swing to 0.67

_RADIAL_CELLS = 80
OPEN_W_M2K = 10.0  # at a pot in the open: 4 of radiation, 6 of light wind, as at glass in `network`
WALL_SKY = cold_sky_share(90.0)
"""What an upright wall loses to the sky, over what a level face does; the ground it sees is as warm
as the air."""
DARK = 0.7  # sun that a pot takes
EMISSIVITY = 0.9


class Stand(NamedTuple):
    """What decides the roots' surroundings in one shelter; places alike in it share them."""

    kind: PlaceKind  # BENCH for bench, shelf and floor; GROUND; SUNK
    cover_m: float = 0.0  # soil, bark or leaves over the highest roots of a sunk pot, m
    warmer_k: float = 0.0  # than the shelter's air
    sky_share: float = 1.0  # of the sky that pots in the open see; 0 under a roof
    sun_share: float = 1.0


def stand_of(place: Place, open_air: bool = False) -> Stand:
    """How pots stand at ``place``; bench, shelf and floor are one kind to the roots."""
    if place.kind is PlaceKind.SUNK:
        return Stand(PlaceKind.SUNK, place.cover_m, place.warmer_k)
    kind = PlaceKind.GROUND if place.kind is PlaceKind.GROUND else PlaceKind.BENCH
    if not open_air:
        return Stand(kind, warmer_k=place.warmer_k)
    return Stand(kind, 0.0, place.warmer_k, place.sky_share, place.light_share)


@dataclass(frozen=True)
class OpenSky:
    """What the sky takes from pots in the open and the sun gives them, ``(winter, hour)``."""

    sky_loss_w_m2: FloatArray  # of a level face
    sun_w_m2: FloatArray  # on upright faces, in the mean of all directions

    def offsets_k(self, stand: Stand) -> tuple[FloatArray, FloatArray]:
        """Kelvins that a pot follows below the air under its sky, and above it in the sun. In
        snow's absence; the wall is 2 K colder than the air in the clearest coldest nights."""
        night = EMISSIVITY * WALL_SKY * stand.sky_share / OPEN_W_M2K * self.sky_loss_w_m2
        sun = DARK * stand.sun_share / OPEN_W_M2K * self.sun_w_m2
        return np.asarray(night), np.asarray(sun)


def pot_class(litres: float) -> float:
    """The class of a pot, litres: the next smaller one, which is faster and so on the safe side.
    Pots below the smallest class take the smallest."""
    fitting = [size for size in POT_CLASSES_L if size <= litres]
    return fitting[-1] if fitting else POT_CLASSES_L[0]


def volume_over_surface_m(litres: float) -> float:
    """Ratio of volume to whole surface of a pot, m."""
    volume = litres / 1000
    diameter = (4 * volume / (np.pi * HEIGHT_OVER_DIAMETER)) ** (1 / 3)
    return float(volume / (np.pi * diameter**2 * (0.5 + HEIGHT_OVER_DIAMETER)))


def _conduction_modes(litres: float) -> tuple[FloatArray, FloatArray, float]:
    """Decay rates (1/h), weights and start of the wall's answer to a step of the air."""
    radius = 2 * volume_over_surface_m(litres)
    width = radius / _RADIAL_CELLS
    edges = np.arange(1, _RADIAL_CELLS + 1) * width
    capacity = MEDIUM_CAPACITY_J_M3K * np.pi * (edges**2 - (edges - width) ** 2)
    between = 2 * np.pi * edges[:-1] * MEDIUM_CONDUCTIVITY_W_MK / width
    half_cell_m2k_w = width / 2 / MEDIUM_CONDUCTIVITY_W_MK
    film_m2k_w = 1 / HEAT_TRANSFER_W_M2K
    outer = 2 * np.pi * radius / (film_m2k_w + half_cell_m2k_w)
    diagonal = np.zeros(_RADIAL_CELLS)
    diagonal[:-1] += between
    diagonal[1:] += between
    diagonal[-1] += outer
    root = np.sqrt(capacity)
    off = between / (root[:-1] * root[1:])
    matrix = np.diag(diagonal / capacity) - np.diag(off, 1) - np.diag(off, -1)
    rates, modes = np.linalg.eigh(matrix)
    # Cells start a step of 1 away from the air; the last cell decays as this sum.
    weights = modes[-1] / root[-1] * (modes.T @ root)
    wall_share = film_m2k_w / (film_m2k_w + half_cell_m2k_w)
    return rates * 3600, weights, wall_share


def wall_left(litres: float, hours: FloatArray | float) -> FloatArray:
    """Share of a step of the air that the pot wall has still to follow after ``hours`` (h).
    Conduction in a long cylinder of radius 2 V/A with a surface film, on equal radial cells (tests
    hold it against the series of Bessel functions)."""
    rates, weights, share = _conduction_modes(litres)
    decay = np.exp(-np.multiply.outer(np.asarray(hours, dtype=np.float64), rates))
    return np.asarray(share * (decay @ weights))


@cache
def outer_root_time_constant_h(litres: float) -> float:
    """Time, h, in which the pot wall follows 63 % of a step of the air. Shorter than that of the
    pot taken as one lump. Over a Chicago typical year the lag's coldest hour lies 0 to 0.6 K under
    that of exact conduction at the wall, for every pot class."""
    low, high = 0.0, 24.0 * max(1.0, litres)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if wall_left(litres, middle) > np.exp(-1) else (low, middle)
    return high


@cache
def mean_time_constant_h(litres: float) -> float:
    """Time constant of the pot's mean temperature without freezing, h: its slowest mode."""
    return float(1.0 / _conduction_modes(litres)[0].min())


def first_order_lag(
    series_c: FloatArray,
    time_constant_h: FloatArray | float,
    start_c: FloatArray | None = None,
    before_c: FloatArray | None = None,
) -> FloatArray:
    """Follow ``series_c``, ``(hour, ...)`` at the end of each hour and straight in between, with a
    first-order lag; shape (broadcast) and precision alike. ``start_c``, ``before_c``: lag and
    series at the beginning, by default the first value."""
    keep = np.exp(-1.0 / time_constant_h)
    # Response to a ramp over the hour: the new value enters with `new`, the old with the rest.
    new = 1 - time_constant_h * (1 - keep)
    out = np.asarray(new * series_c, series_c.dtype)
    out[1:] += (1 - keep - new) * series_c[:-1]
    out[0] += (1 - keep - new) * (series_c[0] if before_c is None else before_c)
    state, carried = series_c[0] if start_c is None else start_c, np.empty_like(out[0])
    for hour in range(out.shape[0]):
        after = out[hour, ...]
        after += np.multiply(keep, state, out=carried)
        state = after
    return out


def root_drive_c(air_c: FloatArray, stand: Stand) -> FloatArray:
    """What the roots follow, degC, shape of ``air_c`` ``(hour, column)``. Bench, shelf and floor:
    the air. On the ground: the share of the surface that stands on soil feels the soil. Sunk pots
    follow their bed (``root_table.bed_drive``)."""
    if stand.kind is PlaceKind.GROUND:
        soil = first_order_lag(air_c, SOIL_LAG_H, air_c[:HOURS_PER_DAY].mean(axis=0))
        return np.asarray((1 - BOTTOM_SHARE) * air_c + BOTTOM_SHARE * soil)
    return air_c
