"""The cheapest winter that chills, against every winter of a group tried one by one."""

import numpy as np
import pytest
from test_closing import every_winter, tiny

from overwinter.planning.winters import Winters
from overwinter.program.build import build
from overwinter.program.chilled_ways import Chilling, cheapest_chilled

MONEY = 1e-5
OWING = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 14, 15, 16)
"""Seeds with a group that owes chilling it does not earn anyway."""


def truly(winters: Winters, g: int, prices: np.ndarray, owed: float) -> list[float]:
    """Cost of every winter of a group that earns as much."""
    courses = winters._courses
    costs = []
    for key, cost in every_winter(winters, g, prices).items():
        course = courses.course(g, np.frombuffer(key, dtype=np.int64))
        if courses.chill[course.stays].sum() >= owed:
            costs.append(cost)
    return costs


@pytest.mark.parametrize("price", [0.0, 0.05, 3.0])
@pytest.mark.parametrize("seed", OWING)
def test_the_cheapest_that_earns_enough_is_found(seed: int, price: float) -> None:
    """At any price of chilling, which only decides how many beginnings are looked through."""
    winters = Winters(build(tiny(seed), may_leave_out=True))
    winters.relax(1e-4)
    prices = winters.outlook().columns
    flow, courses = winters.flow, winters._courses
    owing = np.flatnonzero(courses.owed > 0.0)
    assert owing.size

    off = np.zeros(flow.groups)
    off[owing] = price
    less = prices.copy()
    of_stay = flow.stay_cell // (flow.spells * flow.places)
    less[flow.stay_column] -= off[of_stay] * courses.chill[:-1]
    sweep = winters._pricing.sweep(less)
    chilling = Chilling(courses.chill, courses.owed, off)

    costs = {g: truly(winters, g, prices, courses.owed[g]) for g in owing.tolist()}
    anything = np.full(flow.groups, np.inf)
    found = cheapest_chilled(sweep, owing, chilling, anything, most=100_000)
    assert found is not None
    ways, least = found
    for g, group_costs in costs.items():
        assert least[g] == pytest.approx(min(group_costs, default=np.inf), abs=MONEY)
    assert {g for g, _ in ways} == {g for g, group_costs in costs.items() if group_costs}
    for g, columns in ways:
        assert prices[columns].sum() == pytest.approx(least[g], abs=MONEY)
    assert cheapest_chilled(sweep, owing, chilling, anything, most=0) is None

    # a limit below the cheapest leaves none
    found = cheapest_chilled(sweep, owing, chilling, least - 1.0, most=100_000)
    assert found is not None
    assert found[0] == []
    assert np.isinf(found[1]).all()


@pytest.mark.parametrize("seed", OWING)
def test_what_chilled_winters_cost_at_least(seed: int) -> None:
    """The search for the price of chilling ends at the truth, for every group."""
    winters = Winters(build(tiny(seed), may_leave_out=True))
    winters.relax(1e-4)
    prices = winters.outlook().columns
    winters.demand_chilling()
    least = winters.outlook().each
    assert winters._courses.owing.size
    for g in winters._courses.owing.tolist():
        costs = truly(winters, g, prices, winters._courses.owed[g])
        left_out = prices[winters.flow.left_out[g]]
        assert least[g] == pytest.approx(min([left_out, *costs]), abs=MONEY)
