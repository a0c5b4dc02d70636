"""The page about the program is what the program says of itself."""

from pathlib import Path

from overwinter.program.describe import page
from overwinter.program.registry import FAMILIES


def test_the_page_is_not_stale() -> None:
    """docs/program.md equals what the registry says today."""
    written = Path(__file__).parents[2] / "docs" / "program.md"
    assert written.read_text(encoding="utf-8") == page()


def test_every_family_states_its_mathematics() -> None:
    """Each family has a sentence and a line with a relation (our own rule, no outside source)."""
    for family in FAMILIES:
        assert any(sign in family.says for sign in ("<=", ">=", "=")), family.name
