"""Roots in pots against exact conduction, closed forms and trade sense."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1
from season_maker import make_place

from overwinter.model.shelter import PlaceKind
from overwinter.model.site import Ground
from overwinter.shelters.root_zone import (
    HEAT_TRANSFER_W_M2K,
    MEDIUM_CAPACITY_J_M3K,
    MEDIUM_CONDUCTIVITY_W_MK,
    POT_CLASSES_L,
    SOIL_LAG_H,
    Stand,
    first_order_lag,
    outer_root_time_constant_h,
    pot_class,
    root_drive_c,
    stand_of,
    volume_over_surface_m,
    wall_left,
)

GROUND = Ground(10.0, 12.0, 35.0, 0.05)
DAYS = 1.0 + (np.arange(24 * 120) + 0.5) / 24


def _bessel_wall_left(litres: float, hours: float) -> float:
    """The wall's share still to follow: the textbook series for a cylinder with a film."""
    radius = 2 * volume_over_surface_m(litres)
    biot = HEAT_TRANSFER_W_M2K * radius / MEDIUM_CONDUCTIVITY_W_MK
    fourier = MEDIUM_CONDUCTIVITY_W_MK / MEDIUM_CAPACITY_J_M3K * hours * 3600 / radius**2

    def characteristic(x: float) -> float:
        return float(x * j1(x) - biot * j0(x))

    grid = np.linspace(1e-6, 400, 40_000)
    signs = np.array([characteristic(x) for x in grid])
    roots = [
        brentq(characteristic, grid[i], grid[i + 1])
        for i in np.flatnonzero(signs[:-1] * signs[1:] < 0)
    ]
    z = np.array(roots)
    coefficient = 2 * j1(z) / (z * (j0(z) ** 2 + j1(z) ** 2))
    return float((coefficient * j0(z) * np.exp(-(z**2) * fourier)).sum())


@pytest.mark.parametrize("litres", [0.5, 5.0, 50.0])
def test_wall_follows_the_bessel_series(litres: float) -> None:
    """The pot wall's answer to a step is the exact solution for a cylinder with a surface film."""
    # Heisler's problem: series of Bessel functions (any heat-transfer text), evaluated by scipy.
    for hours in (0.5, 2.0, 8.0):
        assert float(wall_left(litres, hours)) == pytest.approx(
            _bessel_wall_left(litres, hours), abs=2e-3
        )


def test_outer_roots_are_faster_than_the_lump() -> None:
    """The time constant is that of 63 % of a step, grows with the pot, and is under the lump's."""
    # The pot as one lump, tau = C/(hA), by hand: 0.98, 1.56, 2.11, 3.35 h for 0.5, 2, 5, 20 l.
    for litres, lump in ((0.5, 0.98), (2.0, 1.56), (5.0, 2.11), (20.0, 3.35)):
        tau = outer_root_time_constant_h(litres)
        assert float(wall_left(litres, tau)) == pytest.approx(np.exp(-1), abs=1e-6)
        assert 0.7 * lump < tau < lump
        lumped = MEDIUM_CAPACITY_J_M3K * volume_over_surface_m(litres) / HEAT_TRANSFER_W_M2K / 3600
        assert lumped == pytest.approx(lump, abs=0.01)
    every = [outer_root_time_constant_h(litres) for litres in POT_CLASSES_L]
    assert np.all(np.diff(every) > 0)


def test_pot_classes_round_to_the_faster() -> None:
    """A pot counts as the next smaller class, never as a slower one."""
    # The safe side.
    assert pot_class(7.0) == 5.0
    assert pot_class(5.0) == 5.0
    assert pot_class(0.05) == POT_CLASSES_L[0]
    assert pot_class(1000.0) == POT_CLASSES_L[-1]


def _wall_swing(litres: float, period_h: float) -> complex:
    """Exact complex swing of the wall to a sine of the air, from Bessel functions."""
    from scipy.special import jve

    radius = 2 * volume_over_surface_m(litres)
    diffusivity = MEDIUM_CONDUCTIVITY_W_MK / MEDIUM_CAPACITY_J_M3K
    k = np.sqrt(-2j * np.pi / (period_h * 3600) / diffusivity)
    film = MEDIUM_CONDUCTIVITY_W_MK / HEAT_TRANSFER_W_M2K
    return complex(jve(0, k * radius) / (jve(0, k * radius) - film * k * jve(1, k * radius)))


@pytest.mark.parametrize("litres", POT_CLASSES_L)
def test_coldest_hour_is_on_the_safe_side_of_conduction(litres: float) -> None:
    """A cold night on a falling week leaves the lag no warmer than exact conduction at the wall."""
    # Air made of sines, for which conduction is exact: a week, a day, half a day.
    hours = np.arange(24 * 28.0)
    air, wall = np.zeros(hours.size), np.zeros(hours.size)
    for period, swing, phase in ((168.0, 7.0, 0.3), (24.0, 5.0, 2.0), (12.0, 1.0, 1.0)):
        wave = swing * np.exp(1j * (2 * np.pi * hours / period + phase))
        air += wave.real
        wall += (wave * _wall_swing(litres, period)).real
    lag = first_order_lag(air, outer_root_time_constant_h(litres))
    settled = slice(24 * 7, None)
    miss = lag[settled].min() - wall[settled].min()
    assert -1.0 < miss < 0.05


def test_lag_of_a_ramp_and_a_step() -> None:
    """The lag is exact for a ramp and settles on a step."""
    # Closed form: after a ramp of 1 K/h from rest the lag is t - tau (1 - exp(-t/tau)).
    hours = np.arange(0, 30.0)
    got = first_order_lag(hours, 4.0)
    expected = hours - 4.0 * (1 - np.exp(-hours / 4.0))
    np.testing.assert_allclose(got, expected, atol=1e-12)
    two = first_order_lag(np.ones((200, 2)), 8.0, np.zeros(2))
    np.testing.assert_allclose(two[-1], 1.0, atol=1e-9)
    assert two.shape == (200, 2)


def test_soil_under_a_pot_swings_as_in_a_half_space() -> None:
    """5 cm down a day's swing is damped to 0.67; the lag does the same."""
    # Closed form for a half-space: exp(-z/d), d = sqrt(2 alpha / omega) = 0.1262 m a day at
    # 0.05 m2/d: exp(-0.05 / 0.1262) = 0.673, by hand.
    hours = np.arange(24 * 10.0)
    air = 6 * np.sin(2 * np.pi * hours / 24)[:, None]
    soil = first_order_lag(air, SOIL_LAG_H)[24 * 5 :]
    assert soil.max() == pytest.approx(6 * 0.673, rel=0.02)
    pot = root_drive_c(air, Stand(PlaceKind.GROUND))[24 * 5 :]
    assert 6 * 0.9 < pot.max() < 6
    np.testing.assert_array_equal(root_drive_c(air, Stand(PlaceKind.BENCH)), air)


def test_cover_counts_for_sunk_pots_alone() -> None:
    """Bench, shelf and floor are one to the roots whatever cover is written; sunk is by cover."""
    # Stated rule.
    stands = {kind: stand_of(replace(make_place("a", kind), cover_m=0.3)) for kind in PlaceKind}
    assert stands[PlaceKind.SUNK] == Stand(PlaceKind.SUNK, 0.3)
    assert stands[PlaceKind.GROUND] == Stand(PlaceKind.GROUND)
    assert stands[PlaceKind.BENCH] == stands[PlaceKind.SHELF] == stands[PlaceKind.FLOOR]
