"""The integer program against trying every plan, on small random winters."""

import pytest
from tiny import best_by_enumeration, random_data

from overwinter.planning.costs import carries_of, placement_costs
from overwinter.program.build import build
from overwinter.program.read_back import read_back
from overwinter.solvers.choose import solve
from overwinter.solvers.report import Termination

SOLVER_MONEY = 1e-4
"""Solvers keep rows to 1e-6 each; over a winter's rows that is less than this in money."""


def answer(seed: int, solver: str, **sizes: int) -> tuple[float | None, float]:
    """Money by the program (None: no plan) and by enumeration."""
    data = random_data(seed, **sizes)
    best = best_by_enumeration(data)
    if any(not data.suitability.allowed[g.index].any(axis=0).all() for g in data.groups):
        # a tree without any place in a spell never reaches the program
        assert best.plans == 0
        return None, best.money
    model = build(data)
    report = solve(model.problem, solver=solver, gap=0.0)
    if report.termination in (Termination.INFEASIBLE, Termination.INFEASIBLE_OR_UNBOUNDED):
        return None, best.money
    placement = read_back(model)
    costs = placement_costs(data, placement, carries_of(data.season, data, placement))
    assert report.objective == pytest.approx(costs.total, abs=SOLVER_MONEY)
    return costs.total, best.money


@pytest.mark.parametrize("block", range(10))
def test_program_finds_the_best_plan_of_two_spells(block: int) -> None:
    """200 winters of three trees, four places and two spells: same money as enumeration."""
    solved = 0
    for seed in range(block * 20, block * 20 + 20):
        money, best = answer(seed, "highs")
        if money is None:
            assert best == float("inf"), seed
        else:
            solved += 1
            assert money == pytest.approx(best, abs=SOLVER_MONEY), seed
    assert solved >= 2


def test_program_finds_the_best_plan_of_three_spells() -> None:
    """Two trees over three spells: a path may leave a place and come back."""
    for seed in range(1000, 1030):
        money, best = answer(seed, "highs", trees=2, spell_count=3)
        assert (money if money is not None else float("inf")) == pytest.approx(
            best, abs=SOLVER_MONEY
        ), seed


def test_cbc_agrees() -> None:
    """The second solver finds the same money."""
    for seed in range(15):
        money, best = answer(seed, "cbc")
        assert (money if money is not None else float("inf")) == pytest.approx(
            best, abs=SOLVER_MONEY
        ), seed
