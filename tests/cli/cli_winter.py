"""A winter small enough to be planned in a second: four trees, a garden and a heated shed.

Everything in ``data/tiny`` is invented; its weather is round monthly normals.
"""

import shutil
from pathlib import Path

from typer.testing import CliRunner

TINY = Path(__file__).parent / "data" / "tiny"

runner = CliRunner()


def tiny_winter(folder: Path) -> Path:
    """A fresh copy of the folder."""
    copy = folder / "winter"
    shutil.copytree(TINY, copy)
    return copy


def edit(path: Path, old: str, new: str) -> None:
    """Replace a text that must be there."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def names(folder: Path) -> list[str]:
    """Names of all files in a folder, hidden ones too."""
    return sorted(path.name for path in folder.iterdir())
