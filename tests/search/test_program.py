"""The relaxation: no bound above a plan, two solvers alike; and programmes that keep their rule."""

import numpy as np
import pytest
from random_winters import random_problem, random_season, random_settings

from overwinter.audit.audit import audit
from overwinter.model.start import start_of_season
from overwinter.search.bound import Bound
from overwinter.search.heating import Heating, heat_money, within_breakers
from overwinter.search.options import PlanOptions
from overwinter.search.placement import Placement
from overwinter.search.plan_winter import plan_winter
from overwinter.search.problem import Problem
from overwinter.search.program import build
from overwinter.search.whole_trees import improve, place_all
from overwinter.solvers.choose import make_adapter, run_adapter
from overwinter.solvers.report import SolverSettings

SEEDS = range(5)


@pytest.fixture(scope="module", params=SEEDS)
def problem(request: pytest.FixtureRequest) -> Problem:
    """One of five random winters."""
    return random_problem(request.param)


def relaxed(problem: Problem, solver: str) -> float:
    """Objective of the linear relaxation."""
    adapter = make_adapter(solver, SolverSettings(relax=True, threads=1, time_limit_s=20.0))
    report = run_adapter(build(problem).lp, adapter)
    assert report.objective is not None
    return report.objective


def test_no_placement_costs_less_than_the_bound(problem: Problem) -> None:
    rng = np.random.default_rng(1)
    bound = Bound(problem, "highs", 1)
    likely = bound.begin(20.0)
    assert bound.value is not None
    for number in range(12):
        settings = random_settings(problem, rng) if number else likely
        if within_breakers(problem, settings):
            placement = Placement(problem, settings)
            place_all(placement)
            improve(placement, number, lambda: True, 20)
            money = placement.total() + heat_money(problem, settings)
            assert bound.value <= money + 1e-6


def test_dividing_only_raises_the_bound_and_keeps_it_true(problem: Problem) -> None:
    heating = Heating(problem)
    bound = Bound(problem, "highs", 1)
    heating.offer(bound.begin(20.0))
    heating.search(lambda: True)
    for _ in range(4):
        before = bound.value
        for settings in bound.divide(np.inf, lambda: 20.0):
            heating.offer(settings)
        assert before is not None
        assert bound.value is not None
        assert before - 1e-6 <= bound.value <= heating.money + 1e-6


def test_two_solvers_agree_on_the_relaxation(problem: Problem) -> None:
    assert relaxed(problem, "highs") == pytest.approx(relaxed(problem, "cbc"), rel=1e-5)


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
            assert way.money == pytest.approx(heat_money(problem, {shelter_id: way.settings}))
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
