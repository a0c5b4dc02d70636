"""The textbook's program is itself right: it ends at the cheapest of all plans of a tiny winter."""

import sys
from pathlib import Path

import pytest
from enumeration import Enumeration
from tiny_winters import draw

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from textbook import Textbook


@pytest.mark.parametrize("seed", range(30))
def test_it_ends_at_the_cheapest(seed: int) -> None:
    every = Enumeration(draw(seed))
    found = Textbook(every).solve(30.0)
    assert found is not None
    assert every.money_under(*found) == pytest.approx(every.best().money, rel=1e-6, abs=1e-6)
