"""One figure for what a plan costs, wherever it is shown: that of its audit."""

from dataclasses import replace

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport, Rule
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Costs, Plan
from overwinter.model.season import Season
from overwinter.model.start import Start


def judged(
    season: Season, conditions: Conditions, plan: Plan, start: Start | None = None
) -> tuple[Plan, AuditReport]:
    """A plan beside its audit, with the risk the audit finds where that alone is in question.

    The search lets a tree take on the cold of its new place at once; the audit lets it bring its
    warmth along. Where many tender trees go out on one day, that is more than the audit lets pass
    as rounding, and the audit's figure is the true one.
    """
    report = audit(season, conditions, plan, start)
    if {finding.rule for finding in report.findings} == {Rule.COSTS}:
        plan = risk_as_found(plan, report)
        report = audit(season, conditions, plan, start)
    return plan, report


def as_audited(plan: Plan, report: AuditReport) -> Plan:
    """The plan with the costs its audit found, unless the audit refuses it.

    The search follows trees by days, the audit by the hour, so their risks differ a little.
    """
    return _told_at(plan, report.costs) if report.passed else plan


def risk_as_found(plan: Plan, report: AuditReport) -> Plan:
    """The plan with its cold-tail risk as the audit found it on the trees' true paths."""
    return _told_at(plan, replace(plan.costs, risk=report.costs.risk))


def _told_at(plan: Plan, costs: Costs) -> Plan:
    """What is proven is never told nearer than the search has shown it.

    The program prices risk with the hardening a tree can have at most, so never too high: its bound
    stays a bound, and what the costs are more widens the gap.
    """
    proof = replace(plan.proof, objective=costs.total)
    if plan.proof.bound is not None:
        apart = max(max(costs.total, plan.proof.objective) - plan.proof.bound, 0.0)
        gap = apart / max(abs(costs.total), 1e-9)
        proof = replace(proof, bound=costs.total - apart, gap=gap)
    return replace(plan, costs=costs, proof=proof)
