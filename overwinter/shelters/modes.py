"""A network by its modes, stepped exactly hour by hour for many settings and winters at once.

The network is linear: within an hour its inputs are constant, so each of its modes runs
exponentially. A thermostat adds, over the hour, the steady heat with which the air ends on the hold
temperature H, or all it has; vents take out, over the hour, what brings the air down to their
temperature V while the outdoor air is cool enough, or all they can. With F the end without either,
g the kelvins that 1 W makes in an hour, P the power and W the vents' W/K, the hour ends at

    min( max(F, min(H, F + g P)), max(V, (F + g W To) / (1 + g W)) )

and the heat is (end - F) / g: energy is kept to the joule.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import Envelope, FloatArray, HeaterSetting
from overwinter.shelters.fit import FittedShelter
from overwinter.shelters.network import (
    DEEP_M,
    LEVEL_SUN,
    OUTDOORS,
    GroundAt,
    Reduced,
    Surroundings,
    air_exchange_w_k,
    network_of,
)

HOUR_S = 3600.0
UNSEEN = 1e-9  # modes with less of the air in them than this are left out


@dataclass(frozen=True)
class Modes:
    """Modes scaled so that the air is their sum; ``k`` modes."""

    keep: FloatArray  # what is left of each after an hour, `(k,)`
    gain: FloatArray  # what a unit of each source adds over an hour, K, `(k, m)`
    heat_k_w: FloatArray  # what 1 W into the air adds over an hour, K/W, `(k,)`
    steady: FloatArray  # what a unit of each source makes of the air in the end, K, `(m,)`
    steady_k_w: float  # what 1 W makes of the air in the end, K/W
    slowest_h: float  # longest time constant, h


def modes_of(network: Reduced) -> Modes:
    """The modes of a network."""
    root = np.sqrt(network.capacity_j_k)
    rates, shapes = np.linalg.eigh(network.loss_w_k / np.outer(root, root))
    on_air = shapes[0] / root[0]
    seen = on_air**2 * root[0] ** 2 > UNSEEN
    rates, shapes, on_air = rates[seen], shapes[:, seen], on_air[seen]
    keep = np.exp(-HOUR_S * rates)
    reach = on_air * (1 - keep) / rates
    into = shapes.T / root
    return Modes(
        keep=keep,
        gain=reach[:, None] * (into @ network.drive),
        heat_k_w=reach * into[:, 0],
        steady=np.linalg.solve(network.loss_w_k, network.drive)[0],
        steady_k_w=float(np.linalg.inv(network.loss_w_k)[0, 0]),
        slowest_h=float(1 / rates.min() / HOUR_S),
    )


@dataclass(frozen=True)
class ShelterModel:
    """Its modes, what drives them, and its vents."""

    modes: Modes
    sources: tuple[Hashable, ...]
    vent_w_k: float = 0.0  # added with the vents wide open, W/K
    vent_above_c: float = float("inf")


def step(
    model: ShelterModel,
    inputs: FloatArray,
    outdoor_c: FloatArray,
    settings: Sequence[HeaterSetting],
) -> tuple[FloatArray, FloatArray]:
    """Air at the end of each hour (degC) and all heat delivered (W), ``(setting, winter, hour)``.

    In the precision of ``inputs``.

    inputs : what drives the network, in the order of its sources, ``(hour, source, winter)``.
    outdoor_c : outdoor air, ``(winter, hour)``, used by open vents only.
    """
    modes, (winters, hours), alike = model.modes, outdoor_c.shape, inputs.dtype
    hold_c = np.array([[-np.inf if s.hold_c is None else s.hold_c] for s in settings], alike)
    fixed_w = np.array([[s.fixed_w] for s in settings], alike)
    power_w = np.array([[s.power_w] for s in settings], alike)
    state = _start(model, inputs, fixed_w, hold_c).astype(alike)
    keep, heat_k_w = (one[:, None, None].astype(alike) for one in (modes.keep, modes.heat_k_w))
    added = np.matmul(modes.gain.astype(alike), inputs)[:, :, None, :]
    fixed, per_w = heat_k_w * fixed_w, float(modes.heat_k_w.sum())
    share, most_k = heat_k_w / per_w, per_w * power_w
    opened, above = per_w * model.vent_w_k, model.vent_above_c
    toward = np.ascontiguousarray(outdoor_c.T, alike) * opened
    air, change = np.empty((2, hours, len(settings), winters), alike)
    free, other = np.empty((2, len(settings), winters), alike)
    rise = np.empty_like(state)
    for hour in range(hours):
        after, moved = air[hour], change[hour]
        state *= keep
        state += added[hour]
        state += fixed
        np.add.reduce(state, axis=0, out=free)
        np.add(free, most_k, out=other)
        np.minimum(other, hold_c, out=other)
        np.maximum(free, other, out=after)
        if above < np.inf:
            np.add(free, toward[hour], out=other)
            other /= 1 + opened
            np.maximum(other, above, out=other)
            np.minimum(after, other, out=after)
        np.subtract(after, free, out=moved)
        np.multiply(share, moved, out=rise)
        state += rise
    heat = np.maximum(change, 0.0) / per_w + fixed_w
    return np.moveaxis(air, 0, -1), np.moveaxis(heat, 0, -1)


def _start(
    model: ShelterModel, inputs: FloatArray, fixed_w: FloatArray, hold_c: FloatArray
) -> FloatArray:
    """Every mode in balance with the first days, the air at least on the hold, ``(k, s, w)``."""
    modes = model.modes
    hours = int(min(inputs.shape[0], max(24, 1.5 * modes.slowest_h)))
    mean = inputs[:hours].mean(axis=0)
    rest = 1 / (1 - modes.keep)
    per_w = (rest * modes.heat_k_w)[:, None, None]
    free = (rest[:, None] * (modes.gain @ mean))[:, None, :] + per_w * fixed_w
    air = free.sum(axis=0)
    wanted = np.minimum(np.maximum(air, hold_c), model.vent_above_c)
    return np.asarray(free + per_w * (wanted - air) / per_w.sum(axis=0))


def model_of_envelope(envelope: Envelope, pot_litres: float = 0.0) -> ShelterModel:
    """The model of an envelope in which pots stand."""
    network = network_of(envelope, pot_litres)
    vent_w_k = air_exchange_w_k(envelope.volume_m3, envelope.vent_air_changes_per_h)
    above_c = float("inf") if envelope.vent_above_c is None else envelope.vent_above_c
    return ShelterModel(modes_of(network), network.sources, vent_w_k, above_c)


def model_of_fit(fit: FittedShelter) -> ShelterModel:
    """The model of a fit; temperatures are right and heat is not known: the scale is 1 W/K."""
    share = fit.outdoor_share
    network = Reduced(
        sources=(OUTDOORS, GroundAt(DEEP_M), LEVEL_SUN),
        capacity_j_k=np.array([fit.time_constant_h * 3600]),
        loss_w_k=np.array([[1.0]]),
        drive=np.array([[share, 1 - share, fit.sun_k_per_w_m2]]),
    )
    return ShelterModel(modes_of(network), network.sources)


def run(
    model: ShelterModel, around: Surroundings, settings: Sequence[HeaterSetting]
) -> tuple[FloatArray, FloatArray]:
    """One shelter with each of its settings held all winter. Returns air (degC, end of the hour)
    and heat delivered (W, mean), ``(setting, winter, hour)``."""
    inputs = around.sources(model.sources).astype(np.float32)
    return step(model, inputs, around.air_c, settings)
