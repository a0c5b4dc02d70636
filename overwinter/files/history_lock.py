"""One writer at a time for a folder's history. The system frees the lock when a program dies."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from overwinter.problems import UserError

LOCK = ".overwinter-history.lock"
"""Only where a folder itself can't be locked."""


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the folder's lock; waits for whoever holds it.

    Raises
    ------
    UserError
        The folder can't be opened.
    """
    try:
        handle = _open(folder)
    except OSError as error:
        raise UserError(f"{folder}: cannot write there ({error.strerror}).") from error
    try:
        _take(handle)
        yield
    finally:
        os.close(handle)  # frees it


def _open(folder: Path) -> int:
    if os.name == "nt":
        return os.open(folder / LOCK, os.O_RDWR | os.O_CREAT, 0o666)
    return os.open(folder, os.O_RDONLY)


def _take(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_LOCK, 1)
        return
    import fcntl

    fcntl.flock(handle, fcntl.LOCK_EX)
