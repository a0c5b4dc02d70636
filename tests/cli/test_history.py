"""``overwinter history``: plans and marks can be listed, compared and gone back to."""

import json
import re
from pathlib import Path

import pytest
from cli_winter import runner, tiny_winter
from typer.testing import Result

from overwinter.cli.app import app
from overwinter.cli.guard import ExitCode
from overwinter.model.tree import numbered_name


def run(*arguments: object) -> Result:
    """One command, in process."""
    return runner.invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def winter(tmp_path: Path) -> Path:
    """Planned, marked, then planned anew without the olive."""
    folder = tiny_winter(tmp_path)
    assert run("plan", folder).exit_code == ExitCode.DONE
    assert run("mark", folder, "--all", "--day", "2026-11-10").exit_code == ExitCode.DONE
    assert run("replan", folder, "--today", "2026-11-20", "--gone", "Olive").exit_code == 0
    return folder


def test_list(winter: Path) -> None:
    """Both plans with their reason, the one in force named, each mark with day and place."""
    text = run("history", winter).stdout
    assert "Plan 1: " in text
    assert "Plan 2, in force: " in text
    assert ". Planned afresh. " in text
    assert "Olive is gone from 20 Nov 2026" in " ".join(text.split())  # a line may end within
    found = json.loads(run("history", winter, "--json").stdout)
    (told,) = re.findall("now at Shed, Bench: (.+)", text)
    for one in found["marks"]:
        assert numbered_name(one["tree"])[0] in told
    assert found["in_force"] == 2
    assert [plan["parent"] for plan in found["plans"]] == [None, 1]
    assert len(found["marks"]) == 4


def test_one_figure_everywhere(winter: Path) -> None:
    """What a winter costs is the same in the list, beside another plan and in plan.json."""
    text = run("history", winter).stdout
    listed = [
        float(amount) for amount in re.findall(r"^Plan .*?(\d+\.\d\d)\s+EUR", text, re.M | re.S)
    ]
    found = json.loads(run("history", winter, "--compare", 1, 2, "--json").stdout)
    costs = [found["costs"][which] for which in ("before", "after")]
    beside = [one.pop("total") for one in costs]
    assert all(one.pop("worry") for one in costs)
    assert listed == pytest.approx([sum(round(part, 2) for part in one.values()) for one in costs])
    shown = run("history", winter, "--compare", 1, 2).stdout
    columns = re.findall(r"^[a-z ]+? +(\d+\.\d\d) +(\d+\.\d\d)$", shown, re.M)
    for which in (0, 1):
        *parts, whole = [float(row[which]) for row in columns]
        assert sum(parts) == pytest.approx(whole)
        assert whole == listed[which]
    parts = json.loads((winter / "plan.json").read_text(encoding="utf-8"))["plan"]["costs"]
    assert sum(parts.values()) == pytest.approx(beside[1], abs=1e-9)


def test_compare(winter: Path) -> None:
    """Side by side either way round; from the later of both beginnings."""
    found = json.loads(run("history", winter, "--compare", 1, 2, "--json").stdout)
    assert (found["before"], found["after"], found["first"]) == ("plan 1", "plan 2", "2026-11-20")
    assert found["gone"] == ["Olive"]
    back = json.loads(run("history", winter, "--compare", 2, 1, "--json").stdout)
    assert "Olive" in {one["tree_id"] for one in back["changed"]}
    assert "does not know it" in " ".join(run("history", winter, "--compare", 2, 1).stdout.split())
    assert back["because"] == ["Olive is there"]
    assert run("history", winter, "--compare", 1, 7).exit_code == ExitCode.BAD_INPUT


def test_back(winter: Path) -> None:
    """Plan 1 is in force and in plan.json again, marks stay, and both can be returned to."""
    second = json.loads((winter / "plan.json").read_text(encoding="utf-8"))
    marked = json.loads(run("history", winter, "--json").stdout)["marks"]
    result = run("history", winter, "--back", 1)
    assert result.exit_code == ExitCode.DONE, result.stderr
    plan = json.loads((winter / "plan.json").read_text(encoding="utf-8"))
    assert "Olive" in plan["plan"]["stays"]
    assert run("show", winter).exit_code == ExitCode.DONE
    found = json.loads(run("history", winter, "--json").stdout)
    assert (found["in_force"], found["marks"]) == (1, marked)
    assert run("history", winter, "--back", 2).exit_code == ExitCode.DONE
    assert json.loads((winter / "plan.json").read_text(encoding="utf-8")) == second
    assert run("history", winter, "--back", 9).exit_code == ExitCode.BAD_INPUT
    anew = run("replan", winter, "--today", "2026-11-25")
    assert anew.exit_code == ExitCode.DONE, anew.stderr
    assert "plan 3 beside plan 2" in anew.stdout


def test_no_history(tmp_path: Path) -> None:
    """A winter that was never planned has none."""
    assert run("history", tiny_winter(tmp_path)).exit_code == ExitCode.BAD_INPUT
