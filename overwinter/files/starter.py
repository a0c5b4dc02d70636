"""The starter folder: an invented small grower, commented, that plans as it stands."""

from collections.abc import Mapping
from importlib import resources
from pathlib import Path

from overwinter.files.atomic import check_writable, write_bytes
from overwinter.problems import UserError

NAMES = ("site.toml", "shelters.toml", "trees.csv", "species.csv", "README.md")


def starter_files() -> Mapping[str, bytes]:
    """Content of each file of the starter folder, by name."""
    folder = resources.files("overwinter").joinpath("data", "starter")
    return {name: folder.joinpath(name).read_bytes() for name in NAMES}


def template(name: str) -> str:
    """Text of a file that is filled in with a grower's answers."""
    return resources.files("overwinter").joinpath("data", "starter", name).read_text("utf-8")


def write_starter(folder: Path) -> tuple[Path, ...]:
    """Write the starter files into a new or existing folder, over nothing.

    Raises
    ------
    UserError
        One of the files is there already, or the folder can't be made; nothing is written then.
    """
    files = starter_files()
    if folder.exists():
        for name in files:
            check_writable(folder / name)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UserError(f"{folder}: cannot be made ({error.strerror}).") from error
    for name, content in files.items():
        write_bytes(folder / name, content)
    return tuple(folder / name for name in files)
