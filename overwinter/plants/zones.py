"""Hardiness zones and bands of plants in the ground, for comparison only.

A zone or band speaks of tops in the ground; roots in pots die far earlier, so no limit of the
species table comes from one. It serves to set a site's design temperature and to show a grower
how far a label is from a pot's limit.
"""

import re
from dataclasses import dataclass

from overwinter.units import fahrenheit_to_celsius

ZONES = 13
HALF_F = 5.0
COLDEST_F = -60.0
_ZONE = re.compile(r"([1-9]|1[0-3])([ab]?)")


@dataclass(frozen=True, slots=True)
class Band:
    """A range of yearly lowest temperatures, degC; the cold end belongs to it (our convention)."""

    cold_c: float
    warm_c: float


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


def zone_of(yearly_min_c: float) -> str:
    """Half zone a mean yearly minimum (degC) lies in; the ends of the scale take what is beyond."""
    steps = (yearly_min_c * 1.8 + 32.0 - COLDEST_F) / HALF_F
    index = min(max(int((steps + 1e-9) // 1), 0), 2 * ZONES - 1)
    return f"{index // 2 + 1}{'ab'[index % 2]}"


def zone_for_pots(site_zone: str, colder_by: int = 2) -> str:
    """Coldest zone a plant should be rated for to stand in a pot outdoors at ``site_zone``.

    The two-zone rule (Brooklyn Botanic Garden, read); others say one zone. It is advice: measured
    roots of some plants die sooner than it allows.
    """
    match = _ZONE.fullmatch(site_zone.strip().lower())
    if match is None:
        raise ValueError(f"not a hardiness zone from 1a to 13b: {site_zone!r}")
    return f"{max(int(match[1]) - colder_by, 1)}{match[2]}"


RHS_BANDS: dict[str, Band] = {
    "H1a": Band(15.0, float("inf")),
    "H1b": Band(10.0, 15.0),
    "H1c": Band(5.0, 10.0),
    "H2": Band(1.0, 5.0),
    "H3": Band(-5.0, 1.0),
    "H4": Band(-10.0, -5.0),
    "H5": Band(-15.0, -10.0),
    "H6": Band(-20.0, -15.0),
    "H7": Band(float("-inf"), -20.0),
}
"""RHS hardiness rating 2012/2013, read; H2 and warmer limit the whole plant, H3 and colder speak
of plants in the ground."""


def passes_rhs(lowest_c: float, rating: str, bold: bool = False) -> bool:
    """Whether a shelter that never falls under ``lowest_c`` suits a rating.

    The safe reading takes the warm end of the band, the bold one the cold end; say which is used.
    """
    band = RHS_BANDS[rating]
    if rating == "H1a":
        return lowest_c >= band.cold_c
    return lowest_c >= (band.cold_c if bold else band.warm_c)
