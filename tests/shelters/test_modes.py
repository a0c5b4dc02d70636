"""Networks and their stepping against an independent solution, published problems and by hand."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from overwinter.model.shelter import Envelope, HeaterSetting, Surface, Towards
from overwinter.shelters.modes import ShelterModel, modes_of, step
from overwinter.shelters.network import (
    AIR_WH_M3K,
    HOUSE,
    OUTDOORS,
    GroundAt,
    Network,
    Reduced,
    air_exchange_w_k,
    network_of,
)

HOURS = 120


def _two_masses(with_face: bool = True) -> Reduced:
    """Air between the outdoors and a wall whose face holds no heat."""
    net = Network()
    net.store("air", 2e5)
    net.store("wall", 4e6)
    net.to_outside("air", OUTDOORS, 40.0)
    if with_face:
        net.link("air", "face", 90.0)
        net.link("face", "wall", 60.0)
    else:
        net.link("air", "wall", 36.0)  # 1/(1/90 + 1/60)
    net.to_outside("wall", HOUSE, 15.0)
    return net.reduced()


def _weather(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    wave = -4 + 7 * np.sin(2 * np.pi * (np.arange(HOURS) - 9) / 24)
    return wave + np.cumsum(rng.normal(0, 0.8, HOURS))


def _run(
    network: Reduced,
    outdoor: np.ndarray,
    fixed: float,
    hold: float | None,
    power: float,
    vent: float = np.inf,
) -> tuple[np.ndarray, np.ndarray]:
    inputs = [outdoor if s == OUTDOORS else np.full(HOURS, 15.0) for s in network.sources]
    hourly = np.stack(inputs, axis=1)[:, :, None]
    model = ShelterModel(modes_of(network), network.sources, 30.0, vent)
    setting = HeaterSetting(fixed_w=fixed, hold_c=hold, power_w=power)
    air, heat = step(model, hourly, outdoor[None], [setting])
    return air[0, 0], heat[0, 0]


def test_a_face_without_heat_is_two_resistances_in_a_row() -> None:
    """Elimination gives the conductance that hand arithmetic gives: 1/(1/90 + 1/60) = 36 W/K."""
    got, by_hand = _two_masses(), _two_masses(with_face=False)
    assert got.loss_w_k == pytest.approx(by_hand.loss_w_k)
    assert got.drive == pytest.approx(by_hand.drive)


def test_air_against_scipy() -> None:
    """With the heat that was found, scipy's Radau finds the same air at the end of each hour."""
    outdoor, network = _weather(3), _two_masses()
    air, heat = _run(network, outdoor, 50.0, None, 0.0)
    # The start is in balance with the first hours: (76 -36; -36 51) T = (40 To + 50; 15 x 15).
    first = outdoor[: int(1.5 * modes_of(network).slowest_h)].mean()
    loss = np.array([[76.0, -36.0], [-36.0, 51.0]])
    state = np.linalg.solve(loss, np.array([40 * first + 50, 15 * 15.0]))
    for t in range(HOURS):

        def slope(_: float, y: np.ndarray, t: int = t) -> list[float]:
            to_wall = 36.0 * (y[0] - y[1])
            into_air = heat[t] - 40.0 * (y[0] - outdoor[t]) - to_wall
            return [into_air / 2e5, (to_wall - 15.0 * (y[1] - 15.0)) / 4e6]

        state = solve_ivp(slope, (0, 3600), state, method="Radau", rtol=1e-8, atol=1e-8).y[:, -1]
        assert air[t] == pytest.approx(state[0], abs=1e-4)


def test_a_hold_is_kept_while_the_power_lasts() -> None:
    """Never below the hold with power to spare, and full power whenever it is below."""
    outdoor = _weather(5)
    strong, _ = _run(_two_masses(), outdoor, 0.0, 6.0, 5000.0)
    weak, given = _run(_two_masses(), outdoor, 0.0, 6.0, 200.0)
    assert strong.min() >= 6.0 - 1e-9
    assert weak.min() < 5.0
    assert given[weak < 5.99] == pytest.approx(200.0)


def test_heat_is_what_the_losses_take() -> None:
    """Energy over the whole run: heat = losses + what the nodes gained."""
    # One node, so that its losses follow from its air: by the joule.
    net = Network()
    net.store("air", 3e5)
    net.to_outside("air", OUTDOORS, 30.0)
    outdoor = _weather(7)
    air, heat = _run(net.reduced(), outdoor, 0.0, 5.0, 3000.0)
    before = np.concatenate((air[:1], air[:-1]))[1:]
    rate, keep = 3600 * 30 / 3e5, np.exp(-3600 * 30 / 3e5)
    rest = outdoor[1:] + heat[1:] / 30
    mean = rest + (before - rest) * (1 - keep) / rate
    stored = 3e5 * (air[1:] - before) / 3600
    assert heat[1:] == pytest.approx(30 * (mean - outdoor[1:]) + stored, abs=1e-6)


def test_vents_keep_the_air_down_while_it_is_cool_outside() -> None:
    """Above their temperature only where the vents cannot keep up, never below it by venting."""
    outdoor = np.full(HOURS, 4.0)
    air, _ = _run(_two_masses(), outdoor, 500.0, None, 0.0, vent=12.0)
    shut, _ = _run(_two_masses(), outdoor, 500.0, None, 0.0)
    assert shut.min() > 13.0
    assert air[5:] == pytest.approx(12.0)


def need_w(envelope: Envelope, inside_c: float, outdoor_c: float) -> float:
    """Steady heat with everything outside at one temperature, in the dark, under clouds."""
    network = network_of(envelope)
    modes = modes_of(network)
    unheated = outdoor_c * modes.steady[network.sources.index(OUTDOORS)]
    return float((inside_c - unheated) / modes.steady_k_w)


def _envelope(surfaces: list[tuple[str, float, float]], volume: float, changes: float) -> Envelope:
    parts = tuple(Surface(n, a, u, Towards.OUTDOORS) for n, a, u in surfaces)
    return Envelope(parts, volume, changes, solar_aperture_m2=0.0)


# Published inputs, hand answers by sums of U A (no printed answer was found). Our films differ from
# those in the U-values, which moves insulated buildings by a few per cent.
def test_published_problem_of_an_insulated_building() -> None:
    """11 129 W by hand from the inputs of an exercise at math-gpt.org (air 1200/3600 there)."""
    surfaces = [
        ("floor", 96.0, 0.3),
        ("wall", 181.84, 0.4),
        ("window", 2.16, 2.8),
        ("roof", 120.0, 0.5),
    ]
    envelope = _envelope(surfaces, 528, 3 * (1200 / 3600) / AIR_WH_M3K)
    assert need_w(envelope, 18, 2) == pytest.approx(11129, rel=0.04)


def test_published_dwelling() -> None:
    """220.8 W/K by hand from the inputs of Leeds Beckett's dwelling."""
    walls = 2 * (8.5 + 12.5) * 3.2
    glazing = 0.25 * walls
    surfaces = [
        ("wall", walls - glazing - 4, 0.35),
        ("glazing", glazing, 2.2),
        ("door", 4.0, 0.8),
        ("floor", 8.5 * 12.5, 0.25),
        ("roof", 8.5 * 12.5, 0.25),
    ]
    envelope = _envelope(surfaces, 8.5 * 12.5 * 3.2, 0.5 / 3 / AIR_WH_M3K)
    assert need_w(envelope, 1, 0) == pytest.approx(220.8, rel=0.12)


def test_a_single_layer_loses_much_less_than_its_handbook_value_says() -> None:
    """A small glasshouse: half to three quarters of handbook U A; EnergyPlus finds the like."""
    # docs/energyplus.md: the heat of a glasshouse by handbook values was 2.6 times EnergyPlus's.
    glass = Envelope(
        (Surface("glass", 30, 6.2, Towards.OUTDOORS, glazed=True),), 15, 0.5, solar_aperture_m2=0
    )
    by_hand = 30 * 6.2 + air_exchange_w_k(15, 0.5)
    assert 0.3 * by_hand < need_w(glass, 1, 0) < 0.75 * by_hand


def test_air_factor_between_published_ones() -> None:
    """The air constant lies between the teaching value 1/3 and the US 0.018 Btu/(ft3 F)."""
    # Leeds Beckett: N V / 3; US practice 0.018 Btu/(ft3 F) = 0.3353 Wh/(m3 K).
    assert 1 / 3 <= AIR_WH_M3K <= 0.3353
    assert air_exchange_w_k(100, 2) == pytest.approx(67.0)


def random_envelope(rng: np.random.Generator) -> Envelope:
    """As odd as anybody could write one."""
    surfaces = []
    for number in range(rng.integers(1, 6)):
        towards = list(Towards)[rng.integers(3)]
        mass = float(rng.choice([0, 0, 150e3, 414e3]))
        u = float(10 ** rng.uniform(-1.3, 0.6 if mass else 1.1))
        glazed = bool(rng.random() < 0.4) and towards is Towards.OUTDOORS
        surface = Surface(str(number), float(10 ** rng.uniform(-1, 3)), u, towards, glazed, 0.8)
        slope = None if rng.random() < 0.5 else float(rng.uniform(0, 90))
        at = float(rng.random())
        surfaces.append(replace(surface, slope_deg=slope, mass_j_m2k=mass, mass_at=at))
    known = None if rng.random() < 0.5 else float(10 ** rng.uniform(3, 9))
    air = float(rng.choice([0, 0.3, 5, 30]))
    return Envelope(tuple(surfaces), float(10 ** rng.uniform(-1, 4)), air, known)


def test_any_envelope_settles_at_what_surrounds_it() -> None:
    """With outdoors, house and ground at one temperature, dark, the air ends there; heat warms."""
    rng = np.random.default_rng(0)
    for _ in range(300):
        network = network_of(random_envelope(rng), float(rng.choice([0, 50, 5000])))
        modes = modes_of(network)
        warm = [s in (OUTDOORS, HOUSE) or isinstance(s, GroundAt) for s in network.sources]
        assert modes.steady[warm].sum() == pytest.approx(1.0, abs=1e-6)
        assert (modes.heat_k_w > 0).all()
        assert ((modes.keep >= 0) & (modes.keep < 1)).all()
