"""Stages of winters drawn at random, beside slow loops over the nights and days set by hand."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overwinter.climate import stages as module
from overwinter.climate.stages import (
    FORECAST_ERROR_K,
    WARM_SPELLS_PASS_DAYS,
    cold_night_days,
    coldest_day,
    forecast_minima_c,
    make_stages,
    mild_week_days,
)
from overwinter.model.stage import Happening, HappeningKind, Sign, StageDays

STARTS = date(2026, 10, 1)
OPENS = (Happening(HappeningKind.OPENS, "shed"),)


@st.composite
def winters_and_days(draw: st.DrawFn) -> StageDays:
    """Stages of a few winters of any nights, thresholds and calendar."""
    winters, days = draw(st.integers(1, 5)), draw(st.integers(2, 150))
    seed = draw(st.integers(0, 2**32 - 1))
    level, swing = draw(st.floats(-20, 20)), draw(st.floats(0, 25))
    season = -swing * np.sin(np.linspace(0, np.pi, days))
    minima = level + season + 4 * np.random.default_rng(seed).standard_normal((winters, days))
    degrees = st.lists(st.integers(-25, 15).map(float), max_size=4)
    calendar = {
        STARTS + timedelta(days=day): OPENS
        for day in draw(st.lists(st.integers(-5, 160), max_size=3))
    }
    return make_stages(minima, STARTS, draw(degrees), draw(degrees), calendar, seed)


@given(winters_and_days())
def test_the_order_of_the_stages_is_kept_in_every_winter(found: StageDays) -> None:
    assert (found.first_day[0] == 0).all()
    assert (np.diff(found.first_day, axis=0) >= 0).all()
    assert (found.first_day < found.days).all()
    assert [stage.index for stage in found.stages] == list(range(len(found.stages)))
    signs = [s for s in found.stages if s.sign in (Sign.COLD_NIGHT, Sign.MILD_WEEK)]
    autumn = [s.threshold_c for s in signs if s.sign is Sign.COLD_NIGHT]
    spring = [s.threshold_c for s in signs if s.sign is Sign.MILD_WEEK]
    assert [s.threshold_c for s in signs] == autumn + spring
    assert autumn == sorted(set(autumn), reverse=True)
    assert spring == sorted(set(spring))


@given(winters_and_days())
def test_every_day_lies_in_exactly_one_stage(found: StageDays) -> None:
    day = np.arange(found.days)
    inside = (found.first_day[:, :, None] <= day) & (day < found.end_day[:, :, None])
    assert (inside.sum(axis=0) == 1).all()
    assert (inside.argmax(axis=0) == found.stage_of_day).all()


@given(winters_and_days())
def test_the_usual_days_fill_the_season_without_gaps(found: StageDays) -> None:
    begins = [stage.usual for stage in found.stages]
    assert begins[0] == STARTS
    assert [stage.until for stage in found.stages[:-1]] == begins[1:]
    assert found.stages[-1].until == STARTS + timedelta(days=found.days)
    assert all(s.early <= s.usual <= s.late for s in found.stages)


@given(winters_and_days())
def test_a_day_of_the_calendar_comes_on_its_day_in_every_winter(found: StageDays) -> None:
    for stage in found.stages:
        if stage.sign is Sign.CALENDAR:
            day = (stage.usual - STARTS).days
            assert (found.first_day[stage.index] == day).all()
            assert (found.first_day[: stage.index] <= day).all()
            assert (found.first_day[stage.index :] >= day).all()
            assert stage.early == stage.usual == stage.late


@given(st.integers(0, 2**32 - 1), st.floats(-10, 5))
def test_signs_beside_slow_loops(seed: int, threshold_c: float) -> None:
    rng = np.random.default_rng(seed)
    minima, forecast = 5 * rng.standard_normal((2, 4, 60))
    not_before = int(rng.integers(0, 60))
    for w in range(4):
        cold = [d for d in range(60) if forecast[w, d] <= threshold_c]
        mild = [
            d
            for d in range(not_before, 60)
            if all(minima[w, i] > threshold_c for i in range(max(0, d - 3), d))
            and all(forecast[w, i] > threshold_c for i in range(d, min(60, d + 7)))
        ]
        assert cold_night_days(forecast, threshold_c)[w] == min(cold, default=60)
        assert mild_week_days(minima, forecast, threshold_c, not_before)[w] == min(mild, default=60)


def _one_winter() -> np.ndarray:
    """5 degC but for nights of -6 on days 20 and 70, and -10 degC from day 50 to day 69."""
    minima = np.full((1, 160), 5.0)
    minima[0, 50:70] = -10.0
    minima[0, [20, 70]] = -6.0
    return minima


def test_thresholds_by_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FORECAST_ERROR_K", 0.0)
    found = make_stages(_one_winter(), STARTS, (-6.0, -8.0), (-8.0, -4.0), {}, 1)
    # The day before a night is the day that the night belongs to. All windows of 31 days about days
    # 54 to 65 hold every cold night, so the turn is day 55, the first that also holds day 70.
    turn = coldest_day(_one_winter())
    assert turn == 55
    assert found.first_day[:, 0].tolist() == [0, 20, 50, turn + 40, turn + 40]
    # A cold night on day 100 holds the warmer sign back until three nights behind it.
    late = _one_winter()
    late[0, 100] = -6.0
    found = make_stages(late, STARTS, (-6.0, -8.0), (-8.0, -4.0), {}, 1)
    assert found.first_day[3:, 0].tolist() == [turn + 40, 104]


def test_a_sign_that_does_not_come_has_a_stage_without_days(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(module, "FORECAST_ERROR_K", 0.0)
    cold = _one_winter()
    cold[0, 60], cold[0, 99] = -21.0, -30.0  # the second comes when spring has begun
    minima = np.concatenate((_one_winter(), _one_winter(), cold))
    found = make_stages(minima, STARTS, (-20.0,), (-31.0, 9.0), {}, 1)
    # Spring begins forty days after the coldest at the earliest; one that is never mild enough
    # ends with the plan, so that trees still go home.
    spring = coldest_day(minima) + WARM_SPELLS_PASS_DAYS
    assert found.first_day[:, 0].tolist() == [0, spring, spring, 159]
    assert found.first_day[:, 2].tolist() == [0, 60, spring, 159]
    assert [round(stage.comes, 2) for stage in found.stages] == [1.0, 0.33, 1.0, 1.0]
    assert [stage.is_rare for stage in found.stages] == [False, True, False, False]
    # "In 3 of 10 years, from ... on" is told of the winter that brings it, not of spring.
    assert found.stages[1].early == STARTS + timedelta(days=60)


def test_a_calendar_day_holds_the_others_on_their_side(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "FORECAST_ERROR_K", 0.0)
    minima = np.repeat(_one_winter(), 3, axis=0)
    minima[0, 20] = 5.0  # in this winter alone the first cold night is that of day 50
    calendar = {STARTS + timedelta(days=30): OPENS}
    found = make_stages(minima, STARTS, (-6.0,), (), calendar, 1)
    assert [stage.sign for stage in found.stages] == [Sign.START, Sign.COLD_NIGHT, Sign.CALENDAR]
    assert found.first_day.tolist() == [[0, 0, 0], [30, 20, 20], [30, 30, 30]]
    assert found.stages[2].happenings == OPENS
    assert [s.at_latest for s in found.stages] == [None, STARTS + timedelta(days=30), None]
    later = {STARTS + timedelta(days=55): OPENS}  # all have come by then
    found = make_stages(minima, STARTS, (-6.0,), (), later, 1)
    assert [stage.at_latest for stage in found.stages] == [None, None, None]


def test_a_mild_week_is_waited_for_until_the_last_day() -> None:
    found = make_stages(_one_winter(), STARTS, (), (90.0,), {}, 1)
    assert found.stages[1].at_latest == STARTS + timedelta(days=found.days - 1)


def test_what_happens_on_the_first_day_goes_with_the_start() -> None:
    found = make_stages(_one_winter(), STARTS, (), (), {STARTS: OPENS}, 1)
    assert [(s.sign, s.happenings) for s in found.stages] == [(Sign.START, OPENS)]


def test_a_sign_of_spring_tells_the_day_before_which_it_is_none() -> None:
    found = make_stages(_one_winter(), STARTS, (-6.0,), (-8.0, -4.0), {}, 1)
    day = STARTS + timedelta(days=coldest_day(_one_winter()) + WARM_SPELLS_PASS_DAYS)
    assert [stage.not_before for stage in found.stages] == [None, None, day, day]


def test_forecasts_are_the_same_from_one_seed() -> None:
    minima = np.zeros((30, 240))
    one, same, other = (forecast_minima_c(minima, seed) for seed in (3, 3, 4))
    assert (one == same).all()
    assert (one != other).any()
    # 7,200 errors: their spread is known within some 0.8 % (one over the root of twice the count).
    assert one.std() == pytest.approx(FORECAST_ERROR_K, rel=0.04)
    assert abs(one.mean()) < 0.08


def test_one_seed_gives_the_same_stages() -> None:
    minima = np.repeat(_one_winter(), 5, axis=0)
    one, same, other = (make_stages(minima, STARTS, (4.0,), (), {}, seed) for seed in (3, 3, 4))
    assert (one.first_day == same.first_day).all()
    assert one.stages == same.stages
    assert (one.first_day != other.first_day).any()
