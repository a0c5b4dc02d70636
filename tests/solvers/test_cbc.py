"""When CBC itself goes wrong: never PuLP's bare sentence, never a leftover process."""

import itertools
import os
import sys
import tempfile
from pathlib import Path

import numpy as np
import pulp
import pytest
from solver_problems import knapsack, market_split

from overwinter.solvers import cbc
from overwinter.solvers.arrays import read_problem
from overwinter.solvers.cbc_files import bound_in, progress_in, why_stopped, write_mps
from overwinter.solvers.choose import solve
from overwinter.solvers.report import SolverFailed, SolverSettings, Termination

posix = pytest.mark.skipif(os.name != "posix", reason="the stand-in is a shell script")


def stand_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str) -> None:
    """Put a shell script in CBC's place."""
    path = tmp_path / "cbc"
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)
    monkeypatch.setattr(cbc, "find_cbc", lambda: str(path))


def run(problem: pulp.LpProblem, **settings: float) -> None:
    problem.solve(cbc.CbcAdapter(SolverSettings(**settings)))


@posix
def test_a_crash_shows_cbcs_last_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Only the end of the log, with the exit code.
    words = "for i in 1 2 3 4 5 6 7 8 9; do echo line $i; done; echo out of memory; exit 3"
    stand_in(tmp_path, monkeypatch, words)
    with pytest.raises(SolverFailed, match=r"exit code 3(.|\n)*line 9\s+out of memory") as error:
        run(knapsack())
    assert "line 2" not in str(error.value)


@posix
def test_an_end_without_an_answer_file_is_a_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Exit code 0 and nothing written.
    stand_in(tmp_path, monkeypatch, "exit 0")
    with pytest.raises(SolverFailed, match=r"exit code 0(.|\n)*nothing"):
        run(knapsack())


@posix
def test_a_model_read_with_errors_is_a_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # CBC solves what is left of a model it could not read; that answer is worth nothing.
    words = (
        'echo "Coin0008I PLAN read with 2 errors"; echo "Optimal - objective value 1" >answer.sol'
    )
    stand_in(tmp_path, monkeypatch, words)
    with pytest.raises(SolverFailed, match="2 errors"):
        run(knapsack())


@posix
def test_an_executable_for_another_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # "Available" to PuLP, yet it cannot start.
    path = tmp_path / "cbc"
    path.write_bytes(b"\x7fELF of another kind")
    path.chmod(0o755)
    monkeypatch.setattr(cbc, "find_cbc", lambda: str(path))
    with pytest.raises(SolverFailed, match="could not be started"):
        run(knapsack())


@posix
def test_a_cbc_that_does_not_end_is_ended(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Deaf to the clock and to the signal: killed, and reported as out of time.
    stand_in(tmp_path, monkeypatch, "trap '' INT; while :; do sleep 0.05; done")
    monkeypatch.setattr(cbc, "_OVERTIME_S", 0.1)
    monkeypatch.setattr(cbc, "_GRACE_S", 0.1)
    adapter = cbc.CbcAdapter(SolverSettings(time_limit_s=0.1))
    knapsack().solve(adapter)
    assert adapter.report is not None
    assert adapter.report.termination is Termination.TIME_LIMIT
    assert not adapter.report.has_solution


def test_no_temporary_folder(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    # A folder that has gone is named, not a traceback.
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    with pytest.raises(SolverFailed, match="temporary folder"):
        run(knapsack())


def test_the_written_model_means_the_same(tmp_path: Path) -> None:
    # HiGHS reads our file and must find the model that it is given directly; every kind of
    # bound, row and column once.
    problem = pulp.LpProblem("kinds")
    bounds = [(0, 1), (None, None), (None, -2.5), (3, 3), (1 / 3, None), (-4, 7)]
    x = [
        problem.add_variable(f"x{i}", low, up, cat=pulp.LpInteger if i % 2 else pulp.LpContinuous)
        for i, (low, up) in enumerate(bounds)
    ]
    problem.setObjective(pulp.lpDot([1, 0.1, -1 / 7, 4, 1e-9, 3e12], x) - 17.25)
    problem.addConstraint(x[0] + x[1] / 3 <= 5)
    problem.addConstraint(x[1] - x[4] >= -1e-3)
    problem.addConstraint(x[5] + 2 * x[2] == 0)
    arrays = read_problem(problem)
    write_mps(arrays, tmp_path / "model.mps")

    from overwinter.solvers.highs_model import new_model

    model = new_model()
    model.readModel(str(tmp_path / "model.mps"))
    lp = model.getLp()
    model.ensureColwise()
    assert lp.offset_ == arrays.constant == -17.25
    assert np.array_equal(lp.col_cost_, arrays.costs)
    assert np.array_equal(lp.col_lower_, arrays.lower)
    assert np.array_equal(lp.col_upper_, arrays.upper)
    assert np.array_equal(lp.row_lower_, arrays.rows.lower)
    assert np.array_equal(lp.row_upper_, arrays.rows.upper)
    assert [int(kind) for kind in lp.integrality_] == [int(whole) for whole in arrays.whole]
    dense = np.zeros((3, 6))
    for j, (begin, end) in enumerate(itertools.pairwise(lp.a_matrix_.start_)):
        dense[lp.a_matrix_.index_[begin:end], j] = lp.a_matrix_.value_[begin:end]
    expected = np.zeros((3, 6))
    for i in range(3):
        part = slice(arrays.rows.starts[i], arrays.rows.starts[i + 1])
        expected[i, arrays.rows.columns[part]] = arrays.rows.values[part]
    assert np.array_equal(dense, expected)


# Lines of the form CBC 2.10.3 prints, shortened.
LOG = """
Continuous objective value is -1872.1 - 0.00 seconds
Cbc0012I Integer solution of -712 found by DiveCoefficient after 0 iterations (0.04 seconds)
Cbc0010I After 100 nodes, 12 on tree, -714 best solution, best possible -740.5 (0.30 seconds)
"""


def test_the_bound_is_read_on_the_safe_side() -> None:
    # Three decimals are printed; half of the last is given up. Seven digits while under way.
    final = LOG + "Lower bound:                    -739.995\nGap:    0.04\n"
    assert bound_in(final) == pytest.approx(-739.9955)
    assert bound_in(LOG) == pytest.approx(-740.5, rel=2e-6)
    assert bound_in(LOG) < -740.5
    assert bound_in("nothing yet") is None
    assert bound_in("best possible -1e+50 (0.1 seconds)") is None


def test_progress_is_read_from_a_growing_log() -> None:
    # The latest of each.
    best, bound = progress_in(LOG)
    assert best == -714.0
    assert bound == pytest.approx(-740.5, rel=2e-6)
    assert progress_in("") == (None, None)


@pytest.mark.parametrize(
    ("heading", "log", "expected"),
    [
        ("Optimal", "", Termination.OPTIMAL),
        ("Optimal (within gap tolerance)", "", Termination.OPTIMAL),
        ("Infeasible", "", Termination.INFEASIBLE),
        (
            "Integer infeasible",
            "Pre-processing says infeasible or unbounded",
            Termination.INFEASIBLE_OR_UNBOUNDED,
        ),
        (
            "Integer infeasible",
            "Continuous objective value is 3 \nPre-processing says infeasible or unbounded",
            Termination.INFEASIBLE,
        ),
        ("Unbounded", "", Termination.UNBOUNDED),
        ("Stopped on time", "", Termination.TIME_LIMIT),
        ("Stopped on iterations", "Result - Stopped on node limit", Termination.NODE_LIMIT),
        ("Stopped on iterations", "Result - User ctrl-cuser ctrl-c", Termination.INTERRUPTED),
        ("Stopped on iterations", "", Termination.FAILED),
    ],
)
def test_the_end_is_read_from_heading_and_log(
    heading: str, log: str, expected: Termination
) -> None:
    # Headings and last lines as CBC 2.10.3 printed them in runs of this adapter.
    assert why_stopped(heading, log) is expected


def test_a_proven_answer_has_itself_as_bound() -> None:
    # CBC prints no bound then.
    report = solve(knapsack(rows=4, columns=25), solver="cbc", gap=0.0)
    assert report.termination is Termination.OPTIMAL
    assert report.bound == report.objective


@pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")
def test_nothing_is_left_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # After a stop: no file, no process.
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    solve(market_split().problem, solver="cbc", time_limit_s=0.3)
    assert list(tmp_path.iterdir()) == []
    children = Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()
    assert children == []
