"""What a placement really costs: every tree followed on its true path."""

from dataclasses import dataclass

import numpy as np

from overwinter.model.plan import Costs
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import IntArray
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import PathChance, Problem, cover_shares

OWED_STEPS = 1000
"""Shares of chilling owed that differ by less are the same."""


@dataclass(frozen=True)
class Reckoning:
    """True costs, and the chance of each placed tree in each stage."""

    costs: Costs
    chance: dict[int, FloatArray]
    """By tree: share of its value lost in each stage, mean over winters, ``(stage,)``."""


def reckon(placement: Placement) -> Reckoning:
    """Follow every tree through every winter along its path."""
    problem = placement.problem
    placed = [t for t, path in enumerate(placement.paths) if path is not None]
    groups = [placement.trees[t][0] for t in placed]
    stage = np.arange(problem.stages)
    paths = np.array([placement.paths[t] for t in placed], dtype=np.intp).reshape(-1, stage.size)
    options = np.where(paths == NOWHERE, NOWHERE, placement.option[stage, paths])
    owed = [round(problem.groups[g].owed * OWED_STEPS) for g in groups]
    kinds = [problem.groups[g].kind for g in groups]
    rows = np.column_stack([kinds, owed, options]).astype(np.intp)
    unique, back = np.unique(rows.reshape(-1, stage.size + 2), axis=0, return_inverse=True)
    chances = _chances(problem, unique)
    whole = np.array([one.whole for one in chances])
    value = np.array([problem.groups[g].tree.value for g in groups])
    weights = problem.season.site.weights
    return Reckoning(
        Costs(
            heat=problem.heat_money(placement.settings),
            losses=float(weights.caution * (value * whole[back]).sum()) if placed else 0.0,
            carries=sum(_carries(placement, t)[0] for t in placed),
            disturbance=sum(_carries(placement, t)[1] for t in placed),
            cover=_cover(placement, placed),
            crowding=_crowding(placement),
            not_home=sum(_away(placement, t) for t in placed),
            left_out=sum(
                float(problem.left_out[placement.trees[t][0]])
                for t, path in enumerate(placement.paths)
                if path is None
            ),
        ),
        {t: chances[back[i]].by_stage for i, t in enumerate(placed)},
    )


def _chances(problem: Problem, paths: IntArray) -> list[PathChance]:
    """Of each row: kind, steps of chilling owed, option in each stage. No path is followed twice:
    most trees keep theirs from one placement to the next."""
    keys = [row.tobytes() for row in paths]
    new = [i for i, key in enumerate(keys) if key not in problem.followed]
    if new:
        rows = paths[new]
        home = problem.follower.exposures.index[problem.season.site.summer_place, 0]
        there = rows[:, 2:] != NOWHERE
        hazards, short, _ = problem.follower.along(
            rows[:, 0].tolist(),
            np.where(there, rows[:, 2:], home),
            problem.stage_days,
            rows[:, 1] / OWED_STEPS,
        )
        there[:, : problem.past] = False
        hazards *= there[:, None, :, None]
        by_stage = hazards.sum(axis=-1, dtype=np.float64)
        whole = (1.0 - np.exp(-(by_stage.sum(axis=-1) + short))).mean(axis=1)
        stages = (1.0 - np.exp(-by_stage)).mean(axis=1)
        for i, path in enumerate(new):
            problem.followed[keys[path]] = PathChance(float(whole[i]), stages[i])
    return [problem.followed[key] for key in keys]


def _carries(placement: Placement, tree: int) -> tuple[float, float]:
    """Money of a tree's carries, and of those that disturb the plan in force."""
    g, path = placement.trees[tree][0], placement.paths[tree]
    assert path is not None
    moves = placement.moves(path)
    price = np.array([placement.problem.carry_price(g, p) for p in placement.places])
    new = moves[moves >= placement.problem.first]
    extra = float((placement.carry[g] - price)[path[new]].sum())
    return float(price[path[moves]].sum()), extra


def _cover(placement: Placement, placed: list[int]) -> float:
    """Days under cover that would have been safe outdoors, money."""
    problem = placement.problem
    spare = problem.table.spare_days
    shares = cover_shares(problem.season, problem.follower, problem.groups)
    total = 0.0
    for t in placed:
        g, path = placement.trees[t][0], placement.paths[t]
        assert path is not None
        ks = np.flatnonzero(path != NOWHERE)
        share = shares[g, placement.option[ks, path[ks]]]
        total += float((spare[problem.groups[g].kind][ks] * share).sum())
    return problem.season.site.weights.cover_day * total


def _crowding(placement: Placement) -> float:
    over = np.maximum(placement.used_m2 - placement.comfortable, 0.0)
    return float((placement.crowding * over).sum())


def _away(placement: Placement, tree: int) -> float:
    path = placement.paths[tree]
    assert path is not None
    home = placement.at[placement.problem.home(placement.trees[tree][0])]
    is_away = path[-1] not in (home, NOWHERE)
    return placement.problem.season.site.weights.not_home if is_away else 0.0
