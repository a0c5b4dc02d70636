"""What the air gives: no cold for tender tops, coolness to rest, chilling, light.

All from the hourly series along each tree's path; averaged over a spell where the limit is one of
a spell.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule
from overwinter.climate.series import daily_mean, days_of_year
from overwinter.climate.sun import day_length_h
from overwinter.domain.season import Spell
from overwinter.domain.shelter import FloatArray, Place
from overwinter.domain.species import ChillModel, Limits
from overwinter.domain.tree import Tree
from overwinter.plants.chilling import chill_by_day
from overwinter.plants.hardiness import air_floor_c
from overwinter.plants.light_need import needs_light
from overwinter.plants.rest import rest_days
from overwinter.shelters.light import outdoor_dli_mol_m2_d, place_dli_mol_m2_d
from overwinter.units import HOURS_PER_DAY

SLACK_K = 1e-6
SLACK_LIGHT = 1e-9
SLACK_CHILL = 1e-6
CHILL_UNIT = {ChillModel.HOURS: "chill hours", ChillModel.UTAH: "Utah units"}


@dataclass(frozen=True)
class LightNeed:
    """Least spell-mean light over the light owed, where a tree needs light at all."""

    ratio: float
    spell: int


class AirBook:
    """Means of air and light, chilling and coldest hours by spell, each worked out once."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger
        season = ledger.season
        self.outdoor_dli = outdoor_dli_mol_m2_d(season.weather)
        self.outdoor_mean_c = daily_mean(season.weather.air_c)
        self.day_length_h = day_length_h(
            season.site.latitude_deg, days_of_year(season.site.starts, season.days)
        )
        self.resting = lru_cache(maxsize=None)(self._resting)
        self.air_mean_c = lru_cache(maxsize=None)(self._air_mean_c)
        self.air_min = lru_cache(maxsize=None)(self._air_min)
        self.chill = lru_cache(maxsize=None)(self._chill)
        self.dli = lru_cache(maxsize=None)(self._dli)

    def season_days(self, spell: Spell) -> slice:
        """Days of a spell counted from the season's first."""
        first = self.ledger.season.day_index(spell.start)
        return slice(first, first + spell.days)

    def judged_days(self, spell: Spell) -> slice:
        """Days light and rest of a spell are judged by: the longest spell, ending with it."""
        days = self.season_days(spell)
        longest = self.ledger.season.site.longest_spell_days
        return slice(max(min(days.start, days.stop - longest), 0), days.stop)

    def outdoor_spell_mean_c(self, spell: Spell) -> float:
        """Mean outdoor air of the days a spell is judged by, degC."""
        return float(self.outdoor_mean_c[self.judged_days(spell)].mean())

    def _resting(self, limits: Limits, number: int) -> bool:
        """Whether a tree rests on every day of a spell."""
        days = self.season_days(self.ledger.spells[number])
        return bool(rest_days(limits, self.outdoor_mean_c, self.day_length_h)[days].all())

    def _air(self, shelter_id: str, number: int) -> FloatArray:
        return self.ledger.air[shelter_id].hourly_c[self.ledger.hours(self.ledger.spells[number])]

    def _air_mean_c(self, shelter_id: str, number: int) -> float:
        """Mean air of the days a spell is judged by, as the spell's setting gives it, degC."""
        days = self.judged_days(self.ledger.spells[number])
        column = self.ledger.setting_index[shelter_id][number]
        hours = slice(days.start * HOURS_PER_DAY, days.stop * HOURS_PER_DAY)
        return float(self.ledger.conditions.shelters[shelter_id].air_c[column, hours].mean())

    def _air_min(self, shelter_id: str, number: int) -> tuple[float, int]:
        """Coldest hour of a spell, degC, and the day it falls on, counted from ``first_day``."""
        air = self._air(shelter_id, number)
        hour = int(air.argmin())
        first = self.ledger.days(self.ledger.spells[number]).start
        return float(air[hour]), first + hour // HOURS_PER_DAY

    def _chill(self, shelter_id: str, number: int, model: ChillModel) -> float:
        return float(chill_by_day(self._air(shelter_id, number), model).sum())

    def _dli(self, place_id: str, number: int) -> float:
        place = self.ledger.season.places[place_id]
        days = place_dli_mol_m2_d(self.outdoor_dli, self.ledger.shelter_of(place), place)
        return float(days[self.judged_days(self.ledger.spells[number])].mean())


def check_air(book: AirBook) -> list[Finding]:
    """No hour colder than a tender tree's air floor."""
    ledger = book.ledger
    found = []
    for tree, spell, place in _tender_stays(book):
        floor = air_floor_c(tree.limits, ledger.season.site.margins)
        coldest, day = book.air_min(place.shelter_id, spell.index)
        if floor - coldest > SLACK_K:
            found.append(
                Finding(
                    Rule.AIR,
                    tree.id,
                    place.id,
                    ledger.season.date_of(ledger.first_day + day),
                    floor - coldest,
                    "K",
                    f"air at {place.id} falls to {coldest:.1f} °C, {tree.name} needs {floor:.1f}",
                    spell.index,
                )
            )
    return found


def check_rest(book: AirBook) -> list[Finding]:
    """In a spell of rest the mean air is no warmer than the ceiling, or than outdoors."""
    found = []
    for tree, spell, place in book.ledger.stays():
        ceiling = tree.limits.rest_ceiling_c
        if ceiling is None or not book.resting(tree.limits, spell.index):
            continue
        limit = max(ceiling, book.outdoor_spell_mean_c(spell))
        mean = book.air_mean_c(place.shelter_id, spell.index)
        if mean - limit > SLACK_K:
            text = f"{tree.name} should rest below {limit:.1f} °C, mean air {mean:.1f} °C"
            found.append(_stay(Rule.REST, tree, place, spell, mean - limit, "K", text))
    return found


def check_light(book: AirBook) -> list[Finding]:
    """Where a tree needs light its mean is no less than its floor."""
    found = []
    for tree, spell, place in book.ledger.stays():
        if tree.limits.light_floor_mol_m2_d <= 0:
            continue
        short = tree.limits.light_floor_mol_m2_d - book.dli(place.id, spell.index)
        if short > SLACK_LIGHT and _needs_light(book, tree, spell, place):
            text = f"{tree.name} is too dark at {place.id}"
            found.append(_stay(Rule.LIGHT, tree, place, spell, short, "mol/(m2 d)", text))
    return found


def _needs_light(book: AirBook, tree: Tree, spell: Spell, place: Place) -> bool:
    mean = book.air_mean_c(place.shelter_id, spell.index)
    return bool(needs_light(tree.limits, book.resting(tree.limits, spell.index), mean))


def light_needs(book: AirBook) -> Mapping[str, LightNeed]:
    """By tree: its darkest spell against its need; trees that never need light are not here."""
    worst: dict[str, LightNeed] = {}
    for tree, spell, place in book.ledger.stays():
        floor = tree.limits.light_floor_mol_m2_d
        if floor <= 0 or not _needs_light(book, tree, spell, place):
            continue
        ratio = book.dli(place.id, spell.index) / floor
        if tree.id not in worst or ratio < worst[tree.id].ratio:
            worst[tree.id] = LightNeed(ratio, spell.index)
    return worst


def chill_earned(book: AirBook) -> Mapping[str, float]:
    """By tree: chilling earned where it stood, with what it had before, in its own unit."""
    ledger = book.ledger
    earned = {tree.id: ledger.start.trees[tree.id].chill for tree in ledger.trees}
    for tree, spell, place in ledger.stays():
        earned[tree.id] += book.chill(place.shelter_id, spell.index, tree.limits.chill_model)
    return earned


def check_chill(book: AirBook, earned: Mapping[str, float]) -> list[Finding]:
    """Each tree earns over the winter the chilling it owes."""
    found = []
    for tree in book.ledger.trees:
        short = tree.limits.chill_need - earned[tree.id]
        if tree.limits.chill_need > 0 and short > SLACK_CHILL:
            unit = CHILL_UNIT[tree.limits.chill_model]
            text = f"{tree.name} earns {earned[tree.id]:.0f} of {tree.limits.chill_need:.0f} {unit}"
            found.append(Finding(Rule.CHILL, tree.id, None, None, short, unit, text))
    return found


def air_spare(book: AirBook) -> Mapping[str, tuple[float, int, str]]:
    """By tender tree: least distance above its air floor (K), the day, and the place."""
    ledger = book.ledger
    least: dict[str, tuple[float, int, str]] = {}
    for tree, spell, place in _tender_stays(book):
        floor = air_floor_c(tree.limits, ledger.season.site.margins)
        coldest, day = book.air_min(place.shelter_id, spell.index)
        if tree.id not in least or coldest - floor < least[tree.id][0]:
            least[tree.id] = (coldest - floor, day, place.id)
    return least


def _tender_stays(book: AirBook) -> Iterator[tuple[Tree, Spell, Place]]:
    """Stays of trees that have an air floor."""
    return (stay for stay in book.ledger.stays() if stay[0].limits.air_floor_c is not None)


def _stay(
    rule: Rule, tree: Tree, place: Place, spell: Spell, over: float, unit: str, text: str
) -> Finding:
    return Finding(rule, tree.id, place.id, spell.start, over, unit, text, spell.index)
