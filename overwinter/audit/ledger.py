"""The plan spread out over hours and days: what every rule of the audit reads.

Built only from the inputs, the hourly series and the plan. It presumes a plan of sound structure
(``rules.structure`` finds none broken).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season, Spell
from overwinter.model.shelter import FloatArray, HeaterSetting, Place, Shelter
from overwinter.model.start import Start
from overwinter.model.tree import Tree
from overwinter.units import HOURS_PER_DAY

IndexArray = NDArray[np.intp]


def setting_keys(plan: Plan, conditions: Conditions, shelter_id: str) -> tuple[str, ...] | None:
    """Setting of a shelter in each spell; one that has no choice need not be listed."""
    listed = plan.settings.get(shelter_id)
    if listed is not None:
        return listed
    known = conditions.shelters[shelter_id].settings
    return (known[0].key,) * len(plan.spells) if len(known) == 1 else None


@dataclass(frozen=True)
class AirCourse:
    """A shelter's air through the planned hours, degC."""

    hourly_c: FloatArray
    """(hour,): at the end of each hour."""
    eve_c: FloatArray
    """(spell,): at the end of the hour before each spell, with the spell's own setting, since
    heaters are set ahead of the trees."""


@dataclass(frozen=True)
class Ledger:
    """A plan of sound structure beside its season and conditions."""

    season: Season
    conditions: Conditions
    plan: Plan
    start: Start

    @property
    def first_day(self) -> int:
        """Index of the first day planned: 0 but for a plan made anew in mid-winter."""
        return self.season.day_index(self.start.day)

    @property
    def fixed_days(self) -> int:
        """Planned days that have happened already: 0 but for a plan made anew."""
        fixed = self.plan.fixed_until
        return 0 if fixed is None else max(self.season.day_index(fixed) - self.first_day, 0)

    @property
    def spells(self) -> tuple[Spell, ...]:
        """The plan's spells."""
        return self.plan.spells

    @cached_property
    def trees(self) -> tuple[Tree, ...]:
        """Trees that have stays, in the order of the tree list."""
        return tuple(tree for tree in self.season.trees if tree.id in self.plan.stays)

    def days(self, spell: Spell) -> slice:
        """Days of a spell, counted from ``first_day``."""
        first = self.season.day_index(spell.start) - self.first_day
        return slice(first, first + spell.days)

    def hours(self, spell: Spell) -> slice:
        """Hours of a spell, counted from the first planned one."""
        days = self.days(spell)
        return slice(days.start * HOURS_PER_DAY, days.stop * HOURS_PER_DAY)

    @cached_property
    def setting_index(self) -> Mapping[str, IndexArray]:
        """Column of each shelter's setting in each spell, shape ``(spell,)``."""
        columns = {}
        for shelter_id, found in self.conditions.shelters.items():
            keys = [setting.key for setting in found.settings]
            chosen = setting_keys(self.plan, self.conditions, shelter_id) or ()
            columns[shelter_id] = np.array([keys.index(key) for key in chosen], dtype=np.intp)
        return columns

    def setting(self, shelter_id: str, spell: int) -> HeaterSetting:
        """The setting in force."""
        column = int(self.setting_index[shelter_id][spell])
        return self.conditions.shelters[shelter_id].settings[column]

    @cached_property
    def spell_of_hour(self) -> IndexArray:
        """Spell each planned hour lies in, shape ``(hour,)``; hours count from ``first_day``."""
        return np.repeat(
            np.arange(len(self.spells), dtype=np.intp),
            [spell.days * HOURS_PER_DAY for spell in self.spells],
        )

    def scheduled(self, shelter_id: str, series: FloatArray) -> AirCourse:
        """From ``series`` ``(setting, hour)`` the column in force at each planned hour."""
        by_spell = self.setting_index[shelter_id]
        columns = by_spell[self.spell_of_hour]
        first = self.first_day * HOURS_PER_DAY
        hours = first + np.arange(columns.size)
        eve = np.array([max(first + self.hours(spell).start - 1, 0) for spell in self.spells])
        return AirCourse(hourly_c=series[columns, hours], eve_c=series[by_spell, eve])

    @cached_property
    def air(self) -> Mapping[str, AirCourse]:
        """Air of each shelter under the plan's settings."""
        return {key: self.scheduled(key, s.air_c) for key, s in self.conditions.shelters.items()}

    @cached_property
    def cold_air(self) -> Mapping[str, AirCourse]:
        """The same in the colder winter."""
        return {
            key: self.scheduled(key, s.cold_air_c) for key, s in self.conditions.shelters.items()
        }

    def course(self, hourly_c: FloatArray) -> AirCourse:
        """An air given hour by hour, that knows nothing of settings."""
        eve = [max(self.hours(spell).start - 1, 0) for spell in self.spells]
        return AirCourse(hourly_c=hourly_c, eve_c=hourly_c[eve])

    def place_of(self, tree: Tree, spell: int) -> Place | None:
        """Where a tree stands in a spell; None before it joins."""
        place_id = self.plan.stays[tree.id][spell]
        return None if place_id is None else self.season.places[place_id]

    def shelter_of(self, place: Place) -> Shelter:
        """The shelter a place is in."""
        return self.season.shelter_by_id[place.shelter_id]

    def stays(self) -> tuple[tuple[Tree, Spell, Place], ...]:
        """Every tree, spell and place, in order."""
        return self._stays

    @cached_property
    def _stays(self) -> tuple[tuple[Tree, Spell, Place], ...]:
        places = self.season.places
        return tuple(
            (tree, spell, places[place_id])
            for tree in self.trees
            for spell, place_id in zip(self.spells, self.plan.stays[tree.id], strict=True)
            if place_id is not None
        )

    @cached_property
    def occupants(self) -> Mapping[tuple[str, int], tuple[Tree, ...]]:
        """Trees on each occupied place in each spell, by place id and spell."""
        found: dict[tuple[str, int], list[Tree]] = {}
        for tree, spell, place in self.stays():
            found.setdefault((place.id, spell.index), []).append(tree)
        return {key: tuple(trees) for key, trees in found.items()}
