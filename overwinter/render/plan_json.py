"""The plan and its audited figures as plain values, for ``--json``. Units are in the names."""

from dataclasses import asdict

from overwinter.audit.deciding import deciding_limits
from overwinter.audit.report import AuditReport, TreeRisk
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.stage import Stage
from overwinter.render.stage_words import sign_words
from overwinter.shelters.heater import setting_label


def plan_json(season: Season, plan: Plan, report: AuditReport) -> dict[str, object]:
    """What a script asks first; the whole plan is in plan.json. Stages are counted from 0."""
    bill, display = report.bill, season.site.display
    return {
        "site": season.site.name,
        "starts": season.site.starts.isoformat(),
        "ends": season.site.ends.isoformat(),
        "trees_placed": len(plan.stays),
        "trees_left_out": [left.tree_id for left in plan.left_out],
        "audit_passed": report.passed,
        "currency": season.site.currency,
        "bill": {"mean": bill.mean, "percentile_10": bill.low, "percentile_90": bill.high},
        "costs": {**asdict(report.costs), "worry": report.costs.worry, "total": report.costs.total},
        "expected_loss": report.expected_loss,
        "proof": asdict(plan.proof),
        "stages": [_stage(season, stage) for stage in plan.stages],
        "carries": [
            {
                "stage": carry.stage,
                "usual_day": carry.day.isoformat(),
                "tree": carry.tree_id,
                "from": carry.source,
                "to": carry.target,
            }
            for carry in plan.carries
        ],
        "heat": [
            {
                "shelter": use.shelter_id,
                "stage": use.stage,
                "setting": setting_label(plan.settings[use.shelter_id][use.stage], display),
                "purchased_kwh": use.purchased_kwh,
                "purchased_kwh_from": use.from_kwh,
                "purchased_kwh_to": use.to_kwh,
                "money": use.money,
            }
            for use in report.heat
        ],
        "limits_that_decide": [
            {
                "species": one.species_key,
                "limit": one.name,
                "value": one.value,
                "known": one.known.value,
                "standing": one.source.standing.value,
                "source": one.source.text,
                "off_by": one.source.off_by,
                "trees": one.trees,
                "loss": one.loss,
                "at_stake": one.at_stake,
            }
            for one in deciding_limits(season, report)
        ],
        "risks": {tree_id: _risk(one) for tree_id, one in report.risks.items()},
    }


def _stage(season: Season, stage: Stage) -> dict[str, object]:
    return {
        "sign": stage.sign.value,
        "threshold_c": stage.threshold_c,
        "words": sign_words(season, stage),
        "percentile_10": stage.early.isoformat(),
        "usual": stage.usual.isoformat(),
        "percentile_90": stage.late.isoformat(),
    }


def _risk(risk: TreeRisk) -> dict[str, object]:
    return {
        "chance": risk.chance,
        "by_harm": {harm.value: share for harm, share in risk.by_harm.items()},
        "by_stage": list(risk.by_stage),
        "loss": risk.loss,
        "coldest_root_c": risk.coldest_root_c,
        "chill_share": risk.chill_share,
        "light_share": risk.light_share,
    }
