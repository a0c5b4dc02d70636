"""Numbers, measures and days as people write them in a cell; what can be read two ways is not."""

import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime

from overwinter.files.quantities import Unit

UNIT_WORDS: Mapping[str, tuple[str, ...]] = {
    "cm": ("cm", "cms", "centimetre", "centimetres", "centimeter", "centimeters"),
    "m": ("m", "metre", "metres", "meter", "meters"),
    "mm": ("mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    "in": ("in", "ins", "inch", "inches", "zoll", "pouce", "pouces", '"', "''", "″", "”"),
    "ft": ("ft", "foot", "feet", "'", "′", "’"),
    "kg": ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"),
    "lb": ("lb", "lbs", "pound", "pounds", "#"),
    "l": ("l", "lt", "ltr", "ltrs", "litre", "litres", "liter", "liters", "litro", "litros"),
    "gal": ("gal", "gals", "gallon", "gallons"),
    "c": ("c", "°c", "celsius", "centigrade"),
    "f": ("f", "°f", "fahrenheit"),
    "w": ("w", "watt", "watts"),
    "kw": ("kw", "kilowatt", "kilowatts"),
}
"""Words for the units of ``quantities``, by the suffix of a heading."""
SUFFIX_OF = {word: suffix for suffix, words in UNIT_WORDS.items() for word in words}
SMALLER = {"ft": ("in", 1 / 12), "lb": ("oz", 1 / 16), "m": ("cm", 1 / 100)}
"""What a second number of a measure counts: 1 ft 4, 12 lb 8."""

INVISIBLE = dict.fromkeys(
    [0x00AD, *range(0x200B, 0x2010), *range(0x202A, 0x202F), *range(0x2060, 0x206A), 0xFEFF]
)
"""Zero-width characters and marks of direction: nobody sees them, so nobody meant them."""

_SPACES = "   "
PLAIN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?", re.I)
DECIMAL_COMMA = re.compile(r"[+-]?(?:\d+,\d{1,2}|\d+,\d{4,}|\d{4,},\d+|0+,\d+)")
ONE_COMMA = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
"""1,200 is 1.2 in one country and 1200 in the next."""
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
    """The number a text is, or None where it is none or could be two.

    A comma is a decimal sign unless it may part thousands; ``26 1/2`` and ``½`` are numbers.
    """
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


def two_readings(text: str) -> str:
    """``1.2 or 1200`` for a number that can be read two ways; else empty."""
    bare = text.strip()
    if ONE_COMMA.fullmatch(bare):
        return f"{float(bare.replace(',', '.')):g} or {bare.replace(',', '')}"
    return ""


def measure_of(text: str, units: Mapping[str, Unit], unit: Unit | None) -> float | None:
    """The SI value of ``26"``, ``1 ft 4``, ``45 cm`` or a number alone in the heading's unit.

    A unit in the cell goes before that of the heading (None: it has none). None where it cannot be
    read, or not in one way.
    """
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
_YEAR_FIRST = re.compile(r"(\d{4})[-/. ](\d{1,2})[-/. ](\d{1,2})\.?")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])\s?(\d{1,2})\2\s?(\d{4}|\d\d)")
_DAY_MONTH = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)?[- ]([a-z]{3,9})\.?,?[- ](\d{4}|\d\d)")
_MONTH_DAY = re.compile(r"([a-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4}|\d\d)")
_CLOCK = re.compile(r"[T ]00:00(:00(\.0+)?)?$")


def days_of(text: str) -> tuple[date, ...]:
    """Every day that a text can mean: one where it is clear, none where it is no day.

    Figures parted by points begin with the day: nobody who parts them so writes the month first.
    """
    bare = _CLOCK.sub("", text.strip()).casefold()
    if found := _YEAR_FIRST.fullmatch(bare):
        return _days((found[1], found[2], found[3]))
    if found := _YEAR_LAST.fullmatch(bare):
        day_first = (found[4], found[3], found[1])
        month_first = (found[4], found[1], found[3])
        return _days(day_first) if found[2] == "." else _days(day_first, month_first)
    for pattern, day, month in ((_DAY_MONTH, 1, 2), (_MONTH_DAY, 2, 1)):
        if (found := pattern.fullmatch(bare)) and found[month][:3] in MONTHS:
            return _days((found[3], str(MONTHS.index(found[month][:3]) + 1), found[day]))
    return ()


def _days(*readings: tuple[str, str, str]) -> tuple[date, ...]:
    days = []
    for year, month, day in readings:
        try:
            days.append(date(int(year) + 2000 * (len(year) == 2), int(month), int(day)))
        except ValueError:
            continue
    return tuple(dict.fromkeys(days))


def one_order(texts: Iterable[str]) -> Callable[[str], date | None]:
    """How unclear days of a column are read: by the order that its clear ones show.

    Returns a function that gives the day, or None where the column does not tell.
    """
    day_first = month_first = False
    for text in texts:
        found = _YEAR_LAST.fullmatch(text.strip())
        if found and found[2] != "." and len(days_of(text)) == 1 and found[1] != found[3]:
            day_first |= int(found[1]) > 12
            month_first |= int(found[3]) > 12

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
