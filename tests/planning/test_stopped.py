"""A search that is to end before its time: Ctrl-C and the time limit (our own rules)."""

import os
import signal
import sys
from pathlib import Path

import pytest

from overwinter.files.season import read_season
from overwinter.planning import search
from overwinter.planning.options import PlanOptions, Progress
from overwinter.planning.plan_winter import plan_winter
from overwinter.planning.solving import STOPPING, Solving
from overwinter.solvers.report import Termination

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from winters import write_winter

posix = pytest.mark.skipif(sys.platform == "win32", reason="sends a POSIX signal")


@posix
def test_the_first_ctrl_c_is_noted_and_a_second_one_raises() -> None:
    """The search goes on to its end, the user is told, and afterwards Ctrl-C is Python's again."""
    told: list[Progress] = []
    work = Solving(PlanOptions(), told.append)
    # what a shell starts in the background begins with Ctrl-C ignored
    outside = signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        with work.noting_ctrl_c():
            assert not work.stopped()
            os.kill(os.getpid(), signal.SIGINT)
            assert work.stopped()
            assert work.ended_by() is Termination.INTERRUPTED
            assert [(one.phase, one.urgent) for one in told] == [(STOPPING, True)]
            with pytest.raises(KeyboardInterrupt):
                os.kill(os.getpid(), signal.SIGINT)
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, outside)


@posix
def test_another_program_keeps_its_own_ctrl_c() -> None:
    """Where Ctrl-C is handled otherwise, or ignored, it stays so."""
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        work = Solving(PlanOptions(), None)
        with work.noting_ctrl_c():
            os.kill(os.getpid(), signal.SIGINT)
        assert not work.stopped()
    finally:
        signal.signal(signal.SIGINT, before)


@pytest.mark.parametrize("questions", [0, 3, 6, 10, 20, 40])
def test_haste_costs_no_tree_its_place(
    questions: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Told to stop at whatever time: every tree placed, audited, and the proof says why it ended.

    Given time, the same winter leaves no tree out either; and no bound found in haste lies above
    what that plan costs.
    """
    write_winter(tmp_path / "w", trees=16, places=8, seed=1)
    season = read_season(tmp_path / "w")
    monkeypatch.setattr(search, "SMALL", 0)
    unhurried = plan_winter(season, PlanOptions(gap=1e-4)).plan
    assert not unhurried.left_out
    asked = 0

    def seconds_left(_work: Solving) -> float:
        nonlocal asked
        asked += 1
        return 0.0 if asked > questions else 1e6

    monkeypatch.setattr(Solving, "seconds_left", seconds_left)
    hurried = plan_winter(season, PlanOptions(gap=0.0, time_limit_s=1e6))
    assert asked > questions
    assert hurried.report.passed
    assert not hurried.plan.left_out
    assert hurried.plan.proof.termination == "time limit"
    assert hurried.plan.proof.bound is not None
    assert hurried.plan.proof.bound <= unhurried.proof.objective + 1e-6
    assert hurried.plan.costs.total >= unhurried.proof.bound - 1e-6


def test_what_was_asked_and_not_reached_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither "gap reached" nor "optimal" stands beside a gap wider than was asked."""
    write_winter(tmp_path / "w", trees=16, places=8, seed=1)
    monkeypatch.setattr(search, "SMALL", 0)
    monkeypatch.setattr(search, "CLOSABLE", 0.0)
    proof = plan_winter(read_season(tmp_path / "w"), PlanOptions(gap=1e-6)).plan.proof
    assert proof.gap is not None
    assert proof.gap > 1e-6
    assert proof.termination == "0.0001 % was asked"
