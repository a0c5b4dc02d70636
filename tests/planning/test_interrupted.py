"""Ctrl-C while a plan is being proven more nearly: the plan at hand is kept (our own rule)."""

import pytest
from replan_winters import EXACT, usual

from overwinter.planning.plan_winter import plan_winter
from overwinter.planning.search import Found, Search


def test_the_plan_at_hand_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stopped outside the solver, and the proof says so; nothing else differs."""
    season, undisturbed = usual()

    def stopped(_search: Search, _found: Found) -> bool:
        raise KeyboardInterrupt

    monkeypatch.setattr(Search, "_closes", stopped)
    outcome = plan_winter(season, EXACT)
    assert outcome.plan is not None
    assert undisturbed.plan is not None
    assert outcome.plan.stays == undisturbed.plan.stays
    assert outcome.plan.proof.termination == "interrupted"
    assert undisturbed.plan.proof.termination != "interrupted"
