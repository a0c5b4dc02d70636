"""The costs of a plan, reckoned again from the plan and the season."""

from collections.abc import Mapping

import numpy as np

from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Bill, TreeRisk
from overwinter.model.plan import Costs
from overwinter.simulate.harm_table import Follower
from overwinter.simulate.kinds import kind_of

AWAY_OUTDOORS = 0.25
"""Price of a day outdoors away from the stand, as a share of one under cover."""


def recomputed(
    ledger: Ledger, follower: Follower, risks: Mapping[str, TreeRisk], bill: Bill
) -> Costs:
    """All parts of the costs, money; what leaving a tree out costs is the plan's own figure."""
    weights = ledger.season.site.weights
    return Costs(
        heat=bill.mean,
        losses=weights.caution * sum(risk.loss for risk in risks.values()),
        carries=_carries(ledger),
        cover=_cover(ledger, follower),
        crowding=_crowding(ledger),
        disturbance=_disturbance(ledger),
        not_home=weights.not_home
        * sum(ledger.plan.stays[t.id][-1] not in (ledger.home(t), None) for t in ledger.placed),
        left_out=ledger.plan.costs.left_out,
    )


def _carries(ledger: Ledger) -> float:
    weights = ledger.season.site.weights
    heavy = {t.id: t.weight_kg >= weights.two_person_kg for t in ledger.season.trees}
    return sum(
        weights.two_person_carry if heavy[carry.tree_id] else weights.carry
        for carry in ledger.plan.carries
        if carry.source is not None
    )


def _disturbance(ledger: Ledger) -> float:
    known = ledger.start.known_targets
    if known is None:
        return 0.0
    new = [
        carry
        for carry in ledger.plan.carries
        if carry.stage >= ledger.start.fixed_stages
        and carry.source is not None
        and carry.target not in known.get(carry.tree_id, frozenset())
    ]
    return ledger.season.site.weights.extra_carry * len(new)


def _cover(ledger: Ledger, follower: Follower) -> float:
    """Days spent away from home that would have been safe there."""
    safe = ~follower.home.unsafe
    stage_of_day = ledger.stage_days.stage_of_day
    spare: dict[tuple[int, int], float] = {}
    total = 0.0
    for tree in ledger.placed:
        kind = follower.kind_index[kind_of(tree)]
        for k, place in enumerate(ledger.plan.stays[tree.id]):
            if place is None or place == ledger.home(tree):
                continue
            if (kind, k) not in spare:
                days = (safe[kind] & (stage_of_day == k)).sum(axis=1)
                spare[kind, k] = float(days.mean())
            share = AWAY_OUTDOORS if ledger.open_air(place) else 1.0
            total += share * spare[kind, k]
    return ledger.season.site.weights.cover_day * total


def _crowding(ledger: Ledger) -> float:
    weights = ledger.season.site.weights
    total = 0.0
    for place, k, trees in ledger.occupied():
        if not ledger.open_air(place.id):
            over = sum(t.footprint_m2 for t in trees) - weights.comfortable_share * place.area_m2
            total += max(0.0, over) * float(ledger.mean_days[k])
    return float(np.float64(weights.crowding_per_m2_day * total))
