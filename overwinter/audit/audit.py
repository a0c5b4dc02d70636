"""The audit of a whole plan."""

from collections.abc import Callable, Iterator, Mapping

from overwinter.audit.costs import Ledger, costs, heat
from overwinter.audit.report import AuditReport, Finding, Rule
from overwinter.audit.risk import Paths
from overwinter.audit.rules import carrying, heating, numbers, room, standing, structure
from overwinter.model.changes import Start
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions
from overwinter.model.stage import StageDays

Check = Callable[[Ledger], Iterator[Finding]]

STRUCTURE: Mapping[Rule, Check] = {
    Rule.STAGES: structure.stages_in_order,
    Rule.ACCOUNTED: structure.every_tree_once,
    Rule.STAYS: structure.one_place_a_stage,
    Rule.KNOWN_PLACE: structure.known_places,
    Rule.SETTING: structure.known_settings,
}
"""Whoever breaks one of these is no plan; nothing else can be asked of it then."""
CHECKS: Mapping[Rule, Check] = {
    Rule.OPEN: standing.shelters_open,
    Rule.HEADROOM: standing.low_enough,
    Rule.WIDTH: standing.narrow_enough,
    Rule.AREA: room.area_enough,
    Rule.LOAD: room.load_borne,
    Rule.LAYOUT: room.layouts_hold,
    Rule.SPOT: room.spots_kept,
    Rule.QUARANTINE: standing.quarantine_kept,
    Rule.PINNED: standing.pins_kept,
    Rule.FORBIDDEN: standing.bans_kept,
    Rule.SETTING: heating.heaters_work,
    Rule.BREAKER: heating.breakers_hold,
    Rule.THERMOSTAT: heating.thermostats_left_alone,
    Rule.CARRIES: carrying.carries_match,
    Rule.HANDS: carrying.hands_enough,
    Rule.PROOF: numbers.proof_holds,
}


def audit(
    season: Season,
    conditions: Conditions,
    stage_days: StageDays,
    plan: Plan,
    start: Start | None = None,
) -> AuditReport:
    """Check a plan against its season over all winters of the sample.

    The physics (air, roots, hardening, harm) is shared with the plan; no rule, cost or table of
    the program is.

    Parameters
    ----------
    start : what the plan began from; None: not known, so what its fixed stages say is believed.

    Returns
    -------
    AuditReport
        A plan of unsound structure is reported at once, with the other rules unchecked.
    """
    ledger = Ledger(season, conditions, stage_days, plan, start)
    broken = [found for check in STRUCTURE.values() for found in check(ledger)]
    broken += structure.left_out_explained(ledger)
    if broken:
        return AuditReport(tuple(broken), plan.costs, rules_checked=tuple(STRUCTURE))
    paths = Paths(ledger)
    risks = paths.risks()
    uses, bill = heat(ledger)
    found_costs = costs(ledger, bill, risks, paths.safe_days())
    findings = [found for check in CHECKS.values() for found in check(ledger)]
    findings += numbers.chances_small(ledger, risks)
    findings += numbers.costs_agree(ledger, found_costs)
    findings += numbers.left_out_is_dear(ledger)
    order = {rule: number for number, rule in enumerate(Rule)}
    return AuditReport(
        findings=tuple(sorted(findings, key=lambda found: order[found.rule])),
        costs=found_costs,
        bill=bill,
        risks=risks,
        heat=uses,
        uses=room.place_uses(ledger),
        rules_checked=tuple(
            sorted({*STRUCTURE, *CHECKS, Rule.CHANCE, Rule.COSTS}, key=lambda rule: order[rule])
        ),
    )
