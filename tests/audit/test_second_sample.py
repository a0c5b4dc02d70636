"""A plan followed through winters that it was not made from."""

from dataclasses import replace

import numpy as np
import pytest
from audit_season import (
    GARDEN,
    OUTDOORS,
    STAGE_DAYS,
    make_plan,
    make_season,
    make_tree,
)

from overwinter.audit import audit as module
from overwinter.audit.audit import audit, colder, second_sample, stages_in, with_unseen
from overwinter.climate.generator import fresh_winters
from overwinter.climate.series import by_day
from overwinter.model.plan import Plan
from overwinter.model.season import Season, WinterRecipe
from overwinter.problems import UserError
from overwinter.shelters.conditions import compute_conditions

RECIPE = WinterRecipe(
    mean_min_c=(-9, -8, -3, 3, 9, 14, 17, 16, 11, 5, -1, -6),
    mean_max_c=(-1, 1, 7, 14, 21, 26, 28, 27, 22, 15, 7, 1),
    sun_mj_m2_d=None,
    coldest_mean_c=-22.0,
    coldest_spread_k=3.5,
)
"""Invented: a cold continental winter."""


@pytest.fixture(scope="module")
def case() -> tuple[Season, Plan]:
    """Two trees left outdoors: one that roots at -8 degC kill, one that nothing does."""
    hardy = {f"root_kill{part}_c": -60.0 for part in ("", "_young", "_unhardened")}
    season = make_season(make_tree("ash"), make_tree("cedar", **hardy), shelters=(GARDEN,))
    plan = make_plan(season, {"ash": OUTDOORS, "cedar": OUTDOORS})
    return replace(season, recipe=RECIPE), plan


def test_the_tender_tree_is_lost_and_the_hardy_one_is_not(case: tuple[Season, Plan]) -> None:
    # Two litres of soil outdoors in a month whose nights are at -6 degC on average.
    found = second_sample(*case, winters=20, seed=9)
    assert found.chances["ash"] > 0.5
    assert found.chances["cedar"] < 1e-3
    expected = 100.0 * sum(found.chances.values())
    assert found.expected_loss == pytest.approx(expected)
    assert found.heat == 0.0


def test_colder_winters_take_more(case: tuple[Season, Plan]) -> None:
    # No colder at all are the winters that the risks speak of, so the same chances; a tree near its
    # limit is lost more often the colder it gets, one far from it hardly.
    season, plan = case
    limits = replace(season.trees[0].limits, root_kill_c=-14.0, root_kill_young_c=-14.0)
    trees = (replace(season.trees[0], limits=limits), season.trees[1])
    season = replace(season, trees=trees, winters=fresh_winters(season, 8, 3))
    conditions = compute_conditions(season)
    days = stages_in(season, plan, by_day(season.winters.air_c).min(axis=-1), season.site.seed)
    own = with_unseen(season, plan, audit(season, conditions, days, plan)).risks
    as_it_is, *more = (colder(season, plan, by_k).chances for by_k in (0.0, 2.0, 5.0))
    assert as_it_is == pytest.approx({tree_id: risk.chance for tree_id, risk in own.items()})
    assert as_it_is["ash"] <= more[0]["ash"] <= more[1]["ash"]
    assert as_it_is["ash"] < more[1]["ash"]
    assert more[1]["cedar"] < 1e-3


def test_winters_a_few_at_a_time_give_the_same(
    case: tuple[Season, Plan], monkeypatch: pytest.MonkeyPatch
) -> None:
    # 7 + 3 winters and 10 at once: means of means, weighted by their winters, are the mean.
    once = second_sample(*case, winters=10, seed=9)
    monkeypatch.setattr(module, "AT_ONCE", 7)
    apart = second_sample(*case, winters=10, seed=9)
    assert apart.chances == pytest.approx(dict(once.chances), rel=1e-5)


def test_the_winters_of_the_plan_give_its_own_chances(case: tuple[Season, Plan]) -> None:
    # Nothing but the winters sets the second sample apart from the audit.
    season = replace(case[0], winters=fresh_winters(case[0], 12, 4))
    conditions = compute_conditions(season)
    days = stages_in(season, case[1], conditions.outdoor_min_c, 4)
    report = audit(season, conditions, days, case[1])
    found = second_sample(season, case[1], winters=12, seed=4)
    stated = {tree_id: risk.chance for tree_id, risk in report.risks.items()}
    assert dict(found.chances) == pytest.approx(stated, rel=1e-4)


def test_one_seed_gives_one_answer(case: tuple[Season, Plan]) -> None:
    one, same, other = (second_sample(*case, winters=5, seed=seed) for seed in (9, 9, 10))
    assert one == same
    assert one.chances["ash"] != other.chances["ash"]


def test_stages_keep_their_signs_and_order(case: tuple[Season, Plan]) -> None:
    season, plan = case
    minima = by_day(fresh_winters(season, 40, 3).air_c).min(axis=-1)
    days = stages_in(season, plan, minima, 3)
    assert days.stages == STAGE_DAYS.stages
    assert (np.diff(days.first_day, axis=0) >= 0).all()
    assert (days.first_day[0] == 0).all()
    assert (days.end_day[-1] == season.days).all()
    # Where the first stage ends, the coming night is forecast cold: most are, within 4.5 K.
    winter = np.flatnonzero(days.first_day[1] < days.first_day[2])
    nights = minima[winter, days.first_day[1][winter]]
    assert (nights <= -5.0 + 4.5).all()


def test_a_site_without_normals_says_so(case: tuple[Season, Plan]) -> None:
    season, plan = case
    with pytest.raises(UserError, match="no monthly normals"):
        second_sample(replace(season, recipe=None), plan, 5, 9)


def test_a_calendar_that_changed_says_so(case: tuple[Season, Plan]) -> None:
    season, plan = case
    trees = tuple(replace(tree, joins=STAGE_DAYS.stages[1].usual) for tree in season.trees)
    with pytest.raises(UserError, match="plan again"):
        second_sample(replace(season, trees=trees), plan, 5, 9)
