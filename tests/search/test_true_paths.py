"""Trees on other ways by their true paths: the audit, which shares no code, finds the gain."""

from dataclasses import replace
from pathlib import Path

import pytest

from overwinter.files.season import read_season
from overwinter.search import plan_winter as search
from overwinter.search.plan_winter import Outcome, plan_winter

BALCONY = Path(__file__).parents[2] / "scenarios" / "balcony-and-cellar"


def carries(outcome: Outcome) -> int:
    return sum(carry.source is not None for carry in outcome.plan.carries)


@pytest.mark.parametrize("most_chance", [0.01, 0.02])
def test_trees_that_no_place_keeps_safe(
    most_chance: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of them the table knows least."""
    season = read_season(BALCONY)
    weights = replace(season.site.weights, most_chance=most_chance)
    season = replace(season, site=replace(season.site, weights=weights))
    after = plan_winter(season)
    monkeypatch.setattr(search, "improve", lambda *_: False)
    before = plan_winter(season)
    assert after.report.passed
    cheaper = after.report.costs.total < before.report.costs.total - 1.0
    assert cheaper or len(after.plan.unsafe) < len(before.plan.unsafe)
    assert carries(after) <= carries(before)
    assert set(after.plan.stays) == set(before.plan.stays)
    assert set(after.plan.unsafe) <= set(before.plan.unsafe)
