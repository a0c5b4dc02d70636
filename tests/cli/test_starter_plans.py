"""The starter folder plans as it stands: the first thing anybody does with the tool."""

import json
from pathlib import Path
from typing import Any

import pytest
from cli_winter import runner

from overwinter.cli.app import app
from overwinter.cli.guard import ExitCode
from overwinter.files.season import read_season


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """``overwinter init`` and ``overwinter plan``, nothing else; tests only read it."""
    folder = tmp_path_factory.mktemp("starter") / "winter"
    assert runner.invoke(app, ["init", str(folder)]).exit_code == ExitCode.DONE
    result = runner.invoke(app, ["plan", str(folder)])
    assert result.exit_code == ExitCode.DONE, result.output
    return folder


@pytest.fixture(scope="module")
def plan(folder: Path) -> dict[str, Any]:
    """What was written."""
    written: dict[str, Any] = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return dict(written["plan"])


def test_every_tree_is_safe_and_the_audit_agrees(folder: Path, plan: dict[str, Any]) -> None:
    """No tree is left out, and the audit, which shares no code with the program, finds nothing."""
    season = read_season(folder)
    assert plan["left_out"] == []
    assert set(plan["stays"]) == {tree.id for tree in season.trees}
    shown = runner.invoke(app, ["show", str(folder)])
    assert shown.exit_code == ExitCode.DONE
    assert "none left out" in " ".join(shown.stdout.split())
    assert "rules hold" in shown.stdout


def test_a_bound_is_known(plan: dict[str, Any]) -> None:
    """How near the plan is to the best is told, and the time limit of 20 s is kept."""
    assert plan["proof"]["gap"] is not None
    assert 0 <= plan["proof"]["gap"] < 1


def test_it_shows_what_a_winter_is(folder: Path, plan: dict[str, Any]) -> None:
    """The garden, the warm room and the greenhouse are used; what is heated is not heated always.

    By the last stage every tree that stands a night in May is back where it came from.
    """
    places = {place for path in plan["stays"].values() for place in path if place is not None}
    assert {place.split("/")[0] for place in places} >= {"garden", "greenhouse", "landing"}
    heated = plan["settings"]["greenhouse"]
    assert any(not setting["parts"] for setting in heated)
    season = read_season(folder)
    tender = {
        tree.id
        for tree in season.trees
        if tree.limits.air_floor_c is not None and tree.limits.air_floor_c >= 5.0
    }
    home = {tree for tree, path in plan["stays"].items() if path[-1] == season.site.summer_place}
    assert set(plan["stays"]) - home <= tender
    assert len(plan["carries"]) <= 5 * len(plan["stays"])
