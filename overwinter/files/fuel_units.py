"""Energy in the units in which fuel is sold, to turn a price into money per kWh.

Gross (higher) heating values. Figures and standing as in docs/files.md: read second-hand in copies
of the list of a national energy statistics office unless said.
"""

from overwinter.model.shelter import Carrier
from overwinter.units import JOULES_PER_KWH, LITRES_PER_US_GALLON

JOULES_PER_BTU = 1055.05585262
KWH_PER_BTU = JOULES_PER_BTU / JOULES_PER_KWH

PROPANE_BTU_GAL = 91_452.0
OIL_BTU_GAL = 138_500.0
KEROSENE_BTU_GAL = 135_000.0
GAS_BTU_FT3 = 1037.0
BTU_PER_THERM = 100_000.0
PROPANE_KWH_KG = 13.94
"""From 0.508 kg/l, a density from memory."""
FT3_PER_M3 = 1 / 0.3048**3


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
