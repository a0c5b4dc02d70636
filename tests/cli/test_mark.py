"""``overwinter mark``: what was carried is written down, and what cannot be is told."""

import json
from datetime import date
from pathlib import Path

import pytest
from cli_winter import edit, runner, tiny_winter, usual_day
from typer.testing import Result

from overwinter.api.changed_facts import Names
from overwinter.api.folder import open_winter
from overwinter.cli.app import app
from overwinter.cli.guard import ExitCode
from overwinter.files.history import read_history
from overwinter.files.season import read_season


def run(*arguments: object) -> Result:
    """One command, in process."""
    return runner.invoke(app, [str(argument) for argument in arguments])


class After(date):
    """A day after the winter, whenever the tests run."""

    @classmethod
    def today(cls) -> date:
        return date(2027, 6, 15)


@pytest.fixture(autouse=True)
def _after(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("overwinter.cli.mark.date", After)


@pytest.fixture
def winter(tmp_path: Path) -> Path:
    """A planned winter: with the first frosts elms, larch and olive go into the shed, and the larch
    goes out again before the plan ends."""
    folder = tiny_winter(tmp_path)
    assert run("plan", folder).exit_code == ExitCode.DONE
    return folder


def marks(folder: Path) -> list[tuple[str, str, str]]:
    """Day, tree and place of every mark in force."""
    history = read_history(folder)
    assert history is not None
    found = [one.mark for one in history.marks]
    return [(mark.day.isoformat(), mark.tree_id, mark.target) for mark in found]


def test_trees_by_name_on_the_day_of_the_plan(winter: Path) -> None:
    """A name in any case; a row with a quantity stands for its trees; each its next carry."""
    result = run("mark", winter, "olive", "Elm")
    assert result.exit_code == ExitCode.DONE, result.stderr
    assert "Marked: 3 carries." in result.stdout
    assert "Nov 2026  Olive: now at Shed, Bench" in result.stdout
    assert set(marks(winter)) == {
        (usual_day(winter, tree), tree, "shed/bench") for tree in ("Elm 1/2", "Elm 2/2", "Olive")
    }
    run("mark", winter, "Larch")
    assert run("mark", winter, "Larch").exit_code == ExitCode.DONE  # its next: out in spring
    assert marks(winter)[-1] == (usual_day(winter, "Larch", 1), "Larch", "garden/bench")


def test_what_lies_months_ahead_needs_its_day(
    winter: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In autumn a tree marked twice is not out again; its mark in May would spoil every re-plan."""
    autumn = date.fromisoformat(usual_day(winter, "Larch"))
    monkeypatch.setattr(After, "today", lambda: autumn)
    assert run("mark", winter, "Larch").exit_code == ExitCode.DONE
    again = run("mark", winter, "Larch")
    assert again.exit_code == ExitCode.BAD_INPUT
    spring = usual_day(winter, "Larch", 1)
    assert f"next carry due about {spring}" in again.stderr
    assert "--day DATE" in again.stderr
    assert len(marks(winter)) == 1
    ahead = run("mark", winter, "Larch", "--day", spring)
    assert ahead.exit_code == ExitCode.DONE
    assert "is still to come; if that is a slip" in ahead.stdout


def test_trees_by_their_kind_or_number(tmp_path: Path) -> None:
    """As `show --why` finds them; a part of a name is enough to look, too little to mark."""
    folder = tiny_winter(tmp_path)
    edit(folder / "trees.csv", "\nOlive,", "\nOld man,")
    edit(folder / "trees.csv", "\nLarch,Larix decidua", "\n12,European larch")
    season = read_season(folder)
    for written, found in (
        ("Olea europaea", ["Old man"]),
        ("european larch", ["European larch no. 12"]),
        ("12", ["European larch no. 12"]),
        ("ELM", ["Elm 1/2", "Elm 2/2"]),
    ):
        names = Names(season)
        assert names.trees("TREE", written) == names.trees_like("--why", written) == found
        assert names.problems == []
    assert names.trees_like("--why", "europ") == ["European larch no. 12", "Old man"]
    assert names.problems == []
    for part in ("europ", "2"):
        assert names.trees("TREE", part) == []
    few = "There are European larch no. 12, Old man, Elm 1/2 or Elm 2/2."
    assert names.problems[-1].fix == few


def test_all_of_a_day(winter: Path) -> None:
    """``--all`` takes the last carry day up to the day said, as done on the day said."""
    assert run("mark", winter, "--all", "--day", "2026-11-20").exit_code == ExitCode.DONE
    assert {mark[0] for mark in marks(winter)} == {"2026-11-20"}
    first = {tree: usual_day(winter, tree) for tree in ("Elm 1/2", "Elm 2/2", "Larch", "Olive")}
    last = max(day for day in first.values() if day <= "2026-11-20")
    assert {mark[1] for mark in marks(winter)} == {t for t, day in first.items() if day == last}
    run("mark", winter, "Olive")
    again = run("mark", winter, "--all", "--day", "2026-11-21")
    assert again.exit_code == ExitCode.BAD_INPUT
    assert "a day by which open carries are due" in again.stderr


def test_what_was_due_before_that_day_is_told(winter: Path) -> None:
    """``--all`` marks one carry day; what an earlier one asked for and nobody marked is named."""
    autumn = usual_day(winter, "Larch")
    spring = min(usual_day(winter, tree, 1) for tree in ("Elm 1/2", "Larch", "Olive"))
    run("mark", winter, "Larch")
    later = run("mark", winter, "--all", "--day", spring)
    told = [line for line in later.stdout.splitlines() if "Not marked yet" in line]
    assert len(told) == 1
    assert told[0].startswith("Not marked yet: 3 earlier carries, due ")
    assert run("mark", winter, "--all", "--day", spring, "--undo").exit_code == ExitCode.DONE
    run("mark", winter, "Olive")
    earlier = run("mark", winter, "--all", "--day", autumn)
    assert "Not marked yet" not in earlier.stdout
    run("mark", winter, "Olive", "--undo")
    olive = usual_day(winter, "Olive")
    answer = json.loads(run("mark", winter, "--all", "--day", spring, "--json").stdout)
    assert [(one["day"], one["tree_id"]) for one in answer["due_earlier"]] == [(olive, "Olive")]


def test_put_elsewhere(winter: Path) -> None:
    """``--to`` by id or by name; without a carry of the plan it needs a day."""
    done = run("mark", winter, "Larch", "--to", "garden, bench", "--day", "2026-11-20")
    assert done.exit_code == ExitCode.DONE, done.stderr
    assert marks(winter) == [("2026-11-20", "Larch", "garden/bench")]
    assert run("mark", winter, "Larch").exit_code == ExitCode.DONE  # its way home in spring
    assert run("mark", winter, "Larch").exit_code == ExitCode.BAD_INPUT  # nothing is open now
    no_day = run("mark", winter, "Larch", "--to", "shed/bench")
    assert "--day DATE" in no_day.stderr


def test_undo(winter: Path) -> None:
    """The mark is gone from the count and stays in the file; it can be made again."""
    autumn = usual_day(winter, "Olive")
    run("mark", winter, "--all", "--day", autumn)
    made = len(marks(winter))
    result = run("mark", winter, "Olive", "--undo")
    assert "Taken back: 1 carry." in result.stdout
    assert len(marks(winter)) == made - 1 > 0
    assert run("mark", winter, "Olive", "--undo").exit_code == ExitCode.BAD_INPUT
    assert run("mark", winter, "--all", "--day", autumn, "--undo").exit_code == ExitCode.DONE
    assert marks(winter) == []
    run("mark", winter, "Olive")
    assert marks(winter) == [(autumn, "Olive", "shed/bench")]


def test_a_list_handed_back(winter: Path) -> None:
    """The CSV list with ``done`` filled in; twice it marks once; corrected it replaces."""
    assert run("lists", winter, "--format", "csv").exit_code == ExitCode.DONE
    autumn = usual_day(winter, "Olive")
    path = winter / "lists" / "carries-all.csv"
    rows = path.read_text(encoding="utf-8-sig").splitlines()
    head = rows[0].split(",")
    done, day = head.index("done"), head.index("done on")

    def filled(written: str) -> None:
        cells = next(row for row in rows if ",Olive," in row and autumn in row).split(",")
        cells[done], cells[day] = "x", written
        path.write_text("\n".join([rows[0], ",".join(cells)]) + "\n", encoding="utf-8")

    filled("")
    first = json.loads(run("mark", winter, "--ticks", path, "--json").stdout)
    assert [one["tree_id"] for one in first["marked"]] == ["Olive"]
    again = json.loads(run("mark", winter, "--ticks", path, "--json").stdout)
    assert (again["marked"], again["already_marked"]) == ([], 1)
    filled("2026-11-21")
    corrected = json.loads(run("mark", winter, "--ticks", path, "--json").stdout)
    assert [one["day"] for one in corrected["undone"]] == [autumn]
    assert marks(winter) == [("2026-11-21", "Olive", "shed/bench")]


def test_every_mistake_at_once_and_nothing_written(winter: Path) -> None:
    """Three mistakes, three problems with near spellings, exit code 2, no mark."""
    result = run("mark", winter, "Olvie", "Larch", "--to", "shed/bnech", "--day", "1 Movember")
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "Did you mean 'Olive'?" in result.stderr
    assert "Did you mean 'shed/bench'?" in result.stderr
    assert "expected a day. Write year" in result.stderr
    assert "3 problems; nothing was written." in result.stderr
    assert marks(winter) == []


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "What was carried?"),
        (["Olive", "--all", "--day", "2026-11-20"], "What was carried?"),
        (["--all"], "--all needs --day"),
        (["--all", "--day", "2026-11-20", "--to", "shed/bench"], "goes with named trees"),
        (["--ticks", "no.csv", "--undo"], "--undo takes"),
        (["Olive", "--day", "2025-11-01"], "a day of this winter"),
        (["--ticks", "no-such.csv"], "no-such.csv"),
    ],
)
def test_requests_that_make_no_sense(winter: Path, arguments: list[str], says: str) -> None:
    """Each is refused with a hint; nothing is written."""
    before = (winter / "history.json").read_bytes()
    result = run("mark", winter, *arguments)
    assert result.exit_code == ExitCode.BAD_INPUT
    assert says in result.stderr
    assert (winter / "history.json").read_bytes() == before


def test_a_winter_that_was_never_planned(tmp_path: Path) -> None:
    """Without a plan there is nothing to mark."""
    result = run("mark", tiny_winter(tmp_path), "Olive")
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "overwinter plan" in result.stderr


def test_leaves_that_are_down_count_in_the_next_plan(winter: Path) -> None:
    assert (
        run("mark", winter, "Larch", "Elm", "--leaves-down", "--day", "2026-11-05").exit_code == 0
    )
    assert run("mark", winter, "Elm 1/2", "--leaves-down", "--undo").exit_code == 0
    history = read_history(winter)
    assert history is not None
    down = {"Larch": date(2026, 11, 5), "Elm 2/2": date(2026, 11, 5)}
    every = run("mark", winter, "--all", "--leaves-down", "--day", "2026-11-08", "--json")
    told = {"day": "2026-11-08", "tree_ids": ["Larch", "Elm 1/2", "Elm 2/2"]}
    assert json.loads(every.stdout) == told
    run("mark", winter, "--all", "--leaves-down", "--undo")
    run("mark", winter, "Larch", "Elm 2/2", "--leaves-down", "--day", "2026-11-05")
    history = read_history(winter)
    assert history is not None
    assert history.leaves_down == down
    assert "Larch: leaves down 5 Nov 2026" in run("history", winter).stdout
    done = run("replan", winter, "--today", "2026-11-06", "--unmarked", "done")
    assert done.exit_code == ExitCode.DONE, done.stderr
    history = read_history(winter)
    assert history is not None
    assert history.in_force.changes.leaves_down == down
    opened = open_winter(winter)
    trees = opened.season_of(history.in_force, opened.in_force.plan).tree_by_id
    assert trees["Larch"].leaves_down == date(2026, 11, 5)
    assert trees["Elm 1/2"].leaves_down is None
    assert run("show", winter).exit_code == ExitCode.DONE


def test_a_list_that_keeps_no_ticks_or_holds_none(winter: Path) -> None:
    assert run("lists", winter).exit_code == ExitCode.DONE
    page = run("mark", winter, "--ticks", winter / "lists" / "carry-phone.html")
    assert "the .json that the phone page saves" in page.stderr
    empty = run("mark", winter, "--ticks", winter / "lists" / "carries-all.csv")
    assert "nothing is ticked" in empty.stdout


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("2026-15-11", "Are month and day the wrong way round? Write 2026-11-15."),
        ("11/12/2026", "Write 2026-11-12 or 2026-12-11, whichever is meant."),
        ("8 Nov 2026", ""),
        ("15.11.2026", ""),
    ],
)
def test_days_as_people_write_them(winter: Path, written: str, said: str) -> None:
    result = run("mark", winter, "Larch", "--day", written)
    assert result.exit_code == (ExitCode.BAD_INPUT if said else ExitCode.DONE)
    assert said in result.stderr


def test_an_evergreen_has_no_leaves_to_lose(winter: Path) -> None:
    before = read_history(winter)
    wrong = run("mark", winter, "Olive", "--leaves-down", "--day", "2026-11-05")
    assert wrong.exit_code == ExitCode.BAD_INPUT
    assert "evergreen" in wrong.stderr
    for arguments in (["Larch", "--leaves-down"], ["--leaves-down", "--day", "2026-11-05"]):
        assert run("mark", winter, *arguments).exit_code == ExitCode.BAD_INPUT
    assert read_history(winter) == before


def test_a_tree_stands_where_the_files_say_that_it_cannot(tmp_path: Path) -> None:
    """Too tall and too wide by the files: told, believed, and planned from there. Too heavy is told
    and not believed: an overloaded shelf falls."""
    folder = tiny_winter(tmp_path)
    low = '  [[shelter.place]]\n  id = "low"\n  name = "Low shelf"\n  kind = "shelf"\n'
    low += "  width_m = 2.0\n  depth_m = 0.4\n  headroom_m = 0.5\n  load_limit_kg = 30\n"
    with (folder / "shelters.toml").open("a", encoding="utf-8") as stream:
        stream.write(low)
    edit(folder / "trees.csv", "65,18,10", "65,33,10")
    assert run("plan", folder).exit_code == ExitCode.DONE
    day = usual_day(folder, "Olive")
    for tree in ("Olive", "Larch"):
        told = run("mark", folder, tree, "--to", "shed/low", "--day", day)
        assert told.exit_code == ExitCode.DONE, told.stderr
        assert f"{tree} is too tall by 1" in told.stdout
        assert ("too wide by 5 cm" in told.stdout) == (tree == "Olive")
        assert ("too heavy by 3.0 kg" in told.stdout) == (tree == "Larch")
    anew = run("replan", folder, "--today", day, "--unmarked", "done", "--json")
    assert anew.exit_code == ExitCode.DONE, anew.stdout
    plan = open_winter(folder).in_force.plan
    assert plan.stays["Olive"][plan.fixed_stages] == "shed/low"
    assert plan.stays["Larch"][plan.fixed_stages] != "shed/low"
    assert run("show", folder).exit_code == ExitCode.DONE
