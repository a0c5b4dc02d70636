"""A winter small enough to be planned in a second: four trees, a garden and a heated shed.

Everything in ``data/tiny`` is invented; its weather is round monthly normals.
"""

import json
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


def carries(folder: Path) -> list[dict[str, str]]:
    """Carries of the plan in a folder; what a plan asks for is the search's affair, so tests read
    it there."""
    document = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return list(document["plan"]["carries"])


def usual_day(folder: Path, tree_id: str, number: int = 0) -> str:
    """Usual day of a tree's first carry, or of a later one."""
    mine = [carry for carry in carries(folder) if carry["tree_id"] == tree_id]
    return mine[number]["day"]
