"""Trees go home at the end where it is safe, two-person trees too, and in re-plans."""

from dataclasses import replace

import pytest
from replan_winters import EXACT, again, day, season, tree

from overwinter.audit.report import AwayWhy
from overwinter.model.season import Season
from overwinter.model.site import Weights
from overwinter.planning.plan_winter import Outcome, plan_winter

WARM_END_C = (5, 2, -3, -6, 4, 6)
USUAL = Weights(tail_chance=0.0)
"""The default prices, without the cold tail."""


def winter(weights: Weights, means_c: tuple[int, ...] = WARM_END_C, **of_site: object) -> Season:
    """Two trees for two people each, and a light one; all must come in for the frost."""
    trees = (
        tree("fig", -1.0, weight_kg=30.0),
        tree("bay", -3.0, weight_kg=23.0),
        tree("elm", -3.0),
    )
    return season(*trees, means_c=means_c, weights=weights, **of_site)


def at_the_end(outcome: Outcome) -> dict[str, str | None]:
    return {tree_id: path[-1] for tree_id, path in outcome.plan.stays.items()}


def test_all_go_home_once_it_is_safe() -> None:
    """4 and 6 degC in the last weeks, roots that stand -1 less a margin of 1 K."""
    outcome = plan_winter(winter(USUAL), EXACT)
    assert set(at_the_end(outcome).values()) == {"yard/stand"}
    assert outcome.report.away == ()
    assert outcome.plan.costs.not_home == 0.0


def test_a_price_below_the_carry_keeps_them_in() -> None:
    """At 3, below two people's 4, as it once was by default: those two stay in for their price."""
    outcome = plan_winter(winter(replace(USUAL, not_home=3.0)), EXACT)
    away = {one.tree_id: one.why for one in outcome.report.away}
    assert set(away.values()) == {AwayWhy.DEARER}
    assert {"fig", "bay"} <= set(away)
    assert outcome.plan.costs.not_home == 3.0 * len(away)


def test_who_cannot_go_home_stays_in_and_is_told() -> None:
    """Frost to the end: nobody is sent out for the price."""
    outcome = plan_winter(winter(USUAL, (5, 2, -3, -6, -8, -8)), EXACT)
    assert len(outcome.plan.stays) >= 2
    assert {one.tree_id: one.why for one in outcome.report.away} == dict.fromkeys(
        outcome.plan.stays, AwayWhy.NOT_SAFE
    )


@pytest.mark.parametrize(("per_day", "away"), [(2, 1), (3, 0)])
def test_as_many_go_home_as_can_be_carried(per_day: int, away: int) -> None:
    """Three trees and one safe day, the last spell's first: as many go home as carries allow, and
    of the other one it is said that none is left."""
    outcome = plan_winter(winter(USUAL, carries_per_day=per_day, carry_days_max=4), EXACT)
    assert len(outcome.plan.stays) == 3
    assert [one.why for one in outcome.report.away] == [AwayWhy.NO_CARRY] * away


def test_a_replan_takes_home_what_the_plan_in_force_left_in() -> None:
    """One tree, two people, no other carry on its day, not planned before: 14, the dearest way."""
    only = (tree("fig", -1.0, weight_kg=30.0),)
    left_in = season(*only, means_c=WARM_END_C, weights=replace(USUAL, not_home=0.0))
    before = plan_winter(left_in, EXACT)
    assert before.plan.stays["fig"][-1] != "yard/stand"
    now = season(*only, means_c=WARM_END_C, weights=USUAL)
    anew = again(now, before, day(28))
    assert anew.plan.stays["fig"][-1] == "yard/stand"
    assert anew.report.away == ()
