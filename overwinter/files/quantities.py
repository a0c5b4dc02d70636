"""Units in headings, such as ``height_cm`` for ``height_m``, and units in which fuel is sold."""

from dataclasses import dataclass

from overwinter.model.shelter import Carrier
from overwinter.units import (
    JOULES_PER_KWH,
    KILOGRAMS_PER_POUND,
    LITRES_PER_US_GALLON,
    METRES_PER_FOOT,
    METRES_PER_INCH,
    W_M2K_PER_BTU_H_FT2_F,
    WATTS_PER_BTU_H,
)

METRES_PER_NAUTICAL_MILE = 1852


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of a heading: SI value = (written value + shift) * factor / divisor.

    Whole factors and divisors round once: 57 cm and 0.57 m are the same number.
    """

    word: str
    """How a message names it."""
    factor: float = 1.0
    divisor: float = 1.0
    shift: float = 0.0

    def to_si(self, written: float) -> float:
        """SI value of a written number."""
        return (written + self.shift) * self.factor / self.divisor

    def from_si(self, value: float) -> float:
        """The written number of an SI value."""
        return value * self.divisor / self.factor - self.shift


LENGTH = {
    "cm": Unit("cm", divisor=100),
    "m": Unit("m"),
    "mm": Unit("mm", divisor=1000),
    "in": Unit("inches", METRES_PER_INCH * 1e4, 1e4),
    "ft": Unit("feet", METRES_PER_FOOT * 1e4, 1e4),
}
ROOM = {suffix: LENGTH[suffix] for suffix in ("m", "cm", "ft", "in")}
"""Lengths of rooms and heights above the sea; metres are customary."""
COVER = {suffix: LENGTH[suffix] for suffix in ("cm", "m", "in")}
"""Depths of soil or mulch."""
AREA = {"m2": Unit("m²"), "ft2": Unit("ft²", METRES_PER_FOOT**2)}
VOLUME = {"m3": Unit("m³"), "ft3": Unit("ft³", METRES_PER_FOOT**3)}
MASS = {"kg": Unit("kg"), "lb": Unit("lb", KILOGRAMS_PER_POUND)}
POT = {"l": Unit("litres"), "gal": Unit("US gallons", LITRES_PER_US_GALLON)}
TEMPERATURE = {"c": Unit("°C"), "f": Unit("°F", 5, 9, shift=-32)}
DIFFERENCE = {"k": Unit("K"), "f": Unit("°F", 5, 9)}
POWER = {"w": Unit("W"), "kw": Unit("kW", 1000.0), "btu_h": Unit("Btu/h", WATTS_PER_BTU_H)}
CONDUCTANCE = {
    "w_m2k": Unit("W/(m² K)"),
    "btu_h_ft2_f": Unit("Btu/(h ft² °F)", W_M2K_PER_BTU_H_FT2_F),
}
RESISTANCE = {
    "m2k_w": Unit("m² K/W"),
    "h_ft2_f_btu": Unit("h ft² °F/Btu", divisor=W_M2K_PER_BTU_H_FT2_F),
}
HEAT_CAPACITY = {
    "kj_k": Unit("kJ/K", 1000.0),
    "mj_k": Unit("MJ/K", 1e6),
    "btu_f": Unit("Btu/°F", WATTS_PER_BTU_H * 3600 * 1.8),
}
WIND = {"m_s": Unit("m/s"), "knots": Unit("knots", METRES_PER_NAUTICAL_MILE, 3600)}
DAILY_SUN = {"mj_m2_d": Unit("MJ/m² a day"), "kwh_m2_d": Unit("kWh/m² a day", 3.6)}


def in_unit(value: float, unit: Unit | None) -> str:
    """An SI value as a message shows it in the unit of the heading."""
    if unit is None:
        return f"{value:g}"
    return f"{unit.from_si(value):.6g} {unit.word}"


def degrees(value_c: float) -> str:
    """A temperature in both units, where it is not known which the reader writes."""
    return f"{value_c:.1f} °C ({TEMPERATURE['f'].from_si(value_c):.1f} °F)"


def kelvins(value_k: float) -> str:
    """A temperature difference in both units."""
    return f"{value_k:.3g} K ({DIFFERENCE['f'].from_si(value_k):.3g} °F)"


# Gross (higher) heating values. Figures and standing as in docs/files.md: read second-hand in
# copies of the list of a national energy statistics office unless said.

JOULES_PER_BTU = 1055.05585262
KWH_PER_BTU = JOULES_PER_BTU / JOULES_PER_KWH

PROPANE_BTU_GAL = 91_452.0
OIL_BTU_GAL = 138_500.0
KEROSENE_BTU_GAL = 135_000.0
GAS_BTU_FT3 = 1037.0
BTU_PER_THERM = 100_000.0
PROPANE_KWH_KG = 13.94
"""From 0.508 kg/l, a density from memory."""
FT3_PER_M3 = METRES_PER_FOOT**-3


def _per_gallon_and_litre(btu_gal: float, *words: str) -> dict[str, float]:
    gallon = btu_gal * KWH_PER_BTU
    prices = {}
    for word in words:
        prices[f"us gallon {word}"] = gallon
        prices[f"litre {word}"] = gallon / LITRES_PER_US_GALLON
    return prices


UNITS_KWH: dict[Carrier, dict[str, float]] = {
    Carrier.ELECTRICITY: {"kwh": 1.0},
    Carrier.NATURAL_GAS: {
        "kwh": 1.0,
        "therm": BTU_PER_THERM * KWH_PER_BTU,
        "cubic metre gas": GAS_BTU_FT3 * FT3_PER_M3 * KWH_PER_BTU,
        "100 cubic feet gas": GAS_BTU_FT3 * 100 * KWH_PER_BTU,
    },
    Carrier.PROPANE: {
        "kwh": 1.0,
        **_per_gallon_and_litre(PROPANE_BTU_GAL, "propane"),
        "kg propane": PROPANE_KWH_KG,
    },
    Carrier.HEATING_OIL: {"kwh": 1.0, **_per_gallon_and_litre(OIL_BTU_GAL, "oil")},
    Carrier.KEROSENE: {"kwh": 1.0, **_per_gallon_and_litre(KEROSENE_BTU_GAL, "kerosene")},
}
"""kWh in one unit of sale, by carrier."""
