"""A plan is at its best in the winters it was made from; risks are told of others."""

from dataclasses import replace

import pytest
from random_winters import random_season

from overwinter.audit.audit import AT_ONCE, second_sample
from overwinter.search.plan_winter import plan_winter


def test_risks_are_those_of_winters_that_the_plan_was_not_made_from() -> None:
    # Of the next seed; a season of measured winters, which has no normals, has no others.
    season = random_season(3)
    outcome = plan_winter(season)
    plan, report = outcome.plan, outcome.report
    found = second_sample(season, plan, AT_ONCE, season.site.seed + 1)
    assert report.unseen == AT_ONCE
    assert plan.other_loss == report.expected_loss == pytest.approx(found.expected_loss)
    assert {t: risk.chance for t, risk in report.risks.items()} == pytest.approx(found.chances)
    # Costs, on which plans are compared, stay those of the winters it was made from.
    stated = report.costs.losses / season.site.weights.caution
    assert stated == pytest.approx(plan.costs.losses / season.site.weights.caution, rel=0.01)
    assert stated < report.expected_loss
    measured = plan_winter(replace(season, recipe=None))
    assert measured.plan.other_loss is None
    assert measured.report.unseen == 0
    own = measured.report.costs.losses / season.site.weights.caution
    assert measured.report.expected_loss == pytest.approx(own, rel=1e-6)
