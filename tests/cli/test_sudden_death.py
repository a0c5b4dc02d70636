"""Commands killed at any moment, and two at once: the folder opens, nothing marked is lost.

``OVERWINTER_KILLS=500 pytest tests/cli/test_sudden_death.py`` kills that many; 12 without it.
"""

import json
import multiprocessing
import os
import random
import shutil
import time
from multiprocessing.process import BaseProcess
from pathlib import Path

import pytest
from cli_winter import names, runner, tiny_winter

from overwinter.cli.app import app
from overwinter.files.outputs import UNFINISHED

KILLS = int(os.environ.get("OVERWINTER_KILLS", "12"))
LONGEST_S = 120.0
TREES = ("Larch", "Olive", "Elm 1/2", "Elm 2/2")
MARK = ("mark", "--day", "2026-11-20", "--to", "shed/bench")
COMMANDS = (
    MARK,
    ("lists", "--force"),
    ("replan", "--today", "2026-11-25", "--unmarked", "done"),
    ("plan", "--restart", "--force"),
)
processes = multiprocessing.get_context("forkserver")
processes.set_forkserver_preload(
    ["overwinter.api.plan", "overwinter.cli.app", "openpyxl", "pandas"]
)


def _command(words: list[str]) -> None:
    """A command in a process of its own that says nothing."""
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    app(words)


def start(folder: Path, command: tuple[str, ...], *trees: str) -> BaseProcess:
    """Begin a command."""
    words = [command[0], str(folder), *trees, *command[1:]]
    process = processes.Process(target=_command, args=(words,))
    process.start()
    return process


def marked(folder: Path, name: str = "history.json") -> list[str]:
    """Trees marked, in order."""
    history = json.loads((folder / name).read_text(encoding="utf-8"))
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


def writes(folder: Path) -> bool:
    """Whether a file is being written now."""
    return any(
        UNFINISHED in name for at in (folder, folder / "lists") if at.is_dir() for name in names(at)
    )


def killed(rng: random.Random, usual_s: dict[str, float], folder: Path, *commands: str) -> None:
    """Begin commands and end them at a random moment, or soon after they begin to write."""
    begun = []
    for name in commands:
        command = next(command for command in COMMANDS if command[0] == name)
        begun.append(start(folder, command, *((rng.choice(TREES),) if name == "mark" else ())))
    began, usual = time.monotonic(), usual_s.setdefault(commands[0], 2.0)
    if rng.random() < 0.5:
        while not writes(folder) and begun[0].is_alive():
            time.sleep(0.0002)
        time.sleep(rng.uniform(0.0, 0.01))
    else:
        begun[0].join(rng.uniform(0.0, 1.1 * usual))
    if not begun[0].is_alive():
        usual_s[commands[0]] = 0.5 * (usual + time.monotonic() - began)
    for process in begun:
        process.kill()
        process.join()


def marks_of(folder: Path) -> list[tuple[str, list[str]]]:
    """Trees marked by every history of the folder, the one in force last."""
    kept = sorted(folder.glob("history-*.json"), key=lambda path: int(path.stem[8:]))
    return [(path.name, marked(folder, path.name)) for path in (*kept, folder / "history.json")]


def test_killed_at_any_moment(planned: Path, tmp_path: Path) -> None:
    rng, folder, usual_s = random.Random(23), tmp_path / "w", dict[str, float]()
    shutil.copytree(planned, folder)
    (folder / "lists").mkdir()
    before = marks_of(folder)
    for number in range(KILLS):
        kinds = [command[0] for command in COMMANDS]
        commands = [kinds[number % len(kinds)], *rng.sample(kinds, number % 3 == 2)]
        killed(rng, usual_s, folder, *commands)
        now = marks_of(folder)
        if len(now) > len(before):  # begun afresh: what was in force is kept under another name
            before[-1] = (now[len(before) - 1][0], before[-1][1])
        for (name, old), (same, new) in zip(before, now, strict=False):
            assert (name, new[: len(old)]) == (same, old), (number, commands)
        before = now
        assert run("show", folder) == 0, (number, commands)
    assert_nothing_is_left(folder)


def assert_nothing_is_left(folder: Path) -> None:
    """What the dead left goes with the next command, once it is old enough."""
    for path in folder.rglob(f"*{UNFINISHED}"):
        os.utime(path, (0, 0))
    assert run("plan", folder, "--restart", "--force") == 0
    assert run("lists", folder, "--force") == 0
    assert list(folder.rglob(f"*{UNFINISHED}")) == []


def test_a_first_plan_killed_at_any_moment(tmp_path: Path) -> None:
    rng, folder, usual_s = random.Random(24), tiny_winter(tmp_path), dict[str, float]()
    for number in range(KILLS // 3):
        (folder / "history.json").unlink(missing_ok=True)
        killed(rng, usual_s, folder, "plan")
        assert run("check", folder) == 0, number
    assert_nothing_is_left(folder)


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
    both = [start(folder, MARK, tree) for tree in ("Elm 1/2", "Elm 2/2")]
    for process in both:
        process.join(LONGEST_S)
    assert [process.exitcode for process in both] == [0, 0]
    assert sorted(marked(folder)[len(before) :]) == ["Elm 1/2", "Elm 2/2"]
