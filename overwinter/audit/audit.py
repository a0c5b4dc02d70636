"""The audit of a whole plan."""

from overwinter.audit import checks
from overwinter.audit.costs import recomputed
from overwinter.audit.ledger import Ledger
from overwinter.audit.report import AuditReport, PlaceUse, Rule
from overwinter.audit.risk import heat_of, tree_risks
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Costs, Plan
from overwinter.model.season import Season
from overwinter.model.stage import StageDays
from overwinter.model.start import Start, start_of_season
from overwinter.simulate.harm_table import Follower

STRUCTURE = (Rule.STAGES, Rule.ACCOUNTED, Rule.STAYS, Rule.KNOWN_PLACE, Rule.SETTING)


def audit(
    season: Season,
    conditions: Conditions,
    stage_days: StageDays,
    plan: Plan,
    start: Start | None = None,
) -> AuditReport:
    """Check a plan against its season over all winters.

    The physics (air, roots, hardening, harm) is shared with the plan; no rule, cost or table of
    the program is.

    Parameters
    ----------
    start : of a plan made in mid-winter; by default everything is at its summer stand.

    Returns
    -------
    AuditReport
        A plan of unsound structure is reported at once, with the other rules unchecked.
    """
    ledger = Ledger(season, conditions, stage_days, plan, start or start_of_season(season))
    broken = tuple(checks.structure(ledger))
    if broken:
        return AuditReport(broken, Costs(), rules_checked=STRUCTURE)
    follower = Follower(season, conditions)
    risks = tree_risks(ledger, follower)
    heat, bill = heat_of(ledger)
    true = recomputed(ledger, follower, risks, bill)
    findings = [
        *checks.opened(ledger),
        *checks.standing(ledger),
        *checks.room(ledger),
        *checks.layouts(ledger),
        *checks.quarantine(ledger),
        *checks.chance(ledger, risks),
        *checks.heaters(ledger),
        *checks.carries(ledger),
        *checks.costs(ledger, true),
        *checks.proof(ledger),
    ]
    order = list(Rule)
    return AuditReport(
        findings=tuple(sorted(findings, key=lambda found: order.index(found.rule))),
        costs=true,
        bill=bill,
        risks=risks,
        heat=heat,
        uses=_uses(ledger),
        rules_checked=tuple(Rule),
    )


def _uses(ledger: Ledger) -> tuple[PlaceUse, ...]:
    full = ledger.season.site.weights.fullest_share
    return tuple(
        PlaceUse(
            place_id=place.id,
            stage=k,
            trees=len(trees),
            footprint_m2=sum(t.footprint_m2 for t in trees),
            share=sum(t.footprint_m2 for t in trees) / (full * place.area_m2),
            load_kg=sum(t.weight_kg for t in trees),
        )
        for place, k, trees in ledger.occupied()
    )
