"""Harm of every option to every kind in every stage, and where a collection's stages lie."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import date
from functools import cached_property

import numpy as np

from overwinter.climate.stages import make_stages
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions, FloatArray, PlaceKind
from overwinter.model.species import ChillModel
from overwinter.model.stage import BoolArray, Happening, HappeningKind, IntArray, StageDays
from overwinter.plants.hardening import WakingLimits, bud_break_share
from overwinter.plants.harm import Array, short_chill_hazard
from overwinter.simulate.exposures import Exposures, Kind, Series, kind_arrays, kind_of
from overwinter.simulate.follow import (
    HARMS,
    Arrival,
    Stages,
    State,
    day_sums,
    short_chill,
    stage_hazards,
    states,
    worst_hazards,
)
from overwinter.simulate.thresholds import AtHome, Away, thresholds_c

MOST_CELLS = 24_000_000
"""Cells of ``(kind, option, winter, day)`` followed at once, so that memory stays small."""


SERIES = tuple(field.name for field in fields(Series))


@dataclass(frozen=True)
class HarmTable:
    """What a stage at an option does; shapes ``(kind, option, stage)``, means over winters.

    A tree comes to every stage hardened and chilled as at the summer stand, the hardiest of its
    possible pasts but for cellars in spring, or as a path makes it that is known to be likely.
    Plans are reckoned on true paths afterwards.
    """

    chance: Array
    """Share of its value that a tree loses in the stage."""
    by_harm: Array
    """Hazard by harm, ``(kind, option, stage, harm)``."""
    chill_share: Array
    """Chilling earned over what is owed in a winter; 0 where none is owed."""
    spare_days: Array
    """``(kind, stage)``: days of the stage on which the tree would be safe at its summer stand."""


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

    def _key(self, kind: Kind) -> tuple[float, float | None, bool]:
        limits = kind.limits
        return kind.pot_class_l, limits.air_floor_c, limits.chill_model is ChillModel.UTAH

    @cached_property
    def home(self) -> AtHome:
        """Every kind at the summer stand, unheated."""
        option = self.exposures.index[self.season.site.summer_place, 0]
        ex = self.exposures
        path = np.full((1, ex.winters, ex.days), option)
        parts: list[Series] = [ex.along(path, *self._key(kind)) for kind in self.kinds]
        series = Series(**{n: np.concatenate([getattr(p, n) for p in parts]) for n in SERIES})
        state = states(series, self.arrays.shaped(1), self.calendar)
        return AtHome.of(series, state, self.arrays.shaped(2))

    def stages(self) -> StageDays:
        """The stages of the season."""
        site, minima = self.season.site, self.exposures.outdoor_min_c
        price, day_price = np.zeros((2, len(self.kinds)))
        for tree in self.season.trees:
            kind = self.kind_index[kind_of(tree)]
            price[kind] += self.weights.caution * tree.value
            day_price[kind] += self.weights.cover_day
        autumn, spring = thresholds_c(self.home, self._away(), minima, site, price, day_price)
        calendar = calendar_of(self.season)
        return make_stages(minima, site.starts, autumn, spring, calendar, site.seed)

    def _away(self) -> Away:
        """Resting kinds in a bed, and under the roofs without heat as far as these have room."""
        ex, places = self.exposures, self.season.places
        beds = [p.id for p in places.values() if p.kind is PlaceKind.SUNK]
        floors = {
            shelter.id: max(shelter.places, key=lambda place: place.area_m2)
            for shelter in self.season.shelters
            if not shelter.open_air and shelter.places
        }
        roofs = np.array([ex.index[place.id, 0] for place in floors.values()], dtype=np.intp)
        room = np.array(
            [sum(p.area_m2 for p in self.season.shelter_by_id[s].places) for s in floors]
        )
        shape = (1, ex.winters, ex.days)
        sunk, roofed = [], []
        for i, kind in enumerate(self.kinds):
            deep = self.arrays.of(np.array([i])).shaped(2)
            state = State(*(part[i : i + 1] for part in self.home.state))
            key = self._key(kind)
            if beds:
                bed = ex.along(np.full(shape, ex.index[beds[0], 0]), *key)
                sunk.append(AtHome.of(bed, state, deep).danger * deep.rests)
            if kind.limits.rests and roofs.size:
                under = ex.along(np.tile(roofs[:, None, None], shape), *key)
                warmth = np.cumsum(under.warmth_k_d * self.calendar.wakes, axis=-1)
                limits = WakingLimits(deep.chill_need, deep.bud_break_k_d)
                waking = state._replace(bud=bud_break_share(warmth, limits))
                days = day_sums(under, waking, deep, self.calendar, self.weights)
                roofed.append(np.average(sum(days[:3]), axis=0, weights=room)[None])
            else:
                roofed.append(np.zeros(shape))
        return Away(
            self.arrays.rests > 0, np.concatenate(sunk) if beds else None, np.concatenate(roofed)
        )

    def table(
        self, stage_days: StageDays, known: Mapping[int, Sequence[int]] | None = None
    ) -> HarmTable:
        """Harm of every option to every kind.

        known : option in each stage of a likely path of some kinds: these come to every stage as
            hard, chilled and awake as that path makes them.
        """
        came = self._came(stage_days, known or {})
        kinds, options = len(self.kinds), len(self.exposures.options)
        stages = len(stage_days.stages)
        chance = np.zeros((kinds, options, stages), dtype=np.float32)
        by_harm = np.zeros((kinds, options, stages, len(HARMS)), dtype=np.float32)
        chill = np.zeros((kinds, options, stages), dtype=np.float32)
        restart = np.zeros((self.exposures.winters, self.exposures.days + 1), dtype=np.bool_)
        winter = np.arange(self.exposures.winters)
        for first in stage_days.first_day:
            restart[winter, first] = True
        reduce = Stages(stage_days.first_day, self.exposures.days)
        ex = self.exposures
        for key, members in self._alike(range(kinds)).items():
            apart, every = ex.apart(*key), ex.of_options(*key)
            size = max(1, MOST_CELLS // 8 // apart.air_mean_c.size)
            for start in range(0, len(members), size):
                some = members[start : start + size]
                arrived = self._arriving(some, came, apart, restart[:, :-1])
                for at, i in enumerate(some):
                    deep, state = self.arrays.of(np.array([i])).shaped(2), arrived.of(at)
                    worst = worst_hazards(apart, state, deep, reduce)
                    woken = state._replace(bud=state.bud[ex.air_of])
                    sums = day_sums(every, woken, deep, self.calendar, self.weights)
                    of = (ex.root_of, ex.root_of, ex.air_of, ex.air_of, ex.air_of)
                    by_option = [w[at] for w, at in zip(worst, of, strict=True)]
                    hazards = reduce.gathered(by_option, sums)
                    chance[i] = (1.0 - np.exp(-hazards.sum(axis=-1))).mean(axis=1)
                    by_harm[i] = hazards.mean(axis=1)
                    if self.arrays.chill_need[i] > 0:
                        chill[i] = self._chill_share(i, apart, stage_days)[ex.air_of]
        safe = ~self.home.unsafe
        spare = stage_sums(safe.astype(np.float32), stage_days).mean(axis=1)
        return HarmTable(chance, by_harm, chill, spare)

    def _came(self, stage_days: StageDays, known: Mapping[int, Sequence[int]]) -> dict[int, State]:
        found: dict[int, State] = {}
        kinds = list(known)
        for key, members in self._alike(kinds).items():
            some = [kinds[i] for i in members]
            options = np.array([known[kind] for kind in some])[:, stage_days.stage_of_day]
            arrays = self.arrays.of(np.array(some)).shaped(1)
            state = states(self.exposures.along(options, *key), arrays, self.calendar)
            found |= {kind: State(*(x[i : i + 1] for x in state)) for i, kind in enumerate(some)}
        return found

    def _arriving(
        self, kinds: Sequence[int], came: Mapping[int, State], series: Series, restart: BoolArray
    ) -> State:
        """States of ``(kind, n, winter, day)``."""
        home = self.home.state
        arrival = Arrival(
            *(
                np.stack(
                    [
                        getattr(came[i], name) if i in came else getattr(home, name)[i : i + 1]
                        for i in kinds
                    ]
                )
                for name in Arrival._fields
            )
        )
        alike = Series(**{name: getattr(series, name)[None] for name in SERIES})
        arrays = self.arrays.of(np.array(kinds)).shaped(2)
        return states(alike, arrays, self.calendar, arrival, restart)

    def _chill_share(self, kind: int, series: Series, stage_days: StageDays) -> Array:
        today = np.maximum(series.chill, 0.0) * self.calendar.chills
        earned = stage_sums(today, stage_days).mean(axis=1)
        return np.asarray(earned / self.arrays.chill_need[kind])

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
        hazards = np.empty(
            (len(kinds), *stage_days.first_day.T.shape, len(HARMS)), dtype=np.float32
        )
        missing = np.empty((len(kinds), self.exposures.winters), dtype=np.float32)
        for key, members in self._alike(kinds).items():
            size = max(1, MOST_CELLS // 8 // stage_of_day.size)
            for start in range(0, len(members), size):
                at = np.array(members[start : start + size])
                which = np.array([kinds[i] for i in at])
                series = self.exposures.along(paths[at][:, stage_of_day], *key)
                state = states(series, self.arrays.of(which).shaped(1), self.calendar)
                deep = self.arrays.of(which).shaped(2)
                hazards[at] = stage_hazards(
                    series, state, deep, self.calendar, self.weights, stage_days.first_day
                )
                missing[at] = short_chill(state, self.arrays.of(which), owed[at][:, None])
        return hazards, short_chill_hazard(missing), missing

    def _alike(self, kinds: Sequence[int]) -> dict[tuple[float, float | None, bool], list[int]]:
        groups: dict[tuple[float, float | None, bool], list[int]] = {}
        for position, kind in enumerate(kinds):
            groups.setdefault(self._key(self.kinds[kind]), []).append(position)
        return groups


def stage_sums(daily: Array, stage_days: StageDays) -> Array:
    """Sums over the days of each stage, ``(n, winter, day)`` to ``(n, winter, stage)``."""
    zero = np.zeros((*daily.shape[:-1], 1), dtype=daily.dtype)
    sums = np.concatenate([zero, np.cumsum(daily, axis=-1)], axis=-1)
    winter = np.arange(daily.shape[1])[:, None]
    first, end = stage_days.first_day.T, stage_days.end_day.T
    return np.asarray(sums[:, winter, end] - sums[:, winter, first])


def calendar_of(season: Season) -> Mapping[date, tuple[Happening, ...]]:
    """What stands on the calendar of a season, by day; of one day, in an order of its own."""
    found: dict[date, list[Happening]] = {}

    def note(day: date | None, kind: HappeningKind, subject: str) -> None:
        if day is not None:
            found.setdefault(day, []).append(Happening(kind, subject))

    for shelter in season.shelters:
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
