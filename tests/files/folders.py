"""The good folder of the broken inputs, copied and changed by tests."""

import shutil
from pathlib import Path

BROKEN = Path(__file__).parents[1] / "broken"
GOOD = BROKEN / "good"
DATA = Path(__file__).parent / "data"


def good_folder(target: Path) -> Path:
    """A copy of the good folder."""
    return Path(shutil.copytree(GOOD, target / "winter"))


def replaced(folder: Path, file: str, *changes: tuple[str, str]) -> None:
    """Replace pieces of a file; a piece that is not there is a mistake of the test."""
    text = (folder / file).read_text(encoding="utf-8")
    for before, after in changes:
        assert before in text, f"{before!r} is not in {file}"
        text = text.replace(before, after, 1)
    (folder / file).write_text(text, encoding="utf-8")
