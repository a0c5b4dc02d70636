"""Why a tree has no place: the one rule whose fall would give it one, and what each place lacks."""

import numpy as np

from overwinter.model.plan import Cure, Lack, LeftOut, Reason
from overwinter.model.shelter import FloatArray
from overwinter.rules.standing import closed_days, misfits
from overwinter.search.placement import NOWHERE, IntArray, Placement
from overwinter.simulate.follow import HARMS


def left_out_trees(placement: Placement) -> tuple[LeftOut, ...]:
    """Every tree without a place, in the order of the tree list."""
    found = {}
    for tree, path in enumerate(placement.paths):
        if path is None:
            g, i = placement.trees[tree]
            cure, place = _cure(placement, g)
            tree_id = placement.problem.groups[g].tree_ids[i]
            found[tree_id] = LeftOut(tree_id, cure, place, _lacks(placement, g))
    return tuple(found[t.id] for t in placement.problem.season.trees if t.id in found)


def _cure(placement: Placement, g: int) -> tuple[Cure, str | None]:
    """The first rule, in the order of what it costs the grower, without which it finds a way."""
    saved = (placement.room, placement.load, placement.carried, placement.cost)
    tries = (
        (Cure.CARRIES, {"carried": np.zeros_like(placement.carried)}),
        (
            Cure.ROOM,
            {
                "room": np.full_like(placement.room, np.inf),
                "load": np.full_like(placement.load, np.inf),
            },
        ),
        (Cure.HEATER, {"cost": _any_setting(placement, g)}),
        (Cure.CHANCE, {"cost": _any_chance(placement, g)}),
    )
    for cure, changes in tries:
        for name, value in changes.items():
            setattr(placement, name, value)
        found = placement.best_path(g)
        placement.room, placement.load, placement.carried, placement.cost = saved
        if found is not None:
            return cure, _main_place(placement, found[1])
    return Cure.NONE, None


def _main_place(placement: Placement, path: IntArray) -> str | None:
    """Where it would spend most days."""
    days = np.zeros(len(placement.places))
    for k, place in enumerate(path.tolist()):
        if place != NOWHERE and k >= placement.problem.first:
            days[place] += placement.problem.days[k]
    return placement.places[int(days.argmax())]


def _any_setting(placement: Placement, g: int) -> FloatArray:
    """Costs as if every shelter could be on its best setting for this tree in every stage."""
    problem, cost = placement.problem, placement.cost.copy()
    options = problem.follower.exposures.options
    every = np.where(problem.allowed[g], problem.cost[g], np.inf)
    for i, option in enumerate(options):
        place = placement.at[option.place_id]
        cost[g, :, place] = np.minimum(cost[g, :, place], every[i])
    return cost


def _any_chance(placement: Placement, g: int) -> FloatArray:
    """Costs as if no chance of loss were too high; size, doors and the grower's word still hold."""
    problem, cost = placement.problem, placement.cost.copy()
    season, tree = problem.season, problem.groups[g].tree
    stage = np.arange(problem.stages)
    for place_id in placement.places:
        place = placement.at[place_id]
        if any(True for _ in misfits(season, tree, season.places[place_id])):
            continue
        for k in stage:
            if not closed_days(season, season.places[place_id], problem.stage_days, int(k)):
                cost[g, k, place] = problem.cost[g, placement.option[k, place], k]
    return cost


def _lacks(placement: Placement, g: int) -> tuple[Lack, ...]:
    """What each place lacks in the stage in which it lacks most, nearest first."""
    problem = placement.problem
    season, tree = problem.season, problem.groups[g].tree
    lacks = []
    for place_id in placement.places:
        place = season.places[place_id]
        first = next(iter(misfits(season, tree, place)), None)
        if first is not None:
            reason, amount, unit = first
            lacks.append((2.0 + amount, Lack(place_id, problem.first, reason, amount, unit)))
        else:
            lacks.append(_risk_or_room(placement, g, place_id))
    return tuple(lack for _, lack in sorted(lacks, key=lambda item: (item[0], item[1].place_id)))


def _risk_or_room(placement: Placement, g: int, place_id: str) -> tuple[float, Lack]:
    problem, at = placement.problem, placement.at[place_id]
    options = problem.follower.exposures.options
    here = [i for i, option in enumerate(options) if option.place_id == place_id]
    chance = problem.chance[g, here].min(axis=0)
    stage = problem.first + int(chance[problem.first :].argmax())
    most = problem.season.site.weights.most_chance
    if chance[stage] > most:
        best = here[int(problem.chance[g, here, stage].argmin())]
        hazards = problem.table.by_harm[problem.groups[g].kind, best, stage]
        harm = HARMS[int(hazards.argmax())]
        amount = float(chance[stage])
        return 1.0 + amount, Lack(place_id, stage, Reason.RISK, amount, "of 1", harm)
    place = problem.season.places[place_id]
    closed = [closed_days(problem.season, place, problem.stage_days, k) for k in range(len(chance))]
    shut = max(range(problem.first, len(chance)), key=lambda k: closed[k])
    area = problem.groups[g].tree.footprint_m2
    over = placement.used_m2[:, at] + area - placement.room[:, at]
    worst = problem.first + int(over[problem.first :].argmax())
    if over[worst] > 0:
        return 0.5, Lack(place_id, worst, Reason.NO_ROOM, float(over[worst]), "m²")
    if closed[shut]:
        return 0.3, Lack(place_id, shut, Reason.CLOSED, float(closed[shut]), "d")
    return 0.1, Lack(place_id, stage, Reason.NO_CARRY, 0.0, "")
