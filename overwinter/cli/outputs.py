"""Writes a command's files together, and never over anything that is not its own.

A hidden record in the folder keeps the SHA-256 of every file written. A file found later with
another content was made or edited by someone and is left alone unless forced. Files are first
written into a hidden folder beside their place, then renamed: killed at any moment, each file is
whole, old or new, and known by the record.
"""

import contextlib
import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from overwinter.problems import UserError

RECORD = ".overwinter-outputs.json"
RECORD_FORMAT = 1


def check_free(folder: Path, names: Sequence[str], force: bool) -> None:
    """Refuse before any work is done if a file in the way is not ours.

    Raises
    ------
    UserError
        The folder can't be used, or it holds files of these names that this tool did not write
        (or that were changed since) and ``force`` is not set.
    """
    if folder.exists() and not folder.is_dir():
        raise UserError(f"{folder} is a file, not a folder.")
    if not folder.exists() and not folder.absolute().parent.is_dir():
        raise UserError(f"There is no folder {folder.absolute().parent} to make {folder.name} in.")
    odd = [name for name in names if (folder / name).exists() and not (folder / name).is_file()]
    if odd:
        raise UserError(f"{folder / odd[0]} is in the way and is no ordinary file.")
    if force:
        return
    known = _read_record(folder)
    foreign = [
        name
        for name in names
        if (folder / name).exists() and _digest(folder / name) not in known.get(name, ())
    ]
    if foreign:
        raise UserError(
            f"{', '.join(foreign)} in {folder} was not written by overwinter or was changed since. "
            "Use --out DIR to write elsewhere, or --force to replace it."
        )


@contextlib.contextmanager
def staged(folder: Path, names: Sequence[str], force: bool) -> Iterator[Path]:
    """A hidden folder to write ``names`` into; on leaving they are moved to ``folder`` together.

    If the block raises, nothing in ``folder`` is changed.
    """
    check_free(folder, names, force)
    made = not folder.exists()
    folder.mkdir(exist_ok=True)
    stage = Path(tempfile.mkdtemp(prefix=".overwinter-", dir=folder))
    try:
        yield stage
        check_free(folder, names, force)  # a file may have been edited while we computed
        _publish(stage, folder, names)
    except BaseException:
        shutil.rmtree(stage, ignore_errors=True)
        if made and not any(folder.iterdir()):
            folder.rmdir()
        raise
    shutil.rmtree(stage, ignore_errors=True)


def _publish(stage: Path, folder: Path, names: Sequence[str]) -> None:
    fresh = {name: _digest(stage / name) for name in names}
    known = _read_record(folder)
    both = {**known, **{name: sorted({*known.get(name, ()), fresh[name]}) for name in names}}
    _write_record(stage, folder, both)
    for name in names:
        _sync(stage / name)
        os.replace(stage / name, folder / name)
    _write_record(stage, folder, {**known, **{name: [fresh[name]] for name in names}})


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _read_record(folder: Path) -> dict[str, list[str]]:
    """Hashes by file name; a missing or unreadable record means that nothing is known as ours."""
    try:
        content = json.loads((folder / RECORD).read_text(encoding="utf-8"))
        if content["format"] != RECORD_FORMAT:
            return {}
        return {str(name): [str(one) for one in some] for name, some in content["sha256"].items()}
    except (OSError, ValueError, LookupError, TypeError, AttributeError):
        return {}


def _write_record(stage: Path, folder: Path, hashes: dict[str, list[str]]) -> None:
    text = json.dumps({"format": RECORD_FORMAT, "sha256": hashes}, indent=1, sort_keys=True)
    fresh = stage / RECORD
    fresh.write_text(text + "\n", encoding="utf-8")
    _sync(fresh)
    os.replace(fresh, folder / RECORD)


def _sync(path: Path) -> None:
    with path.open("rb") as stream:
        os.fsync(stream.fileno())
