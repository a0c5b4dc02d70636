"""The relaxation: no bound above a plan, two solvers alike; and programmes that keep their rule."""

import numpy as np
import pulp
import pytest
from random_winters import random_problem, random_season, random_settings

from overwinter.audit.audit import audit
from overwinter.model.changes import start_of_season
from overwinter.search.bound import Bound
from overwinter.search.heating import warmest, within_breakers
from overwinter.search.options import PlanOptions
from overwinter.search.placement import Placement
from overwinter.search.plan_winter import plan_winter
from overwinter.search.problem import Problem
from overwinter.search.program import build
from overwinter.search.whole_trees import under
from overwinter.solvers.highs import Highs
from overwinter.solvers.report import SolverSettings

SEEDS = range(5)


@pytest.fixture(scope="module", params=SEEDS)
def problem(request: pytest.FixtureRequest) -> Problem:
    """One of five random winters."""
    return random_problem(request.param)


def begun(problem: Problem) -> tuple[Bound, dict[str, tuple[int, ...]]]:
    """The bound after its root, and the programmes that are likely."""
    bound = Bound(build(problem), 1)
    return bound, bound.begin(20.0, warmest(problem))


def placed(problem: Problem, settings: dict[str, tuple[int, ...]]) -> Placement:
    """Whole trees under some programmes."""
    placement = Placement(problem, settings)
    assert under(placement, range(len(problem.groups))).round(placement, lambda: 20.0)
    return placement


def test_no_placement_costs_less_than_the_bound(problem: Problem) -> None:
    rng = np.random.default_rng(1)
    bound, likely = begun(problem)
    assert bound.value is not None
    for number in range(12):
        settings = random_settings(problem, rng) if number else likely
        if within_breakers(problem, settings):
            assert bound.value <= placed(problem, settings).money() + 1e-6


def test_dividing_only_raises_the_bound_and_keeps_it_true(problem: Problem) -> None:
    bound, likely = begun(problem)
    best = placed(problem, likely).money() if within_breakers(problem, likely) else np.inf
    for _ in range(4):
        before = bound.value
        for settings in bound.divide(np.inf, lambda: 20.0):
            if within_breakers(problem, settings):
                best = min(best, placed(problem, settings).money())
        assert before is not None
        assert bound.value is not None
        assert before - 1e-6 <= bound.value <= best + 1e-6


def test_a_program_of_decided_programmes_is_the_open_one_with_x_fixed(problem: Problem) -> None:
    bound, likely = begun(problem)
    ways = {
        h: [w for w in ways if w.settings == likely[h]] for h, ways in problem.programmes.items()
    }
    report = Highs(SolverSettings(relax=True, threads=1)).run(build(problem, ways).lp)
    # the open program takes settings for alike that differ by 2 % of a stage's cost
    assert report.objective == pytest.approx(bound.under(likely, 20.0), rel=0.02)


def test_two_solvers_agree_on_the_relaxation(problem: Problem) -> None:
    lp = build(problem).lp
    report = Highs(SolverSettings(relax=True, threads=1, time_limit_s=20.0)).run(lp)
    lp.solve(pulp.PULP_CBC_CMD(mip=False, msg=False, _skip_v4_deprecation=True))
    assert report.objective == pytest.approx(pulp.value(lp.objective), rel=1e-5)


@pytest.mark.parametrize("changes", [0, 1, 2, 3])
def test_programmes_keep_hands_off_the_thermostat(changes: int) -> None:
    problem = random_problem(3, thermostat_changes=changes)
    for shelter_id, ways in problem.programmes.items():
        assert ways[0].money == 0.0
        assert [way.money for way in ways] == sorted(way.money for way in ways)
        assert len({way.settings for way in ways}) == len(ways)
        for way in ways:
            assert way.settings[0] == 0
            steps = zip(way.settings[1:], way.settings[:-1], strict=True)
            set_to = [now for now, before in steps if now != before]
            # turning it off at the end is not counted
            assert len(set_to) - (set_to[-1:] == [0]) <= changes + 1
            assert way.money == pytest.approx(problem.heat_money({shelter_id: way.settings}))
    assert len(problem.programmes["shed"]) > 1
    assert len(problem.programmes["barn"]) == 1


@pytest.mark.parametrize("seed", [0, 1])
def test_a_plan_of_a_random_winter_is_sound(seed: int) -> None:
    season = random_season(seed)
    outcome = plan_winter(season, PlanOptions(time_limit_s=6.0, threads=1))
    assert outcome.report.findings == ()
    assert outcome.report.passed
    proof, plan = outcome.plan.proof, outcome.plan
    assert proof.bound is not None
    assert proof.bound <= proof.objective + 1e-6
    # The same plan is as sound to an audit that is not told where it began.
    again = audit(season, outcome.conditions, outcome.stage_days, plan, None)
    assert again.passed
    begun = start_of_season(season).stays
    assert all(plan.stays[tree][:1] == begun[tree] for tree in plan.stays)
