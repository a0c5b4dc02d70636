"""All that the report tells of a winter, worked out once from season, plan and audit."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from overwinter.audit.hardening import TreeCourse, tree_courses
from overwinter.audit.ledger import Ledger
from overwinter.audit.report import AuditReport
from overwinter.audit.roots import root_paths
from overwinter.audit.rules.air import AirBook
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season, Spell
from overwinter.model.shelter import FloatArray, Shelter
from overwinter.model.start import Start, start_of_season
from overwinter.model.tree import Tree
from overwinter.plants.hardiness import air_floor_c
from overwinter.shelters.heater import setting_label
from overwinter.units import HOURS_PER_DAY, Display


@dataclass(frozen=True, slots=True)
class Moves:
    """What is carried into, out of and within a shelter on a day counted from the first one."""

    day: int
    into: int
    out: int
    within: int

    @property
    def words(self) -> str:
        """``3 in, 1 out``."""
        parts = ((self.into, "in"), (self.out, "out"), (self.within, "moved"))
        return ", ".join(f"{number} {word}" for number, word in parts if number)


@dataclass(frozen=True, slots=True)
class SettingRun:
    """Days ``[first, last)`` with one heater setting."""

    first: int
    last: int
    label: str


@dataclass(frozen=True)
class ShelterWinter:
    """A shelter's days; series ``(day,)``, degC, NaN where there is nothing to show.

    Of each day its coldest hour, but for ``air_max_c``.
    """

    shelter: Shelter
    air_min_c: FloatArray
    air_max_c: FloatArray
    coldest_root_c: FloatArray
    """Coldest outer roots of any tree there."""
    root_c: FloatArray
    """Outer roots of the tree nearest its own limit there."""
    limit_c: FloatArray
    """Working limit of that tree's roots."""
    nearest: tuple[Tree | None, ...]
    """That tree, by day."""
    air_limit_c: FloatArray
    """Highest air floor of any tree there."""
    hold_c: FloatArray
    """Temperature the heater in force holds."""
    settings: tuple[SettingRun, ...]
    moves: tuple[Moves, ...]

    @property
    def spare_k(self) -> FloatArray:
        """Distance of the nearest tree's roots above their limit, K."""
        return self.root_c - self.limit_c

    @property
    def worst_day(self) -> int | None:
        """Day on which a tree there comes nearest to its limit; None: no tree is ever there."""
        if not np.isfinite(self.spare_k).any():
            return None
        return int(np.nanargmin(self.spare_k))


class WinterBook:
    """A plan beside its season, hour by hour; presumes a plan of sound structure.

    ``start`` is where a plan made in mid-winter began.
    """

    def __init__(
        self,
        season: Season,
        conditions: Conditions,
        plan: Plan,
        report: AuditReport,
        start: Start | None = None,
    ) -> None:
        self.season = season
        self.plan = plan
        self.report = report
        self.ledger = Ledger(season, conditions, plan, start or start_of_season(season))
        self.air = AirBook(self.ledger)

    @property
    def display(self) -> Display:
        """How numbers are shown."""
        return self.season.site.display

    @property
    def currency(self) -> str:
        """The site's money."""
        return self.season.site.currency

    @cached_property
    def days(self) -> int:
        """Planned days."""
        return sum(spell.days for spell in self.plan.spells)

    @cached_property
    def courses(self) -> Mapping[str, TreeCourse]:
        """Roots and hardening of each tree on its true path."""
        paths = root_paths(self.ledger, self.ledger.air, None)
        return tree_courses(self.ledger, paths, self.air.day_length_h[self.ledger.first_day :])

    def date(self, day: int) -> date:
        """Date of a day counted from the first planned one."""
        return self.season.date_of(self.ledger.first_day + day)

    def span(self, spell: Spell) -> slice:
        """Days of a spell counted from the first planned one."""
        return self.ledger.days(spell)

    @cached_property
    def outdoor_min_max_c(self) -> tuple[FloatArray, FloatArray]:
        """Coldest and warmest hour of each planned day outdoors, degC, each ``(day,)``."""
        first = self.ledger.first_day * HOURS_PER_DAY
        hours = self.season.weather.air_c[first : first + self.days * HOURS_PER_DAY]
        by_day = hours.reshape(-1, HOURS_PER_DAY)
        return by_day.min(axis=1), by_day.max(axis=1)

    @cached_property
    def shelters(self) -> tuple[ShelterWinter, ...]:
        """Every shelter that a tree is in at any time or that is heated."""
        found = (self._shelter(shelter) for shelter in self.season.shelters)
        return tuple(
            one
            for one in found
            if one.worst_day is not None or any(run.label != "off" for run in one.settings)
        )

    @cached_property
    def _there(self) -> Mapping[str, NDArray[np.bool_]]:
        """By shelter: whether each tree is there on each day, ``(tree, day)``."""
        trees = self.ledger.trees
        there = {
            shelter.id: np.zeros((len(trees), self.days), dtype=np.bool_)
            for shelter in self.season.shelters
        }
        for row, tree in enumerate(trees):
            for spell, place_id in zip(self.plan.spells, self.plan.stays[tree.id], strict=True):
                if place_id is not None:
                    shelter_id = self.season.places[place_id].shelter_id
                    there[shelter_id][row, self.span(spell)] = True
        return there

    @cached_property
    def _roots(self) -> tuple[FloatArray, FloatArray]:
        """Coldest root hour and working floor, degC, each ``(tree, day)``; inf where absent."""
        root = np.full((len(self.ledger.trees), self.days), np.inf)
        floor = np.full_like(root, -np.inf)
        for row, tree in enumerate(self.ledger.trees):
            course = self.courses.get(tree.id)
            if course is not None:
                root[row, course.first_day :] = course.root_min_c
                floor[row, course.first_day :] = course.floor_c
        return root, floor

    def _shelter(self, shelter: Shelter) -> ShelterWinter:
        hourly = self.ledger.air[shelter.id].hourly_c.reshape(-1, HOURS_PER_DAY)
        there = self._there[shelter.id]
        root, floor = self._roots
        trees, days = self.ledger.trees, np.arange(self.days)
        empty = np.full(self.days, np.nan)
        coldest, near_root, near_floor, air_limit = empty, empty, empty, empty
        nearest: tuple[Tree | None, ...] = (None,) * self.days
        if there.any():
            here = there & np.isfinite(root)
            spare = np.where(here, root - floor, np.inf)
            row = np.argmin(spare, axis=0)
            some = np.asarray(here.any(axis=0))
            coldest = np.where(some, np.where(here, root, np.inf).min(axis=0), np.nan)
            near_root = np.where(some, root[row, days], np.nan)
            near_floor = np.where(some, floor[row, days], np.nan)
            nearest = tuple(trees[r] if s else None for r, s in zip(row, some, strict=True))
            air_limit = self._air_limit(there)
        return ShelterWinter(
            shelter=shelter,
            air_min_c=hourly.min(axis=1),
            air_max_c=hourly.max(axis=1),
            coldest_root_c=coldest,
            root_c=near_root,
            limit_c=near_floor,
            nearest=nearest,
            air_limit_c=air_limit,
            hold_c=self._hold_c(shelter.id),
            settings=self._settings(shelter.id),
            moves=self._moves(shelter.id),
        )

    def _air_limit(self, there: NDArray[np.bool_]) -> FloatArray:
        margins = self.season.site.margins
        floors = np.array([air_floor_c(tree.limits, margins) for tree in self.ledger.trees])
        highest = np.where(there, floors[:, None], -np.inf).max(axis=0)
        return np.where(np.isfinite(highest), highest, np.nan)

    def _hold_c(self, shelter_id: str) -> FloatArray:
        hold = np.full(self.days, np.nan)
        for spell in self.plan.spells:
            setting = self.ledger.setting(shelter_id, spell.index)
            if setting.hold_c is not None:
                hold[self.span(spell)] = setting.hold_c
        return hold

    def _settings(self, shelter_id: str) -> tuple[SettingRun, ...]:
        runs: list[SettingRun] = []
        for spell in self.plan.spells:
            days = self.span(spell)
            label = setting_label(self.ledger.setting(shelter_id, spell.index).key, self.display)
            if runs and runs[-1].label == label:
                runs[-1] = SettingRun(runs[-1].first, days.stop, label)
            else:
                runs.append(SettingRun(days.start, days.stop, label))
        return tuple(runs)

    def _moves(self, shelter_id: str) -> tuple[Moves, ...]:
        counts: dict[int, list[int]] = {}
        for carry in self.plan.carries:
            came = self.season.places[carry.target].shelter_id == shelter_id
            source = None if carry.source is None else self.season.places[carry.source].shelter_id
            left = source == shelter_id
            if came or left:
                day = self.season.day_index(carry.day) - self.ledger.first_day
                kind = 2 if came and left else 0 if came else 1
                counts.setdefault(day, [0, 0, 0])[kind] += 1
        return tuple(Moves(day, *counts[day]) for day in sorted(counts))
