"""The objective: all in money, each part a function of the model."""

import pulp

from overwinter.program.expression import weighted
from overwinter.program.model import Model


def heat(model: Model) -> tuple[list[tuple[pulp.LpVariable, float]], float]:
    """Heat bought: sum over h, s, k of money[h,s,k] z[h,s,k]; constant: heat without a choice."""
    terms: list[tuple[pulp.LpVariable, float]] = []
    constant = 0.0
    for (shelter, spell), settings in model.settings.items():
        for setting, variable in settings.items():
            money = float(model.data.heat_money[shelter][setting, spell])
            if variable is None:
                constant += money
            elif money:
                terms.append((variable, money))
    return terms, constant


def risk_and_rodents(model: Model) -> list[tuple[pulp.LpVariable, float]]:
    """Expected losses: sum over g, p, c, k of money[g,p,c,k] y[g,p,c,k]."""
    return [
        (stay.variable, stay.money)
        for stays in model.stays.values()
        for stay in stays
        if stay.money
    ]


def crowding(model: Model) -> list[tuple[pulp.LpVariable, float]]:
    """Crowding: sum over p, k of price x days x crowd[p,k]."""
    price = model.weights.crowding_per_m2_day
    return [
        (variable, price * model.data.spells[spell].days)
        for (_place, spell), variable in model.crowd.items()
    ]


def carry_price(model: Model, group: int, place_id: str) -> float:
    """Price of one carry of a tree of the group to the place, the disturbance included."""
    weights = model.weights
    found = model.data.groups[group]
    heavy = found.tree.weight_kg >= weights.two_person_kg
    price = weights.two_person_carry if heavy else weights.carry
    known = found.start.known_targets
    if known is not None and place_id not in known:
        price += weights.extra_carry
    return price


def carries(model: Model) -> list[tuple[pulp.LpVariable, float]]:
    """Carries and carry days: sum of price in[g,p,k] + price of a day x d[k]."""
    terms = [
        (variable, carry_price(model, group, place_id))
        for (group, place_id, _spell), variable in model.carried_in.items()
    ]
    terms += [(variable, model.weights.carry_day) for variable in model.carry_day.values()]
    return terms


def not_home(model: Model) -> tuple[list[tuple[pulp.LpVariable, float]], float]:
    """Trees that are not at the summer place in the last spell: price (n[g] - y[g,home,last])."""
    price = model.weights.not_home
    home = model.data.season.site.summer_place
    last = len(model.data.spells) - 1
    terms = []
    constant = 0.0
    for (group, spell), stays in model.stays.items():
        if spell == last:
            constant += price * model.data.groups[group].count
            terms += [(stay.variable, -price) for stay in stays if stay.place_id == home]
    return terms, constant


def total(model: Model) -> pulp.LpAffineExpression:
    """The objective in money, its constant included (the adapters see to it)."""
    heat_terms, heat_constant = heat(model)
    home_terms, home_constant = not_home(model)
    terms = [
        *heat_terms,
        *risk_and_rodents(model),
        *crowding(model),
        *carries(model),
        *home_terms,
        *left_out(model),
    ]
    return weighted(terms) + (heat_constant + home_constant)


LEFT_OUT_EACH = 5000.0
LEFT_OUT_PER_VALUE = 10.0
"""Leaving a tree out is dearer than anything a plan could save by it, and dearer for trees that are
worth more. Not money anyone pays: the plan's costs do not count it."""


def left_out_price(model: Model, group: int) -> float:
    """Price of leaving one tree of the group without a place."""
    return LEFT_OUT_EACH + LEFT_OUT_PER_VALUE * model.data.groups[group].tree.value


def left_out(model: Model) -> list[tuple[pulp.LpVariable, float]]:
    """Trees left without a place: sum of price out[g]."""
    return [(variable, left_out_price(model, group)) for group, variable in model.left_out.items()]
