"""The stages of a winter that has begun, over many winters: order, days, what is still to come."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from replan_cases import STAGES, season

from overwinter.climate.stages import make_stages
from overwinter.model.changes import Changes
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions
from overwinter.model.stage import HappeningKind, Sign, Stage, StageDays
from overwinter.replan.replan import changed_season
from overwinter.search.plan_winter import plan_stages
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.begun import stages_anew

Winter = tuple[Season, Conditions]


@pytest.fixture(scope="module")
def winter() -> Winter:
    """The season and its physics."""
    found = season()
    return found, compute_conditions(found)


def anew(winter: Winter, past: Sequence[Stage], first: date, signs: Sequence[Stage]) -> StageDays:
    """Stages of the rest of a winter."""
    return stages_anew(winter[0], winter[1].outdoor_min_c, past, first, signs)


def on(stage: Stage, day: date) -> Stage:
    """A stage that begins on a day."""
    return replace(stage, early=day, usual=day, late=day)


def begun(count: int, *days: date) -> tuple[Stage, ...]:
    """The first stages of the hand-made plan."""
    return tuple(on(s, day) for s, day in zip(STAGES[:count], days, strict=True))


START = begun(1, STAGES[0].usual)
AUTUMN = begun(3, date(2026, 11, 1), date(2026, 11, 5), date(2026, 12, 2))


@pytest.mark.parametrize("past", [START, AUTUMN])
@pytest.mark.parametrize("first", [date(2026, 12, 5), date(2027, 1, 15), date(2027, 3, 20)])
def test_every_day_lies_in_one_stage(winter: Winter, past: tuple[Stage, ...], first: date) -> None:
    """In every winter stages come in order, cover the plan, and none to come is before today."""
    found = anew(winter, past, first, STAGES)
    today = winter[0].day_index(first)
    assert (np.diff(found.first_day, axis=0) >= 0).all()
    assert (found.first_day[0] == 0).all()
    assert (found.first_day[: len(past)] <= today).all()
    assert (found.first_day[len(past)] == today).all()
    lengths = found.end_day - found.first_day
    assert (lengths.sum(axis=0) == winter[0].days).all()
    assert [stage.index for stage in found.stages] == list(range(len(found.stages)))
    for stage, after in zip(found.stages, found.stages[1:], strict=False):
        assert stage.until == after.usual
        assert stage.usual <= after.usual
    assert found.stages[-1].until == winter[0].site.ends + timedelta(days=1)


def test_today_is_a_stage(winter: Winter) -> None:
    """It says that the winter was planned anew then."""
    found = anew(winter, AUTUMN, date(2026, 12, 5), STAGES)
    assert found.stages[3].sign is Sign.CALENDAR
    assert found.stages[3].usual == date(2026, 12, 5)
    assert found.stages[3].happenings[0].kind is HappeningKind.PLANNED_ANEW


def test_what_has_come_is_shown_on_its_real_day_and_reckoned_on_its_sign(winter: Winter) -> None:
    """Each winter of the sample keeps the day of its own sign, at the latest today: no tree is
    told hurt by a night that this winter never had."""
    real, conditions = winter
    first = date(2026, 12, 5)
    found = anew(winter, AUTUMN, first, STAGES)
    assert [stage.usual for stage in found.stages[:3]] == [one.usual for one in AUTUMN]
    alone = make_stages(
        conditions.outdoor_min_c, real.site.starts, [-2.0, -8.0], [], {}, real.site.seed
    )
    expected = alone.first_day.clip(max=real.day_index(first))
    np.testing.assert_array_equal(found.first_day[:3], expected)


def test_signs_that_have_come_are_not_waited_for(winter: Winter) -> None:
    """A milder frost has come with a harder one; in spring no autumn sign is left."""
    after_frost = anew(winter, AUTUMN, date(2026, 12, 5), STAGES).stages[4:]
    frosts = [s.threshold_c for s in after_frost if s.sign is Sign.COLD_NIGHT]
    assert all(threshold is not None and threshold < -8.0 for threshold in frosts)
    signs = (*STAGES, replace(STAGES[3], threshold_c=0.0), replace(STAGES[3], threshold_c=-12.0))
    spring = (*AUTUMN, on(STAGES[3], date(2027, 2, 25)))
    ahead = anew(winter, spring, date(2027, 3, 1), signs).stages[5:]
    assert all(stage.sign is Sign.MILD_WEEK for stage in ahead)
    assert [stage.threshold_c for stage in ahead] == [0.0]


def test_a_day_that_is_past_holds_no_sign(winter: Winter) -> None:
    """A shelter opened before today: a frost that has not come is waited for all the same."""
    first = date(2026, 12, 5)
    opened = changed_season(winter[0], Changes(opens={"shed": date(2026, 12, 1)}))
    found = anew((opened, winter[1]), START, first, STAGES)
    without = anew(winter, START, first, STAGES)
    assert found.stages == without.stages
    np.testing.assert_array_equal(found.first_day, without.first_day)


def test_signs_still_to_come_are_those_of_a_whole_plan(winter: Winter) -> None:
    """Nothing has come yet: every sign of the season lies ahead, none twice."""
    stages = plan_stages(*winter).stages
    whole = [(s.sign, s.threshold_c) for s in stages[1:]]
    found = anew(winter, START, date(2026, 11, 3), stages).stages[2:]
    assert [(s.sign, s.threshold_c) for s in found] == whole


def test_a_new_tree_leaves_the_signs_in_force(winter: Winter) -> None:
    """Lists that were printed still hold, whatever the whole collection would like best."""
    in_force = {(s.sign, s.threshold_c) for s in STAGES[1:] if s.threshold_c is not None}
    stages = plan_stages(*winter, STAGES).stages
    assert {(s.sign, s.threshold_c) for s in stages} >= in_force


def test_a_later_opening_is_a_stage(winter: Winter) -> None:
    """On its new day, in every winter."""
    day = date(2026, 12, 20)
    late = changed_season(winter[0], Changes(opens={"shed": day}))
    found = anew((late, winter[1]), START, date(2026, 11, 3), STAGES)
    (opening,) = [
        stage
        for stage in found.stages
        if any(one.kind is HappeningKind.OPENS for one in stage.happenings)
    ]
    assert (opening.early, opening.usual, opening.late) == (day, day, day)
    assert (found.first_day[opening.index] == late.day_index(day)).all()
