"""The page for Python users runs as it stands; its plans are those of the commands."""

import doctest
import importlib
import json
import shutil
import subprocess
import sys
from operator import attrgetter
from pathlib import Path

import pytest

import overwinter as ow

ROOT = Path(__file__).parents[2]
TINY = ROOT / "tests" / "cli" / "data" / "tiny"


@pytest.fixture
def winter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of a small winter, beside which the test runs."""
    shutil.copytree(TINY, tmp_path / "my-winter")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "my-winter"


def test_the_page_runs_as_it_stands(winter: Path) -> None:
    page = (ROOT / "docs" / "python.md").read_text(encoding="utf-8").replace("```", "")
    test = doctest.DocTestParser().get_doctest(page, {}, "python.md", "docs/python.md", 0)
    assert len(test.examples) > 15
    told: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS)
    runner.run(test, out=told.append)
    assert runner.failures == 0, "".join(told)
    assert Path("winter.html").stat().st_size > 10_000


def test_import_is_quick() -> None:
    # numpy, pandas and the solvers take a second; they come when they are asked for.
    script = (
        "import sys, overwinter; print(*sorted({'numpy', 'pandas', 'pulp'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    assert done.stdout == "\n"


def test_functions_stand_before_packages_of_their_name() -> None:
    # overwinter.audit and overwinter.replan are packages too.
    for name in ("overwinter.audit.audit", "overwinter.replan.replan"):
        importlib.import_module(name)
    assert ow.audit.__module__ == ow.replan.__module__ == "overwinter.api.plan"
    with pytest.raises(AttributeError, match="no attribute 'bogus'"):
        attrgetter("bogus")(ow)


def test_tables_say_what_the_plan_file_says(winter: Path) -> None:
    plan = ow.plan(ow.read(winter))
    plan.save(winter)
    written = json.loads((winter / "plan.json").read_text(encoding="utf-8"))["plan"]
    assert written["stays"] == {name: list(row) for name, row in plan.stays.iterrows()}
    assert [c["tree_id"] for c in written["carries"]] == plan.carries.tree_id.tolist()
    assert plan.heat.money.sum() == pytest.approx(written["costs"]["heat"])
    assert plan.risk.loss.sum() == pytest.approx(written["other_loss"])
    assert plan.costs.losses == pytest.approx(written["costs"]["losses"])
    assert plan.costs.drop(["total", "worry"]).sum() == pytest.approx(plan.costs.total)


def test_a_replan_is_kept_only_over_the_plan_it_changes(winter: Path) -> None:
    plan = ow.plan(ow.read(winter))
    new = ow.replan(plan, today="2026-11-02", unmarked="done")
    with pytest.raises(ow.UserError, match=r"history\.json"):
        new.save(winter)  # nothing is in force yet
    plan.save(winter)
    new.save(winter)
    with pytest.raises(ow.UserError, match="under way"):
        plan.save(winter)
    with pytest.raises(ow.UserError, match="Another plan is in force"):
        ow.replan(plan, today="2026-11-03", unmarked="done").save(winter)
    with pytest.raises(ow.UserError, match="no plan before"):
        _ = plan.changes


def test_every_name_and_day_that_is_wrong_is_told_at_once(winter: Path) -> None:
    plan = ow.plan(ow.read(winter))
    with pytest.raises(ow.InputProblems) as caught:
        ow.replan(plan, "2026-11-02", late={"garage": "2026-12-05"}, gone=["Fig"], unmarked="done")
    assert caught.value.table.found.tolist() == ["'Fig'", "'garage'"]
    with pytest.raises(ow.InputProblems, match="'Fig'"):
        plan.explain("Fig")
