"""Who may import whom: the layers, and the few packages that may use a heavy library."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "overwinter"

#: A package imports only from lower levels, and from itself.
LEVELS = {
    "cli": 9,
    "api": 8,
    "files": 7,
    "render": 7,
    "replan": 6,
    "search": 5,
    "solvers": 5,
    "benches": 5,
    "audit": 5,
    "rules": 4,
    "simulate": 3,
    "climate": 2,
    "shelters": 2,
    "plants": 2,
    "model": 1,
    "packaged": 0,
    "units": 0,
    "problems": 0,
}
#: Shelters and plants stand in a climate; shelters count the warmth that wakes plants; a search
#: solves, lays out and has its plan audited.
SAME_LEVEL = {
    ("shelters", "climate"),
    ("shelters", "plants"),
    ("plants", "climate"),
    ("search", "solvers"),
    ("search", "benches"),
    ("search", "audit"),
    ("audit", "benches"),
}
#: The audit must not repeat the search's mistakes, so it does not share its judgement; that a
#: check shares none with the refusals beside it: tests/rules/test_rules.py.
FORBIDDEN = {("audit", "search")}
#: The outermost files, which may import anything.
OUTERMOST = {"__init__", "__main__"}

HOMES = {
    "jinja2": {"render"},
    "pandas": {"api", "files", "problems"},
    "pydantic": {"files"},
    "typer": {"cli"},
    "click": {"cli"},
    "icalendar": {"render"},
    "openpyxl": {"files", "render"},
    "pulp": {"search", "solvers"},
    "highspy": {"solvers"},
    "scipy": set(),
}

MODULES = sorted(ROOT.rglob("*.py"))


def owner(path: Path) -> str:
    """The package or lone module directly under ``overwinter`` that a file belongs to."""
    return path.relative_to(ROOT).parts[0].removesuffix(".py")


def imported(path: Path) -> Iterator[tuple[int, str]]:
    """Line and dotted name of everything a file imports, inside functions too."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}:{node.lineno}: relative import"
            module = node.module or ""
            if module == "overwinter":
                for alias in node.names:
                    yield node.lineno, f"overwinter.{alias.name}"
            else:
                yield node.lineno, module


def allowed(importer: str, target: str) -> bool:
    """Whether one part of the package may import another."""
    if importer in OUTERMOST or importer == target or target not in LEVELS:
        return True  # the last: a plain name of the package itself, such as __version__
    if (importer, target) in FORBIDDEN:
        return False
    return LEVELS[importer] > LEVELS[target] or (importer, target) in SAME_LEVEL


def test_the_modules_are_found() -> None:
    # A rule over an empty list would always hold.
    assert len(MODULES) > 20


def test_every_part_has_a_level() -> None:
    # A new package must be given its place in the table above.
    parts = {owner(path) for path in MODULES}
    assert parts <= set(LEVELS) | OUTERMOST | {"data"}


def test_imports_point_downward() -> None:
    # The layers of DEVELOPERS.md, read from the source itself.
    wrong = [
        f"{path.relative_to(ROOT)}:{line} imports {name}"
        for path in MODULES
        for line, name in imported(path)
        if name.startswith("overwinter.") and not allowed(owner(path), name.split(".")[1])
    ]
    assert wrong == []


@pytest.mark.parametrize("library", HOMES)
def test_a_library_stays_at_home(library: str) -> None:
    # Frames at the borders, validation at the door, the solver behind its wall, scipy in tests.
    wrong = [
        f"{path.relative_to(ROOT)}:{line}"
        for path in MODULES
        if owner(path) not in HOMES[library]
        for line, name in imported(path)
        if name.split(".")[0] == library
    ]
    assert wrong == []


def test_the_rules_can_fail() -> None:
    # Each kind of breach once.
    assert not allowed("model", "climate")
    assert not allowed("solvers", "search")
    assert not allowed("audit", "search")
    assert not allowed("files", "render")
    assert not allowed("climate", "shelters")
    assert not allowed("plants", "shelters")
    assert allowed("shelters", "climate")
    assert allowed("cli", "replan")
