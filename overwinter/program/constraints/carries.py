"""Carrying: what goes where on which day, and no more than the household can do."""

from collections.abc import Iterator

import pulp

from overwinter.program.expression import weighted
from overwinter.program.model import Model


def carried_in(model: Model) -> Iterator[pulp.LpConstraint]:
    """Trees that were not at a place in the spell before have been carried there.

    in[g,p,k] >= sum over c of y[g,p,c,k] - sum over c of y[g,p,c,k-1]        for all g, p, k

    Before the first spell a tree is where the plan begins for it.
    """
    for (group, place_id, spell), carried in model.carried_in.items():
        terms = [(carried, 1.0)]
        terms += [(variable, -1.0) for variable in _at(model, group, place_id, spell)]
        found = model.data.groups[group]
        if spell == 0:
            before = found.count if found.start.place == place_id else 0
            yield weighted(terms) >= -before
        else:
            terms += [(variable, 1.0) for variable in _at(model, group, place_id, spell - 1)]
            yield weighted(terms) >= 0


def _at(model: Model, group: int, place_id: str, spell: int) -> list[pulp.LpVariable]:
    return [
        stay.variable for stay in model.stays.get((group, spell), ()) if stay.place_id == place_id
    ]


def only_on_carry_days(model: Model) -> Iterator[pulp.LpConstraint]:
    """A tree is carried only on a carry day.

    sum over p of in[g,p,k] <= n[g] d[k]        for all g, k
    """
    by_spell: dict[tuple[int, int], list[pulp.LpVariable]] = {}
    for (group, _place, spell), carried in model.carried_in.items():
        by_spell.setdefault((group, spell), []).append(carried)
    for (group, spell), carried_list in by_spell.items():
        count = model.data.groups[group].count
        yield pulp.lpSum(carried_list) <= count * model.carry_day[spell]


def a_day(model: Model) -> Iterator[pulp.LpConstraint]:
    """No more trees are carried on one day than the household can carry.

    sum over g, p of in[g,p,k] <= M d[k]        for all k
    """
    most = model.data.season.site.carries_per_day
    for spell, used in model.carry_day.items():
        terms = [v for (_g, _p, k), v in model.carried_in.items() if k == spell]
        if terms:
            yield pulp.lpSum(terms) <= most * used


def days(model: Model) -> Iterator[pulp.LpConstraint]:
    """There are no more carry days than the household has.

    sum over k of d[k] <= D
    """
    yield pulp.lpSum(list(model.carry_day.values())) <= model.data.start.carry_days_left
