"""The built wheel, as a stranger installs it: far from the source, without a terminal or CBC.

``OVERWINTER_WHEEL_PYTHONS=/a/bin/python:/b/bin/python pytest tests/cli/test_wheel.py`` runs it by
interpreters that have the wheel installed; without it, this one runs a wheel unpacked in a folder.
"""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from cli_winter import TINY

ROOT = Path(__file__).parents[2]
PYTHONS = [one for one in os.environ.get("OVERWINTER_WHEEL_PYTHONS", "").split(":") if one]


@pytest.fixture(scope="module")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel alone, in a folder."""
    place = tmp_path_factory.mktemp("wheel")
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(place)],
        cwd=ROOT,
        check=True,
    )
    (wheel,) = place.glob("*.whl")
    shutil.unpack_archive(wheel, place / "site", "zip")
    return place / "site"


@pytest.mark.parametrize("python", PYTHONS or [sys.executable])
def test_a_winter_far_from_the_source(
    python: str, request: pytest.FixtureRequest, tmp_path: Path
) -> None:
    """From an empty folder, in one with blanks and umlauts, in the C locale, with an empty PATH."""
    folder = tmp_path / "Überwinterung der Bäume"
    shutil.copytree(TINY, folder)
    environment = {"LANG": "C", "LC_ALL": "C", "HOME": str(tmp_path), "PATH": "/nowhere"}
    if not PYTHONS:
        environment["PYTHONPATH"] = str(request.getfixturevalue("unpacked"))
    empty = tmp_path / "empty"
    empty.mkdir()
    commands = ("plan", "lists", "report")  # between them they read all that is packed
    for words in (*((name, str(folder)) for name in commands), ("init", "--yes", "my trees")):
        done = subprocess.run(
            [python, "-m", "overwinter", *words],
            cwd=empty,
            env=environment,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            check=False,
        )
        assert done.returncode == 0, (words, done.stderr.decode("utf-8", "replace"))
        assert b"Traceback" not in done.stderr
    where = subprocess.run(
        [python, "-c", "import overwinter; print(overwinter.__file__)"],
        cwd=empty,
        env=environment,
        capture_output=True,
        check=True,
    )
    assert not Path(where.stdout.decode().strip()).is_relative_to(ROOT)


def test_the_wheel_is_for_every_python_from_3_11(unpacked: Path) -> None:
    """Pure, with no upper limit; what is not at hand here is said so in its metadata alone."""
    (about,) = unpacked.glob("*.dist-info")
    said = (about / "METADATA").read_text(encoding="utf-8").splitlines()
    assert "Requires-Python: >=3.11" in said
    assert not [line for line in said if line.startswith("Requires-Dist") and "python_" in line]
    assert "Tag: py3-none-any" in (about / "WHEEL").read_text(encoding="utf-8").splitlines()
