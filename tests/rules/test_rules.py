"""Each rule stands whole in its file: it is broken on purpose, and its check is its own."""

import ast
import inspect
import re
from pathlib import Path
from types import ModuleType

import pytest
from audit_season import GOOD_STAYS, make_plan, make_season, make_trees, priced, run
from breaches import BREACHES
from test_imports import imported

from overwinter import rules
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.rules import RULES
from overwinter.rules.rule import Rule

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs/audit.md"
FAMILIES = [
    module
    for module in vars(rules).values()
    if isinstance(module, ModuleType) and hasattr(module, "RULES")
]


def broken(rule: Rule) -> tuple[Season, Plan]:
    """The good plan of the hand-made season, or its season, changed so that the rule is broken."""
    season = make_season(*make_trees())
    plan = make_plan(season, GOOD_STAYS)
    assert run(season, plan).passed
    found = BREACHES[rule.name](season, plan)
    return (found, plan) if isinstance(found, Season) else (season, found)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_a_broken_rule_is_found(rule: Rule) -> None:
    season, plan = broken(rule)
    report = run(season, plan)
    assert not report.passed
    assert rule in {finding.rule for finding in report.findings}
    # Money that follows from a changed season is not what tells of it.
    if report.whole and rule.name not in ("costs", "proof"):
        assert rule in {finding.rule for finding in run(season, priced(season, plan)).findings}


def test_every_rule_of_every_file_is_asked() -> None:
    made = [one for module in FAMILIES for one in vars(module).values() if isinstance(one, Rule)]
    assert set(made) == set(RULES)
    names = [rule.name for rule in RULES]
    assert len(names) == len(set(names))
    files = {path.stem for path in (ROOT / "overwinter/rules").glob("*.py")}
    assert files - {"__init__", "rule"} == {m.__name__.split(".")[-1] for m in FAMILIES}


def docs_with_rules() -> tuple[str, str]:
    """docs/audit.md as it is, and with its table as the rules have it: name and check."""
    before = DOCS.read_text(encoding="utf-8")
    rows = [f"| {one.name} | {' '.join(str(one.check.__doc__).split())} |" for one in RULES]
    table = "\n".join(["| rule | holds when |", "|---|---|", *rows])
    pattern = r"\| rule \| holds when \|\n(?:\|.*\n?)+"
    return before, re.sub(pattern, lambda _: table + "\n", before)


def test_the_docs_say_what_the_rules_say() -> None:
    # Written anew by `python tests/rules/test_rules.py`.
    before, after = docs_with_rules()
    assert before == after


def reached(module: ModuleType, names: set[str]) -> set[str]:
    """Functions of a module that some of them call, themselves among them, by its source."""
    defined = {
        node.name: {inner.id for inner in ast.walk(node) if isinstance(inner, ast.Name)}
        for node in ast.parse(inspect.getsource(module)).body
        if isinstance(node, ast.FunctionDef)
    }
    found, wanted = set[str](), names & set(defined)
    while wanted:
        found |= wanted
        wanted = {n for name in wanted for n in defined[name] if n in defined} - found
    return found


@pytest.mark.parametrize("module", FAMILIES, ids=lambda module: module.__name__)
def test_a_check_shares_nothing_with_what_the_plan_is_made_by(module: ModuleType) -> None:
    # By the source: no function that the check reaches is reached by a refusal, or by what search
    # and re-plan take from the file; and the file imports neither the search nor another rule.
    checks = {rule.check.__name__ for rule in module.RULES}
    refusals = {rule.refuses.__name__ for rule in module.RULES if rule.refuses is not None}
    taken = {
        name
        for part in ("search", "replan", "simulate", "render")
        for path in (ROOT / "overwinter" / part).glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ImportFrom) and node.module == module.__name__
        for name in (alias.name for alias in node.names)
    }
    assert reached(module, checks) & reached(module, refusals | taken) == set()
    parts = {name for _, name in imported(Path(str(module.__file__)))}
    parts = {name for name in parts if name.startswith("overwinter.")}
    assert not {name for name in parts if re.match(r"overwinter\.(search|solvers|audit)\b", name)}
    assert {name for name in parts if "rules" in name} == {"overwinter.rules.rule"}


def test_the_last_test_can_fail() -> None:
    from overwinter.rules import doors

    assert "_shut" in reached(doors, {"shelters_open"})
    assert "_shut" not in reached(doors, {"closed_days"})


if __name__ == "__main__":
    DOCS.write_text(docs_with_rules()[1], encoding="utf-8")
