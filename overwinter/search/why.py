"""Why a tree has no place: the one rule whose fall would give it one, and what each place lacks."""

import numpy as np

from overwinter.model.plan import Cure, Lack, LeftOut
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import IntArray
from overwinter.rules import misfits
from overwinter.rules.carrying import HANDS
from overwinter.rules.doors import OPEN, QUARANTINE, closed_days
from overwinter.rules.figures import CHANCE
from overwinter.rules.places import LOAD
from overwinter.rules.room import AREA
from overwinter.search.placement import NOWHERE, Placement
from overwinter.simulate import follow


def left_out_trees(placement: Placement) -> tuple[LeftOut, ...]:
    """Every tree without a place."""
    found = []
    for tree, path in enumerate(placement.paths):
        if path is None:
            g, i = placement.trees[tree]
            cure, place = cure_of(placement, g)
            tree_id = placement.problem.groups[g].tree_ids[i]
            found.append(LeftOut(tree_id, cure, place, _lacks(placement, g)))
    return tuple(found)


def cure_of(placement: Placement, g: int) -> tuple[Cure, str | None]:
    """The first rule, in the order of what it costs the grower, without which it finds a way."""
    saved = (placement.room, placement.load, placement.carried_min, placement.cost)
    room = {
        "room": np.full_like(placement.room, np.inf),
        "load": np.full_like(placement.load, np.inf),
    }
    tries: tuple[tuple[Cure, dict[str, FloatArray]], ...] = (
        (Cure.CARRIES, {"carried_min": np.full_like(placement.carried_min, -np.inf)}),
        (Cure.ROOM, room),
        (Cure.HEATER, {"cost": _at_best(placement, g)}),
        (Cure.GROWER, {"cost": _at_best(placement, g, Cure.GROWER)}),
        (Cure.SIZE, room | {"cost": _at_best(placement, g, Cure.SIZE)}),
    )
    for cure, changes in tries:
        for name, value in changes.items():
            setattr(placement, name, value)
        found = placement.best_path(g)
        placement.room, placement.load, placement.carried_min, placement.cost = saved
        if found is not None:
            return cure, _main_place(placement, g, found[1])
    return Cure.NONE, None


def _main_place(placement: Placement, g: int, path: IntArray) -> str:
    """Where it would spend most days away from its summer stand, which it has already."""
    days = np.zeros(len(placement.places))
    for k, place in enumerate(path.tolist()):
        if place != NOWHERE and k >= placement.problem.first:
            days[place] += placement.problem.days[k]
    days[placement.home[g]] = 0.0
    return placement.places[int(days.argmax())]


def _at_best(placement: Placement, g: int, fallen: Cure | None = None) -> FloatArray:
    """Costs as if every shelter could be on its best setting for this tree in every stage, and the
    refusals that a cure lifts did not count; doors and risk still do."""
    problem, cost = placement.problem, placement.cost.copy()
    season, tree = problem.season, problem.groups[g].tree
    safe = problem.lost[g] <= problem.most_chance[g]
    whole = {"m": max(tree.height_m, tree.width_m, tree.depth_m), "kg": tree.weight_kg}
    for i, option in enumerate(problem.follower.exposures.options):
        at, place = placement.at[option.place_id], season.places[option.place_id]
        over = dict(misfits(season, tree, place))
        if {rule.cure for rule in over} <= {fallen}:
            # of two places that are too small, the one that lacks the smaller share is cured
            lacking = sum(by / whole[rule.unit] for rule, by in over.items() if rule.unit)
            price = problem.cost[g, i] + problem.left_out[g] * lacking
            every = np.where(safe[i] & problem.is_open[option.place_id], price, np.inf)
            cost[g, :, at] = np.minimum(cost[g, :, at], every)
    return cost


def _lacks(placement: Placement, g: int) -> tuple[Lack, ...]:
    """What each place lacks in the stage in which it lacks most, nearest first."""
    problem = placement.problem
    stages = range(problem.first, problem.stages)
    lacks = []
    for place_id in placement.places:
        found = lack(placement, g, place_id, stages) or _as_heated(placement, g, place_id, stages)
        lacks.append(found or (0.1, Lack(place_id, problem.first, HANDS.lacks, 0.0, "")))
    return tuple(one for _, one in sorted(lacks, key=lambda item: (item[0], item[1].place_id)))


def _as_heated(
    placement: Placement, g: int, place_id: str, stages: range
) -> tuple[float, Lack] | None:
    """What a place that could be warm enough lacks as its heater is set in the plan."""
    problem, option = placement.problem, placement.option[stages, placement.at[place_id]]
    chance = problem.lost[g, option, stages]
    worst = int(chance.argmax())
    if chance[worst] <= problem.most_chance[g]:
        return None
    return 0.4, risk(placement, g, option[worst], stages[worst])


def lack(placement: Placement, g: int, place_id: str, stages: range) -> tuple[float, Lack] | None:
    """The first thing a place lacks for a tree, in the stage in which it lacks most of it.

    Heaters are taken to be on whatever suits the tree best.

    Returns how far it is from a place, for sorting, and what it lacks; None: nothing.
    """
    problem, at, first = placement.problem, placement.at[place_id], stages[0]
    season, tree = problem.season, problem.groups[g].tree
    place = season.places[place_id]
    misfit = next(iter(misfits(season, tree, place)), None)
    if misfit is not None:
        rule, by = misfit
        return 2.0 + by, Lack(place_id, first, rule.lacks, by, rule.unit)
    options = problem.follower.exposures.options
    here = [i for i, option in enumerate(options) if option.place_id == place_id]
    chance = problem.lost[g][here][:, stages].min(axis=0)
    worst = int(chance.argmax())
    if chance[worst] > problem.most_chance[g]:
        best = here[int(problem.lost[g, here, stages[worst]].argmin())]
        return 1.0 + chance[worst], risk(placement, g, best, stages[worst])
    over = (placement.used_m2[:, at] + tree.footprint_m2 - placement.room[:, at])[stages]
    heavy = (placement.used_kg[:, at] + tree.weight_kg - placement.load[at])[stages]
    for rule, amount in ((AREA, over), (LOAD, heavy)):
        worst = int(amount.argmax())
        if amount[worst] > 1e-9:
            return 0.5, Lack(place_id, stages[worst], rule.lacks, float(amount[worst]), rule.unit)
    closed = [closed_days(season, place, problem.stage_days, k) for k in stages]
    worst = int(np.argmax(closed))
    if closed[worst]:
        return 0.3, Lack(place_id, stages[worst], OPEN.lacks, float(closed[worst]), OPEN.unit)
    barred, blocked = placement.barred[g, stages, at], placement.blocked(g)[stages, at]
    for rule, where in ((CHANCE, barred), (QUARANTINE, blocked)):
        if where.any():
            return 0.2, Lack(place_id, stages[int(where.argmax())], rule.lacks, 0.0, "")
    return None


def risk(placement: Placement, g: int, option: int, stage: int) -> Lack:
    """The chance of loss at a place under one setting, and the likeliest harm."""
    problem = placement.problem
    hazards = problem.table.by_harm[problem.groups[g].kind, option, stage]
    at, chance = problem.follower.exposures.options[option], problem.lost[g, option, stage]
    lasting = follow.lasting(problem.follower.kinds[problem.groups[g].kind])
    harm = follow.HARMS[int((hazards * lasting).argmax())]
    return Lack(at.place_id, stage, CHANCE.lacks, float(chance), CHANCE.unit, harm)
