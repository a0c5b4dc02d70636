"""What a solver hands back is checked before anyone may act on it."""

import numpy as np
import pulp
import pytest

from overwinter.solvers.arrays import read_problem
from overwinter.solvers.report import SolverFailed, SolverReport, Termination, relative_gap
from overwinter.solvers.settle import Outcome, settle


def problem_and_report(
    outcome: Outcome,
    *,
    start: list[float] | None = None,
    sense: int = pulp.LpMinimize,
    cutoff: float | None = None,
) -> tuple[pulp.LpProblem, SolverReport]:
    """x whole, y not, both 0 to 10; x + y >= 3.5; objective 2x + y + 100."""
    problem = pulp.LpProblem("settle", sense)
    x = problem.add_variable("x", 0, 10, cat=pulp.LpInteger)
    y = problem.add_variable("y", 0, 10)
    problem.setObjective(2 * x + y + 100)
    problem.addConstraint(x + y >= 3.5)
    arrays = read_problem(problem)
    given = None if start is None else np.array(start)
    report = settle(
        problem, arrays, outcome, solver="Some", seconds=1.0, start=given, cutoff=cutoff
    )
    return problem, report


def outcome(
    values: list[float] | None,
    *,
    bound: float | None = None,
    termination: Termination = Termination.OPTIMAL,
) -> Outcome:
    found = None if values is None else np.array(values)
    return Outcome(termination=termination, values=found, bound=bound, version="1")


def test_nearly_whole_is_made_whole() -> None:
    # 1e-7 off is rounding; the objective is that of the values handed back.
    problem, report = problem_and_report(outcome([0.9999999, 2.5000001], bound=104.0))
    assert [v.varValue for v in problem.variables()] == [1.0, 2.5000001]
    assert report.objective == pytest.approx(104.5000001, abs=1e-12)
    assert report.termination is Termination.GAP_REACHED


def test_half_a_tree_is_no_plan() -> None:
    # A fraction must not be rounded in silence.
    with pytest.raises(SolverFailed, match=r"0\.4 off a whole number"):
        problem_and_report(outcome([1.4, 3.0], bound=1.0))


def test_a_broken_row_is_no_plan() -> None:
    # 1 + 2 is less than 3.5.
    with pytest.raises(SolverFailed, match="break a row"):
        problem_and_report(outcome([1.0, 2.0], bound=1.0))


def test_a_broken_bound_is_no_plan() -> None:
    # y is at most 10; drawn back to it, the row breaks.
    with pytest.raises(SolverFailed, match="break a row"):
        problem_and_report(outcome([0.0, 3.4], bound=1.0))


def test_a_bound_beyond_the_answer_is_a_contradiction() -> None:
    # Nothing below 110 is said to exist, and here is 103.5.
    with pytest.raises(SolverFailed, match="Do not trust it"):
        problem_and_report(outcome([0.0, 3.5], bound=110.0))


def test_a_bound_beyond_by_rounding_is_drawn_back() -> None:
    # A negative gap is never shown.
    _, report = problem_and_report(outcome([0.0, 3.5], bound=103.5 + 1e-7))
    assert report.gap == 0.0
    assert report.bound == report.objective == 103.5


def test_infeasible_with_a_good_start_is_a_contradiction() -> None:
    # The start keeps every row, so the solver is wrong.
    with pytest.raises(SolverFailed, match="an answer exists"):
        problem_and_report(outcome(None, termination=Termination.INFEASIBLE), start=[4.0, 0.0])


def test_the_better_of_start_and_answer_is_kept() -> None:
    # Start costs 103.5, the answer 107.
    found = outcome([3.0, 1.0], bound=100.0, termination=Termination.TIME_LIMIT)
    _, report = problem_and_report(found, start=[0.0, 3.5])
    assert report.objective == 103.5
    assert report.start_taken is True
    assert report.termination is Termination.TIME_LIMIT
    assert not report.proven


def test_the_start_is_the_answer_when_the_solver_has_none() -> None:
    # Out of time before the first plan.
    nothing = outcome(None, termination=Termination.TIME_LIMIT)
    problem, report = problem_and_report(nothing, start=[0.0, 3.5])
    assert (report.objective, report.bound, report.gap) == (103.5, None, None)
    assert [v.varValue for v in problem.variables()] == [0.0, 3.5]


@pytest.mark.parametrize("start", [[0.5, 3.5], [0.0, 1.0], [0.0, float("nan")], [0.0, 11.0]])
def test_a_start_that_breaks_something_is_never_the_answer(start: list[float]) -> None:
    # Not whole; a row; a gap; a bound.
    nothing = outcome(None, termination=Termination.TIME_LIMIT)
    problem, report = problem_and_report(nothing, start=start)
    assert report.start_taken is False
    assert not report.has_solution
    assert [v.varValue for v in problem.variables()] == [None, None]


def test_infeasible_or_unbounded_is_decided_by_the_bounds() -> None:
    # Both variables end somewhere, so the objective cannot fall for ever.
    unclear = outcome(None, termination=Termination.INFEASIBLE_OR_UNBOUNDED)
    assert problem_and_report(unclear)[1].termination is Termination.INFEASIBLE


def test_most_turns_bound_and_gap_round() -> None:
    # In least-cost form: answer -107, bound -110 of the most 2x + y + 100.
    _, report = problem_and_report(outcome([2.0, 3.0], bound=-110.0), sense=pulp.LpMaximize)
    assert (report.objective, report.bound) == (107.0, 110.0)
    assert report.gap == pytest.approx(3.0 / 107.0)


@pytest.mark.parametrize(
    ("objective", "bound", "sense", "gap"),
    [
        (100.0, 99.0, 1, 0.01),
        (100.0, 101.0, -1, 0.01),
        (-100.0, -101.0, 1, 0.01),
        (0.0, -1.0, 1, 1e9),  # nothing to compare with: huge, never a division by zero
        (5.0, 5.0 + 1e-12, 1, 0.0),
    ],
)
def test_relative_gap(objective: float, bound: float, sense: int, gap: float) -> None:
    # By its definition, worked by hand.
    assert relative_gap(objective, bound, sense=sense) == pytest.approx(gap)


def test_an_answer_beyond_the_cutoff_is_none() -> None:
    """2x + y + 100 with x = 1, y = 2.5 costs 104.5: within 105, not within 104."""
    found = outcome([1.0, 2.5], bound=104.5)
    _, within = problem_and_report(found, cutoff=105.0)
    assert (within.objective, within.termination) == (104.5, Termination.OPTIMAL)
    problem, beyond = problem_and_report(found, cutoff=104.0)
    assert not beyond.has_solution
    # a search that did not look beyond 104 proves no more than that
    assert (beyond.bound, beyond.termination) == (104.0, Termination.INFEASIBLE)
    assert {v.varValue for v in problem.variables()} == {None}


def test_a_search_stopped_below_the_cutoff_proves_what_it_has() -> None:
    found = outcome([1.0, 2.5], bound=103.0, termination=Termination.NODE_LIMIT)
    _, report = problem_and_report(found, cutoff=104.0)
    assert not report.has_solution
    assert (report.bound, report.termination) == (103.0, Termination.NODE_LIMIT)


def test_a_start_beyond_the_cutoff_is_no_answer() -> None:
    nothing = outcome(None, termination=Termination.INFEASIBLE)
    _, report = problem_and_report(nothing, start=[1.0, 2.5], cutoff=104.0)
    assert (report.has_solution, report.termination) == (False, Termination.INFEASIBLE)
