"""The plain way to step a winter: every hour of every column from event to event, in a loop."""

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.shelters.heat_balance import Control, Node, Regime, Trace, exact_hour


def walk_all(
    node: Node,
    drive_w: FloatArray,
    outdoor_c: FloatArray,
    control: Control,
    start_c: FloatArray,
) -> Trace:
    """Same arguments and result as ``heat_balance.step``."""
    hours, columns = drive_w.shape
    air, heat = np.empty_like(drive_w), np.empty_like(drive_w)
    fixed, hold, power = (
        np.broadcast_to(a, drive_w.shape)
        for a in (control.fixed_w, control.hold_c, control.power_w)
    )
    for k in range(columns):
        g, c = float(node.conductance_w_k[k]), float(node.capacity_j_k[k])
        vent_w_k, state = float(node.vent_w_k[k]), float(start_c[k])
        for t in range(hours):
            driven = float(drive_w[t, k] + fixed[t, k])
            regime = Regime(
                free_c=driven / g,
                full_c=(driven + float(power[t, k])) / g,
                vented_c=(driven + vent_w_k * float(outdoor_c[t, k])) / (g + vent_w_k),
                tau_s=c / g,
                vented_tau_s=c / (g + vent_w_k),
                hold_c=float(hold[t, k]),
                vent_above_c=float(node.vent_above_c[k]),
                conductance_w_k=g,
                power_w=float(power[t, k]),
            )
            state, joules = exact_hour(state, regime)
            air[t, k], heat[t, k] = state, fixed[t, k] + joules / 3600
    return Trace(air, heat)
