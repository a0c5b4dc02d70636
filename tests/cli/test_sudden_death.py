"""Commands killed at any moment, and two at once: the folder opens, nothing marked is lost.

``OVERWINTER_KILLS=500 pytest tests/cli/test_sudden_death.py`` kills that many; 12 without it.
"""

import json
import os
import random
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from cli_winter import runner, tiny_winter

from overwinter.cli.app import app

KILLS = int(os.environ.get("OVERWINTER_KILLS", "12"))
LONGEST_S = 4.0
TREES = ("Larch", "Olive", "Elm 1/2", "Elm 2/2")
COMMANDS = (
    ("mark", "--day", "2026-11-20", "--to", "shed/bench"),
    ("lists", "--force"),
    ("replan", "--today", "2026-11-25", "--unmarked", "done"),
)


def start(folder: Path, command: tuple[str, ...], *trees: str) -> subprocess.Popen[bytes]:
    """One command in a process of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "overwinter", command[0], str(folder), *trees, *command[1:]],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
    )


def marked(folder: Path) -> list[str]:
    """Trees marked, in order."""
    history = json.loads((folder / "history.json").read_text(encoding="utf-8"))
    return [row["tree"] for row in history["entries"] if row["kind"] == "mark"]


def run(*words: object) -> int:
    """Exit code of a command in process."""
    return runner.invoke(app, [str(word) for word in words]).exit_code


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A planned winter with one mark; tests copy it."""
    folder = tiny_winter(tmp_path_factory.mktemp("planned"))
    assert run("plan", folder) == 0
    assert run("mark", folder, "Olive", "--day", "2026-11-12", "--to", "shed/bench") == 0
    return folder


def killed(rng: random.Random, folder: Path, command: tuple[str, ...], *trees: str) -> None:
    """Begin a command and end it at a random moment."""
    process = start(folder, command, *trees)
    time.sleep(rng.uniform(0.0, LONGEST_S) * rng.random())
    process.kill()
    process.communicate()


def test_killed_at_any_moment(planned: Path, tmp_path: Path) -> None:
    rng, folder = random.Random(23), tmp_path / "w"
    shutil.copytree(planned, folder)
    before = marked(folder)
    for number in range(KILLS):
        command = COMMANDS[number % len(COMMANDS)]
        killed(rng, folder, command, *((rng.choice(TREES),) if command[0] == "mark" else ()))
        now = marked(folder)
        assert now[: len(before)] == before, (number, command)
        before = now
        assert run("show", folder) == 0, (number, command)


def test_a_first_plan_killed_at_any_moment(tmp_path: Path) -> None:
    rng, folder = random.Random(24), tiny_winter(tmp_path)
    for number in range(KILLS // 3):
        killed(rng, folder, ("plan",))
        assert run("check", folder) == 0, number
        assert run("plan", folder) == 0, number
        assert run("show", folder) == 0, number


def test_what_the_dead_left_is_swept_up(planned: Path, tmp_path: Path) -> None:
    folder = tmp_path / "w"
    shutil.copytree(planned, folder)
    old, new = folder / ".overwinter-a1b2c3d4.part", folder / ".overwinter-e5f6a7b8.part"
    for path in (old, new):
        path.write_text("cut sho")
    os.utime(old, (0, 0))
    assert run("mark", folder, "Larch", "--day", "2026-11-20", "--to", "shed/bench") == 0
    # the younger one may be another command's, at work now
    assert [path.exists() for path in (old, new)] == [False, True]


def test_two_at_once_lose_nothing(planned: Path, tmp_path: Path) -> None:
    folder = tmp_path / "w"
    shutil.copytree(planned, folder)
    before = marked(folder)
    both = [
        start(folder, ("mark", "--day", "2026-11-20", "--to", "shed/bench"), tree)
        for tree in ("Elm 1/2", "Elm 2/2")
    ]
    said = [process.communicate(timeout=120)[1] for process in both]
    assert [process.returncode for process in both] == [0, 0], said
    assert sorted(marked(folder)[len(before) :]) == ["Elm 1/2", "Elm 2/2"]
