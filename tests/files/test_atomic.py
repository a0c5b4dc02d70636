"""Files are written whole or not at all, and never over a user's."""

import os
from pathlib import Path

import pytest

from overwinter.files import outputs as atomic
from overwinter.files.outputs import write
from overwinter.problems import UserError


def left_over(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_a_new_file_is_written(tmp_path: Path) -> None:
    # Bytes as given, line ends untouched, permissions of an ordinary new file of this user.
    write(tmp_path / "a.csv", "é\r\n")
    (tmp_path / "other").touch()
    assert (tmp_path / "a.csv").read_bytes() == b"\xc3\xa9\r\n"
    assert (tmp_path / "a.csv").stat().st_mode == (tmp_path / "other").stat().st_mode


def test_a_file_that_is_there_is_left_alone(tmp_path: Path) -> None:
    # Unless asked.
    (tmp_path / "a").write_text("mine")
    with pytest.raises(UserError, match="left alone"):
        write(tmp_path / "a", "new")
    assert (tmp_path / "a").read_text() == "mine"
    write(tmp_path / "a", "new", overwrite=True)
    assert (tmp_path / "a").read_text() == "new"
    assert left_over(tmp_path) == ["a"]


@pytest.mark.parametrize("step", ["fsync", "replace", "chmod"])
def test_a_failure_leaves_the_old_file(
    step: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A full disk at any step: the old file stays whole, nothing is left lying about.
    (tmp_path / "a").write_text("old")

    def fail(*_args: object, **_more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(atomic.os, step, fail)
    with pytest.raises(UserError, match="No space left"):
        write(tmp_path / "a", "new", overwrite=True)
    monkeypatch.undo()
    assert (tmp_path / "a").read_text() == "old"
    assert left_over(tmp_path) == ["a"]


def test_a_file_that_appears_meanwhile_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Between the check and the rename someone else may write.
    real = os.fsync

    def appear(handle: int) -> None:
        (tmp_path / "a").write_text("theirs")
        real(handle)

    monkeypatch.setattr(atomic.os, "fsync", appear)
    with pytest.raises(UserError, match="is there already"):
        write(tmp_path / "a", "new")
    assert (tmp_path / "a").read_text() == "theirs"
    assert left_over(tmp_path) == ["a"]


def test_a_link_stays_a_link(tmp_path: Path) -> None:
    # The file it points to is replaced.
    (tmp_path / "real").write_text("old")
    (tmp_path / "link").symlink_to(tmp_path / "real")
    write(tmp_path / "link", b"new", overwrite=True)
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_text() == "new"


def test_permissions_of_a_replaced_file_stay(tmp_path: Path) -> None:
    # A file its owner closed to others stays closed.
    (tmp_path / "a").write_text("old")
    (tmp_path / "a").chmod(0o600)
    write(tmp_path / "a", "new", overwrite=True)
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o600


def test_folders_and_missing_folders_are_refused(tmp_path: Path) -> None:
    # With the path in the message.
    (tmp_path / "folder").mkdir()
    with pytest.raises(UserError, match="no ordinary file"):
        write(tmp_path / "folder", "x", overwrite=True)
    with pytest.raises(UserError, match="there is no folder"):
        write(tmp_path / "nowhere" / "a", "x")
