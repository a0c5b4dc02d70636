"""Chill hours, Utah units, and the Dynamic model against worked values."""

import numpy as np
import pytest

from overwinter.model.species import ChillModel
from overwinter.plants.chilling import (
    chill_by_day,
    chill_weight,
    counting_days,
    dynamic_portions,
)


def days_of(pattern: list[tuple[int, float]], days: int) -> np.ndarray:
    return np.tile(np.concatenate([np.full(hours, c) for hours, c in pattern]), days)


SIX_AND_TWENTY = days_of([(16, 6.0), (8, 20.0)], 10)
FOUR_AND_TWELVE = days_of([(12, 4.0), (12, 12.0)], 30)


def test_utah_units_of_two_worked_winters():
    """Richardson et al. 1974 rule (read in code), summed by hand: 80 and 540 units."""
    assert chill_by_day(SIX_AND_TWENTY, ChillModel.UTAH).sum() == pytest.approx(80.0)
    assert chill_by_day(FOUR_AND_TWELVE, ChillModel.UTAH).sum() == pytest.approx(540.0)


@pytest.mark.parametrize(
    ("air_c", "utah", "hours"),
    [
        (-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.4, 0.0, 1.0), (1.5, 0.5, 1.0), (2.4, 0.5, 1.0),
        (2.5, 1.0, 1.0), (7.2, 1.0, 1.0), (7.3, 1.0, 0.0), (9.1, 1.0, 0.0), (9.2, 0.5, 0.0),
        (12.4, 0.5, 0.0), (12.5, 0.0, 0.0), (15.9, 0.0, 0.0), (16.0, -0.5, 0.0),
        (18.0, -0.5, 0.0), (18.1, -1.0, 0.0),
    ],
)  # fmt: skip
def test_weight_of_one_hour(air_c, utah, hours):
    """Utah cuts in degC of Richardson et al. 1974 (read in code); chill hours of Weinberger 1950.

    The upper end belongs to its band.
    """
    assert chill_weight(np.array(air_c), ChillModel.UTAH) == utah
    assert chill_weight(np.array(air_c), ChillModel.HOURS) == hours


def test_warm_shelter_and_frozen_shed():
    """Held at 9 degC: Utah 1 an hour, chill hours 0; a shed at -5 degC gives neither."""
    assert chill_weight(np.array(9.0), ChillModel.UTAH) == 1.0
    assert chill_weight(np.array(9.0), ChillModel.HOURS) == 0.0
    for model in ChillModel:
        assert chill_weight(np.array(-5.0), model) == 0.0


def test_chilling_by_day_keeps_leading_axes():
    """Two places, two days, by hand."""
    air = np.array([[5.0] * 24 + [10.0] * 24, [-1.0] * 12 + [7.2] * 12 + [0.0] * 24])
    np.testing.assert_array_equal(chill_by_day(air, ChillModel.HOURS), [[24, 0], [12, 24]])


def test_warm_autumn_and_spring_do_not_take_chilling_back():
    """The customary count covers the stretch of the greatest rise: 3 to 4, by hand 46 units."""
    by_day = np.array([-10.0, -5.0, 3.0, 20.0, 20.0, -1.0, 4.0, -24.0, -24.0])
    window = counting_days(by_day)
    assert (window.start, window.stop) == (2, 7)
    assert by_day[window].sum() == 46.0
    assert by_day[counting_days(np.full(5, -3.0))].sum() == 0.0
    assert counting_days(np.full(5, 2.0)) == slice(0, 5)


CONSTANT = {
    0: (0.774, 11.18), 2: (5.709, 57.91), 4: (6.582, 65.76), 6: (7.821, 75.25),
    8: (8.133, 75.24), 10: (7.095, 69.94), 12: (6.000, 55.00), 13: (0.0, 0.0), 15: (0.0, 0.0),
}  # fmt: skip


@pytest.mark.parametrize("air_c", CONSTANT)
def test_dynamic_portions_at_constant_temperature(air_c):
    """Fishman et al. 1987 as the model's documentation has it (read), computed beforehand.

    Portions after 240 and 2160 h. Independent statement (read): 6 degC for 240 h about 7.8,
    15 degC none.
    """
    portions = dynamic_portions(np.full(2160, float(air_c)))
    after_240, after_2160 = CONSTANT[air_c]
    assert portions[239] == pytest.approx(after_240, abs=0.001)
    assert portions[-1] == pytest.approx(after_2160, abs=0.01)


def test_first_portion_at_six_degrees():
    """Computed beforehand: first in hour 29, then every 28 hours."""
    portions = dynamic_portions(np.full(120, 6.0))
    hours = np.flatnonzero(np.diff(portions, prepend=0.0) > 0) + 1
    assert hours[0] == 29
    assert set(np.diff(hours)) == {28}


@pytest.mark.parametrize(
    ("pattern", "expected"),
    [
        ([(20, 6.0), (24, 25.0), (20, 6.0)], 0.0),
        ([(40, 6.0)], 0.981),
        ([(240, 6.0), (48, 25.0), (240, 6.0)], 15.631),
    ],
)
def test_warmth_destroys_the_intermediate_never_a_portion(pattern, expected):
    """The Dynamic model's mark (Fishman et al. 1987), values computed beforehand."""
    assert dynamic_portions(days_of(pattern, 1))[-1] == pytest.approx(expected, abs=0.001)


def test_dynamic_portions_of_two_worked_winters():
    """The winters of the Utah test, computed beforehand: 4.872 and 14.707 portions."""
    assert dynamic_portions(SIX_AND_TWENTY)[-1] == pytest.approx(4.872, abs=0.001)
    assert dynamic_portions(FOUR_AND_TWELVE)[-1] == pytest.approx(14.707, abs=0.001)


def test_dynamic_portions_keep_leading_axes():
    """Side by side as alone."""
    both = dynamic_portions(np.stack([np.full(240, 6.0), np.full(240, 10.0)]))
    np.testing.assert_array_equal(both[0], dynamic_portions(np.full(240, 6.0)))
    np.testing.assert_array_equal(both[1], dynamic_portions(np.full(240, 10.0)))
