"""Small modules that explain themselves."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1] / "overwinter"
MODULES = sorted(ROOT.rglob("*.py"))
LIMIT = 500  # lines; 300 is where a module should be looked at

Documented = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


def public(body: list[ast.stmt]) -> Iterator[Documented]:
    """Public functions and classes of a module, and the methods of such classes."""
    for node in body:
        if isinstance(node, Documented) and not node.name.startswith("_"):
            yield node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body)


def explained_elsewhere(node: Documented) -> bool:
    """Overloads and setters are explained where the function itself is."""
    marks = [ast.unparse(mark) for mark in node.decorator_list]
    return any(mark.endswith(("overload", ".setter", "override")) for mark in marks)


def test_the_modules_are_found() -> None:
    # A rule over an empty list would always hold.
    assert len(MODULES) > 20


def test_no_module_is_long() -> None:
    # A long module hides what is in it; there are no exceptions.
    lines = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in MODULES}
    assert {str(p.relative_to(ROOT)): n for p, n in lines.items() if n > LIMIT} == {}


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_the_public_is_explained(path: Path) -> None:
    # Every module with something in it, and every public class, function and method.
    tree = ast.parse(path.read_text(encoding="utf-8"))
    missing = [] if not tree.body or ast.get_docstring(tree) else ["the module itself"]
    missing += [
        f"line {node.lineno}: {node.name}"
        for node in public(tree.body)
        if not ast.get_docstring(node) and not explained_elsewhere(node)
    ]
    assert missing == []
