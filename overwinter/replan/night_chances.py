"""What the nights of a forecast do to every tree where it stands and where it might stand."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from overwinter.model.changes import Mark
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray
from overwinter.model.species import Harm
from overwinter.model.stage import IntArray, StageDays
from overwinter.model.tree import Tree
from overwinter.plants.harm import RECOVERY_PER_DAY, Array
from overwinter.replan.stages import Begun
from overwinter.shelters.conditions import compute_conditions
from overwinter.shelters.heater import settings_for
from overwinter.simulate.exposures import kind_of
from overwinter.simulate.follow import HARMS
from overwinter.simulate.harm_table import Follower
from overwinter.simulate.nights import forecast_season


@dataclass(frozen=True)
class Past:
    """Where trees stood and what was heated, from one turn to the next."""

    turns: tuple[int, ...]
    """Index of the day on which each stretch begins; the first is 0."""
    places: Mapping[str, tuple[str, ...]]
    """By tree, its place in each stretch; before it joined, its summer stand."""
    settings: Mapping[str, tuple[int, ...]]
    """By shelter, its setting in each stretch, as planned."""


def past_of(
    season: Season, plan: Plan, marks: Sequence[Mark], begun: Sequence[Begun], first_day: int
) -> Past:
    """What happened before the day with index ``first_day``, by the marks and the plan."""
    days = {0, *(season.day_index(one.day) for one in begun)}
    days |= {season.day_index(mark.day) for mark in marks}
    turns = tuple(sorted(day for day in days if day < max(first_day, 1)))
    places: dict[str, list[str]] = {}
    by_tree: dict[str, list[Mark]] = {}
    for mark in sorted(marks, key=lambda one: one.day):
        by_tree.setdefault(mark.tree_id, []).append(mark)
    for tree in season.trees:
        path = [season.home(tree)] * len(turns)
        for mark in by_tree.get(tree.id, ()):
            at = [i for i, turn in enumerate(turns) if turn >= season.day_index(mark.day)]
            for i in at:
                path[i] = mark.target
        places[tree.id] = path
    stage = [
        max(k for k, one in enumerate(begun) if k == 0 or season.day_index(one.day) <= turn)
        for turn in turns
    ]
    settings = {
        shelter.id: tuple(setting_index(season, plan, shelter.id, k) for k in stage)
        for shelter in season.shelters
    }
    return Past(turns, {t: tuple(path) for t, path in places.items()}, settings)


def setting_index(season: Season, plan: Plan, shelter_id: str, stage: int) -> int:
    """Index of what the plan sets a shelter to in a stage; 0, off, where it has no such setting."""
    known = [one.parts for one in settings_for(season.shelter_by_id[shelter_id], season.site)]
    planned = plan.settings.get(shelter_id)
    parts = None if planned is None else planned[stage].parts
    return known.index(parts) if parts in known else 0


class NightChances:
    """Hazards of every night, ``(n, winter, night, harm)``."""

    def __init__(self, season: Season, past: Past, first_day: int, lows_c: FloatArray) -> None:
        self.season, self.past, self.first_day, self.lows_c = season, past, first_day, lows_c
        coming = forecast_season(season, first_day, lows_c, 0.0)
        self.conditions = compute_conditions(coming)
        self.follower = Follower(coming, self.conditions)
        self._covered: dict[float, Follower] = {}

    def money(self, shelter_id: str, setting: int) -> float:
        """What a setting costs through the nights, mean."""
        nights = slice(self.first_day, self.first_day + self.lows_c.shape[1])
        return float(
            self.conditions.shelters[shelter_id].money[setting, :, nights].sum(axis=1).mean()
        )

    def mean_air_c(self, place_id: str, setting: int) -> float:
        """Air at a place through the nights and days of the forecast, mean."""
        nights = slice(self.first_day, self.first_day + self.lows_c.shape[1])
        air = self.conditions.places[place_id].air_mean_c
        return float(air[setting, :, nights].mean())

    def under(self, warmer_k: float) -> Follower:
        """Follows trees in the open under a cloth through these nights."""
        if warmer_k not in self._covered:
            coming = forecast_season(self.season, self.first_day, self.lows_c, warmer_k)
            open_air = tuple(shelter for shelter in coming.shelters if shelter.open_air)
            coming = replace(coming, shelters=open_air)
            self._covered[warmer_k] = Follower(coming, compute_conditions(coming))
        return self._covered[warmer_k]

    def hazards(
        self, wanted: Sequence[tuple[Tree, str, int]], warmer_k: float | None = None
    ) -> Array:
        """Trees at a place under a setting through all nights, each after its own past.

        Parameters
        ----------
        warmer_k : of a cloth over them; then every tree stands in the open all along.
        """
        follower = self.follower if warmer_k is None else self.under(warmer_k)
        index, places = follower.exposures.index, self.season.places
        nights = self.lows_c.shape[1]
        rows = []
        for tree, place_id, setting in wanted:
            path = []
            for i, was in enumerate(self.past.places[tree.id]):
                on = self.past.settings[places[was].shelter_id][i]
                # the season of a cloth knows the open alone; what was before today is as outdoors
                known = warmer_k is None or (was, on) in index
                path.append(index[was, on] if known else index[place_id, setting])
            rows.append([*path, *[index[place_id, setting]] * nights])
        return self._nights(
            follower, [tree for tree, _, _ in wanted], np.array(rows, dtype=np.intp)
        )

    def _nights(self, follower: Follower, trees: Sequence[Tree], paths: IntArray) -> Array:
        nights, days = self.lows_c.shape[1], follower.exposures.days
        end, eve = self.first_day + nights, max(self.first_day - 1, 0)
        begins = [*self.past.turns, eve, *range(self.first_day, end), min(end, days)]
        ahead = len(self.past.turns)
        paths = paths[:, [*range(ahead), ahead - 1, *range(ahead, ahead + nights), -1]]
        first_day = np.repeat(np.array(begins)[:, None], follower.exposures.winters, axis=1)
        kinds = [follower.kind_index[kind_of(tree)] for tree in trees]
        stages = StageDays((), first_day, days)
        hazards, _, _ = follower.along(kinds, paths, stages, np.ones(len(trees)))
        coming = hazards[:, :, ahead + 1 : ahead + 1 + nights]
        chilled = HARMS.index(Harm.CHILLING)
        before = np.expm1(hazards[:, :, ahead, chilled])
        for night in range(nights):
            # what is not mended of a dose from before today is not these nights' doing
            old = np.log1p(before * RECOVERY_PER_DAY ** (2 * (night + 1)))
            coming[:, :, night, chilled] = np.maximum(coming[:, :, night, chilled] - old, 0.0)
        return np.asarray(coming)
