"""Chilling weights against the published cuts."""

import numpy as np

from overwinter.climate.series import chill_hours_weight, utah_weight


def test_utah_cuts() -> None:
    """Every band of the Utah model has its weight, the upper cut belonging to the band."""
    # Richardson, Seeley & Walker 1974 in degC, as public code of the model states the cuts.
    air = [1.4, 1.5, 2.4, 2.5, 9.1, 9.2, 12.4, 12.5, 15.9, 16.0, 18.0, 18.1]
    weights = [0, 0.5, 0.5, 1, 1, 0.5, 0.5, 0, 0, -0.5, -0.5, -1]
    np.testing.assert_array_equal(utah_weight(np.array(air)), weights)


def test_chill_hour_bounds() -> None:
    """Chill hours count from 0 to 7.2 degC, both ends in."""
    # Weinberger 1950 (32 to 45 degF).
    np.testing.assert_array_equal(chill_hours_weight(np.array([-1, 0, 7.2, 7.3])), [0, 1, 1, 0])


def test_the_two_models_part_in_a_cool_shelter_and_agree_in_a_frozen_one() -> None:
    """At 9 degC all winter Utah counts every hour and chill hours none; at -5 degC both none."""
    # From the published cuts: 9.0 lies in 2.5 to 9.1 (weight 1) and above 7.2; -5 is below both.
    winter = 24 * 180
    assert utah_weight(np.full(winter, 9.0)).sum() == winter
    assert chill_hours_weight(np.full(winter, 9.0)).sum() == 0
    assert utah_weight(np.full(winter, -5.0)).sum() == 0
    assert chill_hours_weight(np.full(winter, -5.0)).sum() == 0


def test_long_sums() -> None:
    """Ten days of 16 h at 6 and 8 h at 20 degC are 80 units; thirty of 12 h at 4 and 12 are 540."""
    # By hand from the weights: 10 (16 - 8) = 80; 30 (12 + 6) = 540.
    warm_days = np.tile([6.0] * 16 + [20.0] * 8, 10)
    cool_days = np.tile([4.0] * 12 + [12.0] * 12, 30)
    assert utah_weight(warm_days).sum() == 80
    assert utah_weight(cool_days).sum() == 540
