"""The ways of large winters, tried on winters small enough to be decided at once as well."""

import re
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from overwinter.model.start import start_of_season
from overwinter.files.season import read_season
from overwinter.planning import search
from overwinter.planning.options import PlanOptions
from overwinter.planning.plan_winter import Outcome, plan_winter
from overwinter.planning.winters import winters_of
from overwinter.program.build import build
from overwinter.program.data import Cuts, program_data
from overwinter.shelters.conditions import compute_conditions
from overwinter.solvers.choose import relax
from overwinter.spells import cut_spells
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import group_trees

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from winters import write_winter

MONEY = 1e-6


def planned(folder: Path, gap: float = 1e-4) -> Outcome:
    return plan_winter(read_season(folder), PlanOptions(gap=gap))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_step_by_step_against_all_at_once(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Shelters first, then places: audited, never cheaper than the best, its bound never above it.

    The reference is one program for everything, which enumeration confirms on smaller winters.
    """
    write_winter(tmp_path / "w", trees=16, places=8, seed=seed)
    monkeypatch.setattr(search, "SMALL", 10**9)
    best = planned(tmp_path / "w").plan
    assert best.proof.bound is not None
    monkeypatch.setattr(search, "SMALL", 0)
    for large in (10**9, 0):
        monkeypatch.setattr(search, "LARGE", large)
        outcome = planned(tmp_path / "w")
        plan = outcome.plan
        assert outcome.report.passed
        assert not plan.left_out
        assert plan.proof.bound is not None
        assert plan.proof.bound <= best.proof.objective + MONEY
        assert plan.costs.total >= best.proof.bound - MONEY


def test_the_bound_lies_above_that_of_the_program(tmp_path: Path) -> None:
    """Hardening known from above: HiGHS's simplex method on the program itself; truly known: more.

    The best plan by one program for everything lies above both.
    """
    write_winter(tmp_path / "w", trees=16, places=8, seed=4)
    season = read_season(tmp_path / "w")
    conditions = compute_conditions(season)
    spells = cut_spells(season, conditions)
    start = start_of_season(season)
    table = Workshop(season, conditions, spells).table(group_trees(season, start))
    data = program_data(season, conditions, start, table, Cuts())
    plain = replace(data, suitability=replace(table, hardening=None))
    reference = relax(build(data, may_leave_out=True).problem, solver="highs").objective
    assert reference is not None
    assert winters_of(plain).relax(1e-7) == pytest.approx(reference, rel=1e-5)
    known = winters_of(data).relax(1e-7)
    assert known > reference
    assert known <= planned(tmp_path / "w").plan.costs.total


def test_trees_without_room_go_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three fifths of every roofed bench taken away: who is left out goes first.

    Each of them would have a place if it were alone, so nothing but room is missing.
    """
    write_winter(tmp_path / "w", trees=40, places=8, seed=1)
    file = tmp_path / "w" / "shelters.toml"
    parts = file.read_text(encoding="utf-8").split("[[shelter]]")
    closed = [
        re.sub(r"(?<=  width_m = )[\d.]+", lambda m: f"{0.4 * float(m[0]):.2f}", part)
        for part in parts[2:]
    ]
    file.write_text("[[shelter]]".join([*parts[:2], *closed]), encoding="utf-8")
    monkeypatch.setattr(search, "SMALL", 0)
    firsts = []
    before = search.Search._without_these
    monkeypatch.setattr(
        search.Search,
        "_without_these",
        lambda self, trees: firsts.append(trees) or before(self, trees),
    )
    outcome = planned(tmp_path / "w", gap=0.01)
    assert firsts[0]
    assert firsts[0] <= {one.tree_id for one in outcome.plan.left_out}
    assert outcome.report.passed
    assert outcome.plan.proof.gap is not None
    assert outcome.plan.proof.gap < 0.5


@pytest.mark.parametrize("amps", [3, 5])
def test_shelters_on_one_breaker_share_it(
    amps: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All heaters on one small breaker: what is fixed first leaves the others what they must have.

    The judge is the audit, which knows nothing of how settings were fixed.
    """
    write_winter(tmp_path / "w", trees=16, places=8, seed=1)
    shelters, site = tmp_path / "w" / "shelters.toml", tmp_path / "w" / "site.toml"
    heaters = 'carrier = "electricity"\n  breaker = "main"'
    text = re.sub(r'carrier = "[a-z ]+"', heaters, shelters.read_text(encoding="utf-8"))
    shelters.write_text(text, encoding="utf-8")
    breaker = f"[breakers]\nmain = {{ volts = 240, amps = {amps} }}\n[household]"
    text = site.read_text(encoding="utf-8").replace("[household]", breaker)
    site.write_text(text, encoding="utf-8")
    monkeypatch.setattr(search, "SMALL", 0)
    outcome = planned(tmp_path / "w")
    assert outcome.report.passed
    assert len(outcome.plan.left_out) < 8


@pytest.mark.parametrize("undrawn", [False, True])
def test_closing_is_not_begun_where_layouts_cost_more_than_the_gap(
    undrawn: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Trees that could not be laid out, 1 % cheaper than the plan, where 0.01 % are asked.

    Closing would find them again: its programs know nothing of layouts.
    """
    write_winter(tmp_path / "w", trees=16, places=8, seed=4)
    begun = []
    closing = search.Closing.run
    monkeypatch.setattr(search.Closing, "run", lambda self: begun.append(self) or closing(self))
    monkeypatch.setattr(search, "SMALL", 0)
    found = search.Search._found

    def not_drawn(self: search.Search, *args: Any) -> search.Found:
        plan = found(self, *args)
        if undrawn and plan.report.objective is not None:
            self._undrawn_money = 0.99 * plan.report.objective
        return plan

    monkeypatch.setattr(search.Search, "_found", not_drawn)
    proof = planned(tmp_path / "w").plan.proof
    assert bool(begun) is not undrawn
    assert proof.gap is not None
    assert (proof.gap > 1e-4) is undrawn
