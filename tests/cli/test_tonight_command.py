"""``overwinter tonight`` from the command line: lows, forecasts in files, units, mistakes."""

import json
from pathlib import Path

import pytest
from cli_winter import edit, names, runner, tiny_winter
from typer.testing import Result

from overwinter.cli.app import app
from overwinter.cli.guard import ExitCode

DAY = ("--today", "2026-12-01")


def run(*arguments: object) -> Result:
    """One command, in process."""
    return runner.invoke(app, [str(argument) for argument in arguments])


@pytest.fixture(scope="module")
def winter(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tiny winter, planned, nothing marked."""
    folder = tiny_winter(tmp_path_factory.mktemp("tonight"))
    assert run("plan", folder).exit_code == ExitCode.DONE
    return folder


def answer(folder: Path, *arguments: object) -> dict[str, object]:
    """The JSON of one word."""
    result = run("tonight", folder, *arguments, "--json")
    assert result.exit_code == ExitCode.DONE, result.output
    found: dict[str, object] = json.loads(result.stdout)
    return found


def test_two_nights_two_answers_and_nothing_written(winter: Path) -> None:
    """-2 and -20 differ; the folder stays as it was."""
    before = names(winter)
    mild, bitter = answer(winter, *DAY, "--low", "-2"), answer(winter, *DAY, "--low", "-20")
    assert mild["trees"] != bitter["trees"]
    assert float(str(bitter["loss_left"])) > float(str(mild["loss_left"]))
    text = run("tonight", winter, *DAY, "--low", "-20").stdout
    assert "Carry before dusk, in this order" in text
    assert all(len(line) <= 80 for line in text.splitlines())
    assert names(winter) == before


def test_a_forecast_in_a_file(winter: Path, tmp_path: Path) -> None:
    """The minimum of a morning is that of the night before; hours count from noon to noon."""
    days = tmp_path / "days.csv"
    days.write_text("date,min_c\n2026-12-01,9\n2026-12-02,-4\n2026-12-03,-7.5\n", encoding="utf-8")
    assert answer(winter, *DAY, "--forecast", days)["evening"]["lows_c"] == [-4.0, -7.5]
    hours = tmp_path / "hours.csv"
    rows = ["2026-12-01 06:00,-30", "2026-12-01 18:00,-1", "2026-12-02 05:00,-6"]
    hours.write_text("time,air_c\n" + "\n".join(rows) + "\n", encoding="utf-8")
    assert answer(winter, *DAY, "--forecast", hours)["evening"]["lows_c"] == [-6.0]
    late = run("tonight", winter, "--today", "2026-12-20", "--forecast", days)
    assert late.exit_code == ExitCode.BAD_INPUT
    assert "days.csv" in late.output
    assert "2026-12-20" in late.output


def test_degrees_are_the_growers(tmp_path: Path) -> None:
    """In a site of US units 14 means 14 °F, which is -10 °C."""
    folder = tiny_winter(tmp_path)
    edit(folder / "site.toml", 'currency = "EUR"', 'currency = "EUR"\nunits = "us"')
    assert run("plan", folder).exit_code == ExitCode.DONE
    assert answer(folder, *DAY, "--low", "14")["evening"]["lows_c"] == pytest.approx([-10.0])
    assert "14 °F tonight" in run("tonight", folder, *DAY, "--low", "14").stdout


def test_all_mistakes_at_once(winter: Path) -> None:
    """A day that is none, a temperature that is none, a night that is none of this earth."""
    result = run("tonight", winter, "--today", "soon", "--low", "cold", "--low", "-300")
    assert result.exit_code == ExitCode.BAD_INPUT
    for found in ("'soon'", "'cold'", "'-300'"):
        assert found in result.output
    assert run("tonight", winter, *DAY).exit_code == ExitCode.BAD_INPUT
    outside = run("tonight", winter, "--today", "2027-06-01", "--low", "-3")
    assert outside.exit_code == ExitCode.BAD_INPUT
    assert "not in this winter" in outside.output
