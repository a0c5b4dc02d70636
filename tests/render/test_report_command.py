"""``overwinter report``: what it writes, refuses and warns of."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "cli"))
from cli_winter import edit, names, runner, tiny_winter

from overwinter.cli.app import app
from overwinter.cli.guard import ExitCode


@pytest.fixture
def planned(tmp_path: Path) -> Path:
    folder = tiny_winter(tmp_path)
    assert runner.invoke(app, ["plan", str(folder)]).exit_code == 0
    return folder


def test_it_writes_one_page_into_the_folder(planned: Path) -> None:
    # Intent: report.html and nothing else new; again gives the same bytes.
    before = names(planned)
    result = runner.invoke(app, ["report", str(planned)])
    assert result.exit_code == 0, result.output
    assert "report.html" in result.output
    assert sorted([*before, "report.html"]) == names(planned)
    page = (planned / "report.html").read_text(encoding="utf-8")
    assert "Every tree has a place" in page
    assert "The inputs have changed" not in page
    assert runner.invoke(app, ["report", str(planned)]).exit_code == 0
    assert (planned / "report.html").read_text(encoding="utf-8") == page


def test_out_writes_elsewhere(planned: Path, tmp_path: Path) -> None:
    # Intent: a file of any name; the folder of the winter stays as it was.
    before = names(planned)
    out = tmp_path / "look.html"
    assert runner.invoke(app, ["report", str(planned), "--out", str(out)]).exit_code == 0
    assert out.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert names(planned) == before


def test_changed_inputs_are_told_in_the_page_and_on_the_screen(planned: Path) -> None:
    # Intent: the plan still holds, but was made from other inputs.
    edit(planned / "site.toml", "hours_a_day = 4", "hours_a_day = 3")
    result = runner.invoke(app, ["report", str(planned)])
    assert result.exit_code == 0, result.output
    assert "inputs have changed" in result.output
    assert 'class="notice">The inputs have changed' in (planned / "report.html").read_text("utf-8")


def test_a_plan_that_no_longer_holds_is_not_shown(planned: Path) -> None:
    # Intent: refused with the audit's findings; nothing is written.
    edit(planned / "shelters.toml", "headroom_m = 1.2", "headroom_m = 0.5")
    before = names(planned)
    result = runner.invoke(app, ["report", str(planned)])
    assert result.exit_code == ExitCode.REFUSED
    assert "headroom" in result.output
    assert names(planned) == before


def test_no_plan_no_report(tmp_path: Path) -> None:
    # Intent: says how to make one.
    folder = tiny_winter(tmp_path)
    result = runner.invoke(app, ["report", str(folder)])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "overwinter plan" in result.output


def test_a_foreign_file_is_left_alone(planned: Path) -> None:
    # Intent: what this tool did not write, or somebody edited, stays unless forced.
    (planned / "report.html").write_text("mine", encoding="utf-8")
    result = runner.invoke(app, ["report", str(planned)])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert (planned / "report.html").read_text(encoding="utf-8") == "mine"
    assert runner.invoke(app, ["report", str(planned), "--force"]).exit_code == 0
    assert (planned / "report.html").read_text(encoding="utf-8") != "mine"


def test_a_folder_is_no_file(planned: Path) -> None:
    # Intent: --out wants a file's name.
    result = runner.invoke(app, ["report", str(planned), "--out", str(planned)])
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "is a folder" in result.output
