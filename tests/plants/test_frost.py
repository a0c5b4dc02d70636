"""Frost dates, the cover window and the walk out in spring."""

from datetime import date, timedelta

import numpy as np
import pytest

from overwinter.model.site import Margins
from overwinter.plants.frost import (
    Outdoors,
    cover_window,
    frost_days,
    safe_from,
    walk_out_day,
)
from overwinter.plants.hardiness import hardening, working_floor_c

MARGINS = Margins()


def test_first_and_last_frost():
    """Below 0 degC, not at it; none is none."""
    assert frost_days(np.array([3.0, 0.0, -0.1, 2.0, -4.0, 1.0])) == (2, 4)
    assert frost_days(np.array([3.0, 0.0])) is None
    assert frost_days(np.array([3.0, 1.0]), below_c=2.0) == (1, 1)


def test_cover_window_of_the_trade_article():
    """First frost 15 October: the article (read) prints 15 and 30 November; within one day."""
    first, last = (date(2023, 10, 15) + timedelta(days=d) for d in cover_window(0))
    assert abs((first - date(2023, 11, 15)).days) <= 1
    assert abs((last - date(2023, 11, 30)).days) <= 1


def test_safe_from_is_the_day_after_the_last_cold_one():
    """By hand; a limit that moves with the day is taken day by day."""
    roots = np.array([-5.0, 2.0, -1.0, 3.0, 3.0])
    assert safe_from(roots, 0.0) == 3
    assert safe_from(roots, -9.0) == 0
    assert safe_from(roots, np.array([0.0, 0.0, -2.0, 0.0, 0.0])) == 1
    assert safe_from(roots, 4.0) is None


SPRING = np.arange(90)  # from 1 March
OUTDOOR_MEAN = -1.0 + 15.0 * SPRING / 90


def outdoors() -> Outdoors:
    swing = 5.0 + 2.0 * np.cos(2 * np.pi * SPRING / 9)
    return Outdoors(OUTDOOR_MEAN, OUTDOOR_MEAN - swing)


@pytest.mark.parametrize("shelter_c", [2.0, 12.0])
def test_walk_out_day_agrees_with_following_each_day_by_itself(maple, maple_tree, shelter_c):
    """Every later walk-out is safe, the one before is not: checked one history at a time."""
    out, length = outdoors(), 11.0 + 4.0 * SPRING / 90
    sheltered, tree = np.full(90, shelter_c), maple_tree()

    def is_safe(day: int) -> bool:
        history = np.concatenate([sheltered[:day], out.mean_c[day:]])
        state = hardening(history, maple, length, 1.0)
        floor = working_floor_c(
            state, maple.root_kill_c, maple.root_kill_unhardened_c, MARGINS, tree.condition
        )
        return bool((out.min_c[day:] >= floor[day:]).all())

    day = walk_out_day(tree, MARGINS, sheltered, out, length, start=1.0)
    assert day is not None
    assert day > 0
    assert all(is_safe(later) for later in range(day, 90))
    assert not is_safe(day - 1)


def test_a_tree_kept_warm_walks_out_later(maple_tree):
    """Deacclimation costs time in spring: the warm one is never out before the cool one."""
    out, length, tree = outdoors(), 11.0 + 4.0 * SPRING / 90, maple_tree()
    days = [
        walk_out_day(tree, MARGINS, np.full(90, air_c), out, length, start=1.0)
        for air_c in (-1.0, 2.0, 8.0, 10.0, 15.0)
    ]
    assert days == sorted(days)
    assert days[-1] > days[0]


def test_no_walk_out_when_frost_lasts(maple_tree):
    """A series that ends in hard frost has no safe day."""
    out = Outdoors(np.full(30, -12.0), np.full(30, -20.0))
    assert walk_out_day(maple_tree(), MARGINS, np.full(30, 3.0), out, np.full(30, 10.0)) is None
