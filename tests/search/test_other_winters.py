"""A plan is at its best in the winters it was made from; what others take is told, too."""

from dataclasses import replace

import pytest
from random_winters import random_season

from overwinter.audit.audit import second_sample
from overwinter.search.plan_winter import plan_winter


def test_a_plan_says_what_as_many_other_winters_take() -> None:
    # Of the next seed; a season of measured winters, which has no normals, has no others.
    season = random_season(3)
    plan = plan_winter(season).plan
    found = second_sample(season, plan, season.winters.count, season.site.seed + 1)
    assert plan.other_loss == pytest.approx(found.expected_loss)
    assert plan_winter(replace(season, recipe=None)).plan.other_loss is None
