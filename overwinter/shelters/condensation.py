"""When a cold roof or wall drips: dew point against the inner surface."""

import numpy as np

from overwinter.model.shelter import FloatArray

MAGNUS_B = 17.62
MAGNUS_C = 243.12
"""degC. Magnus coefficients over water as the WMO gives them (from memory; within 0.02 K of
PsychroLib above freezing). Below 0 degC the dew point is over water too, not the frost point."""
INSIDE_FILM_GLAZING_M2K_W = 0.13
INSIDE_FILM_OPAQUE_M2K_W = 0.25
"""Films of the ISO 13788 surface check (read in a tutorial on it); heat-loss films are smaller and
would be optimistic for opaque parts."""


def dew_point_c(air_c: FloatArray | float, relative_humidity: FloatArray | float) -> FloatArray:
    """Dew point, degC, of air at ``air_c`` (degC) and ``relative_humidity`` (0 to 1, > 0)."""
    air = np.asarray(air_c, dtype=np.float64)
    g = np.log(np.asarray(relative_humidity)) + MAGNUS_B * air / (MAGNUS_C + air)
    return np.asarray(MAGNUS_C * g / (MAGNUS_B - g))


def inner_surface_c(
    inside_c: FloatArray | float,
    outdoor_c: FloatArray | float,
    u_w_m2k: float,
    inside_film_m2k_w: float,
) -> FloatArray:
    """Inner surface temperature, degC: Ti - U Rsi (Ti - To); U must be built with the same Rsi."""
    inside = np.asarray(inside_c, dtype=np.float64)
    return np.asarray(inside - u_w_m2k * inside_film_m2k_w * (inside - np.asarray(outdoor_c)))


def wetting_humidity(inside_c: FloatArray | float, surface_c: FloatArray | float) -> FloatArray:
    """Relative humidity (0 to 1) of the inside air at which the surface turns wet; at most 1."""
    inside, surface = np.asarray(inside_c, float), np.asarray(surface_c, float)
    exponent = MAGNUS_B * surface / (MAGNUS_C + surface) - MAGNUS_B * inside / (MAGNUS_C + inside)
    return np.asarray(np.minimum(1.0, np.exp(exponent)))


def is_wet(
    inside_c: FloatArray | float,
    outdoor_c: FloatArray | float,
    relative_humidity: FloatArray | float,
    u_w_m2k: float,
    inside_film_m2k_w: float = INSIDE_FILM_GLAZING_M2K_W,
) -> FloatArray:
    """Whether water forms on the inner surface (bool array)."""
    surface = inner_surface_c(inside_c, outdoor_c, u_w_m2k, inside_film_m2k_w)
    return np.asarray(surface <= dew_point_c(inside_c, relative_humidity))
