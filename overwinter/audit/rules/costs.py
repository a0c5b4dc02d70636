"""Does it cost what it says: every part of the objective, added up anew."""

import math
from dataclasses import fields

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, HeatUse, Rule
from overwinter.audit.rules.carrying import carries_called_for
from overwinter.audit.rules.permission import exposure_left
from overwinter.model.plan import Costs
from overwinter.shelters.heater import setting_label
from overwinter.units import HOURS_PER_DAY

SAME = 1e-6
"""Relative difference at which two sums of money count as the same."""
DUST = 1e-6
"""Money; below it sums of many small parts differ by rounding alone."""
RODENT_ROUNDING = 5e-5
"""Money by tree and spell: the program rounds each loss to rodents to four digits."""
RISK_SHARE = 0.005
"""Plan and audit follow hardening by different code, by days and from the hourly series. More than
this share of all costs apart is refused."""
WINTER_DAYS = 180.0
"""``Weights.rodent_share`` is a chance per winter of this many days."""


def heat_uses(ledger: Ledger) -> tuple[HeatUse, ...]:
    """Heat of every shelter in every spell, summed from the hours."""
    shift = ledger.first_day * HOURS_PER_DAY
    uses = []
    for shelter_id, found in ledger.conditions.shelters.items():
        for spell, column in zip(ledger.spells, ledger.setting_index[shelter_id], strict=True):
            hours = ledger.hours(spell)
            span = slice(hours.start + shift, hours.stop + shift)
            uses.append(
                HeatUse(
                    shelter_id=shelter_id,
                    spell=spell.index,
                    setting=found.settings[column].key,
                    label=setting_label(found.settings[column].key, ledger.season.site.display),
                    delivered_kwh=float(found.heat_w[column, span].sum()) / 1000.0,
                    purchased_kwh=float(found.purchased_kwh[column, span].sum()),
                    money=float(found.money[column, span].sum()),
                )
            )
    return tuple(uses)


def recompute_costs(ledger: Ledger, risk: float) -> Costs:
    """All parts of the objective. ``risk`` is the expected loss in the cold tail, money."""
    weights = ledger.season.site.weights
    carries = carries_called_for(ledger)
    heavy = sum(
        ledger.season.tree_by_id[carry.tree_id].weight_kg >= weights.two_person_kg
        for carry in carries
    )
    return Costs(
        heat=sum(use.money for use in heat_uses(ledger)),
        crowding=_crowding(ledger),
        rodents=_rodents(ledger),
        carries=weights.carry * (len(carries) - heavy) + weights.two_person_carry * heavy,
        carry_days=weights.carry_day * len({carry.day for carry in carries}),
        risk=risk,
        disturbance=_disturbance(ledger),
        not_home=_not_home(ledger),
    )


def _crowding(ledger: Ledger) -> float:
    weights = ledger.season.site.weights
    money = 0.0
    for (place_id, number), trees in ledger.occupants.items():
        comfortable = weights.comfortable_share * ledger.season.places[place_id].area_m2
        over = max(0.0, sum(tree.footprint_m2 for tree in trees) - comfortable)
        money += weights.crowding_per_m2_day * over * ledger.spells[number].days
    return money


def _rodents(ledger: Ledger) -> float:
    per_day = ledger.season.site.weights.rodent_share / WINTER_DAYS
    return sum(
        tree.value * per_day * tree.limits.rodent_appeal * exposure_left(ledger, place) * spell.days
        for tree, spell, place in ledger.stays()
    )


def _disturbance(ledger: Ledger) -> float:
    """Carries that the plan in force did not have; none where no plan is in force."""
    extra = 0
    for carry in carries_called_for(ledger):
        known = ledger.start.trees[carry.tree_id].known_targets
        extra += known is not None and carry.target not in known
    return ledger.season.site.weights.extra_carry * extra


def _not_home(ledger: Ledger) -> float:
    home = ledger.season.site.summer_place
    away = sum(stays[-1] not in (None, home) for stays in ledger.plan.stays.values())
    return ledger.season.site.weights.not_home * away


def check_costs(ledger: Ledger, costs: Costs) -> list[Finding]:
    """The plan's costs are those recomputed; risk within a stated tolerance."""
    found = []
    for part in fields(Costs):
        said, true = getattr(ledger.plan.costs, part.name), getattr(costs, part.name)
        allowed = SAME * max(abs(said), abs(true)) + DUST
        if part.name == "rodents":
            allowed += RODENT_ROUNDING * len(ledger.stays())
        if part.name == "risk":
            allowed = max(allowed, RISK_SHARE * abs(costs.total))
        apart = abs(said - true)
        if not math.isfinite(said) or apart > allowed:
            name = part.name.replace("_", " ")
            text = f"the plan says {said:.2f} for {name}, recomputed {true:.2f}"
            found.append(
                Finding(Rule.COSTS, None, None, None, apart, ledger.season.site.currency, text)
            )
    return found
