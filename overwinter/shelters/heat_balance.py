"""The one-node heat balance, stepped exactly hour by hour for many columns at once.

    C dT/dt = W(t) - G T + q_fixed + q_thermostat - vents,    W = sum of UA_i T_i + sun

Within an hour the inputs are constant, so between events T runs exponentially towards one of
three equilibria: E0 (thermostat off, vents shut), E1 (full power), E2 (vents wide open). The
thermostat keeps T from falling below the hold temperature H while its power lasts, the vents
keep it from rising past V while the outdoor air is cool enough, both without a dead band. The end
of the hour is then min(max(F0, min(H, F1)), max(V, F2)), F being the free, full-power and vented
ends, except in four kinds of hour (power gives out after the crossing, a recovery that runs past
H, vents that cannot keep up, vents closing): those go through ``exact_hour``, which walks from
event to event.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray

HOUR_S = 3600.0


@dataclass(frozen=True)
class Node:
    """Thermal nodes side by side; all shapes ``(column,)``."""

    conductance_w_k: FloatArray
    """G: everything that leads heat out with the vents shut, W/K, > 0."""
    capacity_j_k: FloatArray
    vent_w_k: FloatArray
    """Added with the vents wide open, W/K; 0 without vents."""
    vent_above_c: FloatArray
    """V, degC; ``inf`` without vents."""


@dataclass(frozen=True)
class Control:
    """Heaters; each broadcast to ``(hour, column)``."""

    fixed_w: FloatArray
    hold_c: FloatArray
    """H, degC; ``-inf`` without a thermostat."""
    power_w: FloatArray
    """Most the thermostat can add to the fixed heat, W."""


@dataclass(frozen=True)
class Trace:
    """What came of it, shapes ``(hour, column)``."""

    air_c: FloatArray
    """End of the hour, degC."""
    heat_w: FloatArray
    """Delivered by all heaters, mean over the hour, W."""


@dataclass(frozen=True, slots=True)
class Regime:
    """One column in one hour: equilibria (degC), time constants (s), limits."""

    free_c: float
    full_c: float
    vented_c: float
    tau_s: float
    vented_tau_s: float
    hold_c: float
    vent_above_c: float
    conductance_w_k: float
    power_w: float


def _leg(air_c: float, regime: Regime) -> tuple[float, float, float, float | None]:
    """Equilibrium, time constant, thermostat power and the temperature that ends this leg."""
    hold, vent = regime.hold_c, regime.vent_above_c
    if air_c < hold or (air_c == hold and regime.full_c < hold):
        bound = hold if air_c < hold < regime.full_c else None
        return regime.full_c, regime.tau_s, regime.power_w, bound
    if air_c > vent or (air_c == vent and regime.vented_c > vent):
        bound = vent if air_c > vent > regime.vented_c else None
        return regime.vented_c, regime.vented_tau_s, 0.0, bound
    if regime.free_c < hold < air_c:
        return regime.free_c, regime.tau_s, 0.0, hold
    if regime.free_c > vent > air_c:
        return regime.free_c, regime.tau_s, 0.0, vent
    return regime.free_c, regime.tau_s, 0.0, None


def exact_hour(start_c: float, regime: Regime, seconds: float = HOUR_S) -> tuple[float, float]:
    """Walk one column through one hour, event by event.

    Parameters
    ----------
    start_c : float
        Air at the start, degC.
    regime : Regime
    seconds : float
        Length of the hour, s.

    Returns
    -------
    end_c, heat_j : float
        Air at the end, degC, and heat the thermostat gave, J (fixed heat not counted).
    """
    air, left, heat = start_c, seconds, 0.0
    while left > 0:
        at_hold = air == regime.hold_c and regime.free_c < air <= regime.full_c
        if at_hold:
            return air, heat + regime.conductance_w_k * (air - regime.free_c) * left
        if air == regime.vent_above_c and regime.vented_c <= air < regime.free_c:
            return air, heat
        target, tau, power, bound = _leg(air, regime)
        needed = math.inf
        if bound is not None and bound != target:
            needed = tau * math.log((air - target) / (bound - target))
        if bound is None or needed >= left:
            return target + (air - target) * math.exp(-left / tau), heat + power * left
        air, left, heat = bound, left - needed, heat + power * needed
    return air, heat


@dataclass(frozen=True)
class _Hours:
    """Everything the recursion needs, shapes ``(hour, column)`` unless said."""

    node: Node
    free_c: FloatArray
    full_c: FloatArray
    vented_c: FloatArray
    hold_c: FloatArray
    power_w: FloatArray
    decay: FloatArray
    """exp(-hour / tau), (column,)."""
    vented_decay: FloatArray

    def regime(self, hour: int, column: int) -> Regime:
        """The scalar view of one column in one hour."""
        conductance = float(self.node.conductance_w_k[column])
        capacity = float(self.node.capacity_j_k[column])
        return Regime(
            free_c=float(self.free_c[hour, column]),
            full_c=float(self.full_c[hour, column]),
            vented_c=float(self.vented_c[hour, column]),
            tau_s=capacity / conductance,
            vented_tau_s=capacity / (conductance + float(self.node.vent_w_k[column])),
            hold_c=float(self.hold_c[hour, column]),
            vent_above_c=float(self.node.vent_above_c[column]),
            conductance_w_k=conductance,
            power_w=float(self.power_w[hour, column]),
        )


def _prepare(node: Node, drive_w: FloatArray, outdoor_c: FloatArray, control: Control) -> _Hours:
    if np.any(node.conductance_w_k <= 0) or np.any(node.capacity_j_k <= 0):
        raise ValueError("conductance and heat capacity must be positive")
    shape = drive_w.shape
    hold = np.broadcast_to(control.hold_c, shape)
    power = np.broadcast_to(control.power_w, shape)
    if np.any(hold >= node.vent_above_c):
        raise ValueError("a hold temperature must lie below the temperature at which vents open")
    driven = drive_w + control.fixed_w
    free = driven / node.conductance_w_k
    opened = node.conductance_w_k + node.vent_w_k
    return _Hours(
        node=node,
        free_c=free,
        full_c=free + power / node.conductance_w_k,
        vented_c=(driven + node.vent_w_k * outdoor_c) / opened,
        hold_c=hold,
        power_w=power,
        decay=np.exp(-HOUR_S * node.conductance_w_k / node.capacity_j_k),
        vented_decay=np.exp(-HOUR_S * opened / node.capacity_j_k),
    )


@dataclass(frozen=True)
class _Watch:
    """Where an hour could need the event walk, known before the recursion, ``(hour, column)``."""

    weak: NDArray[np.bool_]
    """Full power cannot keep the hold."""
    warm: NDArray[np.bool_]
    """The hold is passed without the thermostat."""
    sunny: NDArray[np.bool_]
    """Open vents cannot keep the air down."""
    hours: NDArray[np.bool_]
    """Hours to look at whatever the state, ``(hour,)``."""


def _watch(h: _Hours) -> _Watch:
    weak = h.full_c < h.hold_c
    sunny = h.vented_c > h.node.vent_above_c
    switched = np.any(h.hold_c[1:] != h.hold_c[:-1], axis=1)
    hours = np.any(weak | sunny, axis=1) | np.concatenate(([True], switched))
    return _Watch(weak, h.free_c > h.hold_c, sunny, np.asarray(hours, dtype=np.bool_))


def _special(h: _Hours, watch: _Watch, hour: int, start: FloatArray) -> NDArray[np.intp]:
    """Columns whose hour the closed form does not cover, indices ``(k,)``."""
    hold, vent = h.hold_c[hour], h.node.vent_above_c
    above = start > hold
    suspects = np.where(above, watch.weak[hour], watch.warm[hour] & (start < hold))
    suspects |= watch.sunny[hour] & (start <= vent) | (start > vent)
    if not suspects.any():
        return np.empty(0, dtype=np.intp)
    free, full, vented = h.free_c[hour], h.full_c[hour], h.vented_c[hour]
    free_end = free + (start - free) * h.decay
    full_end = full + (start - full) * h.decay
    vented_end = vented + (start - vented) * h.vented_decay
    gives_out = above & (free_end < hold) & (full < hold)
    overruns = (start < hold) & (full_end > hold) & (free > hold)
    too_sunny = (start < vent) & (free_end > vent) & (vented > vent)
    closing = (start > vent) & (vented_end < vent) & (free < vent)
    warm_outside = (start >= vent) & (vented_end >= vent) & (free_end < vented_end)
    return np.flatnonzero(gives_out | overruns | too_sunny | closing | warm_outside)


def _recursion(
    h: _Hours, start_c: FloatArray, exact: bool
) -> tuple[FloatArray, dict[tuple[int, int], float]]:
    """Air at the end of each hour, and the thermostat's J in the hours walked by events."""
    hours, columns = h.free_c.shape
    air = np.empty((hours, columns))
    heat: dict[tuple[int, int], float] = {}
    base = (1 - h.decay) * h.free_c
    lift = (1 - h.decay) * (h.full_c - h.free_c)
    venting = bool(np.isfinite(h.node.vent_above_c).any())
    vented_base = (1 - h.vented_decay) * h.vented_c
    vent, watch = h.node.vent_above_c, _watch(h)
    free, other = np.empty(columns), np.empty(columns)
    state, hold = np.array(start_c, dtype=np.float64), h.hold_c
    unsettled, watched = True, watch.hours.tolist()
    for t in range(hours):
        after = air[t]
        np.multiply(h.decay, state, out=free)
        np.add(free, base[t], out=free)
        np.add(free, lift[t], out=other)
        np.minimum(hold[t], other, out=other)
        np.maximum(free, other, out=after)
        if venting:
            np.multiply(h.vented_decay, state, out=other)
            np.add(other, vented_base[t], out=other)
            np.maximum(other, vent, out=other)
            np.minimum(after, other, out=after)
        if exact and (unsettled or watched[t]):
            for column in _special(h, watch, t, state):
                c = int(column)
                after[c], heat[t, c] = exact_hour(float(state[c]), h.regime(t, c))
            unsettled = bool(((after < hold[t]) | (after > vent)).any())
        state = after
    return air, heat


def _thermostat_w(h: _Hours, start_c: FloatArray, air_c: FloatArray) -> FloatArray:
    """Thermostat heat of the hours the closed form covers, mean W ``(hour, column)``."""
    before = np.concatenate((start_c[None, :], air_c[:-1]))
    held = np.isfinite(h.hold_c) & (h.power_w > 0)
    hold = np.where(held, h.hold_c, 0.0)
    full_end = h.full_c + (before - h.full_c) * h.decay
    free_end = h.free_c + (before - h.free_c) * h.decay
    keep_w = h.node.conductance_w_k * (hold - h.free_c)
    tau_s = np.broadcast_to(h.node.capacity_j_k / h.node.conductance_w_k, keep_w.shape)
    below = before < hold
    heat = np.where(held & ~below & (free_end < hold), keep_w, 0.0)
    # Free until the hold is reached, then kept: the share of the hour before that costs nothing.
    at = np.nonzero(held & (before > hold) & (free_end < hold))
    fall = tau_s[at] * np.log((before[at] - h.free_c[at]) / (hold[at] - h.free_c[at]))
    heat[at] *= 1 - fall / HOUR_S
    # Full power until the hold is reached, then kept.
    at = np.nonzero(held & below & (full_end > hold))
    rise = tau_s[at] * np.log((h.full_c[at] - before[at]) / (h.full_c[at] - hold[at]))
    heat[at] = keep_w[at] + (h.power_w[at] - keep_w[at]) * rise / HOUR_S
    return np.where(held & (before <= hold) & (full_end <= hold), h.power_w, heat)


def step(
    node: Node,
    drive_w: FloatArray,
    outdoor_c: FloatArray,
    control: Control,
    start_c: FloatArray,
    exact: bool = True,
) -> Trace:
    """Air and heat of every column through every hour.

    Parameters
    ----------
    node : Node
        Thermal nodes, ``(column,)``.
    drive_w : array (hour, column)
        W: sum of UA_i T_i over outdoors, ground and house, plus sun, W.
    outdoor_c : array (hour, column)
        Outdoor air, degC, used by open vents only.
    control : Control
        Heaters.
    start_c : array (column,)
        Air at the start of the first hour, degC.

    Returns
    -------
    Trace
        Exact for inputs constant within each hour. Without ``exact`` the four kinds of hour that
        need a walk take the closed form too: some tenths of a kelvin off in those hours, and many
        times as fast over many winters.

    Raises
    ------
    ValueError
        Not positive conductance or capacity; a hold temperature not below the vents'.
    """
    h = _prepare(node, drive_w, outdoor_c, control)
    start = np.asarray(start_c, dtype=np.float64)
    air, walked = _recursion(h, start, exact)
    thermostat = _thermostat_w(h, start, air)
    for (hour, column), joules in walked.items():
        thermostat[hour, column] = joules / HOUR_S
    return Trace(air_c=air, heat_w=thermostat + control.fixed_w)
