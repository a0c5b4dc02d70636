"""When trees rest."""

from dataclasses import replace

import numpy as np
import pytest

from overwinter.climate.sun import day_length_h
from overwinter.plants.rest import rest_days, rest_span, window_mean_c

SEASON = np.arange(227)  # 1 October to 15 May
LENGTH_42N = day_length_h(42.0, (273 + SEASON) % 365 + 1)


def yearly_wave(mean_c: float, swing_k: float) -> np.ndarray:
    """Coldest on 20 January, day 111 of a plan that starts on 1 October."""
    return mean_c - swing_k * np.cos(2 * np.pi * (SEASON - 111) / 365)


def test_rest_of_a_cold_continental_winter():
    """Common practice, no source: trees rest from about mid-October until April."""
    begin, end = rest_span(yearly_wave(9.0, 13.0), LENGTH_42N)
    assert 8 <= begin <= 35
    assert 180 <= end <= 215


def test_no_rest_where_autumn_never_turns_cold():
    """A coast without winter (14-day mean never under 10 degC) asks for no rest."""
    assert rest_span(yearly_wave(16.0, 4.0), LENGTH_42N) == (0, 0)


def test_rest_lasts_to_the_end_where_spring_never_comes():
    """A far northern winter ends after the plan."""
    assert rest_span(yearly_wave(-8.0, 12.0), LENGTH_42N)[1] == SEASON.size


def test_a_mild_midwinter_does_not_end_the_rest():
    """Three weeks of 12 degC at New Year: days are too short for the rest to end."""
    mean = yearly_wave(7.0, 6.0)
    mild = mean.copy()
    mild[85:106] = 12.0
    assert rest_span(mild, LENGTH_42N)[1] == rest_span(mean, LENGTH_42N)[1]


def test_one_cold_day_at_the_start_does_not_begin_the_rest():
    """The first days are judged by the first fortnight, not by themselves."""
    mean = np.full(SEASON.size, 15.0)
    mean[0] = -5.0
    assert window_mean_c(mean)[0] == pytest.approx((13 * 15 - 5) / 14)
    assert rest_span(mean, LENGTH_42N) == (0, 0)


def test_window_mean_is_that_of_the_last_fortnight():
    """Against a plain loop; a series shorter than the window has one mean."""
    series = np.random.default_rng(5).normal(5, 8, 60)
    for day in (13, 14, 37, 59):
        assert window_mean_c(series)[day] == pytest.approx(series[day - 13 : day + 1].mean())
    np.testing.assert_allclose(window_mean_c(series[:5]), series[:5].mean())
    assert window_mean_c(series[:0]).size == 0


def test_a_plan_made_in_december_finds_the_tree_at_rest():
    """Starting late must not skip the rest; nor must starting past the shortest day."""
    mean = yearly_wave(9.0, 13.0)
    whole = rest_span(mean, LENGTH_42N)
    for late in (60, 100):
        begin, end = rest_span(mean[late:], LENGTH_42N[late:])
        assert begin == 0
        assert end == whole[1] - late


def test_rest_days_of_trees_that_need_none(maple):
    """Without a rest ceiling there is no rest; with one the days are those of the span."""
    mean = yearly_wave(9.0, 13.0)
    assert not rest_days(replace(maple, rest_ceiling_c=None), mean, LENGTH_42N).any()
    resting = rest_days(maple, mean, LENGTH_42N)
    begin, end = rest_span(mean, LENGTH_42N)
    np.testing.assert_array_equal(np.flatnonzero(resting), np.arange(begin, end))


def test_southern_winter_is_read_the_same():
    """At 42 south, half a year on, the rest is as long as at 42 north (to a few days)."""
    mean = yearly_wave(9.0, 13.0)
    south = day_length_h(-42.0, (90 + SEASON) % 365 + 1)  # from 1 April
    north_span, south_span = rest_span(mean, LENGTH_42N), rest_span(mean, south)
    assert south_span == pytest.approx(north_span, abs=4)
