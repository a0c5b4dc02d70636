"""``overwinter replan``: the common delays from the command line, with nothing edited."""

import json
from datetime import date
from pathlib import Path

import pytest
from cli_winter import carries, edit, names, runner, tiny_winter
from typer.testing import Result

from overwinter.cli.app import app
from overwinter.cli.guard import ExitCode
from overwinter.files.history import read_history

INPUTS = ("shelters.toml", "site.toml", "trees.csv")


def run(*arguments: object) -> Result:
    """One command, in process."""
    return runner.invoke(app, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A winter with a second shed, planned, and its first carries marked."""
    folder = tiny_winter(tmp_path_factory.mktemp("begun"))
    shelters = (folder / "shelters.toml").read_text(encoding="utf-8")
    shed = shelters[shelters.index('[[shelter]]\nid = "shed"') :]
    with (folder / "shelters.toml").open("a", encoding="utf-8") as stream:
        stream.write(shed.replace('"shed"', '"loft"').replace('"Shed"', '"Loft"'))
    edit(
        folder / "site.toml",
        "garden = { volts = 230, amps = 16 }",
        "garden = { volts = 230, amps = 32 }",
    )
    assert run("plan", folder).exit_code == ExitCode.DONE
    assert run("mark", folder, "--all", "--day", "2026-11-10").exit_code == ExitCode.DONE
    return folder


@pytest.fixture
def winter(begun: Path, tmp_path: Path) -> Path:
    """A copy of it to work on."""
    import shutil

    return Path(shutil.copytree(begun, tmp_path / "winter"))


def used(folder: Path) -> str:
    """The shelter that the trees were carried to."""
    history = read_history(folder)
    assert history is not None
    return history.marks[0].mark.target.split("/")[0]


def test_nothing_changed(winter: Path) -> None:
    """The plan is gone on with; the inputs are untouched; the history holds both."""
    inputs = {name: (winter / name).read_bytes() for name in INPUTS}
    before = carries(winter)
    result = run("replan", winter, "--today", "2026-11-20")
    assert result.exit_code == ExitCode.DONE, result.stderr
    assert "plan 2 beside plan 1, from 20 Nov 2026 on" in result.stdout
    assert "no fact changed" in result.stdout
    assert "plan 1 is kept" in result.stdout
    assert "plan 1 if kept" not in result.stdout  # plan 2 is just that
    assert "4 of 4 trees keep their places." in result.stdout

    def told(carry: dict[str, str]) -> tuple[str, str]:
        return carry["tree_id"], carry["target"]

    assert [told(carry) for carry in carries(winter)] == [told(carry) for carry in before]
    assert {name: (winter / name).read_bytes() for name in INPUTS} == inputs
    assert run("show", winter).exit_code == ExitCode.DONE


def test_a_plan_gone_on_with_costs_what_it_did(winter: Path) -> None:
    """That today cuts the winter in two changes little: signs that came late in some winters of the
    sample have come by today in all of them."""
    found = json.loads(run("replan", winter, "--today", "2026-11-20", "--what-if", "--json").stdout)
    before, after = found["costs"]["before"], found["costs"]["gone_on"]
    assert after["total"] == pytest.approx(before["total"], rel=0.05)
    assert found["broken_by_going_on"] == []


def test_a_shelter_shut_early_and_a_second_delay(winter: Path) -> None:
    """All trees leave it in time for the other; the next re-plan starts there and remembers."""
    shelter = used(winter)
    other = "loft" if shelter == "shed" else "shed"
    result = run(
        "replan", winter, "--today", "2026-11-20", "--closes", f"{shelter}=2026-12-01", "--json"
    )
    assert result.exit_code == ExitCode.DONE, result.stderr
    found = json.loads(result.stdout)
    assert found["left_out"] == []
    assert {one["rule"] for one in found["broken_by_going_on"]} >= {"shelter open"}
    moved = {one["tree_id"]: one["after"][0] for one in found["changed"]}
    assert moved["Olive"]["target"].startswith(other)
    assert moved["Olive"]["day"] <= "2026-12-01"
    assert found["costs"]["after"]["disturbance"] > 0
    days = {c["day"] for one in found["changed"] for c in one["after"]}
    for day in sorted(day for day in days if day < "2026-12-20"):
        assert run("mark", winter, "--all", "--day", day).exit_code == ExitCode.DONE
    again = run("replan", winter, "--today", "2026-12-20", "--gone", "Olive")
    assert again.exit_code == ExitCode.DONE, again.stderr
    assert "Olive is gone from 20 Dec 2026" in again.stdout
    history = read_history(winter)
    assert history is not None
    assert [plan.parent for plan in history.plans.values()] == [None, 1, 2]
    assert shelter in history.in_force.changes.closes  # said once, in force since
    plan = history.in_force.read().plan
    assert "Olive" not in plan.stays
    assert not any(
        place and place.startswith(f"{shelter}/")
        for path in plan.stays.values()
        for stage, place in zip(plan.stages, path, strict=True)
        if stage.usual >= history.in_force.changes.closes[shelter]
    )
    assert run("show", winter).exit_code == ExitCode.DONE


def test_a_late_shelter(tmp_path: Path) -> None:
    """No tree is in it before it opens, and that day is a stage."""
    folder = tiny_winter(tmp_path)
    assert run("plan", folder).exit_code == ExitCode.DONE
    facts = ("--late", "shed=2026-11-25", "--unmarked", "not-done")
    result = run("replan", folder, "--today", "2026-11-02", *facts, "--json")
    assert result.exit_code in (ExitCode.DONE, ExitCode.TREES_LEFT_OUT), result.stderr
    history = read_history(folder)
    assert history is not None
    plan = history.in_force.read().plan
    opening = date(2026, 11, 25)
    assert opening in {stage.usual for stage in plan.stages}
    for path in plan.stays.values():
        for stage, place in zip(plan.stages, path, strict=True):
            assert stage.usual >= opening or place == "garden/bench"
    assert run("show", folder).exit_code == result.exit_code


def test_alike_trees_are_one_line_for_people_and_two_for_scripts(winter: Path) -> None:
    """Both elms of one row have to leave the shelter that shuts."""
    request = ("replan", winter, "--today", "2026-11-20", "--closes", f"{used(winter)}=2026-12-01")
    text = run(*request, "--what-if").stdout
    assert "Elm (all 2)" in text
    assert "Elm 1/2" not in "\n".join(
        line for line in text.splitlines() if not line.startswith("With ")
    )
    found = json.loads(run(*request, "--what-if", "--json").stdout)
    assert {"Elm 1/2", "Elm 2/2"} <= {one["tree_id"] for one in found["changed"]}


def test_lists_and_report_of_the_plan_before_are_called_old(winter: Path) -> None:
    """A list on paper that nobody renews sends trees to a shelter that is shut."""
    request = ("replan", winter, "--today", "2026-11-20")
    assert "Older" not in run(*request).stdout
    assert run("lists", winter).exit_code == ExitCode.DONE
    assert "Older" not in run(*request, "--what-if").stdout
    last = f"Older than this plan: the lists. Run overwinter lists {winter} again."
    assert run(*request).stdout.splitlines()[-1] == last
    assert run("report", winter).exit_code == ExitCode.DONE
    back = run("history", winter, "--back", "1").stdout
    assert "the lists and the report. Run overwinter lists" in back
    assert json.loads(run(*request, "--json").stdout)["after"]


def test_what_if_writes_nothing(winter: Path) -> None:
    """The answer is shown, and every file is as it was."""
    before = {path.name: path.read_bytes() for path in winter.iterdir()}
    shelter = used(winter)
    result = run("replan", winter, "--today", "2026-11-20", "--broken", shelter, "--what-if")
    assert result.exit_code in (ExitCode.DONE, ExitCode.TREES_LEFT_OUT), result.stderr
    assert "what if beside plan 1" in result.stdout
    assert {path.name: path.read_bytes() for path in winter.iterdir()} == before


def test_history_says_the_same_of_both_plans(winter: Path) -> None:
    """What is unmarked and what is carried count alike, whichever command is asked."""
    facts = ("--closes", f"{used(winter)}=2026-12-20", "--unmarked", "not-done")
    told = json.loads(run("replan", winter, "--today", "2026-12-15", *facts, "--json").stdout)
    assert run("mark", winter, "--all", "--day", "2026-12-20").exit_code == ExitCode.DONE
    again = json.loads(run("history", winter, "--compare", 1, 2, "--json").stdout)
    for part in ("first", "carries", "unchanged", "changed", "other_days", "heaters", "gone"):
        assert again[part] == told[part]


def test_broken_and_mended(winter: Path) -> None:
    """From the day it breaks no setting relies on the heater; mended, it may be used again."""
    shelter = used(winter)
    broken = run("replan", winter, "--today", "2026-12-03", "--broken", f"{shelter}=2026-12-01")
    assert broken.exit_code in (ExitCode.DONE, ExitCode.TREES_LEFT_OUT), broken.stderr
    history = read_history(winter)
    assert history is not None
    plan = history.in_force.read().plan
    for stage, setting in zip(plan.stages, plan.settings[shelter], strict=True):
        if stage.usual >= history.in_force.since:
            assert setting.is_off
    assert run("show", winter).exit_code == broken.exit_code
    mended = run(
        "replan", winter, "--today", "2026-12-05", "--mended", shelter, "--unmarked", "not-done"
    )
    assert mended.exit_code == ExitCode.DONE, mended.stderr
    assert "works again" in mended.stdout
    twice = run("replan", winter, "--today", "2026-12-05", "--mended", shelter)
    assert twice.exit_code == ExitCode.BAD_INPUT


def test_a_tree_that_joined(winter: Path) -> None:
    """Written into the tree list with its day it is planned from that day on."""
    with (winter / "trees.csv").open("a") as stream:
        stream.write("Late elm,Ulmus parvifolia,1,30,30,35,5,3,ordinary,120\n")
    missing = run("replan", winter, "--today", "2026-12-03")
    assert missing.exit_code == ExitCode.BAD_INPUT
    assert "Late elm (row 5)" in missing.stderr
    text = (winter / "trees.csv").read_text(encoding="utf-8").splitlines()
    new = {0: "joins,quarantine_until", len(text) - 1: "2026-12-10,no"}
    joined = [f"{line},{new.get(number, ',')}" for number, line in enumerate(text)]
    (winter / "trees.csv").write_text("\n".join(joined) + "\n", encoding="utf-8")
    for command in ("show", "lists"):  # one line, and not a fault a stage
        unknown = run(command, winter)
        assert unknown.exit_code == ExitCode.BAD_INPUT
        assert "New in the tree list: Late elm (row 5). Make it anew" in unknown.stderr
    result = run("replan", winter, "--today", "2026-12-03", "--json")
    assert result.exit_code == ExitCode.DONE, result.stderr
    found = json.loads(result.stdout)
    assert found["because"] == ["added: Late elm"]
    assert run("report", winter).exit_code == ExitCode.DONE
    page = (winter / "report.html").read_text(encoding="utf-8")
    changes = page.split('id="changes"')[1].split("<h2")[0]
    assert "Because: added: Late elm." in changes
    assert "No tree goes another way" not in changes
    assert "Late elm" in changes.split("Because: added: Late elm.")[1]
    (late,) = [one for one in found["changed"] if one["tree_id"] == "Late elm"]
    assert (late["after"][0]["day"], late["after"][0]["source"]) == ("2026-12-10", None)


def test_unmarked_carries(winter: Path) -> None:
    """Due and not marked: told with names; done writes marks that say they were assumed."""
    late = run("replan", winter, "--today", "2027-03-25")
    assert late.exit_code == ExitCode.BAD_INPUT
    assert "not marked" in late.stderr
    assert "--unmarked done" in late.stderr
    assert run("replan", winter, "--today", "2027-03-25", "--unmarked", "maybe").exit_code == 2
    done = run("replan", winter, "--today", "2027-03-25", "--unmarked", "done")
    assert done.exit_code == ExitCode.DONE, done.stderr
    history = read_history(winter)
    assert history is not None
    assert any(one.mark.assumed for one in history.marks)
    assert "(taken as done)" in run("history", winter).stdout


def test_every_mistake_at_once(winter: Path) -> None:
    """Five mistakes in one line come out together with near spellings; nothing is written."""
    before = names(winter), (winter / "history.json").read_bytes()
    result = run(
        "replan",
        winter,
        "--today",
        "2026-11-20",
        "--late",
        "shde=2026-12-01",
        "--closes",
        "loft",
        "--closes",
        "loft=2030-01-01",
        "--broken",
        "garden",
        "--gone",
        "Larhc",
    )
    assert result.exit_code == ExitCode.BAD_INPUT
    for words in (
        "Did you mean 'shed'?",
        "SHELTER=DATE",
        "a day of this winter, 2026-11-01 to 2027-03-31",
        "a shelter with a heater",
        "Did you mean 'Larch'?",
        "5 problems; nothing was written.",
    ):
        assert words in result.stderr
    assert (names(winter), (winter / "history.json").read_bytes()) == before


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--today", "tomorrow"], "expected a day. Write year"),
        (["--today", "2028-01-01"], "not in this winter"),
        (["--today", "2026-11-20", "--gone", "Olive=2026-12-01"], "up to today"),
        (["--today", "2026-11-20", "--late", "garden=2026-12-01"], "summer stand"),
    ],
)
def test_requests_that_make_no_sense(winter: Path, arguments: list[str], says: str) -> None:
    """Each is refused with exit code 2."""
    result = run("replan", winter, *arguments)
    assert result.exit_code == ExitCode.BAD_INPUT
    assert says in result.stderr


def test_planning_afresh_is_refused_under_way(winter: Path) -> None:
    """A marked winter is not planned over; ``--restart`` keeps the old history."""
    result = run("plan", winter)
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "under way" in result.stderr
    old = (winter / "history.json").read_bytes()
    restarted = run("plan", winter, "--restart")
    assert restarted.exit_code == ExitCode.DONE, restarted.stderr
    assert (winter / "history-1.json").read_bytes() == old
    assert run("plan", winter).exit_code == ExitCode.DONE  # nothing marked yet: planned again
