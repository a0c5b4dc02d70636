"""What the audit reckons of a plan by itself: heat, costs, and how full places are."""

from collections.abc import Mapping

import numpy as np

from overwinter.audit.report import Bill, HeatUse, PlaceUse, TreeRisk
from overwinter.model.plan import Costs
from overwinter.model.shelter import FloatArray
from overwinter.model.site import AWAY_OUTDOORS
from overwinter.rules.carrying import worth
from overwinter.rules.rule import Ledger
from overwinter.simulate.exposures import Kind, kind_of


def heat(ledger: Ledger) -> tuple[tuple[HeatUse, ...], Bill]:
    """Heat by shelter and stage, mean over the winters, and the bill over the winters."""
    stage_of_day = ledger.stage_days.stage_of_day
    winters: FloatArray = np.zeros(len(stage_of_day))
    unsure, uses = np.zeros(2), []
    for shelter_id, settings in ledger.setting.items():
        shelter = ledger.conditions.shelters[shelter_id]
        for stage in ledger.stages:
            setting, days = settings[stage], stage_of_day == stage
            money = (shelter.money[setting] * days).sum(axis=1)
            kwh = (shelter.purchased_kwh[setting] * days).sum(axis=1)
            winters += money
            if not shelter.settings[setting].is_off:
                mean_kwh, (below, above) = float(kwh.mean()), shelter.heat_unsure
                ends_kwh = (mean_kwh * (1 - below), mean_kwh * (1 + above))
                uses.append(HeatUse(shelter_id, stage, mean_kwh, float(money.mean()), *ends_kwh))
                unsure += float(money.mean()) * np.array(shelter.heat_unsure)
    mean = float(winters.mean())
    # Winters and walls are independent; one shelter's walls are taken to be as odd as another's.
    by_winter = np.abs(np.percentile(winters, (10, 90)) - mean)
    below, above = np.hypot(by_winter, unsure)
    return tuple(uses), Bill(mean, max(0.0, mean - float(below)), mean + float(above))


def costs(
    ledger: Ledger,
    bill: Bill,
    risks: Mapping[str, TreeRisk],
    safe_days: Mapping[Kind, FloatArray],
) -> Costs:
    """All parts. The price of leaving a tree out is the plan's own figure, and so is that of
    disturbance where the plan in force before is not known.

    Parameters
    ----------
    safe_days : of each kind, days of each stage that would be safe at the summer stand.
    """
    weights = ledger.season.site.weights
    last = [(ledger.plan.stays[tree.id][-1], ledger.home(tree)) for tree in ledger.placed]
    return Costs(
        heat=bill.mean,
        losses=weights.caution * sum(risk.loss for risk in risks.values()),
        carries=_carries(ledger),
        cover=weights.cover_day * _days_away(ledger, safe_days),
        crowding=_crowding(ledger),
        disturbance=_disturbance(ledger),
        not_home=weights.not_home * sum(place not in (home, None) for place, home in last),
        left_out=ledger.plan.costs.left_out,
    )


def _carries(ledger: Ledger) -> float:
    weights, trees = ledger.season.site.weights, ledger.season.tree_by_id

    def price(tree_id: str) -> float:
        heavy = trees[tree_id].weight_kg >= weights.two_person_kg
        return weights.two_person_carry if heavy else weights.carry

    carried = sum(
        times * price(tree_id) * worth(ledger, tree_id, target)
        for (_, tree_id, source, target), times in ledger.moves.items()
        if source is not None
    )
    shifted = sum(price(one.tree_id) for one in ledger.plan.shifts if one.tree_id in trees)
    return carried + weights.shift * shifted


def _disturbance(ledger: Ledger) -> float:
    if ledger.start is None and ledger.plan.fixed_stages > 0:
        return ledger.plan.costs.disturbance
    known = None if ledger.start is None else ledger.start.known_targets
    if known is None:
        return 0.0
    new = [
        stage >= ledger.free_stages.start
        and source is not None
        and target not in known.get(tree_id, frozenset())
        for stage, tree_id, source, target in ledger.moves
    ]
    return ledger.season.site.weights.extra_carry * sum(new)


def _days_away(ledger: Ledger, safe_days: Mapping[Kind, FloatArray]) -> float:
    """Days under cover on which a tree would have been safe at home; outdoors a day counts less."""
    total = 0.0
    for tree in ledger.placed:
        home, safe = ledger.home(tree), safe_days[kind_of(tree)]
        for stage, place_id in enumerate(ledger.plan.stays[tree.id]):
            if place_id not in (None, home):
                outdoors = ledger.shelter_of(str(place_id)).open_air
                total += float(safe[stage]) * (AWAY_OUTDOORS if outdoors else 1.0)
    return total


def _crowding(ledger: Ledger) -> float:
    weights = ledger.season.site.weights
    total, days = 0.0, ledger.stage_days.end_day - ledger.stage_days.first_day
    for (place_id, stage), trees in ledger.occupants.items():
        comfortable = weights.comfortable_share * ledger.season.places[place_id].area_m2
        over = max(0.0, sum(tree.footprint_m2 for tree in trees) - comfortable)
        if not ledger.shelter_of(place_id).open_air:
            total += over * float(days[stage].mean())
    return weights.crowding_per_m2_day * total


def place_uses(ledger: Ledger) -> tuple[PlaceUse, ...]:
    """How full every occupied place is in every stage."""
    fullest = ledger.season.site.weights.fullest_share
    uses = []
    for place_id, place in ledger.season.places.items():
        for stage in range(len(ledger.stages)):
            trees = ledger.occupants.get((place_id, stage), ())
            if trees:
                area = sum(tree.footprint_m2 for tree in trees)
                share = area / (fullest * place.area_m2)
                load = sum(tree.weight_kg for tree in trees)
                uses.append(PlaceUse(place_id, stage, len(trees), area, share, load))
    return tuple(uses)
