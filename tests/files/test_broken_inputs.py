"""One folder a mistake under tests/broken: the exact message a grower gets."""

import shutil
from pathlib import Path

import pytest
from folders import BROKEN, GOOD, good_folder

from overwinter.files.season import read_season
from overwinter.problems import InputProblems

CASES = sorted(path.name for path in BROKEN.iterdir() if path.is_dir() and path != GOOD)
NOT_INPUTS = {"expected.txt", "delete.txt"}


def broken_folder(case: str, target: Path) -> Path:
    """The good folder with the broken files of a case laid over it."""
    folder = good_folder(target)
    for path in (BROKEN / case).iterdir():
        if path.name not in NOT_INPUTS:
            shutil.copy(path, folder)
    delete = BROKEN / case / "delete.txt"
    for name in delete.read_text().split() if delete.exists() else ():
        (folder / name).unlink()
    return folder


def test_there_are_many_cases() -> None:
    # A list of cases that came out empty would pass every test below.
    assert len(CASES) == 51


@pytest.mark.parametrize("case", CASES)
def test_each_mistake_gets_its_message(case: str, tmp_path: Path) -> None:
    # All problems, word for word; ours, written out so that each was read by a person.
    folder = broken_folder(case, tmp_path)
    before = sorted(path.name for path in folder.iterdir())
    with pytest.raises(InputProblems) as raised:
        read_season(folder)
    expected = (BROKEN / case / "expected.txt").read_text(encoding="utf-8")
    assert str(raised.value) + "\n" == expected
    assert sorted(path.name for path in folder.iterdir()) == before


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    # The commonest mistake of all: a wrong path.
    with pytest.raises(InputProblems, match="no such folder"):
        read_season(tmp_path / "nowhere")
