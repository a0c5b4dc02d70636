"""Every tree followed along its true path through every winter of the sample."""

from collections import defaultdict
from collections.abc import Sequence
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
from overwinter.simulate.exposures import KindArrays, Series, kind_of
from overwinter.simulate.follow import HARMS, State, short_chill, stage_hazards, states
from overwinter.simulate.harm_table import Follower

MOST_CELLS = 1_000_000
"""Cells of ``(path, winter, day)`` followed at once; some 60 arrays of 4 bytes make 240 MB."""


class _Path(NamedTuple):
    """What decides the harm to a tree: its kind, what it owes, and its option in each stage."""

    kind: int
    owed: float
    options: tuple[int, ...]
    """At the summer stand before it joins."""
    joins: int
    """First stage in which it is there."""


def risks(ledger: Ledger, follower: Follower) -> dict[str, TreeRisk]:
    """What the winters do to every placed tree; what is alike is followed once."""
    path_of = {tree.id: _path(ledger, follower, tree) for tree in ledger.placed}
    groups: dict[tuple[float, float | None, bool], list[_Path]] = defaultdict(list)
    for path in dict.fromkeys(path_of.values()):
        kind = follower.kinds[path.kind]
        utah = kind.limits.chill_model is ChillModel.UTAH
        groups[kind.pot_class_l, kind.limits.air_floor_c, utah].append(path)
    size = max(1, MOST_CELLS // ledger.stage_days.stage_of_day.size)
    followed: dict[_Path, TreeRisk] = {}
    for key, paths in groups.items():
        for start in range(0, len(paths), size):
            some = paths[start : start + size]
            options: IntArray = np.array([path.options for path in some], dtype=np.intp)
            by_day = options[:, ledger.stage_days.stage_of_day]
            series = follower.exposures.along(by_day, *key)
            followed |= zip(some, _follow(ledger, follower, series, some), strict=True)
    return {
        tree.id: replace(risk, tree_id=tree.id, loss=tree.value * risk.chance)
        for tree in ledger.placed
        for risk in (followed[path_of[tree.id]],)
    }


def _path(ledger: Ledger, follower: Follower, tree: Tree) -> _Path:
    index, path, settings = follower.exposures.index, ledger.plan.stays[tree.id], ledger.setting
    options = tuple(
        index[ledger.season.site.summer_place, 0]
        if place_id is None
        else index[place_id, settings[ledger.shelter_of(place_id).id][stage]]
        for stage, place_id in enumerate(path)
    )
    joins = next((k for k, place_id in enumerate(path) if place_id is not None), len(path))
    owed = 1.0
    if joins == len(path):
        owed = 0.0  # it joins after the last stage began
    elif tree.joins is not None:
        gone = ledger.season.day_index(tree.joins) / ledger.season.days
        owed = round(max(0.0, 1.0 - gone), 3)
    return _Path(follower.kind_index[kind_of(tree)], owed, options, joins)


def _follow(
    ledger: Ledger, follower: Follower, series: Series, paths: Sequence[_Path]
) -> list[TreeRisk]:
    """Risks of nameless trees of no value."""
    calendar = follower.calendar
    arrays = follower.arrays.of(np.array([path.kind for path in paths]))
    state, deep = states(series, arrays.shaped(1), calendar), arrays.shaped(2)
    weights, days = ledger.season.site.weights, ledger.stage_days
    hazards = stage_hazards(series, state, deep, calendar, weights, days.first_day)
    hazards = hazards.astype(np.float64)
    joins = np.array([path.joins for path in paths])
    hazards *= (np.arange(hazards.shape[2]) >= joins[:, None])[:, None, :, None]
    owed = np.array([path.owed for path in paths], dtype=np.float32)[:, None]
    short = short_chill_hazard(short_chill(state, arrays, owed)).astype(np.float64)
    by_stage = _lost(hazards.sum(axis=3))
    hazards[:, :, : ledger.plan.fixed_stages] = 0.0  # what is past in a re-plan is done
    chance = _lost(hazards.sum(axis=(2, 3)) + short)
    by_both = hazards.mean(axis=1)
    by_harm = _lost(np.concatenate((hazards.sum(axis=2), short[..., None]), axis=2))
    there = days.stage_of_day >= joins[:, None, None]
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
            worst_stage=_worst_stage(by_both[i], by_harm[i]),
        )
        for i in range(len(paths))
    ]


def _worst_stage(hazard: FloatArray, by_harm: FloatArray) -> int | None:
    """The stage, of ``hazard`` ``(stage, harm)``, that does most of the likeliest harm."""
    worst = int(by_harm.argmax())
    if worst == len(HARMS) or by_harm[worst] <= 0.0:
        return None
    return int(hazard[:, worst].argmax())


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
