"""What the air gives: no cold for tender tops, coolness to rest, chilling, light.

All from the hourly series along each tree's path; averaged over a spell where the limit is one of
a spell.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule
from overwinter.climate.series import daily_mean, days_of_year
from overwinter.climate.sun import day_length_h
from overwinter.model.season import Spell
from overwinter.model.shelter import FloatArray, Place
from overwinter.model.species import ChillModel, Limits
from overwinter.model.tree import Tree
from overwinter.plants.chilling import chill_by_day
from overwinter.plants.hardiness import air_floor_c
from overwinter.plants.light_need import needs_light
from overwinter.plants.rest import rest_days
from overwinter.shelters.light import outdoor_dli_mol_m2_d, place_dli_mol_m2_d
from overwinter.units import HOURS_PER_DAY

BoolArray = NDArray[np.bool_]
SLACK_K = 1e-6
SLACK_LIGHT = 1e-9
SLACK_CHILL = 1e-6
CHILL_UNIT = {ChillModel.HOURS: "chill hours", ChillModel.UTAH: "Utah units"}


@dataclass(frozen=True)
class LightNeed:
    """Least spell-mean light over the light owed, where a tree needs light at all."""

    ratio: float
    spell: int


@dataclass(frozen=True)
class Judged:
    """What a stay is judged by: means over one stretch of days."""

    air_mean_c: float
    rest_limit_c: float
    """Warmest mean air at rest; ``inf`` where it does not rest."""
    dli: float
    needs_light: bool
    light_short: float
    """mol/(m2 d); ``-inf`` where it needs none."""

    @property
    def too_warm_k(self) -> float:
        """Mean air above what it may rest in, K."""
        return self.air_mean_c - self.rest_limit_c

    @property
    def worst(self) -> float:
        """Orders stretches: 1 K weighs as much as 1 mol/(m2 d)."""
        return max(self.too_warm_k, self.light_short)


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
        self.rest_days = lru_cache(maxsize=None)(self._rest_days)
        self.judged = lru_cache(maxsize=None)(self._judged)
        self.mean_air_c = lru_cache(maxsize=None)(self._mean_air_c)
        self.air_min = lru_cache(maxsize=None)(self._air_min)
        self.chill = lru_cache(maxsize=None)(self._chill)
        self.mean_dli = lru_cache(maxsize=None)(self._mean_dli)
        self.place_dli = lru_cache(maxsize=None)(self._place_dli)

    def season_days(self, spell: Spell) -> slice:
        """Days of a spell counted from the season's first."""
        first = self.ledger.season.day_index(spell.start)
        return slice(first, first + spell.days)

    def _windows(self, number: int) -> tuple[tuple[int, int], ...]:
        """Stretches of days as long as the longest spell that hold a spell: first day and end."""
        season = self.ledger.season
        days = self.season_days(self.ledger.spells[number])
        length = min(max(season.site.longest_spell_days, days.stop - days.start), season.days)
        starts = range(max(days.stop - length, 0), min(days.start, season.days - length) + 1)
        return tuple((start, start + length) for start in starts)

    def _rest_days(self, limits: Limits) -> BoolArray:
        return rest_days(limits, self.outdoor_mean_c, self.day_length_h)

    def _judged(self, limits: Limits, place_id: str, number: int) -> Judged:
        """Coolness and light of a stay, over the stretch of days that is kindest to it."""
        shelter_id = self.ledger.season.places[place_id].shelter_id
        kindest = None
        for first, end in self._windows(number):
            resting = bool(self.rest_days(limits)[first:end].all())
            mean_c = self.mean_air_c(shelter_id, number, first, end)
            outdoor_c = float(self.outdoor_mean_c[first:end].mean())
            ceiling = limits.rest_ceiling_c
            limit_c = max(ceiling, outdoor_c) if resting and ceiling is not None else np.inf
            dli = self.mean_dli(place_id, first, end)
            wants_light = bool(needs_light(limits, resting, mean_c))
            short = limits.light_floor_mol_m2_d - dli if wants_light else -np.inf
            found = Judged(mean_c, limit_c, dli, wants_light, short)
            if kindest is None or found.worst < kindest.worst:
                kindest = found
        assert kindest is not None
        return kindest

    def _air(self, shelter_id: str, number: int) -> FloatArray:
        return self.ledger.air[shelter_id].hourly_c[self.ledger.hours(self.ledger.spells[number])]

    def _mean_air_c(self, shelter_id: str, number: int, first: int, end: int) -> float:
        """Mean air of a stretch of days, as the spell's setting gives it, degC."""
        column = self.ledger.setting_index[shelter_id][number]
        hours = slice(first * HOURS_PER_DAY, end * HOURS_PER_DAY)
        return float(self.ledger.conditions.shelters[shelter_id].air_c[column, hours].mean())

    def _air_min(self, shelter_id: str, number: int) -> tuple[float, int]:
        """Coldest hour of a spell, degC, and the day it falls on, counted from ``first_day``."""
        air = self._air(shelter_id, number)
        hour = int(air.argmin())
        first = self.ledger.days(self.ledger.spells[number]).start
        return float(air[hour]), first + hour // HOURS_PER_DAY

    def _chill(self, shelter_id: str, number: int, model: ChillModel) -> float:
        return float(chill_by_day(self._air(shelter_id, number), model).sum())

    def _mean_dli(self, place_id: str, first: int, end: int) -> float:
        return float(self.place_dli(place_id)[first:end].mean())

    def _place_dli(self, place_id: str) -> FloatArray:
        place = self.ledger.season.places[place_id]
        return place_dli_mol_m2_d(self.outdoor_dli, self.ledger.shelter_of(place), place)


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
    """At rest the mean air is no warmer than the ceiling, or than outdoors."""
    found = []
    for tree, spell, place in book.ledger.stays():
        if tree.limits.rest_ceiling_c is None:
            continue
        judged = book.judged(tree.limits, place.id, spell.index)
        if judged.too_warm_k > SLACK_K:
            text = (
                f"{tree.name} should rest below {judged.rest_limit_c:.1f} °C, "
                f"mean air {judged.air_mean_c:.1f} °C"
            )
            found.append(_stay(Rule.REST, tree, place, spell, judged.too_warm_k, "K", text))
    return found


def check_light(book: AirBook) -> list[Finding]:
    """Where a tree needs light its mean is no less than its floor."""
    found = []
    for tree, spell, place in book.ledger.stays():
        if tree.limits.light_floor_mol_m2_d <= 0:
            continue
        short = book.judged(tree.limits, place.id, spell.index).light_short
        if short > SLACK_LIGHT:
            text = f"{tree.name} is too dark at {place.id}"
            found.append(_stay(Rule.LIGHT, tree, place, spell, short, "mol/(m2 d)", text))
    return found


def light_needs(book: AirBook) -> Mapping[str, LightNeed]:
    """By tree: its darkest spell against its need; trees that never need light are not here."""
    worst: dict[str, LightNeed] = {}
    for tree, spell, place in book.ledger.stays():
        floor = tree.limits.light_floor_mol_m2_d
        if floor <= 0:
            continue
        judged = book.judged(tree.limits, place.id, spell.index)
        ratio = judged.dli / floor
        if judged.needs_light and (tree.id not in worst or ratio < worst[tree.id].ratio):
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
