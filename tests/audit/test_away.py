"""Trees that are not home when the plan ends, and why; by hand from the audit's own season.

Outdoors it is 6 degC in the last ten days, roots die at -10 and work down to -7 degC.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from audit_season import (
    HEATED,
    HOME,
    IN_SHED,
    OUTDOOR_C,
    SITE,
    THAW,
    good,
    make_conditions,
    make_plan,
    make_season,
    make_tree,
)

from overwinter.audit import Rule, audit
from overwinter.audit.report import Away, AwayWhy

STAYS_IN = (HOME, "shed/bench", "shed/bench")
COLD_END_C = np.concatenate([OUTDOOR_C[:600], np.full(120, -7.5)])


def away_of(
    stays: Mapping[str, tuple[str | None, ...]], more: Mapping[str, object] | None = None
) -> list[tuple[str, AwayWhy, Rule | None]]:
    """Who is away and why, by trees' stays, on a site changed as asked."""
    season = make_season(
        *(make_tree(tree_id) for tree_id in stays), site=replace(SITE, **(more or {}))
    )
    report = audit(season, make_conditions(), make_plan(stays, HEATED))
    assert all(one.from_day == THAW for one in report.away)
    return [(one.tree_id, one.why, one.rule) for one in report.away]


def test_nobody_is_away_where_all_are_home() -> None:
    """The good plan takes everything back."""
    assert audit(*good()).away == ()


def test_a_tree_that_could_go_home_is_away_for_its_price() -> None:
    """Mild outdoors and carries to spare: only money keeps it in."""
    assert away_of({"ash": STAYS_IN, "birch": IN_SHED}) == [("ash", AwayWhy.DEARER, None)]


@pytest.mark.parametrize(("per_day", "why"), [(1, AwayWhy.NO_CARRY), (2, AwayWhy.DEARER)])
def test_a_full_day_is_told(per_day: int, why: AwayWhy) -> None:
    """One tree goes home on the last spell's first day; is there a carry for the other?"""
    stays = {"ash": STAYS_IN, "birch": IN_SHED}
    assert away_of(stays, {"carries_per_day": per_day}) == [("ash", why, None)]


@pytest.mark.parametrize(("days", "why"), [(1, AwayWhy.NO_CARRY), (2, AwayWhy.DEARER)])
def test_no_carry_day_left_is_told(days: int, why: AwayWhy) -> None:
    """Everything is carried on one day in autumn; may there be a second?"""
    stays = {"ash": STAYS_IN, "birch": STAYS_IN}
    assert away_of(stays, {"carry_days_max": days}) == [("ash", why, None), ("birch", why, None)]


def test_a_tree_that_would_freeze_outdoors_is_not_safe() -> None:
    """-7.5 degC in the last five days is below -7; a hardier one (-12 + 3) could have gone."""
    season = make_season(
        make_tree("ash"), make_tree("pine", root_kill_c=-12.0, root_kill_unhardened_c=-12.0)
    )
    plan = make_plan({"ash": STAYS_IN, "pine": STAYS_IN}, HEATED)
    report = audit(season, make_conditions(garden=COLD_END_C), plan)
    assert report.away == (
        Away("ash", "shed/bench", AwayWhy.NOT_SAFE, Rule.ROOTS, THAW),
        Away("pine", "shed/bench", AwayWhy.DEARER, None, THAW),
    )


def test_a_tree_that_may_not_stand_there_is_refused() -> None:
    """Forbidden by its owner, not by the weather."""
    season = make_season(make_tree("ash", forbidden=frozenset({"garden"})))
    report = audit(season, make_conditions(), make_plan({"ash": STAYS_IN}, HEATED))
    assert [(one.why, one.rule) for one in report.away] == [(AwayWhy.REFUSED, Rule.FORBIDDEN)]
