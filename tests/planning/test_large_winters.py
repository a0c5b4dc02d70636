"""The ways of large winters, tried on winters small enough to be decided at once as well."""

import re
import sys
from pathlib import Path

import pytest

from overwinter.files.season import read_season
from overwinter.planning import coarse_decision, proof, search
from overwinter.planning.options import PlanOptions
from overwinter.planning.plan_winter import Outcome, plan_winter
from overwinter.program.build import build
from overwinter.solvers.choose import relax

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
        monkeypatch.setattr(coarse_decision, "LARGE", large)
        outcome = planned(tmp_path / "w")
        plan = outcome.plan
        assert outcome.report.passed
        assert not plan.left_out
        assert plan.proof.bound is not None
        assert plan.proof.bound <= best.proof.objective + MONEY
        assert plan.costs.total >= best.proof.bound - MONEY


def test_the_bound_is_that_of_the_whole_program(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However narrow the way to the plan: against HiGHS's simplex method on the program itself."""
    write_winter(tmp_path / "w", trees=16, places=8, seed=4)
    monkeypatch.setattr(search, "SMALL", 0)
    monkeypatch.setattr(coarse_decision, "LARGE", 0)
    asked = []
    monkeypatch.setattr(search, "BoundMeanwhile", lambda data: asked.append(data) or _NoBound())
    planned(tmp_path / "w")
    data = asked[-1]
    monkeypatch.setattr(proof, "TOLERANCE", 1e-7)
    reference = relax(build(data, may_leave_out=True).problem, solver="highs").objective
    assert proof.relaxation_bound(data) == pytest.approx(reference, rel=1e-5)


def test_shelters_decided_on_are_told_as_their_benches(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every tree that is not left out has benches of the season in question in every spell."""
    write_winter(tmp_path / "w", trees=40, places=8, seed=1)
    monkeypatch.setattr(search, "SMALL", 0)
    monkeypatch.setattr(coarse_decision, "LARGE", 0)
    decided = []
    before = coarse_decision.Shelters.decide
    monkeypatch.setattr(
        coarse_decision.Shelters,
        "decide",
        lambda self, solve: decided.append(before(self, solve)) or decided[-1],
    )
    outcome = planned(tmp_path / "w", gap=0.01)
    places = set(outcome.season.places)
    assert decided[0].chosen.keys() == outcome.plan.stays.keys()
    for path in decided[0].chosen.values():
        assert all(spell and spell <= places for spell in path)
    assert outcome.plan.proof.rounds == 1, "they left trees out, or no layout was found"


class _NoBound:
    def wait(self, _seconds: float | None) -> None:
        return None

    def stop(self) -> None:
        return None


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
