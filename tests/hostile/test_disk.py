"""A disk that is full, and one that may only be read: each is told, and nothing is half written.

Needs the right to mount a small file system in memory; skipped where that is refused.
"""

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from mutations import planned, runner, winter

from overwinter.cli.app import app

SIZE_KB = 3000
COMMANDS = (
    ("plan", "--restart", "--force"),
    ("lists", "--force"),
    ("report", "--force"),
    ("mark", "--all", "--day", "2027-03-20"),
    ("replan", "--today", "2026-11-25", "--unmarked", "done"),
)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A small disk of its own."""
    place = tmp_path / "disk"
    place.mkdir()
    asked = ["mount", "-t", "tmpfs", "-o", f"size={SIZE_KB}k", "tmpfs", str(place)]
    if shutil.which("mount") is None or subprocess.run(asked, capture_output=True).returncode:
        pytest.skip("nothing may be mounted here")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def contents(folder: Path) -> dict[str, bytes]:
    """Every file with its content."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def run(folder: Path, command: tuple[str, ...]) -> tuple[int, str]:
    """Exit code and all that was said."""
    result = runner.invoke(app, [command[0], str(folder), *command[1:]])
    return result.exit_code, result.output


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command[0])
@pytest.mark.parametrize("left_kb", [0, 4, 12, 40])
def test_a_full_disk(command: tuple[str, ...], left_kb: int, disk: Path, ready: Path) -> None:
    folder = disk / "w"
    shutil.copytree(ready, folder)
    with (disk / "ballast").open("wb", buffering=0) as stream:
        try:
            while stream.write(bytes(4096)):
                pass
        except OSError:
            stream.truncate(stream.tell() - left_kb * 1024)
    before = contents(folder)
    code, said = run(folder, command)
    after = contents(folder)
    assert code in (0, 2), said
    assert "mistake in overwinter" not in said
    assert code == 0 or "No space left" in said
    assert not [name for name in after if name.endswith(".part")]
    # no file is lost; what is left can be read (show and history, below)
    assert set(before) <= set(after)
    (disk / "ballast").unlink()
    assert run(folder, ("show",))[0] == 0
    assert run(folder, ("history",))[0] == 0
    assert run(folder, command)[0] == 0


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command[0])
def test_a_disk_that_may_only_be_read(command: tuple[str, ...], disk: Path, ready: Path) -> None:
    folder = disk / "w"
    shutil.copytree(ready, folder)
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    code, said = run(folder, command)
    assert code == 2, said
    assert "Read-only file system" in said
    assert run(folder, ("show",))[0] == 0


@pytest.fixture(scope="module")
def ready(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A planned winter with a mark; tests copy it."""
    folder = winter(tmp_path_factory.mktemp("ready") / "w")
    planned(folder)
    for name in ("lists", "ticked.csv", "ticked.xlsx", "ticked.json", "forecast.csv"):
        path = folder / name
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    return folder
