"""What each week of waiting for a shelter costs, and shelters that cannot be late."""

from dataclasses import replace
from datetime import date
from functools import cache

import pytest
from made import plain
from replan_cases import GARDEN, SHED, season

from overwinter.audit.audit import audit
from overwinter.model.changes import Changes, Mark, Unmarked
from overwinter.model.season import Season
from overwinter.problems import UserError
from overwinter.render.replan_report import lateness_json, lateness_report
from overwinter.replan.lateness import Lateness, lateness
from overwinter.replan.replan import InForce, Request, Today
from overwinter.search.plan_winter import plan_winter

TODAY, OPENS = date(2026, 11, 2), date(2026, 11, 4)


def waiting() -> Season:
    """The tiny winter whose shed opens on 4 November."""
    plain = season()
    shed = replace(plain.shelter_by_id["shed"], opens=OPENS)
    return replace(plain, shelters=(plain.shelter_by_id["garden"], shed))


def today(changes: Changes | None = None, marks: tuple[Mark, ...] = ()) -> tuple[Today, Request]:
    """The second of November, nothing carried but what is marked."""
    in_force = InForce(plan_winter(waiting()).plan, Changes(), marks)
    request = Request(TODAY, changes or Changes(), Unmarked.NOT_DONE)
    return Today(waiting(), in_force, request), request


@cache
def weeks() -> Lateness:
    """Week by week."""
    return lateness(*today(), "shed")


def test_every_day_is_a_plan_that_the_audit_passes() -> None:
    """Six weeks and not at all, each over the same winters from the same day."""
    found = weeks()
    assert [late.opens for late in found.days][:2] == [OPENS, date(2026, 11, 11)]
    assert found.days[-1].opens is None
    assert len(found.days) == 8
    for late in found.days:
        assert late.outcome.report.passed, late.outcome.report.findings


def test_later_is_not_cheaper() -> None:
    """Not by a cent; and never to open costs a good deal here, as olive and elms stand no winter in
    the garden."""
    totals = [late.costs.total for late in weeks().days]
    assert totals == sorted(totals)
    assert totals[-1] > totals[0] * 1.05


def test_the_plan_of_a_later_week_serves_the_earlier() -> None:
    """It breaks no rule where the shed opens early and is left empty, and costs the same."""
    early, late = (weeks().days[number].outcome for number in (0, 3))
    report = audit(early.season, late.conditions, late.stage_days, late.plan)
    assert report.passed, report.findings
    assert report.costs.total == pytest.approx(late.report.costs.total)


def test_sums_add_up() -> None:
    """Heat, losses, carries and the rest are the whole, in money and in what is told."""
    told = lateness_json(weeks())
    days = told["days"]
    assert isinstance(days, list)
    for day, late in zip(days, weeks().days, strict=True):
        parts = [day[part] for part in ("heat", "losses", "carries", "other")]
        assert sum(parts) == pytest.approx(day["in all"])
        assert day["in all"] == pytest.approx(late.costs.total - weeks().days[0].costs.total)
    text = plain(lateness_report(weeks()))
    assert "not at all" in text
    assert all(len(line) <= 80 for line in text.splitlines())


def test_a_shelter_with_trees_in_it_cannot_be_late() -> None:
    """It is asked whether it closes."""
    marks = (Mark(date(2026, 11, 2), "Olive", SHED),)
    day, request = today(marks=marks)
    with pytest.raises(UserError, match=r"trees stand in it.*Olive.*--closes"):
        lateness(day, request, "shed")


def test_a_shelter_that_is_open_cannot_be_late() -> None:
    """Nothing says when it opens."""
    with pytest.raises(UserError, match="is open"):
        lateness(*today(), GARDEN.split("/")[0])
