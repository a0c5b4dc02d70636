"""Harm of every option to every kind in every stage, and where a collection's stages lie."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date
from functools import cached_property

import numpy as np

from overwinter.climate.stages import make_stages
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions, FloatArray, PlaceKind
from overwinter.model.stage import (
    DOORS,
    BoolArray,
    Happening,
    HappeningKind,
    IntArray,
    Stage,
    StageDays,
)
from overwinter.plants.hardening import bud_break_share
from overwinter.plants.harm import DARK_HALF_D, Array, short_chill_hazard
from overwinter.simulate import follow
from overwinter.simulate.exposures import (
    Exposures,
    Key,
    Kind,
    KindArrays,
    Series,
    key_of,
    kind_arrays,
    kind_of,
)
from overwinter.simulate.follow import HARMS, Came, Stages, State
from overwinter.simulate.thresholds import AtHome, Away, thresholds_c

MOST_CELLS = 24_000_000  # `(kind, option, winter, day)` followed at once, to save memory
SERIES = tuple(field.name for field in fields(Series))
ROOTS_HARDEN_BY = ("harden_below_c", "harden_days", "deharden_above_c", "deharden_per_degree_day")
"""Limits beside the pot: kinds alike in them share their roots' hardening."""


@dataclass(frozen=True)
class HarmTable:
    """What a stage at an option does; shapes ``(kind, option, stage)``, means over winters. A tree
    comes to every stage hardened and chilled as at the summer stand, the hardiest of its possible
    pasts but for cellars in spring, or as a path makes it that is known to be likely. Plans are
    reckoned on true paths afterwards."""

    chance: Array  # share of its value that a tree loses in the stage
    lost: Array  # chance that it is lost in the stage for good
    by_harm: Array  # hazard by harm, `(kind, option, stage, harm)`
    chill_share: Array  # chilling earned over what is owed in a winter; 0 where none is owed
    spare_days: Array  # `(kind, stage)`: days on which its summer stand would be safe


class Follower:
    """Kinds of a season, followed over all its options and along any paths."""

    def __init__(self, season: Season, conditions: Conditions) -> None:
        self.season = season
        self.exposures = Exposures(season, conditions)
        self.calendar = self.exposures.calendar
        self.kinds: tuple[Kind, ...] = tuple(dict.fromkeys(kind_of(t) for t in season.trees))
        self.kind_index = {kind: i for i, kind in enumerate(self.kinds)}
        self.arrays = kind_arrays(self.kinds)
        self.weights = season.site.weights

    @cached_property
    def home(self) -> AtHome:
        """Every kind at the summer stand, unheated."""
        series = self._all_at(self.season.site.summer_place)
        return AtHome.of(series, follow.states(series, self.arrays, self.calendar), self.arrays)

    def _all_at(self, place_id: str) -> Series:
        """What every kind meets at one place, unheated."""
        option = np.array([self.exposures.index[place_id, 0]])
        parts = [self.exposures.series(option, key_of(kind)) for kind in self.kinds]
        return Series(**{n: np.concatenate([getattr(p, n) for p in parts]) for n in SERIES})

    def stages(
        self,
        in_force_c: tuple[Sequence[float], Sequence[float]] = ((), ()),
        passed: Collection[str] = (),
    ) -> StageDays:
        """The stages of the season.

        in_force_c : signs of autumn and of spring that stay, degC.
        passed : shelters whose days begin no stage.
        """
        site, minima = self.season.site, self.exposures.outdoor_min_c
        price, day_price = np.zeros((2, len(self.kinds)))
        for tree in self.season.trees:
            kind = self.kind_index[kind_of(tree)]
            price[kind] += self.weights.caution * tree.value
            day_price[kind] += self.weights.cover_day
        autumn, spring = thresholds_c(
            self.home, self._away(), minima, site, price, day_price, in_force_c
        )
        calendar = calendar_of(self.season, passed)
        return make_stages(minima, site.starts, autumn, spring, calendar, site.seed)

    def _away(self) -> Away:
        """Resting kinds in a bed, and under the roofs without heat as far as these have room."""
        ex, places = self.exposures, self.season.places
        beds = [p.id for p in places.values() if p.kind is PlaceKind.SUNK]
        under_roofs = [s.places for s in self.season.shelters if s.places and not s.open_air]
        roofs = np.array([ex.index[places[0].id, 0] for places in under_roofs], dtype=np.intp)
        room = np.array([sum(place.area_m2 for place in places) for places in under_roofs])
        sunk = None
        if beds:
            bed = AtHome.of(self._all_at(beds[0]), self.home.state, self.arrays)
            sunk = bed.danger * self.arrays.rests
        roofed = np.zeros((len(self.kinds), ex.winters, ex.days))
        for i, kind in enumerate(self.kinds if roofs.size else ()):
            if kind.limits.rests:
                kinds, under = self.arrays.of(np.array([i])), ex.series(roofs, key_of(kind))
                warmth = np.cumsum(under.warmth_k_d * self.calendar.wakes, axis=-1)
                bud = bud_break_share(warmth, kinds.bud_break_k_d)
                dark, dim = follow.dark_days(under, bud, kinds, self.calendar, under.dli_mol_m2_d)
                # signs are chosen as if each day of the dose that takes half counted alike
                dim += dark * np.log(2.0) / DARK_HALF_D
                days = sum(follow.roofed_days(under, bud, kinds, self.calendar), dim)
                roofed[i] = np.average(days, axis=0, weights=room)
        return Away(self.arrays.rests.reshape(-1) > 0, sunk, roofed)

    def table(
        self, stage_days: StageDays, known: Mapping[int, Sequence[int]] | None = None
    ) -> HarmTable:
        """Harm of every option to every kind. ``known``: option in each stage of a likely path of
        some kinds: these come to every stage as hard, chilled and awake as that path makes them."""
        came = self._came(stage_days, known or {})
        ex, reduce = self.exposures, Stages(stage_days.first_day, self.exposures.days)
        shape = (len(self.kinds), len(ex.options), len(stage_days.stages))
        chance, lost, chill = np.zeros((3, *shape), dtype=np.float32)
        by_harm = np.zeros((*shape, len(HARMS)), dtype=np.float32)
        coming: BoolArray = np.zeros((ex.winters, ex.days), dtype=np.bool_)
        winter = np.arange(ex.winters)
        for first in stage_days.first_day:
            coming[winter, first] = True
        earned = [
            stage_sums(np.maximum(one, 0.0) * self.calendar.chills, stage_days).mean(axis=1)
            for one in ex.chill
        ]
        # what the pot decides is alike for many kinds, and so is what the air does to kinds that
        # differ in their pots
        outdoors = {litres: self._drying_and_mice(litres, reduce) for litres in ex.roots}
        dose: dict[float | None, Array] = {}
        hardening: dict[object, Array] = {}
        alike: dict[object, list[int]] = {}
        for i, kind in enumerate(self.kinds):
            of_air = (kind.limits, kind.condition, kind.leaves_down, i if i in came else None)
            alike.setdefault(of_air, []).append(i)
        for members in alike.values():
            by_air: list[Array] = []
            for i in members:
                kinds, series = self.arrays.of(np.array([i])), ex.apart(key_of(self.kinds[i]))
                arrived = Came(came.get(i) or self.home.state.only(i), coming)
                floor_c = self.kinds[i].limits.air_floor_c
                if floor_c not in dose:
                    dose[floor_c] = follow.dose_k_h(series, arrived)
                by_air = by_air or self._of_air(series, kinds, arrived, dose[floor_c], reduce)
                rows = [getattr(kinds, name).item() for name in ROOTS_HARDEN_BY]
                key = i if i in came else (self.kinds[i].pot_class_l, *rows)
                if key not in hardening:
                    hardening[key] = follow.root_hardening(series, kinds, self.calendar, arrived)
                roots = follow.root_hazards(series, hardening[key], kinds, reduce)
                drying, mice = outdoors[self.kinds[i].pot_class_l]
                by_roots, rest = (part[ex.root_of] for part in roots), kinds.drying * drying
                hazards = reduce.gathered([*by_roots, *by_air, rest, kinds.rodent_appeal * mice])
                chance[i] = (1.0 - np.exp(-hazards.sum(axis=-1))).mean(axis=1)
                lasts = hazards @ follow.lasting(self.kinds[i])
                lost[i] = (1.0 - np.exp(-lasts)).mean(axis=1)
                by_harm[i] = hazards.mean(axis=1)
                if (need := kinds.chill_need.item()) > 0:
                    chill[i] = earned[key_of(self.kinds[i])[2]][ex.air_of] / need
        spare = stage_sums((~self.home.unsafe).astype(np.float32), stage_days).mean(axis=1)
        return HarmTable(chance, lost, by_harm, chill, spare)

    def _drying_and_mice(self, litres: float, reduce: Stages) -> tuple[Array, Array]:
        """Of each option, ``(option, winter, stage)``, for the kind that suffers most."""
        options = np.arange(len(self.exposures.options))
        every = self.exposures.series(options, (litres, None, False))
        mice = follow.rodent_days(every, self.calendar, self.weights)
        mice = np.broadcast_to(mice, every.core_mean_c.shape)
        return reduce(np.add, follow.drying_days(every)), reduce(np.add, mice)

    def _of_air(
        self, series: Series, kinds: KindArrays, came: Came, dose: Array, reduce: Stages
    ) -> list[Array]:
        """Hazards that the air and the light of each option do, ``(option, winter, stage)``."""
        ex = self.exposures
        air = follow.air_states(series, kinds, self.calendar, came)
        state = State(came.state.hardening, *air, dose, came.state.dark_d)
        restless, soft = follow.roofed_days(series, state.bud, kinds, self.calendar)
        light = ex.dli_mol_m2_d[ex.place_of]
        today, dim = follow.dark_days(series, state.bud, kinds, self.calendar, light, ex.air_of)
        worst = follow.air_hazards(series, state, kinds, reduce)
        restless, soft, dim = (reduce(np.add, part) for part in (restless, soft, dim))
        dark = dim + follow.dark_hazard(state.dark_d, today, reduce)
        return [*(part[ex.air_of] for part in (*worst, restless)), dark, soft[ex.air_of]]

    def _came(self, stage_days: StageDays, known: Mapping[int, Sequence[int]]) -> dict[int, State]:
        found: dict[int, State] = {}
        kinds = list(known)
        for key, members in self.alike(kinds).items():
            some = [kinds[i] for i in members]
            options = np.array([known[kind] for kind in some])[:, stage_days.stage_of_day]
            arrays = self.arrays.of(np.array(some))
            state = follow.states(self.exposures.series(options, key), arrays, self.calendar)
            found |= {kind: state.only(i) for i, kind in enumerate(some)}
        return found

    def along(
        self, kinds: Sequence[int], paths: IntArray, stage_days: StageDays, owed: FloatArray
    ) -> tuple[Array, Array, Array]:
        """Trees on true paths.

        kinds : index of the kind of each.
        paths : ``(n, stage)``, option in each stage.
        owed : ``(n,)``, share of its chilling that each owes.

        Returns hazards ``(n, winter, stage, harm)``, hazard of too little chilling
        ``(n, winter)``, and the chilling that was missing, a share, ``(n, winter)``.
        """
        stage_of_day = stage_days.stage_of_day
        shape = (len(kinds), *stage_days.first_day.T.shape, len(HARMS))
        hazards = np.empty(shape, dtype=np.float32)
        missing = np.empty((len(kinds), self.exposures.winters), dtype=np.float32)
        for key, members in self.alike(kinds).items():
            size = max(1, MOST_CELLS // 8 // stage_of_day.size)
            for start in range(0, len(members), size):
                at = np.array(members[start : start + size])
                these = self.arrays.of(np.array([kinds[i] for i in at]))
                series = self.exposures.series(paths[at][:, stage_of_day], key)
                state = follow.states(series, these, self.calendar)
                hazards[at] = follow.stage_hazards(
                    series, state, these, self.calendar, self.weights, stage_days.first_day
                )
                missing[at] = follow.short_chill(state, these, owed[at][:, None])
        return hazards, short_chill_hazard(missing), missing

    def alike(self, kinds: Sequence[int]) -> dict[Key, list[int]]:
        """Positions of kinds, given by index, that meet alike."""
        groups: dict[Key, list[int]] = {}
        for position, kind in enumerate(kinds):
            groups.setdefault(key_of(self.kinds[kind]), []).append(position)
        return groups


def stage_sums(daily: Array, stage_days: StageDays) -> Array:
    """Sums over the days of each stage, ``(n, winter, day)`` to ``(n, winter, stage)``."""
    stages = Stages(stage_days.first_day, stage_days.days)
    return np.asarray(stages(np.add, daily) * stages.there)


def calendar_of(
    season: Season, passed: Collection[str] = ()
) -> Mapping[date, tuple[Happening, ...]]:
    """What stands on the calendar of a season, by day; of one day, in an order of its own.
    ``passed``: shelters whose doors nobody waits for."""
    found: dict[date, list[Happening]] = {}

    def note(day: date | None, kind: HappeningKind, subject: str) -> None:
        if day is not None:
            found.setdefault(day, []).append(Happening(kind, subject))

    for shelter in season.shelters:
        if shelter.id not in passed:
            note(shelter.opens, HappeningKind.OPENS, shelter.id)
            note(shelter.closes, HappeningKind.CLOSES, shelter.id)
        for heater in shelter.heaters:
            note(heater.broken_from, HappeningKind.HEATER_FAILS, shelter.id)
    for tree in season.trees:
        note(tree.joins, HappeningKind.JOINS, tree.id)
        note(tree.quarantine_until, HappeningKind.QUARANTINE_ENDS, tree.id)
    kinds = list(HappeningKind)
    return {
        day: tuple(sorted(what, key=lambda one: (kinds.index(one.kind), one.subject)))
        for day, what in sorted(found.items())
    }


def passed_over(season: Season, stages: Sequence[Stage]) -> frozenset[str]:
    """Shelters whose days begin none of some stages, as no tree waits for them."""
    named = {what for stage in stages for what in stage.happenings}
    waited_for = {what.subject for what in named if what.kind in DOORS}
    return frozenset(season.shelter_by_id.keys() - waited_for)
