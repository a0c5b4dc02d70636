"""Whole re-plans of a small winter, each audited over all winters of its sample."""

from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pytest
from replan_cases import season

from overwinter.api.folder import audited_plan
from overwinter.audit.audit import AT_ONCE, audit, second_sample, stages_in
from overwinter.climate.generator import fresh_winters
from overwinter.model.changes import Changes, Mark, Unmarked
from overwinter.model.plan import Plan, carry_key
from overwinter.model.stage import Sign
from overwinter.problems import UserError
from overwinter.replan.replan import InForce, Replanned, Request, Today, UnmarkedCarries, replan
from overwinter.search.fitting import Fitting
from overwinter.search.options import PlanOptions
from overwinter.search.placement import Placement
from overwinter.search.plan_winter import plan_winter
from overwinter.search.problem import make_problem
from overwinter.simulate.harm_table import Follower

DECEMBER, JANUARY = date(2026, 12, 1), date(2027, 1, 15)


@cache
def planned() -> Plan:
    """The plan before the winter: all four trees into the shed with the first frosts."""
    return plan_winter(season()).plan


def marked() -> tuple[Mark, ...]:
    """What was usually due before December, done on its usual day."""
    due = [one for one in planned().carries if one.day < DECEMBER]
    return tuple(Mark(c.day, c.tree_id, c.target, carry_key(c), assumed=True) for c in due)


def again(
    changes: Changes, today: date = DECEMBER, marks: tuple[Mark, ...] | None = None
) -> Replanned:
    """Plan anew."""
    done = marked() if marks is None else marks
    found = replan(season(), InForce(planned(), Changes(), done), Request(today, changes))
    assert found.outcome.report.passed, found.outcome.report.findings
    return found


def test_without_news_the_plan_is_gone_on_with() -> None:
    """No tree is disturbed, and it costs what it did but for the harm that is past."""
    found = again(Changes())
    assert found.kept
    assert found.comparison.changed == ()
    costs, before = found.outcome.plan.costs, planned().costs
    assert costs.losses <= before.losses * 1.02
    assert costs.total - costs.losses == pytest.approx(before.total - before.losses, rel=0.02)
    assert found.outcome.plan.costs.disturbance == 0.0
    assert found.outcome.plan.other_loss == found.outcome.report.expected_loss
    # the bound holds what is past, as the plan does
    gap = found.outcome.plan.proof.gap
    assert gap is not None
    assert gap <= PlanOptions().gap


def test_what_made_a_tree_not_safe_may_be_past() -> None:
    """Larch and olive come through the rest of the winter; the plan kept says so."""
    plan = replace(planned(), unsafe=("Larch", "Olive"))
    found = replan(season(), InForce(plan, Changes(), marked()), Request(DECEMBER, Changes()))
    assert found.kept
    assert all(found.gone_on.report.risks[tree].lost < 0.05 for tree in plan.unsafe)
    assert found.outcome.plan.unsafe == ()


def test_what_has_happened_stays() -> None:
    """Every tree was where the marks say in every stage that has begun."""
    found = again(Changes(closes={"shed": JANUARY}))
    plan, fixed = found.outcome.plan, found.outcome.plan.fixed_stages
    assert fixed >= 2
    for tree_id, path in planned().stays.items():
        if tree_id in plan.stays:
            assert plan.stays[tree_id][:fixed] == path[:fixed]
    for shelter_id, settings in planned().settings.items():
        assert plan.settings[shelter_id][:fixed] == settings[:fixed]


def test_what_no_longer_holds_is_told() -> None:
    """The plan in force would have trees in a shelter that is shut."""
    found = again(Changes(closes={"shed": JANUARY}))
    assert not found.kept
    assert {one.rule.name for one in found.gone_on.broken} >= {"shelter open"}


def test_a_tree_that_is_gone_leaves_the_others_alone() -> None:
    """The rest goes on as planned."""
    found = again(Changes(gone={"Olive": DECEMBER}))
    assert "Olive" not in found.outcome.plan.stays
    assert found.comparison.changed == ()
    read_again = audited_plan(found.outcome.season, found.outcome.plan)
    assert read_again.report.costs == found.outcome.report.costs


def test_a_broken_heater_is_off_from_today() -> None:
    """Whether trees are then left out or not."""
    found = again(Changes(broken={("shed", "fan heater"): DECEMBER}))
    plan = found.outcome.plan
    assert all(setting.is_off for setting in plan.settings["shed"][plan.fixed_stages :])


def test_a_place_that_empties_at_once_is_drawn_empty() -> None:
    """Who leaves it today is not drawn there today, be it used again later."""
    today = Today(season(), InForce(planned(), Changes(), marked()), Request(DECEMBER, Changes()))
    facts = today.facts(Changes())
    follower = Follower(facts.season, facts.conditions)
    problem = make_problem(facts.season, facts.conditions, follower, facts.stage_days, facts.start)
    placement = Placement(problem, {h: ways[0].settings for h, ways in problem.programmes.items()})
    garden, shed = placement.at["garden/bench"], placement.at["shed/bench"]
    olive = next(g for g, group in enumerate(problem.groups) if group.tree.id == "Olive")
    (tree,) = placement.trees_of(olive)
    path = np.full(problem.stages, shed)
    path[0] = path[problem.first] = garden
    placement.put(tree, path)
    assert problem.groups[olive].start[-1] == "shed/bench"
    layouts, _ = Fitting(problem).lay_out(placement)
    for k, drawn in layouts["shed/bench"].items():
        assert [one.tree_id for one in drawn] == ["Olive"] * int(path[k] == shed), k


def test_a_tree_put_elsewhere_is_planned_from_there() -> None:
    """The larch stands in the garden although it should be in the shed."""
    marks = tuple(
        replace(mark, target="garden/bench") if mark.tree_id == "Larch" else mark
        for mark in marked()
    )
    plan = again(Changes(), marks=marks).outcome.plan
    assert plan.stays["Larch"][plan.fixed_stages - 1] == "garden/bench"


def test_due_carries_must_be_spoken_for() -> None:
    """Nothing is assumed unless said; not done means that the sign is still to come."""
    in_force = InForce(planned())
    with pytest.raises(UnmarkedCarries, match="Olive: Garden, Bench to Shed, Bench"):
        replan(season(), in_force, Request(DECEMBER, Changes()))
    done = replan(season(), in_force, Request(DECEMBER, Changes(), Unmarked.DONE))
    assert {mark.assumed for mark in done.assumed} == {True}
    assert len(done.assumed) == len(marked())
    waiting = replan(season(), in_force, Request(DECEMBER, Changes(), Unmarked.NOT_DONE))
    assert waiting.outcome.plan.fixed_stages == 1
    first = next(s for s in planned().stages if s.sign is Sign.COLD_NIGHT)
    ahead = waiting.outcome.plan.stages[2:]
    assert first.threshold_c in {s.threshold_c for s in ahead if s.sign is Sign.COLD_NIGHT}


def test_a_second_time_starts_from_the_first() -> None:
    """What was planned anew in December is a fact in January."""
    first = again(Changes())
    second = replan(
        season(),
        InForce(first.outcome.plan, Changes(), marked()),
        Request(JANUARY, Changes(), Unmarked.DONE),
    )
    assert second.outcome.report.passed
    plan = second.outcome.plan
    assert plan.fixed_stages > first.outcome.plan.fixed_stages
    assert plan.stages[plan.fixed_stages].usual == JANUARY
    assert sum(s.usual == DECEMBER and s.sign is Sign.CALENDAR for s in plan.stages) == 1
    with pytest.raises(UserError, match="settled"):
        replan(season(), InForce(plan, Changes(), marked()), Request(date(2026, 11, 20), Changes()))


@pytest.mark.parametrize("day", [date(2026, 11, 1), date(2026, 6, 1), date(2027, 4, 1)])
def test_a_day_outside_the_winter(day: date) -> None:
    """Refused before any work."""
    with pytest.raises(UserError, match="not in this winter"):
        replan(season(), InForce(planned()), Request(day, Changes()))


def test_places_that_the_inputs_no_longer_have() -> None:
    """Named, with what to do."""
    lost = (Mark(date(2026, 11, 3), "Larch", "attic/floor"),)
    with pytest.raises(UserError, match="attic/floor"):
        replan(season(), InForce(planned(), Changes(), lost), Request(DECEMBER, Changes()))


def test_a_plan_of_mid_winter_meets_winters_it_was_not_made_from() -> None:
    """Its own winters, followed as if they were others, do to it what the audit says: the same
    stages, on the same days, after one re-plan and after two. Risks told then are of others."""
    drawn = replace(season(), winters=fresh_winters(season(), 6, season().site.seed))
    in_force = InForce(plan_winter(drawn).plan)
    for today in (DECEMBER, JANUARY):
        made = replan(drawn, in_force, Request(today, Changes(), Unmarked.DONE))
        found = made.outcome
        in_force = InForce(found.plan, Changes(), (*in_force.marks, *made.assumed))
        assert found.plan.fixed_stages > 0
        assert found.report.unseen == AT_ONCE
        minima, seed = found.conditions.outdoor_min_c, drawn.site.seed
        days = stages_in(found.season, found.plan, minima, seed)
        assert (days.first_day == found.stage_days.first_day).all()
        own = audit(found.season, found.conditions, found.stage_days, found.plan)
        same = second_sample(found.season, found.plan, 6, seed)
        assert dict(same.chances) == pytest.approx(
            {t: r.chance for t, r in own.risks.items()}, rel=1e-4
        )
        other = {tree_id: risk.chance for tree_id, risk in found.report.risks.items()}
        assert other != pytest.approx(dict(same.chances), rel=1e-2)
