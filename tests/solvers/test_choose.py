"""Which solver is used, and what is said when one is missing."""

import sys
from collections.abc import Iterator

import pytest
from solver_problems import knapsack

from overwinter.problems import UserError
from overwinter.solvers import cbc
from overwinter.solvers.choose import (
    choose_solver,
    solve,
    solver_versions,
    usable_solvers,
    why_unusable,
)


@pytest.fixture(autouse=True)
def _ask_again() -> Iterator[None]:
    """What works is remembered for the life of a process; these tests change it."""
    why_unusable.cache_clear()
    yield
    why_unusable.cache_clear()


@pytest.fixture
def without_highs(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("overwinter.solvers.highs", "overwinter.solvers.highs_model"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    monkeypatch.setitem(sys.modules, "highspy", None)


def without_cbc() -> str:
    raise UserError("no CBC came with PuLP for this machine, and none is on the PATH")


def test_highs_comes_first() -> None:
    # It is the faster and ships for more machines.
    assert choose_solver("auto") == "highs"
    assert solve(knapsack(rows=3, columns=20)).solver == "HiGHS"


def test_cbc_steps_in(without_highs: None) -> None:
    # A machine for which no highspy is built.
    assert usable_solvers() == ("cbc",)
    report = solve(knapsack(rows=3, columns=20), gap=0.0)
    assert report.solver == "CBC"
    assert report.proven
    assert solver_versions()["HiGHS"].startswith("not usable")


def test_a_missing_highs_says_what_to_install(without_highs: None) -> None:
    # Asked for by name it must not be replaced in silence.
    with pytest.raises(UserError, match="pip install highspy"):
        solve(knapsack(), solver="highs")


def test_a_missing_cbc_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    # PuLP brings none for some machines.
    monkeypatch.setattr(cbc, "find_cbc", without_cbc)
    assert usable_solvers() == ("highs",)
    with pytest.raises(UserError, match=r"no CBC came.*pip install 'pulp"):
        solve(knapsack(), solver="cbc")


def test_no_solver_at_all(without_highs: None, monkeypatch: pytest.MonkeyPatch) -> None:
    # Both reasons are told.
    monkeypatch.setattr(cbc, "find_cbc", without_cbc)
    with pytest.raises(UserError, match=r"highs: .*cbc: no CBC came"):
        choose_solver()


def test_names_are_taken_in_any_case() -> None:
    # The file and the command line may write HiGHS as it writes itself.
    assert choose_solver("HiGHS") == "highs"
    assert choose_solver("CBC") == "cbc"
