"""Ground temperature against published figures and records."""

import numpy as np
import pytest

from overwinter.climate.ground import (
    damping_per_m,
    ground_from_weather,
    kusuda_c,
)
from overwinter.model.site import Ground

MID_MONTHS = np.array([15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349], dtype=float)


def test_damping_depth_matches_the_published_one() -> None:
    """1e-6 m2/s has the damping depth 3.17 m that the groundTemp documentation prints."""
    # rdrr.io, ijlyttle/groundTemp: alpha 1e-6 m2/s -> 3.17 m.
    assert 1 / damping_per_m(1e-6 * 86400) == pytest.approx(3.17, abs=0.005)


@pytest.mark.parametrize(
    ("depth", "day", "expected"),
    [
        # Kusuda & Achenbach 1965, Tm 10, A 12, t0 35, alpha 0.05; computed apart from this code.
        (0.0, 35, -2.0),
        (0.5, 35, 0.4572),
        (1.0, 35, 2.7475),
        (2.0, 35, 6.4672),
        (1.0, 60, 2.0761),
        (1.0, 200, 15.9780),
    ],
)
def test_kusuda_check_values(depth: float, day: float, expected: float) -> None:
    """The equation keeps its check values."""
    ground = Ground(10.0, 12.0, 35.0, 0.05)
    assert float(kusuda_c(depth, np.array(day), ground)) == pytest.approx(expected, abs=1e-3)


def test_chicago_record_is_a_depth_mean() -> None:
    """The ground line of Chicago's weather file is reproduced as a mean from the surface down."""
    # EPW header, Chicago O'Hare TMY3 (as shipped with EnergyPlus), the 0.5, 2 and 4 m rows.
    half_metre = [-1.89, -3.06, -0.99, 2.23, 10.68, 17.20, 21.60, 22.94, 20.66, 15.60, 8.83, 2.56]
    two_metres = [2.39, 0.31, 0.74, 2.45, 8.10, 13.21, 17.30, 19.50, 19.03, 16.16, 11.50, 6.56]
    four_metres = [5.93, 3.80, 3.34, 3.98, 7.18, 10.62, 13.78, 15.98, 16.49, 15.25, 12.51, 9.17]
    # Parameters fitted once to all 36 values; April taken at day 95, as inferred.
    ground = Ground(9.925, 14.391, 34.87, 0.0558)

    def mean_c(depth_m: float) -> np.ndarray:
        depths = (np.arange(2000) + 0.5) / 2000 * depth_m
        return kusuda_c(depths[:, None], days[None, :], ground).mean(axis=0)

    days = MID_MONTHS.copy()
    days[3] = 95
    np.testing.assert_allclose(mean_c(0.5), half_metre, atol=0.02)
    np.testing.assert_allclose(mean_c(2.0), two_metres, atol=0.02)
    np.testing.assert_allclose(mean_c(4.0), four_metres, atol=0.02)
    at_depth = kusuda_c(2.0, days, ground)
    assert np.abs(at_depth - two_metres).max() > 1  # the printed depth is not what is meant


def test_ground_is_recovered_from_weather() -> None:
    """A year of daily means made from known parameters gives those parameters back."""
    # Round trip; the surface follows the air by assumption.
    truth = Ground(8.0, 13.0, 20.0, 0.05)
    days = np.arange(1.0, 366.0)
    noise = np.random.default_rng(1).normal(0, 4, days.size)
    found = ground_from_weather(kusuda_c(0.0, days, truth) + noise, days)
    assert found.mean_c == pytest.approx(8.0, abs=0.7)
    assert found.amplitude_k == pytest.approx(13.0, abs=0.9)
    assert found.coldest_day == pytest.approx(20.0, abs=4)
    winter = np.concatenate((np.arange(274.0, 366.0), np.arange(1.0, 136.0)))
    partial = ground_from_weather(kusuda_c(0.0, winter, truth), winter)
    assert partial.amplitude_k == pytest.approx(13.0, abs=1e-6)


def test_too_little_weather_is_refused() -> None:
    """Two months of weather do not make a ground temperature."""
    # Stated limit: 150 days.
    days = np.arange(1.0, 60.0)
    with pytest.raises(ValueError, match="150"):
        ground_from_weather(np.zeros(days.size), days)
