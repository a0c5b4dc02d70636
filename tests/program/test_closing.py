"""What closes the gap: all winters within a cost, and the best plan of whole trees with its proof.

Against plain enumeration on tiny random winters (``tiny.py``).
"""

from itertools import product

import numpy as np
import pytest
from tiny import PLANNED, best_by_enumeration, random_data

from overwinter.planning.alternatives import alternatives
from overwinter.planning.branching import Branching, Effort
from overwinter.planning.closing import Closing
from overwinter.planning.placing import Placing, money_of
from overwinter.planning.winters import NoPoint, Winters
from overwinter.program.build import build
from overwinter.program.data import ProgramData
from overwinter.program.model import Problem
from overwinter.program.ways_within import ways_within
from overwinter.solvers.choose import solve
from overwinter.solvers.report import SolverReport

MONEY = 1e-5
"""Rows hold to a solver's 1e-6 or so each."""
GAP = 1e-3


def placeable(data: ProgramData) -> bool:
    """Whether every group has some place in every spell."""
    return all(data.suitability.allowed[g.index].any(axis=0).all() for g in data.groups)


def tiny(seed: int) -> ProgramData:
    """A winter in which every group has a place."""
    data = random_data(seed, trees=5, spell_count=3)
    assert placeable(data)
    return data


def every_winter(winters: Winters, g: int, prices: np.ndarray) -> dict[bytes, float]:
    """Cost of each winter of a group, by its columns, in plain loops."""
    model = winters.model
    column = {id(variable): c for c, variable in enumerate(winters.arrays.variables)}
    found = {}
    spells = sorted(k for group, k in model.stays if group == g)
    for stays in product(*(model.stays[g, k] for k in spells)):
        at = model.data.groups[g].start.place
        columns = []
        for stay in stays:
            columns.append(column[id(stay.variable)])
            if stay.place_id != at:
                columns.append(column[id(model.carried_in[g, stay.place_id, stay.spell])])
            at = stay.place_id
        found[np.sort(columns).tobytes()] = float(prices[columns].sum())
    return found


@pytest.mark.parametrize("seed", range(20))
def test_all_winters_within_a_cost_are_found_and_no_others(seed: int) -> None:
    """At prices of a relaxation; limits from the cheapest to half of all winters."""
    winters = Winters(build(tiny(seed), may_leave_out=True))
    winters.relax(1e-4)
    outlook = winters.outlook()
    truly = [every_winter(winters, g, outlook.columns) for g in range(winters.flow.groups)]
    for share in (0.0, 0.1, 0.5):
        limit = np.array([np.quantile(list(costs.values()), share) + MONEY for costs in truly])
        found = ways_within(outlook.sweep, limit, most=100_000)
        assert found is not None
        told = [set() for _ in truly]  # type: list[set[bytes]]
        for g, columns in found:
            told[g].add(np.sort(columns).tobytes())
        for g, costs in enumerate(truly):
            assert told[g] == {key for key, cost in costs.items() if cost <= limit[g]}
    assert ways_within(outlook.sweep, limit, most=1) is None


def placing_on(winters: Winters, gap: float, solver: str = "highs") -> Placing:
    """Whole trees on the winters of a relaxation."""

    def solved(
        problem: Problem,
        _phase: str,
        *,
        nodes: int | None = None,
        share: float = 1.0,
        cutoff: float | None = None,
    ) -> SolverReport:
        assert nodes is None or nodes > 0
        return solve(problem, solver=solver, gap=share * gap, cutoff=cutoff)

    return Placing(winters, solved)


def run(data: ProgramData, gap: float, solver: str = "highs") -> tuple[Closing, float] | None:
    """Closed after a branching that was content with little; None without a plan to begin with."""
    branching = Branching(
        Winters(build(data, may_leave_out=True)),
        0.2,
        lambda _money, _bound: None,
        lambda: False,
        Effort(2, rounds_once=False),
    )
    decided = branching.run()
    if decided is None:
        return None
    branching.hold_best()

    placing = placing_on(branching.winters, gap, solver)
    money = money_of(placing.near(decided, (), {}, "places", 1.0))
    if not np.isfinite(money):
        return None
    closing = Closing(branching, placing, money, gap, lambda: False)
    return closing, closing.run()


@pytest.mark.parametrize(
    ("seed", "solver"), [(s, "highs") for s in PLANNED] + [(s, "cbc") for s in PLANNED[:8]]
)
def test_the_gap_closes_on_the_best_plan(seed: int, solver: str) -> None:
    """The bound lies below what trying everything finds, and the plan within the gap above it."""
    data = random_data(seed)
    truly = best_by_enumeration(data).money
    assert truly < float("inf")
    closed = run(data, GAP, solver)
    assert closed is not None
    closing, bound = closed
    assert bound <= truly + MONEY
    assert bound >= closing.money * (1.0 - GAP) - MONEY
    assert truly - MONEY <= closing.money <= truly / (1.0 - GAP) + MONEY


@pytest.mark.parametrize("seed", range(30))
def test_no_alternative_is_bounded_above_what_it_costs(seed: int) -> None:
    """Each setting and carry day, held in the relaxation itself."""
    winters = Winters(build(tiny(seed), may_leave_out=True))
    branching = Branching(
        winters, 0.0, lambda _money, _bound: None, lambda: False, Effort(0, rounds_once=True)
    )
    root = branching.root
    winters.hold(branching.columns, root.lower, root.upper)
    winters.relax(1e-4)
    found = alternatives(branching, root, winters.outlook())
    for bounds, on in ((found.having, 1.0), (found.without, 0.0)):
        for column in np.flatnonzero(np.isfinite(bounds)).tolist():
            lower, upper = root.lower.copy(), root.upper.copy()
            lower[column] = upper[column] = on
            winters.hold(branching.columns, lower, upper)
            try:
                winters.relax(1e-6)
            except NoPoint:
                continue
            assert bounds[column] <= winters.objective + MONEY * max(1.0, winters.objective)


@pytest.mark.parametrize("seed", PLANNED)
def test_whole_trees_prove_as_much_while_settings_are_open(seed: int) -> None:
    """Against trying everything; without hardening, what is found costs what it says."""
    data = random_data(seed)
    truly = best_by_enumeration(data).money
    winters = Winters(build(data, may_leave_out=True))
    branching = Branching(
        winters, 0.0, lambda _money, _bound: None, lambda: False, Effort(0, rounds_once=True)
    )
    branching.hold(branching.root)
    winters.relax(1e-4)
    placing = placing_on(winters, GAP)
    found = placing.no_dearer(truly + 1.0, "closing", 0.5, nodes=1000)
    assert truly * (1.0 - GAP) - MONEY <= found.bound <= truly + MONEY
    assert found.shared is not None
    below = truly - 10.0 * MONEY
    if winters.outlook().bound < below:
        none = placing.no_dearer(below, "closing", 0.5, nodes=1000)
        assert none.shared is None
        assert none.bound == pytest.approx(below)
    held = found.shared[np.searchsorted(winters.shared, branching.columns)].round()
    winters.hold(branching.columns, held, held)
    money = money_of(placing.only_on(found.winters, "closing", 0.5))
    assert truly - MONEY <= money <= truly / (1.0 - GAP) + MONEY
