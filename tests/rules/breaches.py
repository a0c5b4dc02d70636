"""How every rule is broken on purpose: another plan, or another season, by the name of the rule."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from math import inf
from typing import Any

from overwinter.model.plan import Plan, Shift
from overwinter.model.season import Season
from overwinter.model.site import Household, Weights

Breach = Callable[[Season, Plan], Season | Plan]
"""From a season and a sound plan of it: another plan, or another season, that breaks a rule."""


def a_tree(**changes: Any) -> Breach:
    """Another tree in place of one that is carried; what is callable is asked with that tree and
    its carry."""

    def breach(season: Season, plan: Plan) -> Season:
        carry = next(one for one in plan.carries if one.source is not None)
        tree = season.tree_by_id[carry.tree_id]
        found = {name: now(tree, carry) if callable(now) else now for name, now in changes.items()}
        trees = (replace(one, **found) if one is tree else one for one in season.trees)
        return replace(season, trees=tuple(trees))

    return breach


def under_a_roof(**changes: Any) -> Breach:
    """Other shelters, but for the open."""

    def breach(season: Season, _: Plan) -> Season:
        shelters = (one if one.open_air else replace(one, **changes) for one in season.shelters)
        return replace(season, shelters=tuple(shelters))

    return breach


def the_site(**changes: Any) -> Breach:
    """Another site."""
    return lambda season, _: replace(season, site=replace(season.site, **changes))


def all_broken(season: Season, plan: Plan) -> Season | Plan:
    """Every heater is."""
    heaters = [heater for shelter in season.shelters for heater in shelter.heaters]
    broken = tuple(replace(heater, broken_from=season.site.starts) for heater in heaters)
    return under_a_roof(heaters=broken)(season, plan)


CROWDED = Weights(fullest_share=1e-9)
IDLE = Household(hours_a_day=0.0)

BREACHES: Mapping[str, Breach] = {
    "known place": lambda _, plan: replace(
        plan, stays={t: (*path[:-1], "nowhere") for t, path in plan.stays.items()}
    ),
    "one place per tree and stage": lambda _, plan: replace(
        plan, stays={t: (*path[:-1], None) for t, path in plan.stays.items()}
    ),
    "every tree placed or left out": lambda _, plan: replace(
        plan, stays=dict(list(plan.stays.items())[1:])
    ),
    "stages in order": lambda _, plan: replace(plan, stages=plan.stages[:-1]),
    "quarantine": a_tree(quarantine_until=date.max),
    "shelter open": under_a_roof(opens=date.max),
    "pinned places": a_tree(pinned=lambda _, carry: {carry.source}),
    "forbidden places": a_tree(forbidden=lambda _, carry: {carry.target}),
    "load of a place": a_tree(weight_kg=1e6),
    "room for its footprint": a_tree(width_m=99.0),
    "headroom": a_tree(height_m=99.0),
    "spots of trees that stay": lambda _, plan: replace(
        plan, shifts=(Shift(len(plan.stages) - 1, "nowhere", "nobody"),)
    ),
    "layout of a place": lambda _, plan: replace(
        plan, layouts={}, proof=replace(plan.proof, misfits=0)
    ),
    "area of a place": the_site(weights=CROWDED),
    "changes of a thermostat": the_site(thermostat_changes=-1),
    "breakers": the_site(breakers_w={}),
    "heaters that work": all_broken,
    "heater settings": lambda _, plan: replace(plan, settings={}),
    "hands and daylight": the_site(household=IDLE),
    "carries match the stays": lambda _, plan: replace(plan, carries=plan.carries[1:]),
    "proof": lambda _, plan: replace(plan, proof=replace(plan.proof, objective=inf)),
    "costs": lambda _, plan: replace(
        plan, costs=replace(plan.costs, heat=2 * plan.costs.total + 1)
    ),
    "chance of loss": a_tree(
        limits=lambda tree, _: replace(tree.limits, top_kill_c=15, top_kill_unhardened_c=15)
    ),
}
