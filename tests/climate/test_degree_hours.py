"""Degree-days against published rules and examples."""

import numpy as np
import pytest

from overwinter.climate.degree_hours import (
    degree_days_above_sine,
    degree_days_below_four_case,
    degree_days_below_sine,
    degree_hours_below,
)

DAYS = [
    # Tmax, Tmin, base, four-case, sine: the rule of Met Eireann's note and Baskerville & Emin 1969
    # worked out apart from this code.
    (10, 4, 15.5, 8.5, 8.5),
    (20, 10, 15.5, 1.625, 1.8495),
    (17, 8, 15.5, 3.375, 3.2645),
    (3, -5, 0, 1.75, 1.8132),
    (6, -2, 0, 0.5, 0.4360),
    (-3, -12, 0, 7.5, 7.5),
    (20, 16, 15.5, 0, 0),
]


@pytest.mark.parametrize(("high", "low", "base", "four_case", "sine"), DAYS)
def test_table(high: float, low: float, base: float, four_case: float, sine: float) -> None:
    """All four cases and the sine keep their check values."""
    lows, highs = np.array([low]), np.array([high])
    assert degree_days_below_four_case(lows, highs, base)[0] == pytest.approx(four_case)
    assert degree_days_below_sine(lows, highs, base)[0] == pytest.approx(sine, abs=5e-5)


def test_published_single_sine_example() -> None:
    """Tmin 7, Tmax 14, base 12 gives the 0.47 degree-days above that TrenchR prints."""
    # trenchproject.github.io/TrenchR, single-sine example.
    got = degree_days_above_sine(np.array([7.0]), np.array([14.0]), 12.0)
    assert got[0] == pytest.approx(0.47, abs=0.005)


def test_four_case_rule_is_continuous() -> None:
    """The rule's cases meet at their borders, which is how its lost minus signs were restored."""
    # Continuity at Tmax = base and mean = base.
    for low, high, base in ((-5.0, 0.0, 0.0), (-3.0, 3.0, 0.0), (0.0, 6.0, 0.0)):
        around = [
            degree_days_below_four_case(np.array([low]), np.array([high]), base + d)[0]
            for d in (-1e-7, 1e-7)
        ]
        assert around[0] == pytest.approx(around[1], abs=1e-6)


def test_sine_equals_its_integral() -> None:
    """The closed form equals a fine sum over the sine."""
    # The definition.
    phase = (np.arange(200_000) + 0.5) / 200_000 * 2 * np.pi
    day = 5.0 + 8.0 * np.sin(phase)
    direct = np.maximum(0.0, 3.0 - day).mean()
    got = degree_days_below_sine(np.array([-3.0]), np.array([13.0]), 3.0)[0]
    assert got == pytest.approx(direct, abs=1e-6)


def test_hourly_sum() -> None:
    """Degree-hours count only the hours below the base."""
    # By hand: (0 - -2) + (0 - -1) = 3 K h.
    assert float(degree_hours_below(np.array([-2.0, -1.0, 0.0, 4.0]), 0.0)) == 3.0
