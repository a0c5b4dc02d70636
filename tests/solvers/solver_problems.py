"""Problems whose answers are known by construction."""

import random
from dataclasses import dataclass

import pulp


@dataclass(frozen=True)
class Planted:
    """A problem with its planted best answer, complete by variable name."""

    problem: pulp.LpProblem
    answer: dict[str, float]


def market_split(*, rows: int = 5, columns: int = 40, constant: float = 1.0) -> Planted:
    """Equations that a planted 0/1 point satisfies; the deviation is to be least.

    Any point is allowed, the best costs ``constant``, and no solver gets there by search within
    minutes: the market-split problems of Cornuejols and Dawande (1998), named from memory; the
    numbers are drawn here.
    """
    draw = random.Random(1)
    problem = pulp.LpProblem("split")
    x = [problem.add_variable(f"x{i}", 0, 1, cat=pulp.LpInteger) for i in range(columns)]
    planted = [draw.randint(0, 1) for _ in x]
    answer = {v.name: float(value) for v, value in zip(x, planted, strict=True)}
    deviations = []
    for k in range(rows):
        weights = [draw.randint(0, 99) for _ in x]
        side = sum(w * v for w, v in zip(weights, planted, strict=True))
        over, under = (problem.add_variable(f"{name}{k}", 0) for name in ("over", "under"))
        problem.addConstraint(pulp.lpDot(weights, x) + under - over == side)
        deviations += [over, under]
    answer |= {v.name: 0.0 for v in deviations}
    problem.setObjective(pulp.lpSum(deviations) + constant)
    return Planted(problem, answer)


def needle(*, rows: int = 5, columns: int = 40) -> pulp.LpProblem:
    """Market split without deviations: hardly any point is allowed, and none is found soon."""
    draw = random.Random(1)
    problem = pulp.LpProblem("needle")
    x = [problem.add_variable(f"x{i}", 0, 1, cat=pulp.LpInteger) for i in range(columns)]
    for _ in range(rows):
        weights = [draw.randint(0, 99) for _ in x]
        problem.addConstraint(pulp.lpDot(weights, x) == sum(weights) // 2)
    problem.setObjective(x[0] + 0)
    return problem


def knapsack(*, rows: int = 20, columns: int = 60) -> pulp.LpProblem:
    """A knapsack of many sides, to be filled for most value; quick to fill, slower to prove."""
    draw = random.Random(0)
    problem = pulp.LpProblem("knapsack")
    x = [problem.add_variable(f"x{i}", 0, 1, cat=pulp.LpInteger) for i in range(columns)]
    for _ in range(rows):
        weights = [draw.randint(1, 50) for _ in x]
        problem.addConstraint(pulp.lpDot(weights, x) <= 0.3 * sum(weights))
    problem.setObjective(pulp.lpDot([-draw.randint(1, 50) for _ in x], x))
    return problem
