"""Outputs are written together, whole, and never over anything that is not ours."""

from pathlib import Path

import pytest

from overwinter.files.outputs import RECORD, check_free, write_outputs
from overwinter.problems import UserError

OLD = {"a.csv": "old a\n", "b.csv": "old b\n"}
NEW = {"a.csv": "new a\n", "b.csv": "new b\n"}


def test_new_folder_and_again(tmp_path: Path) -> None:
    """A first run makes the folder, a second one replaces what the first wrote."""
    folder = tmp_path / "out"
    write_outputs(folder, OLD)
    write_outputs(folder, NEW)
    assert (folder / "a.csv").read_text() == "new a\n"
    assert sorted(p.name for p in folder.iterdir()) == [RECORD, "a.csv", "b.csv"]


def test_foreign_file_is_left_alone(tmp_path: Path) -> None:
    """A file that was there before stays, and none of the others is written."""
    (tmp_path / "b.csv").write_text("mine")
    with pytest.raises(UserError, match=r"b\.csv in .* was not written by overwinter"):
        write_outputs(tmp_path, NEW)
    assert [p.name for p in tmp_path.iterdir()] == ["b.csv"]
    write_outputs(tmp_path, NEW, force=True)
    assert (tmp_path / "b.csv").read_text() == "new b\n"
    (tmp_path / "b.csv").write_text("mine")  # put back from a copy, it is foreign again
    with pytest.raises(UserError, match=r"b\.csv in .* was not written by overwinter"):
        write_outputs(tmp_path, NEW)


def test_several_foreign_files_are_all_named(tmp_path: Path) -> None:
    """All files in the way are told at once."""
    for name in NEW:
        (tmp_path / name).write_text("mine")
    with pytest.raises(UserError, match=r"a\.csv, b\.csv in .* were not written by overwinter"):
        check_free(tmp_path, NEW, force=False)


@pytest.mark.parametrize("killed_at", [0, 1, 2, 3])
def test_killed_between_files(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, killed_at: int
) -> None:
    """Killed before any of the four writes, every file is old or new, and the next run goes on."""
    from overwinter.files import outputs as atomic

    write_outputs(tmp_path, OLD)
    done = 0
    whole = atomic.write

    def write(path: Path, text: str, overwrite: bool = False) -> None:
        nonlocal done
        if done == killed_at:
            raise KeyboardInterrupt
        done += 1
        whole(path, text, overwrite)

    monkeypatch.setattr(atomic, "write", write)
    with pytest.raises(KeyboardInterrupt):
        write_outputs(tmp_path, NEW)
    for name in NEW:
        assert (tmp_path / name).read_text() in (OLD[name], NEW[name])
    monkeypatch.undo()
    write_outputs(tmp_path, NEW)
    assert {name: (tmp_path / name).read_text() for name in NEW} == NEW


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"format": 9, "sha256": {}}', '{"format": 1}'])
def test_damaged_record_makes_everything_foreign(tmp_path: Path, damage: str) -> None:
    """Without a readable record no file counts as ours: better asked once too often."""
    write_outputs(tmp_path, OLD)
    (tmp_path / RECORD).write_text(damage)
    with pytest.raises(UserError):
        write_outputs(tmp_path, NEW)
    assert (tmp_path / "a.csv").read_text() == "old a\n"


def test_record_keeps_other_commands_files(tmp_path: Path) -> None:
    """Outputs of different commands in one folder are known side by side."""
    write_outputs(tmp_path, OLD)
    write_outputs(tmp_path, {"page.html": "<p>"})
    write_outputs(tmp_path, NEW)
    write_outputs(tmp_path, {"page.html": "<p>again"})
    assert (tmp_path / "page.html").read_text() == "<p>again"


def test_folders_in_the_way(tmp_path: Path) -> None:
    """A folder where a file should go, and a file where the folder should be, are refused."""
    (tmp_path / "a.csv").mkdir()
    with pytest.raises(UserError, match=r"a\.csv is there and is no ordinary file"):
        write_outputs(tmp_path, NEW, force=True)
    (tmp_path / "out").write_text("")
    with pytest.raises(UserError, match="out is a file, not a folder"):
        write_outputs(tmp_path / "out", NEW)
