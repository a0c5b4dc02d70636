"""The plan and its audited figures for scripts: as JSON, and as placements.csv."""

import csv
import io
from dataclasses import asdict
from datetime import timedelta

from overwinter.audit.report import AuditReport, TreeRisk, deciding_limits
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.stage import Stage
from overwinter.render.table import no_formula
from overwinter.render.words import sign_words
from overwinter.shelters.heater import setting_label

HEADINGS = (
    "tree",
    "species",
    "stage",
    "stage_usually_begins",
    "stage_usually_ends",
    "shelter",
    "place",
    "place_id",
    "heater_setting",
)


def placements_text(season: Season, plan: Plan) -> str:
    """Rows in the order of the tree list, then of the stages, which are counted from 1; the end
    is the usual last day.

    A tree that has not joined yet, or has no place, has no rows for that time.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADINGS)
    for tree in season.trees:
        for stage, place_id in zip(plan.stages, plan.stays.get(tree.id, ()), strict=False):
            if place_id is None:
                continue
            place = season.places[place_id]
            settings = plan.settings.get(place.shelter_id, ())
            writer.writerow(
                (
                    no_formula(tree.name),
                    no_formula(tree.species_key),
                    stage.index + 1,
                    stage.usual.isoformat(),
                    (stage.until - timedelta(days=1)).isoformat(),
                    no_formula(season.shelter_by_id[place.shelter_id].name),
                    no_formula(place.name),
                    no_formula(place_id),
                    setting_label(settings[stage.index], season.site.display)
                    if stage.index < len(settings)
                    else "",
                )
            )
    return out.getvalue()


def plan_json(season: Season, plan: Plan, report: AuditReport) -> dict[str, object]:
    """What a script asks first; the whole plan is in plan.json. Stages are counted from 0."""
    bill, display = report.bill, season.site.display
    return {
        "site": season.site.name,
        "starts": season.site.starts.isoformat(),
        "ends": season.site.ends.isoformat(),
        "trees_placed": len(plan.stays),
        "trees_not_safe": list(plan.unsafe),
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
