"""The plan and its audited figures as plain values, for ``--json``. Units are in the names."""

from overwinter.audit.report import AuditReport, TreeMargin
from overwinter.model.plan import Plan
from overwinter.model.season import Season


def plan_json(season: Season, plan: Plan, report: AuditReport) -> dict[str, object]:
    """What a script asks first; the whole plan is in plan.json."""
    proof = plan.proof
    return {
        "site": season.site.name,
        "starts": season.site.starts.isoformat(),
        "ends": season.site.ends.isoformat(),
        "trees_placed": len(plan.stays),
        "trees_left_out": [left.tree_id for left in plan.left_out],
        "trees_not_home": {one.tree_id: one.why.value for one in report.away},
        "audit_passed": report.passed,
        "currency": season.site.currency,
        "costs": _costs(report),
        "proof": {
            "solver": proof.solver,
            "termination": proof.termination,
            "objective": proof.objective,
            "bound": proof.bound,
            "gap": proof.gap,
            "seconds": proof.seconds,
            "rounds": proof.rounds,
        },
        "carry_days": [day.isoformat() for day in plan.carry_days],
        "carries": [
            {
                "day": carry.day.isoformat(),
                "tree": carry.tree_id,
                "from": carry.source,
                "to": carry.target,
            }
            for carry in plan.carries
        ],
        "heat": [
            {
                "shelter": use.shelter_id,
                "spell": use.spell,
                "setting": use.setting,
                "delivered_kwh": use.delivered_kwh,
                "purchased_kwh": use.purchased_kwh,
                "money": use.money,
            }
            for use in report.heat
        ],
        "margins": {tree_id: _margin(one) for tree_id, one in report.margins.items()},
    }


def _costs(report: AuditReport) -> dict[str, float]:
    costs = report.costs
    return {
        "heat": costs.heat,
        "crowding": costs.crowding,
        "rodents": costs.rodents,
        "carries": costs.carries,
        "carry_days": costs.carry_days,
        "risk": costs.risk,
        "not_home": costs.not_home,
        "disturbance": costs.disturbance,
        "total": costs.total,
    }


def _margin(margin: TreeMargin) -> dict[str, object]:
    return {
        "root_spare_k": margin.root_spare_k,
        "root_min_c": margin.root_min_c,
        "root_floor_c": margin.root_floor_c,
        "root_when": margin.root_when.isoformat(),
        "root_where": margin.root_where,
        "air_spare_k": margin.air_spare_k,
        "light_ratio": margin.light_ratio,
        "chill_earned": margin.chill_earned,
        "chill_owed": margin.chill_owed,
        "chill_unit": margin.chill_unit,
    }
