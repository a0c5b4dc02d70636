"""How many small wrong changes the tests of a part tell.

Run ``python tests/benchmarks/mutants.py`` for every part, or name parts or files:
``python tests/benchmarks/mutants.py plants overwinter/audit/audit.py``; with ``--every 3`` it tries
each third. Every place in the code that can be changed is, one at a time and in memory only:
comparisons, signs, sums, ``and`` and ``or``, numbers, least and most, early ends. It prints what no
test told, and a table. A part takes some ten minutes.
"""

import argparse
import ast
import importlib.abc
import importlib.util
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from pathlib import Path

import hypothesis
import pytest

ROOT = Path(__file__).parents[2]
NAMES = "tests/plants/test_lookup.py"
PARTS = {
    "plants/lookup.py": (NAMES,),
    "plants": ("tests/plants", "tests/simulate", f"--ignore={NAMES}"),
    "simulate/nights.py": ("tests/simulate/test_nights.py",),
    "simulate": ("tests/simulate",),
    "rules": ("tests/rules", "tests/audit"),
    "audit": ("tests/audit/test_edges.py", "tests/audit/test_every_rule.py", "tests/audit"),
}
"""Tests of each folder or file of the package, those that tell most first."""
MOST_S = 60
SWAPPED: dict[type[ast.AST], tuple[type[ast.AST], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.Add: (ast.Sub,),
    ast.Sub: (ast.Add,),
    ast.Mult: (ast.Div,),
    ast.Div: (ast.Mult,),
    ast.FloorDiv: (ast.Mult,),
    ast.Pow: (ast.Mult,),
    ast.BitAnd: (ast.BitOr,),
    ast.BitOr: (ast.BitAnd,),
    ast.And: (ast.Or,),
    ast.Or: (ast.And,),
}
CALLS = {
    "max": "min",
    "min": "max",
    "maximum": "minimum",
    "minimum": "maximum",
    "argmax": "argmin",
    "argmin": "argmax",
    "any": "all",
    "all": "any",
    "sum": "max",
    "mean": "max",
}
TYPES = ("dict", "list", "set", "tuple")


def changes(node: ast.AST) -> Iterator[tuple[str, object]]:
    """A field of a node and what it may wrongly be."""
    if isinstance(node, ast.Compare):
        for i, kept in enumerate(node.ops):
            for other in SWAPPED.get(type(kept), ()):
                yield "ops", [*node.ops[:i], other(), *node.ops[i + 1 :]]
    elif isinstance(node, (ast.BinOp, ast.BoolOp, ast.AugAssign)):
        for other in SWAPPED.get(type(node.op), ()):
            yield "op", other()
    elif isinstance(node, ast.UnaryOp):
        if isinstance(node.op, ast.Not):
            yield "operand", ast.UnaryOp(ast.Not(), node.operand)
        else:
            yield "op", ast.UAdd()
    elif isinstance(node, ast.Constant):
        if type(node.value) in (int, float):
            yield "value", node.value + 1 if type(node.value) is int else 2.0 * node.value or 1.0
    else:
        yield from _renamed_or_let_on(node)


def _renamed_or_let_on(node: ast.AST) -> Iterator[tuple[str, object]]:
    for field in ("id", "attr"):
        if getattr(node, field, "") in CALLS:
            yield field, CALLS[getattr(node, field)]
    for field in ("body", "orelse"):
        lines = getattr(node, field, ())
        if isinstance(lines, list) and any(isinstance(line, ast.Continue) for line in lines):
            yield field, [ast.Pass() if isinstance(one, ast.Continue) else one for one in lines]


def code_of(node: ast.AST) -> Iterator[ast.AST]:
    """A node and all below it but types, which change nothing."""
    yield node
    for name, field in ast.iter_fields(node):
        named = ast.unparse(node.value) if isinstance(node, ast.Subscript) else ""
        is_type = name in ("annotation", "returns") or named in TYPES
        for child in field if isinstance(field, list) else [field]:
            if isinstance(child, ast.AST) and not is_type:
                yield from code_of(child)


def mutants(source: str) -> Iterator[tuple[int, str, ast.Module]]:
    """Line, the changed code there, and the changed module."""
    tree = ast.parse(source)
    for node in code_of(tree):
        for field, value in changes(node):
            kept = getattr(node, field)
            setattr(node, field, value)
            ast.fix_missing_locations(tree)
            yield getattr(node, "lineno", 0), ast.unparse(node).splitlines()[0], tree
            setattr(node, field, kept)


class Changed(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Imports one module changed."""

    def __init__(self, name: str, tree: ast.Module, path: Path) -> None:
        self.name, self.tree, self.path = name, tree, path

    def find_spec(self, name, path, target=None):
        if name != self.name:
            return None
        return importlib.util.spec_from_loader(name, self, origin=str(self.path))

    def exec_module(self, module) -> None:
        exec(compile(self.tree, str(self.path), "exec"), module.__dict__)


def imports(path: Path) -> set[str]:
    """Modules of the package that a file may import."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("overwinter"):
            found |= {str(node.module), *(f"{node.module}.{one.name}" for one in node.names)}
    return found


def module_name(path: Path) -> str:
    """The name under which a file is imported."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts)


@cache
def importers() -> dict[str, set[str]]:
    """What each module of the package imports."""
    return {module_name(path): imports(path) for path in (ROOT / "overwinter").rglob("*.py")}


def forget(name: str) -> None:
    """Unload a module and all that import it, so that they are imported anew."""
    stale, more = set(), {name}
    while more:
        stale |= more
        more = {one for one, its in importers().items() if its & more} - stale
    for one in stale & set(sys.modules):
        parent, _, last = one.rpartition(".")
        del sys.modules[one]
        delattr(sys.modules[parent], last) if parent in sys.modules else None


def load(tests: tuple[str, ...]) -> None:
    """Import what tests use once, so that each child need not."""
    for part in (test for test in tests if not test.startswith("-")):
        here = ROOT / part
        for path in here.glob("*.py") if here.is_dir() else [here]:
            for name in imports(path):
                with suppress(ModuleNotFoundError):
                    importlib.import_module(name)


def tests_of(path: Path) -> tuple[str, ...]:
    """The tests of a file."""
    inside = str(path.relative_to(ROOT / "overwinter"))
    return next(tests for part, tests in PARTS.items() if inside.startswith(part))


def told(path: Path, tree: ast.Module, tests: tuple[str, ...]) -> bool:
    """Whether a test fails, hangs or cannot be imported with a module so changed."""
    child = os.fork()
    if child == 0:
        signal.alarm(MOST_S)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        name = module_name(path)
        forget(name)
        sys.meta_path.insert(0, Changed(name, tree, path))
        os._exit(int(run(tests)))
    return os.waitpid(child, 0)[1] != 0


def run(tests: tuple[str, ...]) -> int:
    """Run tests to the first failure; a limit of time is no test of a rule."""
    quiet = ("-x", "-q", "-p", "no:cacheprovider", "--assert=plain", "-k", "not seconds")
    return int(pytest.main([*quiet, *tests]))


def main() -> None:
    """Mutate what is named and print what no test told."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", default=["plants", "simulate", "rules", "audit"])
    parser.add_argument("--every", type=int, default=1, help="try only each so-manieth change")
    asked = parser.parse_args()
    os.chdir(ROOT)
    sys.path.insert(0, str(ROOT))
    hypothesis.settings.register_profile("mutants", derandomize=True, database=None)
    hypothesis.settings.load_profile("mutants")
    rows = []
    for name in asked.names:
        here = ROOT / (name if name.startswith("overwinter") else f"overwinter/{name}")
        for path in sorted(here.rglob("*.py")) if here.is_dir() else [here]:
            tests = tests_of(path)
            load(tests)
            killed = total = 0
            for number, (line, code, tree) in enumerate(mutants(path.read_text(encoding="utf-8"))):
                if number % asked.every:
                    continue
                total += 1
                if told(path, tree, tests):
                    killed += 1
                else:
                    print(f"{path.relative_to(ROOT)}:{line}: {code}", flush=True)
            if total:
                rows.append((str(path.relative_to(ROOT / "overwinter")), killed, total))
                print("| `{}` | {} | {} |".format(*rows[-1]), flush=True)
    killed, total = sum(row[1] for row in rows), sum(row[2] for row in rows)
    print(f"| all | {killed} | {total} | {killed / max(total, 1):.0%}")


if __name__ == "__main__":
    main()
