"""A heater that can only be turned up today does not warm a place today (our own rule).

The balcony: on 8 February its kitchen turns out to be shut for a week. The chest beside it, cold
until then, would suit the trees from the kitchen had its lamps burned since yesterday.
"""

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from overwinter.audit.report import Rule
from overwinter.model.changes import Changes
from overwinter.files.season import read_season
from overwinter.planning import replan as replanning
from overwinter.planning.marks import assumed_marks
from overwinter.planning.options import PlanOptions
from overwinter.planning.plan_winter import plan_winter
from overwinter.planning.replan import InForce, Replanned, Request, replan

BALCONY = Path(__file__).parents[2] / "scenarios" / "balcony-and-cellar"
TODAY, REOPENS = date(2027, 2, 8), date(2027, 2, 16)
OPTIONS = PlanOptions(gap=1e-3, layouts=False)


def anew() -> Replanned:
    """The kitchen is shut, everything before has been done."""
    season = read_season(BALCONY)
    plan = plan_winter(season, OPTIONS).plan
    done = assumed_marks([carry for carry in plan.carries if carry.day < TODAY])
    marks = tuple(replace(mark, assumed=False) for mark in done)
    asked = Request(TODAY, Changes(opens={"kitchen": REOPENS}), last_safe_dates=False)
    return replan(season, InForce(plan, Changes(), marks), asked, OPTIONS)


def test_trees_go_where_it_is_warm_already(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the audit refuses of the first answer is no part of the second."""
    monkeypatch.setattr(replanning, "MOST_TRIES", 1)
    first = anew()
    assert {finding.rule for finding in first.report.findings} == {Rule.SWITCHING}
    refused = {(finding.subject, finding.where) for finding in first.report.findings}
    monkeypatch.undo()
    second = anew()
    assert second.report.passed
    spell = next(s.index for s in second.plan.spells if s.start == TODAY)
    there = {(tree_id, path[spell]) for tree_id, path in second.plan.stays.items()}
    assert refused.isdisjoint(there)
