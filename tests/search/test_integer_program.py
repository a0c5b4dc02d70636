"""The integer program begins with a placement of whole trees and comes back with a better one."""

import numpy as np
import pytest
from random_winters import random_problem

from overwinter.search.exact import completed, improved, placement_of, start_values
from overwinter.search.heating import Heating, heat_money
from overwinter.search.placement import Placement
from overwinter.search.program import build

SEEDS = (1, 2, 3, 4)


def money(placement: Placement) -> float:
    """All money of a placement."""
    return placement.total() + heat_money(placement.problem, placement.settings)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_placement_goes_in_and_comes_out_again(seed: int) -> None:
    """Its columns keep every row, and mean the same trees at the same places."""
    problem = random_problem(seed)
    heating = Heating(problem)
    placement = heating.placement(heating.settings)
    program = build(problem)
    values = completed(program, start_values(program, placement), "highs")
    assert values is not None
    back = placement_of(program)
    assert money(back) == pytest.approx(money(placement))
    assert back.used_m2 == pytest.approx(placement.used_m2)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_answer_is_no_worse_and_the_bound_no_higher(seed: int) -> None:
    """Asked to its end, bound and answer meet but for settings counted as alike."""
    problem = random_problem(seed)
    heating = Heating(problem)
    placement = heating.placement(heating.settings)
    found, bound = improved(build(problem), placement, "highs", 0.0, lambda: 10.0, fixed=False)
    assert found is not None
    assert bound is not None
    assert bound <= money(found) + 1e-6
    assert money(found) <= money(placement) * 1.02 + 1e-6
    assert np.isfinite(bound)


def test_fixed_programmes_stay() -> None:
    """The trees move, the heaters do not, and nothing is said of other programmes."""
    problem = random_problem(5)
    heating = Heating(problem)
    placement = heating.placement(heating.settings)
    found, bound = improved(build(problem), placement, "highs", 0.0, lambda: 10.0, fixed=True)
    assert bound is None
    assert found is not None
    assert dict(found.settings) == dict(placement.settings)
