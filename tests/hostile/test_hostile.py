"""Spoilt folders are told in clear words; nothing that a name holds comes to life in an output."""

import csv
import os
import random
import re
import shutil
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest
from mutations import (
    LONGEST_S,
    app,
    fault,
    runner,
    spoil_bytes,
    spoil_json,
    spoilt,
    winter,
)
from openpyxl import load_workbook

SPOILT = 300
CHUNK = 30
NAME = """<script>alert(1)</script>"><img src=x onerror=alert(2)>'&amp;"""


@pytest.mark.parametrize("first", range(0, SPOILT, CHUNK))
def test_spoilt_inputs_are_told_clearly(first: int, tmp_path: Path) -> None:
    found = [spoilt(seed, tmp_path) for seed in range(first, first + CHUNK)]
    assert [one for one in found if one[1]] == []


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a plan, a mark and a history; tests copy it."""
    folder = winter(tmp_path_factory.mktemp("planned") / "w")
    for words in (["plan"], ["mark", "--all", "--day", "2026-11-20"]):
        result = runner.invoke(app, [*words, str(folder)])
        assert result.exit_code == 0, result.output
    return folder


@pytest.mark.parametrize("name", ["plan.json", "history.json", ".overwinter-outputs.json"])
@pytest.mark.parametrize("seed", range(12))
def test_spoilt_plans_and_histories_are_told_clearly(
    name: str, seed: int, planned: Path, tmp_path: Path
) -> None:
    rng = random.Random(seed)
    folder = tmp_path / "w"
    shutil.copytree(planned, folder)
    (spoil_json if seed % 3 else spoil_bytes)(folder / name, rng)
    for words in (["show"], ["lists", "--force"], ["mark", "--list"]):
        assert fault(folder, *words) is None, words


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
@pytest.mark.parametrize("name", ["trees.csv", "site.toml", "shelters.toml", "species.csv"])
def test_a_pipe_is_no_file(name: str, tmp_path: Path) -> None:
    folder = winter(tmp_path / "w")
    (folder / name).unlink()
    os.mkfifo(folder / name)
    result = subprocess.run(
        [sys.executable, "-m", "overwinter", "check", str(folder)],
        capture_output=True,
        text=True,
        timeout=LONGEST_S,
        check=False,
    )
    assert result.returncode == 2
    assert name in result.stderr


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
    cell = '"' + name.replace('"', '""') + '"'
    trees.write_text(
        trees.read_text().replace("Larch,", cell + ",").replace("Elm,", "E" + name[:1] + "lm,")
    )


class _Tags(HTMLParser):
    """Tags and attributes that no page of ours has."""

    def __init__(self) -> None:
        super().__init__()
        self.alien: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note what came to life."""
        named = dict(attrs)
        if named.get("src") == "x" or any(key.startswith("onerror") for key in named):
            self.alien.append(tag)

    def handle_data(self, data: str) -> None:
        """The text of a script is data of its own."""
        if self.lasttag == "script" and data.strip() == "alert(1)":
            self.alien.append("script")


@pytest.fixture(scope="module", params=[NAME, "@SUM(1)", "+1+1", "-1-1"])
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of such names with every output."""
    folder = winter(tmp_path_factory.mktemp("named") / "w")
    _renamed(folder, request.param)
    for command in ("plan", "lists", "report"):
        result = runner.invoke(app, [command, str(folder)])
        assert result.exit_code == 0, result.output
    return folder


def test_no_cell_is_a_formula(made: Path) -> None:
    tables = [path for path in made.rglob("*.csv") if path.name not in ("trees.csv", "species.csv")]
    assert len(tables) >= 3
    for path in tables:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            for row in csv.reader(stream):
                for cell in row:
                    live = cell.startswith(("=", "+", "-", "@")) and not re.fullmatch(
                        r"-|[-+]?\d+(\.\d+)?", cell
                    )
                    assert not live, (path.name, cell)
    for path in made.rglob("*.xlsx"):
        for sheet in load_workbook(path).worksheets:
            kinds = {cell.data_type for row in sheet.iter_rows() for cell in row}
            assert "f" not in kinds, path.name


def test_no_tag_comes_to_life(made: Path) -> None:
    pages = list(made.rglob("*.html"))
    assert len(pages) >= 2
    for page in pages:
        tags = _Tags()
        tags.feed(page.read_text(encoding="utf-8"))
        assert tags.alien == [], page.name
