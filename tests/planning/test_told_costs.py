"""A plan is told at the costs of its audit, and no nearer to the best than the search has shown."""

from dataclasses import replace

import pytest
from replan_winters import usual

from overwinter.audit.report import Finding, Rule
from overwinter.model.plan import Costs, Proof
from overwinter.planning.told_costs import as_audited, judged

SAID = Costs(heat=90.0, risk=10.0)
PROOF = Proof("HiGHS", "gap reached", 100.0, 95.0, 0.05, 1.0, 1)


@pytest.mark.parametrize(
    ("risk", "bound", "gap"),
    [
        (10.0, 95.0, 5.0 / 100.0),
        (11.0, 95.0, 6.0 / 101.0),  # dearer than thought: 6 from the bound
        (8.0, 93.0, 5.0 / 98.0),  # cheaper: the search has shown no less than 5
    ],
)
def test_costs_are_those_of_the_audit(risk: float, bound: float, gap: float) -> None:
    """Worked out by hand from a plan said to cost 100 with a bound of 95."""
    _, outcome = usual()
    plan = replace(outcome.plan, costs=SAID, proof=PROOF)
    report = replace(outcome.report, costs=Costs(heat=90.0, risk=risk))
    told = as_audited(plan, report)
    assert told.costs == report.costs
    assert told.proof.objective == 90.0 + risk
    assert (told.proof.bound, told.proof.gap) == pytest.approx((bound, gap))
    unproven = replace(plan, proof=replace(PROOF, bound=None, gap=None))
    assert as_audited(unproven, report).proof.gap is None


def test_a_refused_plan_keeps_what_it_said() -> None:
    """Otherwise the finding on its costs would be gone when it is audited again."""
    _, outcome = usual()
    plan = replace(outcome.plan, costs=SAID, proof=PROOF)
    finding = Finding(Rule.COSTS, None, None, None, 2.0, "EUR", "the plan says 10, recomputed 8")
    report = replace(outcome.report, costs=Costs(heat=90.0, risk=8.0), findings=(finding,))
    assert as_audited(plan, report) == plan


def test_a_risk_of_another_code_takes_the_figure_of_the_audit() -> None:
    """The search has tender trees cold at once when they go out; the audit follows their warmth."""
    season, outcome = usual()
    plan = replace(outcome.plan, costs=replace(outcome.plan.costs, risk=99.0))
    told, report = judged(season, outcome.conditions, plan)
    assert report.passed
    assert told.costs == report.costs == outcome.report.costs


def test_no_other_part_of_the_costs_is_taken_from_the_audit() -> None:
    """A plan that says wrongly what its carries cost stays refused, whatever it says of risk."""
    season, outcome = usual()
    wrong = replace(outcome.plan.costs, risk=99.0, carries=outcome.plan.costs.carries + 1.0)
    report = judged(season, outcome.conditions, replace(outcome.plan, costs=wrong))[1]
    assert [finding.rule for finding in report.findings] == [Rule.COSTS]
