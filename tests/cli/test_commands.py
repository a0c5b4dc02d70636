"""What the commands do: effects, messages, exit codes."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from cli_winter import edit, names, runner, tiny_winter
from openpyxl import Workbook
from typer.testing import Result

from overwinter.cli.app import COMMANDS, app
from overwinter.cli.guard import ExitCode
from overwinter.rules import RULES

INPUTS = ["shelters.toml", "site.toml", "trees.csv"]
OUTPUTS = [".overwinter-outputs.json", "carries.csv", "placements.csv", "plan.json"]
STARTER = ["README.md", "shelters.toml", "site.toml", "species.csv", "trees.csv"]


def run(*arguments: object) -> Result:
    """One command, in process."""
    return runner.invoke(app, [str(argument) for argument in arguments])


@pytest.fixture
def winter(tmp_path: Path) -> Path:
    """A winter that has not been planned."""
    return tiny_winter(tmp_path)


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A winter that has been planned; tests only read it."""
    folder = tiny_winter(tmp_path_factory.mktemp("planned"))
    assert run("plan", folder).exit_code == ExitCode.DONE
    return folder


def test_exit_codes_are_those_documented() -> None:
    """Scripts rely on these numbers; docs/commands.md lists them."""
    documented = (Path(__file__).parents[2] / "docs" / "commands.md").read_text(encoding="utf-8")
    for code, number in (
        (ExitCode.DONE, 0),
        (ExitCode.TREES_LEFT_OUT, 1),
        (ExitCode.BAD_INPUT, 2),
        (ExitCode.REFUSED, 3),
        (ExitCode.STOPPED, 130),
    ):
        assert code == number
        assert f"| {number} |" in documented


def test_every_command_is_documented() -> None:
    """docs/commands.md has a section for every command in the table."""
    documented = (Path(__file__).parents[2] / "docs" / "commands.md").read_text(encoding="utf-8")
    for name in COMMANDS:
        assert f"`overwinter {name}" in documented, name


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(name: str) -> None:
    """``--help`` of every command ends well and says something."""
    result = run(name, "--help")
    assert result.exit_code == 0
    assert "Usage: " in result.stdout


def test_no_command_shows_the_help() -> None:
    """Without a command the table of commands is shown, and the request counts as wrong."""
    result = run()
    assert result.exit_code == 2
    for name in COMMANDS:
        assert f"  {name} " in result.output


# --- init ---------------------------------------------------------------------------------------


def test_init_writes_a_folder_that_checks(tmp_path: Path) -> None:
    """The starter folder is written whole and has no problems."""
    result = run("init", tmp_path / "new")
    assert result.exit_code == ExitCode.DONE
    assert names(tmp_path / "new") == STARTER
    assert run("check", tmp_path / "new").exit_code == ExitCode.DONE


def test_init_keeps_other_files(tmp_path: Path) -> None:
    """A folder with other things in it is filled, and they stay."""
    (tmp_path / "notes.txt").write_text("mine")
    assert run("init", tmp_path).exit_code == ExitCode.DONE
    assert (tmp_path / "notes.txt").read_text() == "mine"


@pytest.mark.parametrize("name", ["trees.xlsx", "trees.csv", "site.toml", "plan.json"])
def test_init_never_writes_into_a_winter(tmp_path: Path, name: str) -> None:
    """A folder that holds a winter's file is left as it is."""
    (tmp_path / name).write_text("mine")
    result = run("init", tmp_path)
    assert result.exit_code == ExitCode.BAD_INPUT
    assert result.stderr == (
        f"{tmp_path} already holds {name}; init writes over nothing. "
        "Give the name of a new folder.\n"
    )
    assert names(tmp_path) == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_init_on_a_file(tmp_path: Path) -> None:
    """A file can't become a folder."""
    (tmp_path / "new").write_text("mine")
    result = run("init", tmp_path / "new")
    assert result.exit_code == ExitCode.BAD_INPUT
    assert result.stderr.endswith("new is a file, not a folder; give the name of a new folder.\n")


def test_init_json(tmp_path: Path) -> None:
    """A script reads what was written."""
    result = run("init", tmp_path / "new", "--json")
    assert json.loads(result.stdout) == {"folder": str(tmp_path / "new"), "written": STARTER}


# --- check --------------------------------------------------------------------------------------


def test_check_says_what_was_read(winter: Path) -> None:
    """Trees, kinds, places and weather are counted; nothing is written."""
    result = run("check", winter)
    assert result.exit_code == ExitCode.DONE
    assert result.stderr == ""
    lines = result.stdout.splitlines()
    assert lines[0] == "Tiny yard, 1 Nov 2026 to 31 Mar 2027"
    assert lines[1] == "4 trees of 3 kinds, 2 places in 2 shelters"
    assert "No problems found." in lines
    assert lines[-1].startswith("Nothing was written; `check --write`")
    assert names(winter) == INPUTS


def test_check_asks_about_a_winter_that_is_over(winter: Path) -> None:
    """A year too early passed without a word; days of the week, sheets and calendar then err."""
    for name in ("site.toml", "shelters.toml"):
        text = (winter / name).read_text("utf-8")
        (winter / name).write_text(text.replace("2026-", "2006-").replace("2027-", "2007-"))
    done = run("check", winter)
    assert "2007, which has passed. Is the year right?" in done.stdout, done.stdout


@pytest.mark.parametrize("form", ["csv", "xlsx"])
def test_check_writes_guesses_only_when_asked(winter: Path, form: str) -> None:
    """Guesses land in their cells, named in a column; the list as it was is kept; nothing is left
    to guess then."""
    lines = ["My trees;;;", "Name;Species;Width (in);Ht. (in)", "Red;Acer palmatum;20;24"]
    (winter / "trees.csv").unlink()
    path = winter / f"trees.{form}"
    if form == "csv":
        path.write_text("\n".join(lines) + "\n")
    else:
        book = Workbook()
        for line in lines:
            book.active.append([int(c) if c.isdigit() else c for c in line.split(";")])
        book.save(path)
    before = path.read_bytes()
    assert run("check", winter).exit_code == ExitCode.DONE
    assert path.read_bytes() == before
    result = run("check", winter, "--write")
    assert result.exit_code == ExitCode.DONE, result.stderr
    assert (winter / f"trees before check.{form}").read_bytes() == before
    told = json.loads(run("check", winter, "--json").stdout)
    assert told["ok"]
    assert not [line for line in told["assumed"] if " no " in line]


def test_check_shows_every_problem_at_once(winter: Path) -> None:
    """Problems of several files come together on stderr, one a line, and exit code 2."""
    edit(winter / "trees.csv", "Olive,Olea europaea,1,45", "Olive,Olea europaea,1,wide")
    edit(winter / "site.toml", 'currency = "EUR"', 'curency = "EUR"')
    result = run("check", winter)
    assert result.exit_code == ExitCode.BAD_INPUT
    assert result.stdout == ""
    lines = result.stderr.splitlines()
    assert any(line.startswith("site.toml") and "curency" in line for line in lines)
    assert any(line.startswith("trees.csv, row 3, width_cm: found 'wide'") for line in lines)
    assert lines[-1] == f"{len(lines) - 1} problems; nothing was written."


def test_check_json(winter: Path) -> None:
    """A script gets what was read, or every problem field by field."""
    good = json.loads(run("check", winter, "--json").stdout)
    assert (good["ok"], good["trees"], good["starts"]) == (True, 4, "2026-11-01")
    edit(winter / "trees.csv", "Olive,Olea europaea,1,45", "Olive,Olea europaea,1,wide")
    result = run("check", winter, "--json")
    assert result.exit_code == ExitCode.BAD_INPUT
    bad = json.loads(result.stdout)
    assert bad["ok"] is False
    (problem,) = bad["problems"]
    assert (problem["file"], problem["row"], problem["column"]) == ("trees.csv", 3, "width_cm")


def test_check_of_no_folder(tmp_path: Path) -> None:
    """A folder that is not there is one problem."""
    result = run("check", tmp_path / "none")
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "found no such folder" in result.stderr
    assert result.stderr.endswith("1 problem; nothing was written.\n")


def test_check_says_what_a_heater_lacks(winter: Path) -> None:
    """A heater of 0.4 kW cannot keep 1 °C in the design night: told once, not refused."""
    edit(winter / "shelters.toml", "power_w = 2500", "power_w = 400")
    result = run("check", winter)
    assert result.exit_code == ExitCode.DONE
    (line,) = [one for one in result.stdout.splitlines() if one.startswith("- Heater: ")]
    assert line.startswith("- Heater: Shed needs ")
    assert "to hold 1 °C" in line
    assert "lasts and has 0.40 kW: its air then falls below that" in line
    (weak, *_) = json.loads(run("check", winter, "--json").stdout)["weak_heaters"]
    assert weak["need_w"] > weak["has_w"] == 400


# --- plan ---------------------------------------------------------------------------------------


def test_plan_writes_and_shows(planned: Path) -> None:
    """The plan, its placements and its carries are written; the summary is 80 columns wide."""
    assert names(planned) == sorted([*INPUTS, *OUTPUTS, "history.json"])
    result = run("show", planned)
    assert result.exit_code == ExitCode.DONE
    lines = result.stdout.splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[1].startswith("Trees ")
    assert ", none left out" in " ".join(result.stdout.split())
    assert lines[-1].startswith(f"Audited: all {len(RULES)} rules hold.")


def test_same_input_same_plan(planned: Path, winter: Path) -> None:
    """Two runs on the same input write the same placements and carries, byte for byte."""
    run("plan", winter)
    for name in ("placements.csv", "carries.csv"):
        assert (winter / name).read_bytes() == (planned / name).read_bytes()


def test_plan_replaces_its_own_outputs_only(winter: Path) -> None:
    """Outputs as written are replaced; one edited by hand is left alone until forced."""
    assert run("plan", winter).exit_code == ExitCode.DONE
    assert run("plan", winter).exit_code == ExitCode.DONE
    edited = (winter / "carries.csv").read_text() + "my note\n"
    (winter / "carries.csv").write_text(edited)
    before = (winter / "plan.json").read_bytes()
    result = run("plan", winter)
    assert result.exit_code == ExitCode.BAD_INPUT
    assert result.stderr == (
        f"carries.csv in {winter} was not written by overwinter, or was changed since. "
        "Use --out DIR to write elsewhere, or --force to replace.\n"
    )
    assert (winter / "carries.csv").read_text() == edited
    assert (winter / "plan.json").read_bytes() == before
    assert run("plan", winter, "--force").exit_code == ExitCode.DONE
    assert "my note" not in (winter / "carries.csv").read_text()


def test_plan_out(winter: Path, tmp_path: Path) -> None:
    """``--out`` leaves the input folder as it was and makes the other one."""
    assert run("plan", winter, "--out", tmp_path / "elsewhere").exit_code == ExitCode.DONE
    assert names(winter) == INPUTS
    assert names(tmp_path / "elsewhere") == OUTPUTS
    alone = run("report", tmp_path / "elsewhere")
    assert alone.exit_code == ExitCode.BAD_INPUT
    assert "found plan.json alone, as `plan --out` writes it" in alone.stderr
    assert alone.stderr.endswith("1 problem; nothing was written.\n")
    deep = run("plan", winter, "--out", tmp_path / "no" / "such")
    assert deep.exit_code == ExitCode.BAD_INPUT
    assert deep.stderr == f"There is no folder {tmp_path / 'no'} to make such in.\n"


def test_plan_json(winter: Path) -> None:
    """A script gets bill, costs, proof, stages, carries and risks, and nothing else on stdout."""
    result = run("plan", winter, "--json")
    assert result.exit_code == ExitCode.DONE
    found = json.loads(result.stdout)
    assert found["audit_passed"] is True
    assert found["trees_placed"] == 4
    costs = found["costs"]
    assert costs["total"] == pytest.approx(costs["heat"] + costs["worry"])
    assert found["bill"]["low"] <= found["bill"]["mean"] <= found["bill"]["high"]
    assert found["proof"]["gap"] >= 0
    assert set(found["risks"]) == {"Elm 1/2", "Elm 2/2", "Larch", "Olive"}
    days = [stage["usual"] for stage in found["stages"]]
    assert days == sorted(days)


def test_tree_left_out_is_told_and_counts(winter: Path) -> None:
    """A fig too tall for the shed is left out: exit code 1, the others are planned and written."""
    with (winter / "trees.csv").open("a") as stream:
        stream.write("Big fig,Ficus microcarpa,1,60,60,180,30,20,ordinary,400\n")
    result = run("plan", winter)
    assert result.exit_code == ExitCode.TREES_LEFT_OUT
    assert "1 left out (--table left-out): Big fig" in " ".join(result.stdout.split())
    assert names(winter) == sorted([*INPUTS, *OUTPUTS, "history.json"])
    table = run("show", winter, "--table", "left-out")
    assert table.exit_code == ExitCode.TREES_LEFT_OUT
    assert "too tall" in table.stdout
    assert "infeasible" not in (result.output + table.output).lower()
    larch = run("show", winter, "--tree", "larch")
    assert "Big fig" not in larch.stdout
    for asked in (("--tree", "big fig"), ("--why", "big fig"), ("--why", "fig", "--why", "larch")):
        told = run("show", winter, *asked)
        assert told.exit_code == ExitCode.TREES_LEFT_OUT
        said = " ".join(told.stdout.split())
        assert "Without a place: Big fig (stays at Garden, Bench)." in said
        assert "too tall" in told.stdout
        assert "written" not in told.output


def test_bad_input_to_plan_writes_nothing(winter: Path) -> None:
    """Problems of the input end a plan as they end a check."""
    edit(winter / "trees.csv", "Olive,Olea europaea,1,45", "Olive,Olea europaea,1,wide")
    result = run("plan", winter)
    assert result.exit_code == ExitCode.BAD_INPUT
    assert "trees.csv, row 3, width_cm" in result.stderr
    assert names(winter) == INPUTS


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--gap", "2", "The gap is a share"),
        ("--time-limit", "-1", "The time limit must be above 0 s"),
    ],
)
def test_wrong_options(winter: Path, option: str, value: str, words: str) -> None:
    """An option out of its range is a wrong request, told in words."""
    result = run("plan", winter, option, value)
    assert result.exit_code == ExitCode.BAD_INPUT
    assert words in result.stderr
    assert names(winter) == INPUTS


# --- failures -----------------------------------------------------------------------------------

PLANNER = "overwinter.search.plan_winter.plan_winter"


def failing(error: BaseException) -> object:
    """A planner that fails."""

    def plan_winter(*_arguments: object) -> None:
        raise error

    return plan_winter


def test_audit_refusal(winter: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan that fails its audit is neither shown nor written; the findings are."""
    from overwinter.search.plan_winter import plan_winter

    def dishonest(*arguments: object) -> object:
        from overwinter.audit.audit import audit

        outcome = plan_winter(*arguments)
        costs = replace(outcome.plan.costs, heat=0.0)
        plan = replace(outcome.plan, costs=costs)
        report = audit(outcome.season, outcome.conditions, outcome.stage_days, plan)
        return replace(outcome, plan=plan, report=report)

    monkeypatch.setattr(PLANNER, dishonest)
    result = run("plan", winter)
    assert result.exit_code == ExitCode.REFUSED
    _, second = result.stderr.split("The audit refused the plan:\n")
    assert second.startswith("costs: ")
    assert result.stdout == ""
    assert names(winter) == INPUTS


def test_stopped_by_hand(winter: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C before there is a plan ends with 130 and leaves nothing behind."""
    monkeypatch.setattr(PLANNER, failing(KeyboardInterrupt()))
    result = run("plan", winter)
    assert result.exit_code == ExitCode.STOPPED
    assert result.stderr == "Stopped; nothing was written.\n"
    assert names(winter) == INPUTS


def test_solver_that_broke_down(winter: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A broken solver is a failure, not a mistake of the user."""
    from overwinter.solvers.report import SolverFailed

    monkeypatch.setattr(PLANNER, failing(SolverFailed("HiGHS would not take the rows.")))
    result = run("plan", winter)
    assert (result.exit_code, result.stderr) == (
        ExitCode.REFUSED,
        "HiGHS would not take the rows.\n",
    )


def test_mistake_of_the_program(winter: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A failure inside shows two lines, and its traceback only with ``--debug``."""
    monkeypatch.setattr(PLANNER, failing(ZeroDivisionError("nought")))
    result = run("plan", winter)
    assert result.exit_code == ExitCode.REFUSED
    assert result.stderr == (
        "The program failed (ZeroDivisionError: nought).\n"
        "This is a mistake in overwinter. `overwinter --debug ...` shows where.\n"
    )
    loud = run("--debug", "plan", winter)
    assert loud.exit_code == ExitCode.REFUSED
    assert "Traceback (most recent call last)" in loud.stderr
    assert names(winter) == INPUTS


# --- show ---------------------------------------------------------------------------------------


def test_show_without_a_plan(winter: Path) -> None:
    """What is missing is named, with the command that makes it."""
    result = run("show", winter)
    assert result.exit_code == ExitCode.BAD_INPUT
    assert result.stderr == (
        f"There is no history.json in {winter}; plan first, with `overwinter plan {winter}`.\n"
    )


@pytest.mark.parametrize(
    ("table", "heading"),
    [
        ("stages", "most years"),
        ("stays", "usual days"),
        ("carries", "weight, kg"),
        ("heat", "bought, kWh"),
        ("places", "of the most allowed, %"),
        ("risks", "chance"),
        ("left-out", "none"),
        ("costs", "a winter, EUR"),
    ],
)
def test_show_tables(
    planned: Path, table: str, heading: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every table is shown on request, with units in its headings; it folds to the screen."""
    narrow = run("show", planned, "--table", table).stdout
    assert max(map(len, narrow.splitlines())) <= 80
    monkeypatch.setenv("COLUMNS", "200")
    result = run("show", planned, "--table", table)
    assert result.exit_code == ExitCode.DONE
    assert heading in result.stdout
    assert "\x1b" not in result.stdout


def test_show_all_tables_as_json(planned: Path) -> None:
    """``--table all --json`` is one document with every table."""
    found = json.loads(run("show", planned, "--table", "all", "--json").stdout)
    named = ["stages", "stays", "carries", "heat", "places", "risks", "left-out", "costs"]
    assert list(found) == named
    stays = {row["tree"] for row in found["stays"]}
    assert stays == {"Elm 1/2", "Elm 2/2", "Larch", "Olive"}


def test_show_trees_by_a_word(planned: Path) -> None:
    """Part of a name or of a kind will do, as anyone calls it; what nobody is called is told."""
    assert "Larch" in run("show", planned, "--tree", "larc").stdout
    assert "Olive" in run("show", planned, "--tree", "olea").stdout
    nobody = run("show", planned, "--tree", "baobab")
    assert nobody.exit_code == ExitCode.BAD_INPUT
    assert "a tree of the list" in nobody.stderr


def test_show_where_everything_is_on_a_day(planned: Path) -> None:
    """Place by place, or for some trees; a day outside the winter is refused."""
    shown = run("show", planned, "--on", "2027-01-01", "--json")
    rows = json.loads(shown.stdout)["on"]
    assert sum(row["trees"] for row in rows) == 4
    assert "Larch" in run("show", planned, "--on", "2027-01-01", "--tree", "larch").stdout
    assert run("show", planned, "--on", "2031-01-01").exit_code == ExitCode.BAD_INPUT


def test_show_heaters_and_why(planned: Path) -> None:
    """Each setting with its stages; for every other place what it lacks or costs."""
    assert "hold" in run("show", planned, "--heaters").stdout
    rows = json.loads(run("show", planned, "--why", "larch", "--json").stdout)["why"]
    places = {"garden", "shed"}
    assert all(row["place"].split(",")[0].casefold() in places for row in rows)
    assert all(row["what speaks against it"] for row in rows)


def test_show_unknown_table(planned: Path) -> None:
    """A misspelt table is a wrong request; the near name is offered."""
    result = run("show", planned, "--table", "carrys")
    assert result.exit_code == ExitCode.BAD_INPUT
    assert result.stderr == (
        "--table is stages, stays, carries, heat, places, risks, left-out, costs or all, "
        "not 'carrys'. Did you mean 'carries'?\n"
    )


def test_show_after_the_inputs_changed(winter: Path) -> None:
    """A plan is checked against the inputs as they are: a change that costs nothing is told."""
    run("plan", winter)
    edit(winter / "site.toml", "hours_a_day = 4", "hours_a_day = 3")
    result = run("show", winter)
    assert result.exit_code == ExitCode.DONE
    assert result.stderr == (
        "The inputs have changed since this plan was made; it is checked against them as now.\n"
    )
    edit(winter / "site.toml", "hours_a_day = 3", "hours_a_day = 0.01")
    refused = run("show", winter)
    assert refused.exit_code == ExitCode.REFUSED
    assert "hands and daylight" in refused.stderr
    assert "Make it anew with `overwinter plan`" in refused.stderr
    assert refused.stdout == ""


def test_show_a_plan_changed_by_hand(winter: Path) -> None:
    """A place changed in the history no longer fits its carries and costs, and is refused."""
    run("plan", winter)
    edit(winter / "history.json", '"shed/bench"', '"garden/bench"')
    result = run("show", winter)
    assert result.exit_code == ExitCode.REFUSED
    assert "The audit refused the plan:" in result.stderr


def test_show_of_one_tree(planned: Path) -> None:
    """Its stays and risks; a name that is none is a wrong request."""
    found = json.loads(run("show", planned, "--tree", "Elm", "--json").stdout)
    assert list(found) == ["stays", "risks"]
    assert {row["tree"] for row in found["stays"]} == {"Elm 1/2", "Elm 2/2"}
    wrong = run("show", planned, "--tree", "Oak")
    assert wrong.exit_code == ExitCode.BAD_INPUT
    assert "--tree: found 'Oak'" in wrong.stderr


# --- versions -----------------------------------------------------------------------------------


def test_versions() -> None:
    """Versions of everything that decides a plan."""
    found = json.loads(run("versions", "--json").stdout)
    assert {"overwinter", "Python", "PuLP", "HiGHS"} <= set(found)
    text = run("versions").stdout
    assert len(text.splitlines()) == len(found)
