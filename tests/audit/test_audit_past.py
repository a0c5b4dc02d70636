"""Plans made anew in mid-winter, broken heaters, and what short spells are judged by."""

from dataclasses import replace

import pytest
from audit_season import (
    FROST,
    HEATED,
    HOLD,
    HOME,
    SHED,
    SITE,
    THAW,
    good,
    make_conditions,
    make_plan,
    make_season,
    make_tree,
)

from overwinter.audit import AuditReport, Rule, audit
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season


def rules(report: AuditReport) -> set[Rule]:
    """Rules a report finds broken, costs aside."""
    return {finding.rule for finding in report.findings} - {Rule.COSTS}


def frost_without_heat() -> tuple[Season, Conditions, Plan]:
    """Roots at -8 through the frost, 1 K under their working floor, then mild again."""
    season = make_season(make_tree("ash"))
    return season, make_conditions(), make_plan({"ash": (HOME, "shed/bench", HOME)})


def test_what_has_happened_is_told_but_does_not_refuse() -> None:
    """Cold roots before the day the plan was made anew are facts of the past, not findings."""
    season, conditions, plan = frost_without_heat()
    assert rules(audit(season, conditions, plan)) == {Rule.ROOTS}
    anew = audit(season, conditions, replace(plan, fixed_until=THAW))
    assert rules(anew) == set()
    assert {finding.rule for finding in anew.past} == {Rule.ROOTS}


def test_what_is_still_to_come_is_no_past() -> None:
    """The same cold in a spell that is still free refuses the plan as ever."""
    season, conditions, plan = frost_without_heat()
    report = audit(season, conditions, replace(plan, fixed_until=FROST))
    assert rules(report) == {Rule.ROOTS}
    assert report.past == ()


def test_a_past_told_wrong_is_refused() -> None:
    """Carries that do not match the stays are refused in the past too."""
    season, conditions, plan = good()
    wrong = replace(plan, carries=plan.carries[1:], fixed_until=THAW)
    assert rules(audit(season, conditions, wrong)) == {Rule.CARRIES}


@pytest.mark.parametrize(
    ("after", "days"), [(FROST, 10.0), (THAW.replace(day=20), 1.0), (THAW, None)]
)
def test_setting_of_a_broken_heater(after: object, days: float | None) -> None:
    """A spell that relies on a heater broken on any of its ten days is refused, by those days."""
    season, conditions, plan = good()
    radiator = replace(SHED.heaters[0], broken_from=after)
    shelters = tuple(
        replace(shelter, heaters=(radiator,)) if shelter.id == "shed" else shelter
        for shelter in season.shelters
    )
    shed = conditions.shelters["shed"]
    named = tuple(
        replace(setting, heaters=(radiator.name,)) if setting == HOLD else setting
        for setting in shed.settings
    )
    conditions = replace(
        conditions, shelters={**conditions.shelters, "shed": replace(shed, settings=named)}
    )
    found = audit(replace(season, shelters=shelters), conditions, plan).findings
    assert [(f.rule, f.by_how_much) for f in found] == (
        [] if days is None else [(Rule.HOLDS, days)]
    )


def test_short_spells_are_judged_by_the_longest() -> None:
    """Rest in the frost judged over 14 days: four at 7.6 and ten at 5 degC, mean 80.4/14.

    The setting counts as if it had been held; the ceiling is 4, outdoors is colder.
    """
    site = replace(SITE, longest_spell_days=14)
    season = make_season(make_tree("ash", rest_ceiling_c=4.0), site=site)
    plan = make_plan({"ash": (HOME, "shed/bench", HOME)}, HEATED)
    found = [f for f in audit(season, make_conditions(), plan).findings if f.rule is Rule.REST]
    in_frost = next(finding for finding in found if finding.spell == 1)
    assert in_frost.by_how_much == pytest.approx((4 * 7.6 + 10 * 5.0) / 14 - 4.0)
