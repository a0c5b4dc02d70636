"""Solving again with more rows gives what solving afresh gives."""

import random

import pulp
import pytest
from solver_problems import knapsack, market_split

from overwinter.problems import UserError
from overwinter.solvers.choose import solve
from overwinter.solvers.incremental import IncrementalModel
from overwinter.solvers.report import BadModel, Termination


def chosen(problem: pulp.LpProblem) -> list[pulp.LpVariable]:
    return [v for v in problem.variables() if v.varValue == 1.0]


def test_rows_added_one_by_one_against_solving_afresh(solver: str) -> None:
    # Six rounds of forbidding the set just found; each must cost what a new solve costs.
    model = IncrementalModel(knapsack(rows=4, columns=15), solver=solver)
    seen = []
    for _ in range(6):
        report = model.solve(gap=0.0)
        assert report.termination is Termination.OPTIMAL
        found = chosen(model.problem)
        fresh = solve(model.problem, solver=solver, gap=0.0)
        assert report.objective == fresh.objective
        seen.append(frozenset(v.name for v in found))
        model.add_constraints([pulp.lpSum(found) <= len(found) - 1])
    assert len(set(seen)) == len(seen)


def test_both_solvers_walk_the_same_way() -> None:
    # Random rows, added in two handfuls; the optimum is one whatever finds it.
    ends = []
    for name in ("highs", "cbc"):
        draw = random.Random(5)
        model = IncrementalModel(knapsack(rows=3, columns=20), solver=name)
        objectives = []
        for _ in range(4):
            x = model.problem.variables()
            rows = [pulp.lpDot([draw.randint(0, 9) for _ in x], x) <= 25 for _ in range(3)]
            model.add_constraints(rows)
            objectives.append(model.solve(gap=0.0).objective)
        ends.append(objectives)
    assert ends[0] == ends[1]
    assert ends[0] == sorted(ends[0], reverse=True)  # more rows never give more


def test_changed_bounds_costs_and_variables_are_heeded(solver: str) -> None:
    # Most of 3a + 2b with a + b <= 4, then a <= 1, then b worth 5 and c worth 9 with b + c <= 3.
    problem = pulp.LpProblem("changes", pulp.LpMaximize)
    a, b = (problem.add_variable(n, 0, 9, cat=pulp.LpInteger) for n in ("a", "b"))
    problem.setObjective(3 * a + 2 * b + 10)
    problem.addConstraint(a + b <= 4)
    model = IncrementalModel(problem, solver=solver)
    assert model.solve().objective == 22.0  # 3 * 4 + 10
    a.upBound = 1
    assert model.solve().objective == 19.0  # 3 + 2 * 3 + 10
    problem.setObjective(3 * a + 5 * b)
    assert model.solve().objective == 20.0  # 5 * 4: a gives way
    c = problem.add_variable("c", 0, 9, cat=pulp.LpInteger)
    problem.setObjective(3 * a + 5 * b + 9 * c)
    model.add_constraints([b + c <= 3])
    assert model.solve().objective == 30.0  # 9 * 3 + 3 * 1


def test_the_relaxation_and_the_whole_program_of_one_model(solver: str) -> None:
    # Least x with 2x >= 3: 1.5 in fractions, 2 in whole numbers, 1.5 again.
    problem = pulp.LpProblem("both")
    x = problem.add_variable("x", 0, 9, cat=pulp.LpInteger)
    problem.setObjective(x + 0)
    problem.addConstraint(2 * x >= 3)
    model = IncrementalModel(problem, solver=solver)
    values = [model.solve(relax=relax).objective for relax in (True, False, True)]
    assert values == pytest.approx([1.5, 2.0, 1.5])


def test_an_impossible_row_is_found_at_once_and_named_in_time(solver: str) -> None:
    # Infeasible after a feasible solve: no value of the old answer may be left.
    model = IncrementalModel(knapsack(), solver=solver)
    assert model.solve(gap=0.1).has_solution
    x = model.problem.variables()
    model.add_constraints([pulp.lpSum(x) >= len(x)])
    report = model.solve()
    assert report.termination is Termination.INFEASIBLE
    assert {v.varValue for v in x} == {None}
    model.add_constraints([pulp.lpSum([]) >= 1])
    with pytest.raises(BadModel, match="no variable"):
        model.solve()


def test_the_last_answer_is_the_next_start(solver: str) -> None:
    # A row that the planted answer keeps: it must not be lost, though search would not find it.
    planted = market_split()
    model = IncrementalModel(planted.problem, solver=solver)
    assert model.solve(start=planted.answer, node_limit=5).objective == 1.0
    x = [v for v in planted.problem.variables() if v.name.startswith("x")]
    model.add_constraints([pulp.lpSum(x) <= sum(planted.answer[v.name] for v in x)])
    report = model.solve(node_limit=5)
    assert report.start_taken is True
    assert report.objective == 1.0


def test_a_broken_last_answer_is_mended_where_it_is_broken(solver: str) -> None:
    # x0 must flip; the other whole numbers stay as a start, and some answer is found at once.
    planted = market_split()
    model = IncrementalModel(planted.problem, solver=solver)
    model.solve(start=planted.answer, node_limit=5)
    x0 = next(v for v in planted.problem.variables() if v.name == "x0")
    model.add_constraints([x0 + 0 == 1.0 - planted.answer["x0"]])
    report = model.solve(node_limit=1)
    assert report.has_solution
    assert x0.varValue == 1.0 - planted.answer["x0"]


def test_rows_must_not_vanish() -> None:
    # The kept model would go on obeying a row that the problem no longer has.
    model = IncrementalModel(knapsack(), solver="highs")
    model.solve(gap=0.1)
    model.problem._constraints.popitem()
    with pytest.raises(BadModel, match="taken away"):
        model.solve(gap=0.1)


def test_an_unknown_solver_is_refused_at_once() -> None:
    # Before anything is built on it.
    with pytest.raises(UserError, match="choose auto, highs or cbc"):
        IncrementalModel(knapsack(), solver="other")
