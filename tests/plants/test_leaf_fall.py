"""Leaf fall against dates of two climates."""

import numpy as np
import pytest
from two_climates import harvard_forest, southern_germany

from overwinter.plants.hardening import day_bare, leaves_left


def day_left(place, share: float) -> float:
    left = leaves_left(place.mean_c, place.day_length_h)
    return place.day_of_year((left <= share).argmax(axis=1))


def test_leaves_turn_and_fall_when_they_are_seen_to() -> None:
    # Oaks in Germany turn about 19 October, day 292 (mean of 2011 to 2023, German weather service,
    # read; warmer years than these); bare in early November (memory). At Harvard Forest colour is
    # best about 10 October, day 283, oaks are bare about the end of it (memory).
    germany, harvard = southern_germany(), harvard_forest()
    assert day_left(germany, 0.99) == pytest.approx(288, abs=7)
    assert day_left(germany, 0.0) == pytest.approx(305, abs=7)
    assert day_left(harvard, 0.99) == pytest.approx(285, abs=7)
    assert day_left(harvard, 0.0) == pytest.approx(302, abs=7)


def test_colder_autumns_are_barer_and_long_days_do_not_count() -> None:
    length = np.full(60, 12.0)
    warm, cold = (leaves_left(np.full((1, 60), t), length) for t in (15.0, 8.0))
    assert (cold <= warm).all()
    assert day_bare(cold)[0] < day_bare(warm)[0] == 60
    assert leaves_left(np.full((1, 60), 0.0), np.full(60, 13.0)).min() == 1.0
    # 14,000 K2 d at 20.5 K below 28.5 degC: bare on the 34th day, index 33.
    assert day_bare(cold)[0] == 33


def test_many_places_and_winters_at_once() -> None:
    # Days lie along the last axis, whatever is before it.
    length = np.full(60, 12.0)
    air = np.linspace(4.0, 20.0, 12).repeat(60).reshape(2, 6, 60)
    together = leaves_left(air, length)
    for place, winter in np.ndindex(2, 6):
        alone = leaves_left(air[place, winter], length)
        assert together[place, winter] == pytest.approx(alone)
        assert day_bare(together)[place, winter] == day_bare(alone)
