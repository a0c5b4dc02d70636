"""What a placement really costs: every tree followed on its true path."""

from dataclasses import dataclass

import numpy as np

from overwinter.model.plan import Costs
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import IntArray
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import PathChance, Problem, cover_shares
from overwinter.simulate import follow

OWED_STEPS = 1000  # shares of chilling owed that differ by less are the same


@dataclass(frozen=True)
class Reckoning:
    """True costs, and what becomes of each placed tree."""

    costs: Costs
    chance: dict[int, PathChance]  # by placed tree


@dataclass(frozen=True)
class PathCosts:
    """Trees on their true paths: money of each, ``(n,)``."""

    losses: FloatArray
    carries: FloatArray
    disturbance: FloatArray
    cover: FloatArray
    not_home: FloatArray
    chance: list[PathChance]

    @property
    def total(self) -> FloatArray:
        """All of it."""
        return self.losses + self.carries + self.disturbance + self.cover + self.not_home


def reckon(placement: Placement) -> Reckoning:
    """Follow every tree through every winter along its path."""
    problem = placement.problem
    placed = [t for t, path in enumerate(placement.paths) if path is not None]
    groups = np.array([placement.trees[t][0] for t in placed], dtype=np.intp)
    paths = np.array([placement.paths[t] for t in placed], dtype=np.intp)
    each = path_costs(placement, groups, paths.reshape(-1, problem.stages))
    over = np.maximum(placement.used_m2 - placement.comfortable, 0.0)
    return Reckoning(
        Costs(
            heat=problem.heat_money(placement.settings),
            losses=float(each.losses.sum()),
            carries=float(each.carries.sum()),
            disturbance=float(each.disturbance.sum()),
            cover=float(each.cover.sum()),
            crowding=float((placement.crowding * over).sum()),
            not_home=float(each.not_home.sum()),
            left_out=sum(float(problem.left_out[placement.trees[t][0]]) for t in placement.out),
        ),
        dict(zip(placed, each.chance, strict=True)),
    )


def path_costs(placement: Placement, groups: IntArray, paths: IntArray) -> PathCosts:
    """Follow trees through every winter, be they placed or not, without what they crowd.

    groups : ``(n,)``.
    paths : place in each stage, ``(n, stage)``.
    """
    problem = placement.problem
    weights, first, stage = problem.season.site.weights, problem.first, np.arange(problem.stages)
    there = paths != NOWHERE
    options = np.where(there, placement.option[stage, paths], NOWHERE)
    owed = np.array([round(group.owed * OWED_STEPS) for group in problem.groups])[groups]
    kinds = np.array([group.kind for group in problem.groups])[groups]
    rows = np.column_stack([kinds, owed, options]).astype(np.intp)
    unique, back = np.unique(rows, axis=0, return_inverse=True)
    chances = _chances(problem, unique)
    whole = np.array([chance.whole for chance in chances])[back]
    value = np.array([group.tree.value for group in problem.groups])[groups]
    moved = placement.moved(paths)
    price = placement.price[groups[:, None], paths]
    extra = placement.carry[groups[:, None], paths] - price
    shares = cover_shares(problem.season, problem.follower, problem.groups)
    covered = shares[groups[:, None], options] * there
    away = there[:, -1] & (paths[:, -1] != placement.home[groups])
    return PathCosts(
        losses=weights.caution * value * whole,
        carries=(price * moved).sum(axis=1),
        disturbance=(extra * moved)[:, first:].sum(axis=1),
        cover=weights.cover_day * (problem.table.spare_days[kinds] * covered).sum(axis=1),
        not_home=weights.not_home * away,
        chance=[chances[i] for i in back.ravel()],
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
        kinds, options = rows[:, 0].tolist(), np.where(there, rows[:, 2:], home)
        owed, days = rows[:, 1] / OWED_STEPS, problem.stage_days
        hazards, short, _ = problem.follower.along(kinds, options, days, owed)
        there[:, : problem.past] = False
        hazards *= there[:, None, :, None]
        lasting = np.array([follow.lasting(problem.follower.kinds[kind]) for kind in kinds])
        lasts = np.einsum("nwsh,nh->nws", hazards, lasting, dtype=np.float64)
        all_harm = hazards.sum(axis=(2, 3), dtype=np.float64)
        whole, lost, by_stage = (
            (1.0 - np.exp(-hazard)).mean(axis=1)
            for hazard in (all_harm + short, lasts.sum(axis=2) + short, lasts)
        )
        for i, path in enumerate(new):
            found = PathChance(float(whole[i]), float(lost[i]), by_stage[i])
            problem.followed[keys[path]] = found
    return [problem.followed[key] for key in keys]
