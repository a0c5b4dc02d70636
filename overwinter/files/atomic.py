"""Writes files whole or not at all, and never over a file that is there unless told to."""

import contextlib
import os
import tempfile
import time
from pathlib import Path

from overwinter.problems import UserError

UNFINISHED = ".part"
LONGEST_WRITE_S = 600.0
"""No command writes one file for so long: who began it is dead."""


def write_text(path: Path, text: str, overwrite: bool = False) -> None:
    """Write UTF-8 text, line ends as they are in ``text``; see ``write_bytes``."""
    write_bytes(path, text.encode("utf-8"), overwrite)


def write_bytes(path: Path, content: bytes, overwrite: bool = False) -> None:
    """Write a file so that at any moment the old one or the new one is there, whole.

    The content goes to a hidden file in the same folder, is flushed to disk, and takes the name
    in one step. A link is followed: the file it points to is replaced, the link stays.

    Raises
    ------
    UserError
        The file is there and ``overwrite`` is not set, it is no ordinary file, or the folder
        can't be written to. Nothing is changed then.
    """
    target = path.resolve()
    check_writable(path, overwrite)
    try:
        _sweep(target.parent)
        handle, temporary = tempfile.mkstemp(UNFINISHED, ".overwinter-", target.parent)
    except OSError as error:
        raise UserError(f"{path}: cannot write in {target.parent} ({error.strerror}).") from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, _mode(target))
        _take_name(temporary, target, overwrite)
    except OSError as error:
        raise UserError(f"{path}: could not be written ({error.strerror}).") from error
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(temporary)
    _sync_folder(target.parent)


def _sweep(folder: Path) -> None:
    """Remove what a command that was killed while it wrote left behind."""
    for path in folder.glob(f".overwinter-*{UNFINISHED}"):
        with contextlib.suppress(FileNotFoundError):
            if time.time() - path.stat().st_mtime > LONGEST_WRITE_S:
                path.unlink()


def check_writable(path: Path, overwrite: bool = False) -> None:
    """Refuse, before any work is done, what ``write_bytes`` would refuse.

    Raises
    ------
    UserError
        See ``write_bytes``.
    """
    target = path.resolve()
    if not target.parent.is_dir():
        raise UserError(f"{path}: there is no folder {target.parent}.")
    if not target.exists():
        return
    if not target.is_file():
        raise UserError(f"{path} is there and is no ordinary file; it is left alone.")
    if not overwrite:
        raise UserError(f"{path} is there already and is left alone; nothing was written.")


def _take_name(temporary: str, target: Path, overwrite: bool) -> None:
    """Rename; without ``overwrite`` a file that appeared meanwhile is not replaced either."""
    if overwrite:
        os.replace(temporary, target)
        return
    try:
        os.link(temporary, target)
    except FileExistsError:
        raise UserError(f"{target} appeared meanwhile and is left alone.") from None
    except OSError:
        # A file system without links: a short race is left.
        if target.exists():
            raise UserError(f"{target} appeared meanwhile and is left alone.") from None
        os.replace(temporary, target)


def _mode(target: Path) -> int:
    """Permissions of the file that is replaced, or those of a new file of this user."""
    if target.exists():
        return target.stat().st_mode & 0o777
    mask = os.umask(0o022)
    os.umask(mask)
    return 0o666 & ~mask


def _sync_folder(folder: Path) -> None:
    """Make the new name survive a power cut, where folders can be flushed."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
