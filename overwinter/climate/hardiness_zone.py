"""Hardiness zones: bands of the mean of the yearly lowest temperatures of a place."""

import re
from dataclasses import dataclass

from overwinter.units import fahrenheit_to_celsius

HALF_F = 5.0
COLDEST_F = -60.0
_ZONE = re.compile(r"([1-9]|1[0-3])([ab]?)")


@dataclass(frozen=True, slots=True)
class Band:
    """A range of mean yearly lowest temperatures, degC; the cold end belongs to it (our rule)."""

    cold_c: float
    warm_c: float

    @property
    def middle_c(self) -> float:
        """Middle of the band, degC."""
        return (self.cold_c + self.warm_c) / 2


def zone_band(zone: str) -> Band:
    """Band of a USDA zone such as ``"6a"`` or ``"6"``.

    The scale is the mean yearly minimum in zones of 10 degF and halves of 5 (USDA Plant Hardiness
    Zone Map, read); zone z begins at -60 + 10 (z - 1) degF.

    Raises
    ------
    ValueError
        When it is not a zone from 1a to 13b.
    """
    match = _ZONE.fullmatch(zone.strip().lower())
    if match is None:
        raise ValueError(f"not a hardiness zone from 1a to 13b: {zone!r}")
    number, half = int(match[1]), match[2]
    cold_f = COLDEST_F + 2 * HALF_F * (number - 1) + (HALF_F if half == "b" else 0.0)
    warm_f = cold_f + (HALF_F if half else 2 * HALF_F)
    return Band(fahrenheit_to_celsius(cold_f), fahrenheit_to_celsius(warm_f))
