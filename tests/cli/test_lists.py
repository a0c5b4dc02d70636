"""``overwinter lists``: every form of the carry lists is written, and only our own is replaced."""

import json
from pathlib import Path

import pytest
from cli_winter import edit, names, runner, tiny_winter
from icalendar import Calendar
from openpyxl import load_workbook
from typer.testing import Result

from overwinter.cli.app import app
from overwinter.cli.guard import ExitCode

ALL = [
    "carries-all.csv",
    "carries-shed.csv",
    "carries.xlsx",
    "carry-days.ics",
    "carry-phone.html",
    "carry-sheet.html",
]
RECORD = ".overwinter-outputs.json"


def run(*arguments: object) -> Result:
    """One command, in process."""
    return runner.invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def winter(tmp_path: Path) -> Path:
    """A planned winter."""
    folder = tiny_winter(tmp_path)
    assert run("plan", folder).exit_code == ExitCode.DONE
    return folder


def test_every_form(winter: Path) -> None:
    """All files are there and open with other people's libraries; a second run writes the same."""
    result = run("lists", winter)
    assert result.exit_code == ExitCode.DONE, result.stderr
    lists = winter / "lists"
    assert names(lists) == sorted([*ALL, RECORD])
    assert "Shed" in load_workbook(lists / "carries.xlsx").sheetnames
    events = Calendar.from_ical((lists / "carry-days.ics").read_bytes()).walk("VEVENT")
    assert any("carry" in str(event["SUMMARY"]) for event in events)
    assert "<script>" in (lists / "carry-phone.html").read_text(encoding="utf-8")
    before = {name: (lists / name).read_bytes() for name in ALL}
    assert run("lists", winter).exit_code == ExitCode.DONE
    assert {name: (lists / name).read_bytes() for name in ALL} == before


def test_some_forms_elsewhere(winter: Path, tmp_path: Path) -> None:
    """``--format`` and ``--out``; names are checked."""
    result = run("lists", winter, "--format", "sheet", "--out", tmp_path / "door", "--json")
    assert json.loads(result.stdout)["files"] == ["carry-sheet.html"]
    letter = run(
        "lists", winter, "--format", "sheet", "--paper", "letter", "--out", tmp_path / "door"
    )
    assert letter.exit_code == ExitCode.DONE
    assert "size: letter" in (tmp_path / "door" / "carry-sheet.html").read_text(encoding="utf-8")
    edit(winter / "site.toml", "invented", 'units = "us"\ninvented')  # then Letter
    run("plan", winter, "--restart")
    assert run("lists", winter, "--format", "sheet").exit_code == ExitCode.DONE
    sheet = (winter / "lists" / "carry-sheet.html").read_text(encoding="utf-8")
    assert "size: letter" in sheet
    wrong = run("lists", winter, "--format", "fone")
    assert wrong.exit_code == ExitCode.BAD_INPUT
    assert "Did you mean 'phone'?" in wrong.stderr
    assert run("lists", winter, "--paper", "A5").exit_code == ExitCode.BAD_INPUT


def test_a_part_of_the_sheet_is_a_file_of_its_own(winter: Path) -> None:
    """``--shelter`` and ``--stage``: the other lists stay; all mistakes come at once."""
    run("lists", winter)
    before = {name: (winter / "lists" / name).read_bytes() for name in ALL}
    result = run("lists", winter, "--shelter", "shed", "--stage", "2", "--json")
    assert result.exit_code == ExitCode.DONE, result.stderr
    told = json.loads(result.stdout)
    assert told["files"] == ["carry-sheet-part.html"]
    whole = json.loads(run("lists", winter, "--format", "csv", "--json").stdout)
    assert 0 < told["carries"] <= whole["carries"]
    part = (winter / "lists" / "carry-sheet-part.html").read_text(encoding="utf-8")
    assert "Only Shed, stage 2." in part
    assert {name: (winter / "lists" / name).read_bytes() for name in ALL} == before

    wrong = run("lists", winter, "--shelter", "shedd", "--stage", "99")
    assert wrong.exit_code == ExitCode.BAD_INPUT
    assert "Did you mean 'shed'" in wrong.stderr or "Did you mean 'Shed'" in wrong.stderr
    assert "--stage: found '99'; expected a stage from 1 to " in wrong.stderr
    for asked, said in (
        (("--shelter", "garden", "--stage", "2"), "nothing to do"),
        (("--shelter", "shed", "--format", "csv"), "--format sheet alone"),
    ):
        wrong = run("lists", winter, *asked)
        assert wrong.exit_code == ExitCode.BAD_INPUT
        assert said in wrong.stderr
    assert part == (winter / "lists" / "carry-sheet-part.html").read_text(encoding="utf-8")
    # Written anew, the whole takes the place of a part, which may be of an earlier plan.
    assert run("lists", winter, "--format", "csv").exit_code == ExitCode.DONE
    assert "carry-sheet-part.html" in names(winter / "lists")
    assert run("lists", winter, "--format", "sheet").exit_code == ExitCode.DONE
    assert names(winter / "lists") == sorted([*ALL, RECORD])


def test_a_list_that_was_filled_in_is_not_replaced(winter: Path) -> None:
    """Ticks in a list are someone's work."""
    run("lists", winter, "--format", "csv")
    path = winter / "lists" / "carries-all.csv"
    path.write_text(path.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    ticked = path.read_bytes()
    result = run("lists", winter, "--format", "csv")
    assert result.exit_code == ExitCode.BAD_INPUT
    assert path.read_bytes() == ticked


def test_after_a_replan_only_what_lies_ahead(winter: Path) -> None:
    """Past carries are on no list; the calendar cancels what is no longer to be done."""
    run("lists", winter)
    assert run("mark", winter, "--all", "--day", "2026-12-15").exit_code == ExitCode.DONE
    assert run("replan", winter, "--today", "2026-12-20", "--gone", "Olive").exit_code == 0
    assert run("lists", winter).exit_code == ExitCode.DONE
    text = (winter / "lists" / "carries-all.csv").read_text(encoding="utf-8-sig")
    assert "2026-12-15" not in text
    assert "2027-0" in text
    assert "Larch" in text
    calendar = Calendar.from_ical((winter / "lists" / "carry-days.ics").read_bytes())
    assert {int(event["SEQUENCE"]) for event in calendar.walk("VEVENT")} == {1}


def test_the_phone_page_knows_what_is_marked(winter: Path) -> None:
    """Written again after marking, it holds the marks; the other forms are as before."""
    run("lists", winter)
    page = winter / "lists" / "carry-phone.html"
    assert '"marked":{}' in page.read_text(encoding="utf-8")
    assert run("mark", winter, "Olive", "--day", "2026-11-03").exit_code == ExitCode.DONE
    before = {name: (winter / "lists" / name).read_bytes() for name in ALL}
    assert run("lists", winter).exit_code == ExitCode.DONE
    assert '"done_on":"2026-11-03"' in page.read_text(encoding="utf-8")
    changed = {name for name in ALL if (winter / "lists" / name).read_bytes() != before[name]}
    assert changed == {"carry-phone.html"}
