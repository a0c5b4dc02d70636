"""The exact stepping against an independent solution of the same equation, and by hand."""

import numpy as np
import pytest
from event_walk import walk_all
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from overwinter.shelters.heat_balance import Control, Node, step

HOURS = 144
BAND_K = 5e-4
"""The reference's thermostat and vents work within this band; ours have none."""


def _reference(
    node: Node, drive: np.ndarray, outdoor: np.ndarray, control: Control, start: float
) -> tuple[np.ndarray, np.ndarray]:
    """One column by scipy's Radau, hour by hour, with a narrow proportional band; air and heat."""
    g, c = float(node.conductance_w_k[0]), float(node.capacity_j_k[0])
    vent_w_k, vent = float(node.vent_w_k[0]), float(node.vent_above_c[0])
    fixed, hold, power = (
        np.broadcast_to(a, (drive.size, 1))[:, 0]
        for a in (control.fixed_w, control.hold_c, control.power_w)
    )
    air, heat, state = np.empty(drive.size), np.empty(drive.size), start
    for t in range(drive.size):

        def slope(_: float, y: np.ndarray, t: int = t) -> list[float]:
            share = np.clip((hold[t] - y[0]) / BAND_K + 0.5, 0, 1) if np.isfinite(hold[t]) else 0.0
            opened = np.clip((y[0] - vent) / BAND_K + 0.5, 0, 1) if np.isfinite(vent) else 0.0
            lost = g * y[0] + opened * vent_w_k * (y[0] - outdoor[t])
            given = fixed[t] + share * power[t]
            return [(drive[t] + given - lost) / c, given]

        done = solve_ivp(slope, (0, 3600), [state, 0.0], method="Radau", rtol=1e-7, atol=1e-7)
        state = float(done.y[0, -1])
        air[t], heat[t] = state, done.y[1, -1] / 3600
    return air, heat


def _weather(seed: int, hours: int = HOURS) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    hour = np.arange(hours)
    outdoor = -4 + 7 * np.sin(2 * np.pi * (hour - 9) / 24) + np.cumsum(rng.normal(0, 0.8, hours))
    sun = np.maximum(0, 500 * np.sin(2 * np.pi * (hour - 6) / 24)) * rng.random(hours)
    return outdoor, sun


def _node(g: float, c: float, vent_w_k: float = 0.0, vent: float = np.inf) -> Node:
    return Node(np.array([g]), np.array([c]), np.array([vent_w_k]), np.array([vent]))


def _control(fixed: float, hold: float, power: float) -> Control:
    return Control(np.array([fixed]), np.array([hold]), np.array([power]))


@pytest.mark.filterwarnings("ignore:divide by zero")  # inside Radau, when its error is nil
@pytest.mark.parametrize(
    ("g", "c", "fixed", "hold", "power", "vent_w_k", "vent"),
    [
        (100.0, 1.5e6, 0.0, -np.inf, 0.0, 0.0, np.inf),  # unheated
        (100.0, 1.5e6, 300.0, -np.inf, 0.0, 0.0, np.inf),  # fixed step
        (100.0, 1.5e6, 0.0, 5.0, 5000.0, 0.0, np.inf),  # always enough power
        (100.0, 1.5e6, 0.0, 5.0, 700.0, 0.0, np.inf),  # power gives out on cold nights
        (60.0, 4e5, 200.0, 2.0, 500.0, 900.0, 15.0),  # step, weak thermostat, vents
        (40.0, 2e5, 0.0, 3.0, 300.0, 60.0, 9.0),  # light house, vents that cannot keep up
        (90.0, 6e6, 0.0, 4.0, 900.0, 0.0, np.inf),  # heavy house
    ],
)
def test_air_and_heat_against_scipy(
    g: float, c: float, fixed: float, hold: float, power: float, vent_w_k: float, vent: float
) -> None:
    """Air within 0.01 K, and heat, of scipy's ODE solver over six changeable days."""
    # scipy.integrate.solve_ivp (Radau) on the same differential equation. Its band lets it store
    # C x band more or less within an hour, so the heat may differ by that and 0.3 W.
    outdoor, sun = _weather(seed=3)
    node, control = _node(g, c, vent_w_k, vent), _control(fixed, hold, power)
    drive = (g * outdoor + 3.0 * sun)[:, None]
    ours = step(node, drive, outdoor[:, None], control, np.array([3.5]))
    air, heat = _reference(node, drive[:, 0], outdoor, control, 3.5)
    assert np.abs(ours.air_c[:, 0] - air).max() < 0.01
    assert np.abs(ours.heat_w[:, 0] - heat).max() < BAND_K * c / 3600 + 0.3
    if power == 700.0:
        assert ours.air_c.min() < 4.5  # the case does run short of power
        assert ours.heat_w.max() == pytest.approx(700.0)


def test_switching_holds_against_scipy() -> None:
    """A hold temperature that changes in the winter, up and down, follows scipy too."""
    # Same reference; hold 8 for two days, 2 for two, none for two, 6 to the end.
    outdoor, sun = _weather(seed=11)
    hold = np.full((HOURS, 1), 6.0)
    hold[:48], hold[48:96], hold[96:144] = 8.0, 2.0, -np.inf
    power = np.where(np.isfinite(hold), 2500.0, 0.0)
    control = Control(np.zeros((HOURS, 1)), hold, power)
    node, drive = _node(80.0, 8e5), (80 * outdoor + 2 * sun)[:, None]
    ours = step(node, drive, outdoor[:, None], control, np.array([9.0]))
    air, heat = _reference(node, drive[:, 0], outdoor, control, 9.0)
    assert np.abs(ours.air_c[:, 0] - air).max() < 0.01
    assert np.abs(ours.heat_w[:, 0] - heat).max() < 0.5


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    g=st.floats(5, 400),
    tau_h=st.floats(0.3, 200),
    hold=st.floats(-5, 12),
    power=st.floats(0, 6000),
    fixed=st.floats(0, 1500),
    vent_w_k=st.floats(0, 3000),
    aperture=st.floats(0, 12),
)
def test_recursion_equals_the_event_walk(
    seed: int,
    g: float,
    tau_h: float,
    hold: float,
    power: float,
    fixed: float,
    vent_w_k: float,
    aperture: float,
) -> None:
    """The vectorised recursion and heat give what walking every hour by events gives."""
    # Two codes, one equation; columns with and without thermostat and vents side by side.
    outdoor, sun = _weather(seed, 120)
    columns = 4
    node = Node(
        np.full(columns, g),
        np.full(columns, g * tau_h * 3600),
        np.array([0.0, vent_w_k, vent_w_k, 0.0]),
        np.array([np.inf, 14.0, 14.0, np.inf]),
    )
    control = Control(
        np.array([fixed, 0.0, fixed, 0.0]),
        np.array([-np.inf, hold, hold, hold]),
        np.array([0.0, power, power, power]),
    )
    drive = np.repeat((g * outdoor + aperture * sun)[:, None], columns, axis=1)
    outside = np.repeat(outdoor[:, None], columns, axis=1)
    fast = step(node, drive, outside, control, np.zeros(columns))
    slow = walk_all(node, drive, outside, control, np.zeros(columns))
    np.testing.assert_allclose(fast.air_c, slow.air_c, atol=1e-9)
    np.testing.assert_allclose(fast.heat_w, slow.heat_w, atol=1e-6 * (1 + power))


def test_open_vents_let_warmer_air_in() -> None:
    """From the vents' own temperature, with warmer air outside, the vents warm the shelter."""
    # By hand: G 22 W/K, vents 170 W/K, C 9.2664 MJ/K, V 14 degC; drive 2000.458 W, outdoors
    # 14.333 degC: E2 = (2000.458 + 170 x 14.333) / 192 = 23.1097, e = exp(-3600 x 192 / C) =
    # 0.92812; 23.1097 + (14 - 23.1097) e = 14.65479, above the 14.65472 of shut vents.
    node = Node(np.array([22.0]), np.array([9.2664e6]), np.array([170.0]), np.array([14.0]))
    nothing = Control(np.zeros(1), np.full(1, -np.inf), np.zeros(1))
    drive, outside = np.array([[2000.458]]), np.array([[14.333]])
    for start in (14.0, 14.0 + 1e-9):
        end = step(node, drive, outside, nothing, np.array([start])).air_c[0, 0]
        assert end == pytest.approx(14.65479, abs=1e-5)
        walked = walk_all(node, drive, outside, nothing, np.array([start])).air_c[0, 0]
        assert end == pytest.approx(walked, abs=1e-12)


def test_cooling_check_values() -> None:
    """A shelter cools through a power cut as the exponential says."""
    # Closed form: C 1.5 MJ/K, UA 100 W/K from 5 at -10 outside: -0.7182
    # after 2 h. tau 6 h from 5 to 0 is passed at 2.4328 h; after 3 h -0.9020.
    drive, outdoor = np.full((3, 1), -1000.0), np.full((3, 1), -10.0)
    still = _control(0.0, -np.inf, 0.0)
    five = np.array([5.0])
    air = step(_node(100.0, 1.5e6), drive, outdoor, still, five).air_c[:, 0]
    assert air[1] == pytest.approx(-0.7182, abs=5e-5)
    air = step(_node(100.0, 2.16e6), drive, outdoor, still, five).air_c[:, 0]
    assert air[2] == pytest.approx(-0.9020, abs=5e-5)


def test_hold_costs_its_steady_loss() -> None:
    """In steady cold the thermostat gives exactly UA dT, and full power when that is not enough."""
    # By hand: 100 W/K x 15 K = 1500 W; with 1000 W the air settles at -10 + 10 = 0.
    drive, outdoor = np.full((200, 1), -1000.0), np.full((200, 1), -10.0)
    enough = step(_node(100.0, 1e6), drive, outdoor, _control(0, 5, 2000), np.array([5.0]))
    np.testing.assert_allclose(enough.heat_w, 1500.0)
    np.testing.assert_allclose(enough.air_c, 5.0)
    short = step(_node(100.0, 1e6), drive, outdoor, _control(0, 5, 1000), np.array([5.0]))
    np.testing.assert_allclose(short.heat_w, 1000.0)
    assert short.air_c[-1, 0] == pytest.approx(0.0, abs=1e-6)


def test_energy_is_conserved() -> None:
    """Heat put in equals loss plus what the node stores, integrated finely over a winter week."""
    # First law; the loss is integrated from a fine restart of every hour with the same controls.
    outdoor, sun = _weather(seed=5, hours=168)
    node, control = _node(70.0, 9e5), _control(150.0, 4.0, 900.0)
    drive = (70 * outdoor + 2 * sun)[:, None]
    trace = step(node, drive, outdoor[:, None], control, np.array([4.0]))
    parts = 60
    fine_node = _node(70.0, 9e5 * parts)  # an hour of the slow node is a minute of the real one
    fine = step(
        fine_node,
        np.repeat(drive, parts, axis=0),
        np.repeat(outdoor, parts)[:, None],
        control,
        np.array([4.0]),
    )
    np.testing.assert_allclose(fine.air_c[parts - 1 :: parts], trace.air_c, atol=1e-8)
    np.testing.assert_allclose(
        fine.heat_w.reshape(-1, parts).mean(axis=1), trace.heat_w[:, 0], atol=1e-6
    )
    before = np.concatenate(([4.0], fine.air_c[:-1, 0]))
    mean_air = (before + fine.air_c[:, 0]) / 2
    balance = np.repeat(drive[:, 0], parts) - 70 * mean_air + fine.heat_w[:, 0]
    stored = 9e5 * (fine.air_c[-1, 0] - 4.0)
    assert balance.sum() * 60 == pytest.approx(stored, abs=2e-4 * np.abs(balance).sum() * 60)


def test_impossible_nodes_are_refused() -> None:
    """No conductance, or a hold above the vents, is an error."""
    # Stated limits.
    drive = np.zeros((2, 1))
    with pytest.raises(ValueError, match="positive"):
        step(_node(0.0, 1e6), drive, drive, _control(0, -np.inf, 0), np.zeros(1))
    with pytest.raises(ValueError, match="vents"):
        step(_node(10.0, 1e6, 50, 12), drive, drive, _control(0, 12.0, 100), np.zeros(1))
