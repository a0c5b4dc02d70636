"""Every tree followed along its true path through every winter of the sample."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from overwinter.audit.report import TreeRisk
from overwinter.model.shelter import FloatArray
from overwinter.model.species import ChillModel, Harm
from overwinter.model.stage import BoolArray, IntArray
from overwinter.model.tree import Tree
from overwinter.plants.harm import short_chill_hazard
from overwinter.rules.rule import Ledger
from overwinter.simulate.exposures import Exposures, Kind, KindArrays, Series, kind_arrays, kind_of
from overwinter.simulate.follow import (
    HARMS,
    State,
    margins,
    short_chill,
    stage_hazards,
    states,
)
from overwinter.simulate.thresholds import unsafe_days

MOST_CELLS = 1_000_000
"""Cells of ``(path, winter, day)`` followed at once; some 60 arrays of 4 bytes make 240 MB."""


class _Path(NamedTuple):
    """What decides the harm to a tree: its kind, what it owes, and its option in each stage."""

    kind: Kind
    owed: float
    options: tuple[int, ...]
    """At the summer stand before it joins."""
    joins: int
    """First stage in which it is there."""


_Group = tuple[float, float | None, bool]
"""What the series of a kind depend on: class of pot, air floor, chilling by Utah units."""


class Paths:
    """Follows trees of one season; what is alike is followed once."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger
        self.exposures = Exposures(ledger.season, ledger.conditions)
        self.calendar = self.exposures.calendar
        self.settings = {
            shelter_id: [ledger.settings_known(shelter_id).index(s) for s in settings]
            for shelter_id, settings in ledger.plan.settings.items()
        }

    def risks(self) -> dict[str, TreeRisk]:
        """What the winters do to every placed tree."""
        path_of = {tree.id: self._path(tree) for tree in self.ledger.placed}
        followed: dict[_Path, TreeRisk] = {}
        for group, paths in _alike(tuple(dict.fromkeys(path_of.values()))).items():
            for some in self._chunks(paths):
                followed |= zip(some, self._follow(group, some), strict=True)
        return {
            tree.id: replace(risk, tree_id=tree.id, loss=tree.value * risk.chance)
            for tree in self.ledger.placed
            for risk in (followed[path_of[tree.id]],)
        }

    def safe_days(self) -> Mapping[Kind, FloatArray]:
        """Days of each stage on which a kind would be safe at the summer stand all winter, mean
        over the winters, ``(stage,)``."""
        kinds = dict.fromkeys(kind_of(tree) for tree in self.ledger.placed)
        home = self.exposures.index[self.ledger.season.site.summer_place, 0]
        outdoors = (home,) * len(self.ledger.stages)
        found: dict[Kind, FloatArray] = {}
        for group, paths in _alike([_Path(kind, 1.0, outdoors, 0) for kind in kinds]).items():
            for some in self._chunks(paths):
                series, state, arrays = self._states(group, some)
                deep = arrays.shaped(2)
                safe = ~unsafe_days(series, state, margins(series, state, deep), deep)
                found |= zip((p.kind for p in some), self._days(safe), strict=True)
        return found

    def _days(self, days: BoolArray) -> FloatArray:
        """Days marked in each stage, mean over the winters, ``(n, stage)``."""
        stage_of_day = self.ledger.stage_days.stage_of_day
        in_stage = [(days & (stage_of_day == k)).sum(axis=2) for k in self.ledger.stages]
        return np.asarray(np.stack(in_stage, axis=-1).mean(axis=1))

    def _path(self, tree: Tree) -> _Path:
        ledger, index = self.ledger, self.exposures.index
        path = ledger.plan.stays[tree.id]
        options = tuple(
            index[ledger.season.site.summer_place, 0]
            if place_id is None
            else index[place_id, self.settings[ledger.shelter_of(place_id).id][stage]]
            for stage, place_id in enumerate(path)
        )
        joins = next((k for k, place_id in enumerate(path) if place_id is not None), len(path))
        owed = 1.0
        if joins == len(path):
            owed = 0.0  # it joins after the last stage began
        elif tree.joins is not None:
            gone = ledger.season.day_index(tree.joins) / ledger.season.days
            owed = round(max(0.0, 1.0 - gone), 3)
        return _Path(kind_of(tree), owed, options, joins)

    def _chunks(self, paths: Sequence[_Path]) -> list[Sequence[_Path]]:
        size = max(1, MOST_CELLS // self.ledger.stage_days.stage_of_day.size)
        return [paths[start : start + size] for start in range(0, len(paths), size)]

    def _states(self, group: _Group, paths: Sequence[_Path]) -> tuple[Series, State, KindArrays]:
        options: IntArray = np.array([path.options for path in paths], dtype=np.intp)
        by_day = options[:, self.ledger.stage_days.stage_of_day]
        series = self.exposures.along(by_day, *group)
        arrays = kind_arrays([path.kind for path in paths])
        return series, states(series, arrays.shaped(1), self.calendar), arrays

    def _follow(self, group: _Group, paths: Sequence[_Path]) -> list[TreeRisk]:
        """Risks of nameless trees of no value."""
        series, state, arrays = self._states(group, paths)
        deep = arrays.shaped(2)
        hazards = stage_hazards(
            series,
            state,
            deep,
            self.calendar,
            self.ledger.season.site.weights,
            self.ledger.stage_days.first_day,
        ).astype(np.float64)
        joins = np.array([path.joins for path in paths])
        hazards *= (np.arange(hazards.shape[2]) >= joins[:, None])[:, None, :, None]
        owed = np.array([path.owed for path in paths], dtype=np.float32)[:, None]
        short = short_chill_hazard(short_chill(state, arrays, owed)).astype(np.float64)
        by_stage = _lost(hazards.sum(axis=3))
        hazards[:, :, : self.ledger.plan.fixed_stages] = 0.0  # what is past in a re-plan is done
        chance = _lost(hazards.sum(axis=(2, 3)) + short)
        by_harm = _lost(np.concatenate((hazards.sum(axis=2), short[..., None]), axis=2))
        there = self.ledger.stage_days.stage_of_day >= joins[:, None, None]
        coldest = np.where(there, series.core_min_c, np.inf).min(axis=2)
        need = arrays.chill_need[:, None] * owed
        earned = (state.chill[..., -1] / np.maximum(need, 1e-6)).mean(axis=1)
        light = _light_share(series, state, deep, there)
        return [
            TreeRisk(
                tree_id="",
                chance=float(chance[i]),
                by_harm=dict(zip((*HARMS, Harm.SHORT_CHILL), by_harm[i].tolist(), strict=True)),
                by_stage=tuple(by_stage[i].tolist()),
                loss=0.0,
                coldest_root_c=float(np.median(coldest[i])),
                chill_share=float(earned[i]) if need[i, 0] > 0 else None,
                light_share=None if np.isnan(light[i]) else float(light[i]),
            )
            for i in range(len(paths))
        ]


def _alike(paths: Sequence[_Path]) -> dict[_Group, list[_Path]]:
    groups: dict[_Group, list[_Path]] = {}
    for path in paths:
        limits = path.kind.limits
        utah = limits.chill_model is ChillModel.UTAH
        groups.setdefault((path.kind.pot_class_l, limits.air_floor_c, utah), []).append(path)
    return groups


def _lost(hazard: FloatArray) -> FloatArray:
    """Mean over the winters (axis 1) of the chance that goes with a hazard."""
    return np.asarray((1.0 - np.exp(-hazard)).mean(axis=1))


def _light_share(series: Series, state: State, kinds: KindArrays, there: BoolArray) -> FloatArray:
    """Mean share of the light needed on days in leaf and warm, ``(n,)``; nan: no such day."""
    in_leaf = np.maximum(kinds.evergreen, state.bud) * (series.air_mean_c > kinds.dark_below_c)
    weight = np.where(there, in_leaf, 0.0)
    share = np.minimum(series.dli_mol_m2_d / kinds.light_floor_mol_m2_d, 1.0)
    days = weight.sum(axis=(1, 2))
    light = (weight * share).sum(axis=(1, 2)) / np.maximum(days, 1e-9)
    return np.asarray(np.where(days > 0, light, np.nan))
