"""Freezing pots against the same heat balance solved by scipy, closed forms and hand figures."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from overwinter.model.shelter import FloatArray
from overwinter.shelters.root_table import (
    FUSION_J_M3,
    ICE_J_M3K,
    POT_FROZEN_CAPACITY,
    POT_FUSION_K,
    WATER_J_M3K,
    WATER_SHARE,
    Drive,
    freezing_days_c,
    wall_beside_ice_c,
    wall_days_c,
)
from overwinter.shelters.root_zone import (
    HEAT_TRANSFER_W_M2K,
    MEDIUM_CAPACITY_J_M3K,
    MEDIUM_CONDUCTIVITY_W_MK,
    first_order_lag,
    mean_time_constant_h,
    outer_root_time_constant_h,
    volume_over_surface_m,
)

SMALL_POTS_L = (0.1, 0.5, 2.0, 5.0)


def temperature_c(heat_k: FloatArray) -> FloatArray:
    """Temperature of an enthalpy in kelvins of moist mix: 0 is all water at 0 degC."""
    frozen = np.minimum(heat_k + POT_FUSION_K, 0.0) / POT_FROZEN_CAPACITY
    return np.asarray(np.maximum(heat_k, 0.0) + frozen)


def solved_c(drive_c: FloatArray, time_constant_h: float) -> FloatArray:
    """The balance dH/dt = (drive - T(H)) / tau, solved hour by hour with tight tolerances."""
    start = float(drive_c[:24].mean())
    heat = np.array([start if start >= 0 else start * POT_FROZEN_CAPACITY - POT_FUSION_K])
    out = np.empty(drive_c.size)
    for hour, drive in enumerate(drive_c):

        def rate(_: float, now: FloatArray, drive: float = drive) -> FloatArray:
            return (drive - temperature_c(now)) / time_constant_h

        heat = solve_ivp(rate, (0, 1), heat, max_step=0.1, rtol=1e-7, atol=1e-8).y[:, -1]
        out[hour] = temperature_c(heat)[0]
    return out


def lagged_c(drive_c: FloatArray, time_constant_h: float) -> FloatArray:
    """The function under test, for one pot."""
    drive = Drive(drive_c[:, None].astype(np.float32), np.float32([[time_constant_h]]))
    days = freezing_days_c(drive, POT_FUSION_K, POT_FROZEN_CAPACITY)
    return np.concatenate([day[:, 0, 0].copy() for day in days])


def autumn_to_deep_frost_c() -> FloatArray:
    """24 days that fall from 6 to -18 degC with a daily swing of 5 K, and a thaw at the end."""
    hours = np.arange(24 * 24.0)
    falling = 6.0 - hours / 24 - 5.0 * np.sin(2 * np.pi * hours / 24)
    return np.concatenate((falling, np.full(24 * 6, 4.0)))


def hours_to_freeze(time_constant_h: float) -> int:
    """Hours at -5 degC until all the water of a pot at 0 degC is ice."""
    drive = np.concatenate((np.zeros(24), np.full(24 * 20, -5.0)))
    return int(np.argmax(lagged_c(drive, time_constant_h) < 0)) - 24


def test_fusion_and_frozen_capacity_by_hand() -> None:
    """Moist mix with 40 % water by volume and 0.3 MJ/(m3 K) of solids."""
    # 334 MJ/m3, water 4.18 and ice 1.93 MJ/(m3 K): handbooks (memory). 0.4 x 334 / 1.972 = 67.7 K;
    # (0.3 + 0.4 x 1.93) / 1.972 = 0.544.
    assert (WATER_SHARE, FUSION_J_M3, WATER_J_M3K, ICE_J_M3K) == (0.4, 334e6, 4.18e6, 1.93e6)
    assert pytest.approx(67.7, abs=0.1) == POT_FUSION_K
    assert pytest.approx(0.544, abs=0.001) == POT_FROZEN_CAPACITY


@pytest.mark.parametrize("litres", [*SMALL_POTS_L, 20.0])
def test_above_freezing_the_lag_is_the_solved_balance(litres: float) -> None:
    """Without ice an hour's step is exact."""
    drive = 9.0 + 6.0 * np.sin(2 * np.pi * np.arange(24 * 5.0) / 24)
    tau = mean_time_constant_h(litres)
    assert lagged_c(drive, tau) == pytest.approx(solved_c(drive, tau), abs=1e-3)


@pytest.mark.parametrize("litres", SMALL_POTS_L)
def test_freezing_follows_the_solved_balance(litres: float) -> None:
    """The coldest hour of every day, through autumn, deep frost and a thaw."""
    drive, tau = autumn_to_deep_frost_c(), mean_time_constant_h(litres)
    ours, solved = lagged_c(drive, tau), solved_c(drive, tau)
    by_day = (-1, 24)
    coldest = ours.reshape(by_day).min(axis=1)
    assert coldest == pytest.approx(solved.reshape(by_day).min(axis=1), abs=0.6)


def test_a_pot_does_not_freeze_faster_than_the_lower_estimate() -> None:
    """2 litres at -5 degC: 21.1 h with no ice in the way; the core's own lag is longer."""
    # By hand: diameter 0.141 m, area 0.088 m2, film 8 W/(m2 K), 2 l x 0.4 x 334 kJ/l = 267 kJ over
    # 0.088 x 8 x 5 W = 3.52 W: 21.1 h.
    assert hours_to_freeze(mean_time_constant_h(2.0)) >= 21


@pytest.mark.parametrize("lump_h", [0.98, 1.556, 2.11, 3.35])
def test_freezing_takes_as_long_as_the_heat_of_fusion_over_the_flow(lump_h: float) -> None:
    """The pot as one lump: 13.3, 21.1, 28.6 and 45.4 h for 0.5, 2, 5 and 20 litres at -5 degC."""
    # tau x fusion / 5 K; the four by hand as in the test above, each with tau = C / (h A).
    assert hours_to_freeze(lump_h) == pytest.approx(lump_h * 67.7 / 5, abs=1.0)


@pytest.mark.parametrize("litres", [0.1, 2.0, 20.0])
def test_a_frozen_core_is_never_colder_than_the_coldest_air(litres: float) -> None:
    """No heat flows from cold to warm: half a day each at -25 and -10 degC."""
    drive = np.tile(np.repeat([-25.0, -10.0], 12), 20)
    assert lagged_c(drive, mean_time_constant_h(litres)).min() >= -25.0 - 1e-3


FROZEN_W_MK = 1.0
"""Frozen moist mix: between moist mix and ice (2.2), memory."""
RINGS = 7


def ringed_wall_c(air_c: FloatArray, litres: float) -> FloatArray:
    """Wall of a cylinder of rings with freezing, by explicit enthalpy steps, ``(hour,)``."""
    radius = 2 * volume_over_surface_m(litres)
    width = radius / RINGS
    edges = np.arange(RINGS + 1) * width
    volume = np.pi * np.diff(edges**2)
    between = 2 * np.pi * edges[1:-1]
    moist, frozen = MEDIUM_CAPACITY_J_M3K, MEDIUM_CAPACITY_J_M3K * POT_FROZEN_CAPACITY
    fusion = POT_FUSION_K * moist
    steps = int(3600 / (0.4 * width**2 * frozen / FROZEN_W_MK)) + 1
    heat, wall = np.full(RINGS, air_c[:24].mean() * moist), np.empty(air_c.size)

    def state() -> tuple[FloatArray, FloatArray]:
        warm, cold = np.maximum(heat, 0) / moist, np.minimum(heat + fusion, 0) / frozen
        ice = np.clip(-heat / fusion, 0, 1)
        conducts = MEDIUM_CONDUCTIVITY_W_MK + (FROZEN_W_MK - MEDIUM_CONDUCTIVITY_W_MK) * ice
        return warm + cold, conducts

    for hour, air in enumerate(air_c):
        for _ in range(steps):
            inside, conducts = state()
            flow = between * np.diff(inside) * 2 / (1 / conducts[1:] + 1 / conducts[:-1]) / width
            film = 1 / (1 / HEAT_TRANSFER_W_M2K + width / 2 / conducts[-1])
            gain = np.append(flow, 2 * np.pi * radius * film * (air - inside[-1]))
            gain[1:] -= flow
            heat = heat + 3600 / steps * gain / volume
        inside, conducts = state()
        film = 1 / (1 / HEAT_TRANSFER_W_M2K + width / 2 / conducts[-1])
        wall[hour] = air - (air - inside[-1]) * film / HEAT_TRANSFER_W_M2K
    return wall


def test_walls_follow_the_lag() -> None:
    """Day by day in single precision as in one go in double."""
    # Another function of ours, which test_root_zone holds against closed forms.
    air, hours = autumn_to_deep_frost_c()[:, None], np.array([[1.2], [3.0]])
    days = wall_days_c(Drive(air.astype(np.float32), hours.astype(np.float32)))
    got = np.concatenate([day.copy() for day in days])
    for number, tau in enumerate(hours[:, 0]):
        assert got[:, number] == pytest.approx(first_order_lag(air, tau), abs=1e-4)


@pytest.mark.parametrize("litres", [5.0, 20.0])
def test_a_wall_beside_freezing_mix(litres: float) -> None:
    """Frosty nights, a spell of -20 degC and a thaw: daily minima nearer to a model of rings than
    the lag alone, and none of the coldest too warm."""
    air = autumn_to_deep_frost_c()
    rings = ringed_wall_c(air, litres).reshape(-1, 24).min(axis=1)
    lag = first_order_lag(air[:, None], outer_root_time_constant_h(litres))
    held = wall_beside_ice_c(lag.copy(), lagged_c(air, mean_time_constant_h(litres))[:, None])
    plain, ours = (one[:, 0].reshape(-1, 24).min(axis=1) - rings for one in (lag, held))
    assert np.sqrt((ours**2).mean()) < 0.75 * np.sqrt((plain**2).mean())
    assert ours[np.argsort(rings)[:5]].max() < 1.0
