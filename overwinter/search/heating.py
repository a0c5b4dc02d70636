"""What a choice of heater programmes is bound to, and how to heat for nobody no longer."""

from collections import Counter
from collections.abc import Mapping

import numpy as np

from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import Problem

Settings = dict[str, tuple[int, ...]]  # setting of each shelter in each stage


def affordable(problem: Problem, wanted: Mapping[str, tuple[int, ...]]) -> Settings:
    """What is wanted, shelter by shelter as far as the breakers carry it; else off."""
    settings: Settings = {h: ways[0].settings for h, ways in problem.programmes.items()}
    for shelter_id in problem.programmes:
        tried = {**settings, shelter_id: wanted[shelter_id]}
        if within_breakers(problem, tried):
            settings = tried
    return settings


def warmest(problem: Problem) -> Settings:
    """Every heater on its dearest programme, as far as the breakers carry it."""
    return affordable(problem, {h: ways[-1].settings for h, ways in problem.programmes.items()})


def reheat(placement: Placement) -> None:
    """Run the programmes that suit the trees where they stand, if that is cheaper with chilling,
    which is a matter of the whole winter."""
    before, money = placement.settings, placement.money()
    placement.run(suited(placement))
    if placement.money() >= money:
        placement.run(before)


def suited(placement: Placement) -> Settings:
    """The cheapest programmes for all trees where they stand: heat, and what trees meet."""
    problem, settings = placement.problem, dict(placement.settings)
    index, stage = problem.follower.exposures.index, np.arange(problem.stages)
    price = {shelter_id: np.zeros(problem.heat[shelter_id].shape) for shelter_id in settings}
    stays = Counter(
        (g, k, place)
        for (g, _), path in zip(placement.trees, placement.paths, strict=True)
        for k, place in enumerate(() if path is None else path.tolist())
        if place != NOWHERE and k >= problem.first
    )
    for (g, k, at), trees in stays.items():
        place = problem.season.places[placement.places[at]]
        costs = price[place.shelter_id]
        options = [index[place.id, setting] for setting in range(len(costs))]
        allowed = problem.allowed[g, options, k]
        costs[:, k] += np.where(allowed, trees * problem.cost[g, options, k], np.inf)
    for shelter_id, costs in price.items():
        money = {
            way: way.money + float(costs[list(way.settings), stage].sum())
            for way in problem.programmes[shelter_id]
        }
        for way in sorted(money, key=money.__getitem__):
            tried = {**settings, shelter_id: way.settings}
            if within_breakers(problem, tried):
                settings = tried
                break
    return settings


def thrifty(placement: Placement) -> Settings:
    """The cheapest programmes that give every tree what it has: none heats for nobody."""
    problem, settings = placement.problem, dict(placement.settings)
    shelter_of = [problem.season.places[p].shelter_id for p in placement.places]
    there: dict[str, set[int]] = {shelter_id: set() for shelter_id in settings}
    for path in placement.paths:
        for k, place in enumerate(() if path is None else path.tolist()):
            if place != NOWHERE:
                there[shelter_of[place]].add(k)
    for shelter_id, now in placement.settings.items():
        for way in problem.programmes[shelter_id]:
            tried = {**settings, shelter_id: way.settings}
            same = all(way.settings[k] == now[k] for k in there[shelter_id])
            if same and within_breakers(problem, tried):
                settings = tried
                break
    return settings


def within_breakers(problem: Problem, settings: Mapping[str, tuple[int, ...]]) -> bool:
    """Whether no breaker carries more than it may in any stage that can still be planned."""
    for breaker, limit in problem.season.site.breakers_w.items():
        for k in range(problem.first, problem.stages):
            watts = sum(
                dict(problem.conditions.shelters[h].settings[s[k]].breaker_w).get(breaker, 0.0)
                for h, s in settings.items()
            )
            if watts > limit + 1e-6:
                return False
    return True
