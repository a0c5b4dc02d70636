"""Writes files whole, a command's together, and never over anything that is not its own.

A hidden record in the folder keeps the SHA-256 of every file written. A file found later with
another content was made or edited by someone and is left alone unless forced. Each file is written
whole; before the first one the record names old and new contents alike, so that a run killed
half-way leaves only files that are known as ours.
"""

import contextlib
import hashlib
import json
import os
import tempfile
import time
from collections.abc import Iterable, Mapping
from pathlib import Path

from overwinter.problems import UserError

UNFINISHED = ".part"
LONGEST_WRITE_S = 60.0  # no command needs so long to flush one file: who began it is dead
RECORD = ".overwinter-outputs.json"
RECORD_FORMAT = 1


def write(path: Path, content: str | bytes, overwrite: bool = False) -> None:
    """Write a file so that at any moment the old one or the new one is there, whole.

    The content goes to a hidden file in the same folder, is flushed to disk, and takes the name
    in one step. A link to a file of the same folder is followed: that file is replaced, the link
    stays.

    Raises ``UserError``: The file is there and ``overwrite`` is not set, it is no ordinary file or
    a link to elsewhere, or the folder can't be written to. Nothing is changed then.
    """
    check_writable(path, overwrite)
    target = _target(path)
    try:
        _sweep(target.parent)
        handle, temporary = tempfile.mkstemp(UNFINISHED, ".overwinter-", target.parent)
    except OSError as error:
        raise UserError(f"{path}: cannot write in {target.parent} ({error.strerror}).") from error
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(_as_bytes(content))
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(temporary, _mode(target))
        check_writable(path, overwrite)  # someone else may have written meanwhile
        os.replace(temporary, target)
    except OSError as error:
        raise UserError(f"{path}: could not be written ({error.strerror}).") from error
    finally:
        with contextlib.suppress(FileNotFoundError):
            os.unlink(temporary)
    _sync_folder(target.parent)


def _as_bytes(content: str | bytes) -> bytes:
    """Text as UTF-8, line ends as they are."""
    return content.encode("utf-8") if isinstance(content, str) else content


def _sweep(folder: Path) -> None:
    """Remove what a command that was killed while it wrote left behind."""
    for path in folder.glob(f".overwinter-*{UNFINISHED}"):
        with contextlib.suppress(FileNotFoundError):
            if time.time() - path.stat().st_mtime > LONGEST_WRITE_S:
                path.unlink()


def check_writable(path: Path, overwrite: bool = False) -> None:
    """Refuse, before any work is done, what ``write`` would refuse, as it does."""
    target = _target(path)
    if not target.parent.is_dir():
        raise UserError(f"{path}: there is no folder {target.parent}.")
    if not target.exists():
        return
    if not target.is_file():
        raise UserError(f"{path} is there and is no ordinary file; it is left alone.")
    if not overwrite:
        raise UserError(f"{path} is there already and is left alone; nothing was written.")


def _target(path: Path) -> Path:
    """The file itself, behind a link: never one of another folder, however a link came here."""
    target = Path(os.path.realpath(path))
    if path.is_symlink() and (target.is_symlink() or target.parent != path.parent.resolve()):
        raise UserError(
            f"{path} is a link to {os.readlink(path)}, not to a file of its folder; it is left"
            " alone. Put a copy in its place, or remove it."
        )
    return target


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


def check_free(folder: Path, names: Iterable[str], force: bool) -> None:
    """Refuse, before any work is done, a folder that can't be used (``UserError``), or files in it
    of these names that are not of this tool or were changed since, unless ``force`` is set."""
    if folder.exists() and not folder.is_dir():
        raise UserError(f"{folder} is a file, not a folder.")
    if not folder.exists() and not folder.absolute().parent.is_dir():
        raise UserError(f"There is no folder {folder.absolute().parent} to make {folder.name} in.")
    named = [folder / name for name in names]
    there = [path for path in named if path.exists() or path.is_symlink()]
    for path in there:
        check_writable(path, overwrite=True)
    known = _read_record(folder)
    foreign = [path.name for path in there if _digest_of(path) not in known.get(path.name, ())]
    if foreign and not force:
        were = "was" if len(foreign) == 1 else "were"
        are = f"{were} not written by overwinter, or {were}"
        raise UserError(
            f"{', '.join(foreign)} in {folder} {are} changed since. "
            "Use --out DIR to write elsewhere, or --force to replace."
        )


def write_outputs(
    folder: Path,
    texts: Mapping[str, str | bytes],
    force: bool = False,
    instead_of: Iterable[str] = (),
) -> None:
    """Write all ``texts`` by file name into ``folder``, which is made if its parent is there.

    Files named in ``instead_of`` that are not written again are removed, where they are ours.

    Raises ``UserError``: As ``check_free`` does, before anything is written; or a file can't be
    written.
    """
    check_free(folder, texts, force)
    folder.mkdir(exist_ok=True)
    known = _read_record(folder)
    fresh = {name: _digest(_as_bytes(text)) for name, text in texts.items()}
    before = {name: [_digest_of(folder / name)] for name in fresh if (folder / name).is_file()}
    # while they are written either content is ours; then what was edited before is not
    _write_record(folder, known | {name: [*before.get(name, ()), fresh[name]] for name in fresh})
    for name, text in texts.items():
        write(folder / name, text, overwrite=True)
    for name in sorted(set(instead_of) - set(fresh)):
        if (folder / name).is_file() and _digest_of(folder / name) in known.get(name, ()):
            (folder / name).unlink()
    _write_record(folder, known | {name: [digest] for name, digest in fresh.items()})


def _write_record(folder: Path, hashes: Mapping[str, list[str]]) -> None:
    text = json.dumps({"format": RECORD_FORMAT, "sha256": hashes}, indent=1, sort_keys=True) + "\n"
    write(folder / RECORD, text, overwrite=True)


def own_names(folder: Path) -> tuple[str, ...]:
    """Names of the files this tool has written into a folder."""
    return tuple(_read_record(folder))


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _digest_of(path: Path) -> str:
    return _digest(path.read_bytes())


def _read_record(folder: Path) -> dict[str, list[str]]:
    """Hashes by file name; a missing or unreadable record means that nothing is known as ours."""
    if not (folder / RECORD).is_file():
        return {}
    try:
        content = json.loads((folder / RECORD).read_text(encoding="utf-8"))
        if content["format"] != RECORD_FORMAT:
            return {}
        return {str(name): [str(one) for one in some] for name, some in content["sha256"].items()}
    except (OSError, ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return {}
