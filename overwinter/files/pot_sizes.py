"""What a pot holds and weighs, from what growers know of it."""

import re
from collections.abc import Mapping

KG_PER_LITRE = 1.65
"""Pot, moist mix and tree for each litre of pot: 1.2 kg of moist gritty mix, a quarter more for a
fired pot, a tenth for trunk and crown; the shares are judgements. Mixes of 0.15 to 1.3 kg a litre
dry are advised (University of Arkansas, Greenhouse Management Online, unit 7, read); water adds 0.3
to 0.5 (memory)."""
LITRES_PER_M2 = 32.0
"""Where nothing is known of the pot: it takes 40 % of what the tree covers and holds 8 cm of mix,
as the shallow pots of dwarfed trees do. A judgement; a nursery pot holds two to four times that."""
ROUND_SHARE = 0.5
"""Volume of a round pot over the cube of its diameter: 0.8 as deep as wide, sides that taper to
0.8 (a frustum: pi / 12 x 0.8 x (1 + 0.8 + 0.64) = 0.51). A 20 cm pot holds 4 l."""
TRAY_SHARE = 0.8
"""Volume of a pot over its outside length x width x depth: walls, feet, and a rim left free."""
TRADE_GALLON_L = 2.8
"""A number 1 container holds 2.8 l (HortScience 59(10), 1477, read); that a number n holds n times
as much is from memory, and within a fifth."""
NAMED_L: Mapping[str, float] = {
    "p7": 0.2,
    "p8": 0.35,
    "p9": 0.6,
    "p10": 0.8,
    "p11": 1.0,
    "p12": 1.3,
}
"""Square nursery pots by their width in cm; from memory."""

_NUMBERED = re.compile(r"(?:#|no\.?\s*|nr\.?\s*|number\s+)(\d+(?:\.\d)?)", re.I)
_LITRES = re.compile(r"c(\d+(?:[.,]\d+)?)", re.I)


def litres_of_name(name: str) -> float | None:
    """Litres of a size by name: ``P9``, ``C3`` (litres), ``#5`` or ``No. 5`` (trade gallons)."""
    bare = name.strip().casefold()
    if found := _NUMBERED.fullmatch(bare):
        return float(found[1]) * TRADE_GALLON_L
    if found := _LITRES.fullmatch(bare):
        return float(found[1].replace(",", "."))
    return NAMED_L.get(bare)


def litres_of_diameter(diameter_m: float) -> float:
    """Litres of a round pot by its diameter, m."""
    return ROUND_SHARE * diameter_m**3 * 1000


def litres_of_sides(sides_m: tuple[float, float, float]) -> float:
    """Litres of a pot by its outside length, width and depth, m."""
    return TRAY_SHARE * sides_m[0] * sides_m[1] * sides_m[2] * 1000
