"""Spoilt folders are told in clear words; nothing that a name holds comes to life in an output."""

import os
import re
import shutil
import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest
from mutations import (
    LONGEST_S,
    SORTS,
    Sort,
    alien,
    alive,
    alone,
    app,
    fault,
    outcome,
    planned,
    runner,
    spoilt,
    winter,
)

SPOILT = 300
CHUNK = 30


def contents(folder: Path) -> dict[str, bytes | str]:
    """Every file of a folder with its content, every link with where it leads."""
    return {
        str(path.relative_to(folder)): os.readlink(path) if path.is_symlink() else path.read_bytes()
        for path in folder.rglob("*")
        if path.is_symlink() or path.is_file()
    }


NAME = """<script>alert(1)</script>"><img src=x onerror=alert(2)>'&amp;"""


@pytest.mark.parametrize("first", range(0, SPOILT, CHUNK))
def test_spoilt_inputs_are_told_clearly(first: int, tmp_path: Path) -> None:
    found = [spoilt(seed, tmp_path) for seed in range(first, first + CHUNK)]
    assert [one for one in found if one[1]] == []


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a plan, a mark, a history and ticked lists; tests copy it."""
    folder = winter(tmp_path_factory.mktemp("ready") / "w")
    planned(folder)
    return folder


@pytest.mark.parametrize("sort", SORTS, ids=lambda sort: sort.name)
def test_what_is_not_spoilt_is_read(sort: Sort, tmp_path: Path) -> None:
    """So that it is the spoiling that is told; an hourly record may be as flat as it likes."""
    folder = winter(tmp_path / "w")
    if sort.prepare is not None:
        sort.prepare(folder)
    assert alone(folder, sort.read) == (0, "")
    for words in sort.commands:
        code, said = outcome(folder, *words)
        assert code == 0, said


@pytest.mark.parametrize(
    ("name", "command"),
    [
        *(
            (name, ("check",))
            for name in ("trees.csv", "site.toml", "shelters.toml", "species.csv")
        ),
        ("history.json", ("show",)),
        ("trees.xlsx", ("check",)),
        (".overwinter-outputs.json", ("plan", "--restart", "--force")),
        ("history.json", ("plan", "--restart", "--force")),
        ("ticked.xlsx", ("mark", "--ticks")),
        ("ticked.json", ("mark", "--ticks")),
        ("forecast.csv", ("tonight", "--today", "2026-11-20", "--forecast")),
    ],
)
def test_a_pipe_is_no_file(
    name: str, command: tuple[str, ...], ready: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "w"
    shutil.copytree(ready, folder)
    if name == "trees.xlsx":
        (folder / "trees.csv").unlink()
    (folder / name).unlink(missing_ok=True)
    os.mkfifo(folder / name)
    given = [folder / name] if command[0] in ("mark", "tonight") else []
    words = [command[0], folder, *command[1:], *given]
    result = subprocess.run(
        [sys.executable, "-m", "overwinter", *map(str, words)],
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )
    assert result.returncode == 2
    assert name in result.stderr


@pytest.mark.parametrize("where", ["there", "nowhere", "round"])
@pytest.mark.parametrize(
    ("name", "command"),
    [
        ("trees.csv", ("check", "--write")),
        ("site.toml", ("check", "--write")),
        ("plan.json", ("plan", "--restart", "--force")),
        ("carries.csv", ("replan", "--today", "2026-11-25", "--unmarked", "done", "--force")),
        ("history.json", ("mark", "--all", "--day", "2027-03-20")),
        ("history.json", ("plan", "--restart", "--force")),
        ("lists/carries.xlsx", ("lists", "--force")),
        ("report.html", ("report", "--force")),
    ],
)
def test_nothing_is_written_through_a_link(
    name: str, command: tuple[str, ...], where: str, ready: Path, tmp_path: Path
) -> None:
    folder, outside = tmp_path / "w", tmp_path / "outside"
    shutil.copytree(ready, folder)
    outside.mkdir()
    path = folder / name
    if where == "there":
        shutil.copy(path if path.exists() else folder / "plan.json", outside / path.name)
    path.unlink(missing_ok=True)
    path.symlink_to(path.name if where == "round" else outside / path.name)
    before = contents(folder), contents(outside)
    code, said = outcome(folder, *command)
    assert (code, path.name in said) == (2, True), said
    assert (contents(folder), contents(outside)) == before


@pytest.mark.parametrize("command", ["check", "show", "lists", "report", "history"])
def test_what_lies_elsewhere_may_be_read(command: str, ready: Path, tmp_path: Path) -> None:
    """The folder is a link, its inputs are, and lists go where their folder is."""
    real, elsewhere = tmp_path / "real", tmp_path / "elsewhere"
    shutil.copytree(ready, real)
    shutil.rmtree(real / "lists")
    elsewhere.mkdir()
    (real / "lists").symlink_to(elsewhere)
    for name in ("trees.csv", "site.toml", "shelters.toml", "species.csv"):
        shutil.move(real / name, tmp_path / name)
        (real / name).symlink_to(tmp_path / name)
    (tmp_path / "w").symlink_to(real)
    given = ["--force"] if command in ("lists", "report") else []
    code, said = outcome(tmp_path / "w", command, *given)
    assert code == 0, said
    assert (elsewhere / "carries.xlsx").exists() == (command == "lists")


@pytest.mark.parametrize("content", [b"\xff\xfe{", b"", b"[" * 100_000])
def test_a_damaged_history_is_put_aside_as_it_is(
    content: bytes, ready: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "w"
    shutil.copytree(ready, folder)
    (folder / "history.json").write_bytes(content)
    assert outcome(folder, "history")[0] == 2
    code, said = outcome(folder, "plan", "--restart", "--force")
    assert code == 0, said
    assert (folder / "history-1.json").read_bytes() == content
    assert outcome(folder, "history")[0] == 0


@pytest.mark.parametrize("brackets", ["[" * 100_000, "9" * 5000, '"\\ud800"'])
@pytest.mark.parametrize(("name", "command"), [("history.json", "show"), ("site.toml", "check")])
def test_endless_brackets_and_numbers(
    name: str, command: str, brackets: str, ready: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "w"
    shutil.copytree(ready, folder)
    start = "note = " if name.endswith("toml") else '{"format": '
    (folder / name).write_text(start + brackets + "\n", encoding="utf-8")
    assert fault(folder, partial(outcome, folder, command)) is None


def _renamed(folder: Path, name: str) -> None:
    """Give the site, a shelter, a place, a heater and a tree a hostile name."""
    quoted = "'''" + name + "'''"
    site, shelters = folder / "site.toml", folder / "shelters.toml"
    site.write_text(re.sub('"Tiny yard"', lambda _: quoted, site.read_text()))
    text = shelters.read_text()
    for old in ('"Garden"', '"Shed"', '"Bench"', '"fan heater"'):
        text = re.sub(old, lambda _: quoted, text)
    shelters.write_text(text)
    trees = folder / "trees.csv"
    # as a tree's name it is refused: a formula is no name
    cell = "Larch" if name[0] == "=" else '"' + name.replace('"', '""') + '"'
    trees.write_text(
        trees.read_text().replace("Larch,", cell + ",").replace("Elm,", "E" + name[:1] + "lm,")
    )


@pytest.fixture(scope="module", params=[NAME, "=1+1", "@SUM(1)", "+1+1", "-1-1"])
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of such names with every output."""
    folder = winter(tmp_path_factory.mktemp("named") / "w")
    _renamed(folder, request.param)
    for command in ("plan", "lists", "report"):
        result = runner.invoke(app, [command, str(folder)])
        assert result.exit_code == 0, result.output
    return folder


def test_no_cell_is_a_formula(made: Path) -> None:
    assert {"placements.csv", "carries.csv"} <= {path.name for path in made.rglob("*.csv")}
    assert len(list(made.glob("lists/carries*.csv"))) >= 2
    assert list(made.glob("lists/*.xlsx"))
    assert alive(made) == []


def test_no_tag_comes_to_life(made: Path) -> None:
    assert len(list(made.rglob("*.html"))) >= 2
    assert alien(made) == []
