"""The textbook model that sizes are measured against is a fair one: it finds the same money."""

import sys
from pathlib import Path

import pytest
from tiny import random_data

sys.path.append(str(Path(__file__).parents[1] / "benchmarks"))

from textbook import Textbook, folder_data
from winters import write_winter

from overwinter.program.build import build
from overwinter.program.data import ProgramData
from overwinter.program.objective import LEFT_OUT_EACH
from overwinter.solvers.choose import solve

SEEDS = 60
GAP = 1e-9
MONEY = 1e-6
EXACT = {"mip_feasibility_tolerance": 1e-9, "primal_feasibility_tolerance": 1e-9}
"""Rows kept to 1e-6, as usual, would already be as much money as is compared."""


def both(data: ProgramData) -> tuple[float, float]:
    """Best money by the tool's program and by the textbook model, leaving out included."""
    found = []
    for problem in (build(data, may_leave_out=True).problem, Textbook(data).problem):
        report = solve(problem, solver="highs", gap=GAP, threads=1, options=EXACT)
        assert report.proven
        assert report.objective is not None
        found.append(report.objective)
    return found[0], found[1]


def test_same_money_on_tiny_winters() -> None:
    """Random tables with twins, quarantine, breakers, few carry days, owed chilling (no outside
    source; the program itself is held to enumeration in test_brute_force.py)."""
    placed = 0
    for seed in range(SEEDS):
        ours, textbook = both(random_data(seed, trees=4, spell_count=3))
        assert textbook == pytest.approx(ours, abs=MONEY), seed
        placed += ours < LEFT_OUT_EACH
    assert placed >= 10


@pytest.mark.parametrize(("seed", "kinds"), [(1, 0), (2, 0), (3, 4)])
def test_same_money_on_invented_winters(seed: int, kinds: int, tmp_path: Path) -> None:
    """Eight trees, eight places, a whole winter of measured weather; once, many trees alike."""
    write_winter(tmp_path, trees=8, places=8, seed=seed, kinds=kinds)
    ours, textbook = both(folder_data(tmp_path))
    assert textbook == pytest.approx(ours, abs=MONEY)
    assert ours < LEFT_OUT_EACH
