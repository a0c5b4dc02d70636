"""Numbers, measures and days as people write them, units in headings such as ``height_cm`` for
``height_m``, and units in which fuel is sold. What can be read two ways is not read."""

import contextlib
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from overwinter.model.shelter import Carrier
from overwinter.packaged import packaged_toml
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
COMMON_MONEY = frozenset(  # in which a kWh costs about the same; a heading may name them
    ("usd", "eur", "gbp", "cad", "aud", "chf", "nzd", "dollars", "euro", "euros", "pounds")
)


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of a heading: SI value = (written value + shift) * factor / divisor. Whole factors and
    divisors round once: 57 cm and 0.57 m are the same number."""

    word: str  # how a message names it
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
COVER = {suffix: LENGTH[suffix] for suffix in ("cm", "m", "in")}  # depths of soil or mulch
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


UNITS_OF: Mapping[str, Mapping[str, Unit]] = {  # by SI unit at a field's end: units of headings
    "m": LENGTH,
    "m2": AREA,
    "m3": VOLUME,
    "kg": MASS,
    "litres": POT,
    "c": TEMPERATURE,
    "k": DIFFERENCE,
    "w": POWER,
    "w_m2": {},  # no other unit, but not an area either
    "w_m2k": CONDUCTANCE,
    "m2k_w": RESISTANCE,
    "j_k": HEAT_CAPACITY,
    "m_s": WIND,
    "mj_m2_d": DAILY_SUN,
}


def in_unit(value: float, unit: Unit | None) -> str:
    """An SI value as a message shows it, in the unit of the heading."""
    shown = value if unit is None else unit.from_si(value)
    rounded = f"{float(f'{shown:.3g}'):.10g}"
    return rounded if unit is None else f"{rounded} {unit.word}"


def degrees(value_c: float) -> str:
    """A temperature in both units, where it is not known which the reader writes."""
    return f"{value_c:.1f} °C ({TEMPERATURE['f'].from_si(value_c):.1f} °F)"


def kelvins(value_k: float) -> str:
    """A temperature difference in both units."""
    return f"{value_k:.3g} K ({DIFFERENCE['f'].from_si(value_k):.3g} °F)"


UNIT_WORDS = packaged_toml("words.toml")["units"]
SUFFIX_OF = {word: suffix for suffix, words in UNIT_WORDS.items() for word in words.split()}
"""The suffix of a heading by words for its unit."""
SMALLER = {"ft": ("in", 1 / 12), "lb": ("oz", 1 / 16), "m": ("cm", 1 / 100)}  # 1 ft 4, 12 lb 8

INVISIBLE = dict.fromkeys(  # zero-width and direction marks: nobody sees them, nobody meant them
    [0x00AD, *range(0x200B, 0x2010), *range(0x202A, 0x202F), *range(0x2060, 0x206A), 0xFEFF]
)

_SPACES = "   "
PLAIN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?", re.I)
DECIMAL_COMMA = re.compile(r"[+-]?(?:\d+,\d{1,2}|\d+,\d{4,}|\d{4,},\d+|0+,\d+)")
ONE_COMMA = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")  # 1.2 in one country and 1200 in the next
ONE_POINT = re.compile(r"[+-]?[1-9]\d{0,2}\.\d{3}")
GROUPED = re.compile(
    rf"[+-]?[1-9]\d{{0,2}}(?:(?P<mark>[,.'’{_SPACES}])\d{{3}})(?:(?P=mark)\d{{3}})*"
    r"(?P<rest>[.,]\d+)?"
)
_MEASURE = re.compile(
    r"(?P<number>[+-]?\d[\d.,]*(?:\s+\d+/\d+|/\d+)?|[+-]?\.\d+)\s*(?P<unit>[^\d\s.,+-][^\d\s.,]*)?"
)
ABOUT = re.compile(r"^(?:~|≈|ca\.?|about|approx\.?|circa)\s*", re.I)


def clean(text: str) -> str:
    """Text in composed letters (NFC) without what cannot be seen."""
    return unicodedata.normalize("NFC", text.translate(INVISIBLE))


def number_of(text: str) -> float | None:
    """The number a text is, or None where it is none or could be two. A comma is a decimal sign
    unless it may part thousands; ``26 1/2`` and ``½`` are numbers."""
    bare = ABOUT.sub("", _without_fraction_signs(text.strip())).replace("−", "-")
    if PLAIN.fullmatch(bare):
        return float(bare)
    if DECIMAL_COMMA.fullmatch(bare):
        return float(bare.replace(",", "."))
    fraction = re.fullmatch(r"(?:(\d+)\s+)?(\d+)/([1-9]\d*)", bare)
    if fraction:
        return int(fraction[1] or 0) + int(fraction[2]) / int(fraction[3])
    grouped = GROUPED.fullmatch(bare)
    if grouped is None or ONE_COMMA.fullmatch(bare) or ONE_POINT.fullmatch(bare):
        return None
    mark, rest = grouped["mark"], grouped["rest"] or ""
    if rest.startswith(mark):
        return None
    whole = bare[: len(bare) - len(rest)].replace(mark, "")
    return float(whole + rest.replace(",", "."))


def _without_fraction_signs(text: str) -> str:
    """``26½`` as ``26 1/2``."""
    return re.sub(
        "[¼½¾⅓⅔⅛⅜⅝⅞]",
        lambda sign: " " + unicodedata.normalize("NFKC", sign[0]).replace("⁄", "/"),
        text,
    ).strip()


_MINUTES = re.compile(r"(\d+)\s*°\s*(\d+)\s*['′’]\s*(?:(\d+(?:\.\d+)?)\s*[\"″”])?")
_COMPASS = re.compile(r"(-?\d+(?:[.,]\d+)?)\s*°?\s*([nsew]?)[,;\s]*", re.I)


def degrees_of(text: str) -> tuple[float, ...]:
    """Latitude and longitude, or one: ``-93.2``, ``47,5 N``, ``47° 30' N 9.5 E``; else none."""
    bare = _MINUTES.sub(
        lambda d: f"{int(d[1]) + int(d[2]) / 60 + float(d[3] or 0) / 3600:.4f}", text
    )
    bare, found = bare.replace("−", "-").strip(), []
    while bare and (one := _COMPASS.match(bare)):
        degrees = float(one[1].replace(",", "."))
        found.append(-degrees if one[2].casefold() in ("s", "w") else degrees)
        bare = bare[one.end() :]
    return () if bare else tuple(found)


def measure_of(text: str, units: Mapping[str, Unit], unit: Unit | None) -> float | None:
    """The SI value of ``26"``, ``1 ft 4``, ``45 cm`` or a number alone in the heading's unit (None:
    it has none). A unit in the cell goes before that. None where it is not read in one way."""
    text = ABOUT.sub("", _without_fraction_signs(text.strip()))
    alone = number_of(text)
    if alone is not None:
        return None if unit is None else unit.to_si(alone)
    at, parts = 0, []
    for found in _MEASURE.finditer(text):
        if text[at : found.start()].strip(" ,-"):
            return None
        at = found.end()
        parts.append((number_of(found["number"]), (found["unit"] or "").strip().casefold()))
    if text[at:].strip() or not 1 <= len(parts) <= 2:
        return None
    return _sum_of(parts, units)


def _sum_of(parts: list[tuple[float | None, str]], units: Mapping[str, Unit]) -> float | None:
    number, word = parts[0]
    suffix = SUFFIX_OF.get(word.rstrip("."), "")
    if number is None or suffix not in units:
        return None
    if len(parts) == 2:
        more, word = parts[1]
        smaller, share = SMALLER.get(suffix, ("", 0.0))
        if more is None or not smaller or SUFFIX_OF.get(word, word) not in ("", smaller):
            return None
        number += share * more
    return units[suffix].to_si(number)


MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_WORD, _YEAR = rf"(?P<m>(?:{'|'.join(MONTHS)})[a-z]{{0,6}})", r"(?P<y>\d{4}|\d\d)"
_YEAR_LAST = re.compile(rf"(?P<d>\d{{1,2}})(?P<by>[-/.])\s?(?P<m>\d{{1,2}})(?P=by)\s?{_YEAR}")
_DAYS = (
    re.compile(r"(?P<y>\d{4})[-/. ](?P<m>\d{1,2})[-/. ](?P<d>\d{1,2})\.?"),
    _YEAR_LAST,
    re.compile(rf"(?P<d>\d{{1,2}})(?:st|nd|rd|th|\.)?[- ]{_WORD}\.?,?[- ]{_YEAR}"),
    re.compile(rf"{_WORD}\.? (?P<d>\d{{1,2}})(?:st|nd|rd|th)?,? {_YEAR}"),
)
_CLOCK = re.compile(r"[T ]00:00(:00(\.0+)?)?$")


def days_of(text: str) -> tuple[date, ...]:
    """Every day that a text can mean: one where it is clear, none where it is no day. Figures
    parted by points begin with the day: nobody who parts them so writes the month first."""
    bare = _CLOCK.sub("", text.strip()).casefold()
    found = next(filter(None, (pattern.fullmatch(bare) for pattern in _DAYS)), None)
    if found is None:
        return ()
    said = found.groupdict()
    year, month, day = said["y"], said["m"], said["d"]
    if month[:3] in MONTHS:
        month = str(MONTHS.index(month[:3]) + 1)
    days: dict[date, None] = {}
    for m, d in ((month, day), (day, month))[: 1 + (said.get("by", ".") != ".")]:
        with contextlib.suppress(ValueError):
            days[date(int(year) + 2000 * (len(year) == 2), int(m), int(d))] = None
    return tuple(days)


def one_order(texts: Iterable[str]) -> Callable[[str], date | None]:
    """How unclear days of a column are read: by the order that its clear ones show. Returns a
    function that gives the day, or None where the column does not tell."""
    day_first = month_first = False
    for text in texts:
        found = _YEAR_LAST.fullmatch(text.strip())
        if found and found["by"] != "." and len(days_of(text)) == 1 and found["d"] != found["m"]:
            day_first |= int(found["d"]) > 12
            month_first |= int(found["m"]) > 12

    def read(text: str) -> date | None:
        days = days_of(text)
        if len(days) != 2 or day_first == month_first:
            return None
        return days[0] if day_first else days[1]

    return read


def day_of(value: object) -> date | None:
    """The day that a cell or text clearly is, or None."""
    if isinstance(value, datetime):
        clock = (value.hour, value.minute, value.second, value.microsecond)
        return None if any(clock) else value.date()
    if isinstance(value, date):
        return value
    days = days_of(str(value))
    return days[0] if len(days) == 1 else None


# Gross (higher) heating values. Figures and standing as in docs/files.md: read second-hand in
# copies of the list of a national energy statistics office unless said.

JOULES_PER_BTU = 1055.05585262
KWH_PER_BTU = JOULES_PER_BTU / JOULES_PER_KWH

PROPANE_BTU_GAL = 91_452.0
OIL_BTU_GAL = 138_500.0
KEROSENE_BTU_GAL = 135_000.0
GAS_BTU_FT3 = 1037.0
BTU_PER_THERM = 100_000.0
PROPANE_KWH_KG = 13.94  # from 0.508 kg/l, a density from memory
FT3_PER_M3 = METRES_PER_FOOT**-3


def _per_gallon_and_litre(btu_gal: float, word: str) -> dict[str, float]:
    gallon = btu_gal * KWH_PER_BTU
    return {f"us gallon {word}": gallon, f"litre {word}": gallon / LITRES_PER_US_GALLON}


UNITS_KWH: dict[Carrier, dict[str, float]] = {  # kWh in one unit of sale, by carrier
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
