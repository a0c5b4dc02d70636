"""A shelter as numbers for the heat balance, whether from its envelope or from a fit."""

from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import Envelope, FloatArray, HeaterSetting
from overwinter.shelters.envelope import conductances
from overwinter.shelters.fit import FittedShelter
from overwinter.shelters.heat_balance import Control, Node, Trace, step
from overwinter.shelters.surroundings import Surroundings
from overwinter.units import HOURS_PER_DAY

_SETTLING_TIME_CONSTANTS = 3.0


@dataclass(frozen=True, slots=True)
class ShelterModel:
    """One thermal node; conductances in W/K. A fit without an envelope has scale 1 W/K."""

    outdoors_w_k: float
    ground_w_k: float
    house_w_k: float
    solar_aperture_m2: float
    capacity_j_k: float
    vent_w_k: float = 0.0
    vent_above_c: float = float("inf")

    @property
    def total_w_k(self) -> float:
        """Heat-loss coefficient with the vents shut, W/K."""
        return self.outdoors_w_k + self.ground_w_k + self.house_w_k

    @property
    def time_constant_h(self) -> float:
        """How slowly it cools, h."""
        return self.capacity_j_k / self.total_w_k / 3600

    def drive_w(self, around: Surroundings) -> FloatArray:
        """Everything that drives the node but heaters, W, ``(hour,)``."""
        return np.asarray(
            self.outdoors_w_k * around.air_c
            + self.ground_w_k * around.floor_ground_c
            + self.house_w_k * around.house_c
            + self.solar_aperture_m2 * around.sun_w_m2
        )

    def steady_need_w(
        self, inside_c: float, outdoor_c: float, ground_c: float, house_c: float
    ) -> float:
        """Steady heat needed to keep ``inside_c`` without sun, W."""
        return (
            self.outdoors_w_k * (inside_c - outdoor_c)
            + self.ground_w_k * (inside_c - ground_c)
            + self.house_w_k * (inside_c - house_c)
        )


def model_of_envelope(envelope: Envelope) -> ShelterModel:
    """The node of an envelope."""
    ua = conductances(envelope)
    vented = envelope.vent_above_c is not None and ua.vent_w_k > 0
    return ShelterModel(
        outdoors_w_k=ua.outdoor_air_w_k,
        ground_w_k=ua.ground_w_k,
        house_w_k=ua.house_w_k,
        solar_aperture_m2=envelope.solar_aperture_m2,
        capacity_j_k=envelope.heat_capacity_j_k,
        vent_w_k=ua.vent_w_k if vented else 0.0,
        vent_above_c=float(envelope.vent_above_c or 0.0) if vented else float("inf"),
    )


def model_of_fit(fit: FittedShelter, envelope: Envelope | None = None) -> ShelterModel:
    """The node of a fit; with an envelope its heat capacity gives the scale in W/K.

    Without one, temperatures are right and heat is not known: the scale is 1 W/K.
    """
    known = model_of_envelope(envelope) if envelope is not None else None
    capacity = known.capacity_j_k if known is not None else fit.time_constant_h * 3600
    total = capacity / (fit.time_constant_h * 3600)
    return ShelterModel(
        outdoors_w_k=total * fit.outdoor_share,
        ground_w_k=total * (1 - fit.outdoor_share),
        house_w_k=0.0,
        solar_aperture_m2=total * fit.sun_k_per_w_m2,
        capacity_j_k=capacity,
        vent_w_k=known.vent_w_k if known is not None else 0.0,
        vent_above_c=known.vent_above_c if known is not None else float("inf"),
    )


@dataclass(frozen=True)
class Column:
    """One simulation: a shelter's node in its surroundings under a heater control."""

    model: ShelterModel
    around: Surroundings
    fixed_w: FloatArray | float = 0.0
    hold_c: FloatArray | float = -np.inf
    power_w: FloatArray | float = 0.0


def column_of(model: ShelterModel, around: Surroundings, setting: HeaterSetting) -> Column:
    """The column of one setting held throughout."""
    hold = -np.inf if setting.hold_c is None else setting.hold_c
    return Column(model, around, setting.fixed_w, hold, setting.power_w)


def _settled_start_c(column: Column, drive_w: FloatArray) -> float:
    """Air before the first hour: the balance of the first days, at least the hold."""
    model = column.model
    hours = max(HOURS_PER_DAY, int(_SETTLING_TIME_CONSTANTS * model.time_constant_h))
    fixed = np.broadcast_to(np.asarray(column.fixed_w, dtype=np.float64), drive_w.shape)
    balance = float((drive_w[:hours] + fixed[:hours]).mean()) / model.total_w_k
    first_hold = float(np.asarray(column.hold_c, dtype=np.float64).reshape(-1)[0])
    return min(max(balance, first_hold), model.vent_above_c)


def run(columns: list[Column]) -> Trace:
    """Simulate all columns side by side; see ``heat_balance.step``."""
    hours = columns[0].around.air_c.shape[0]

    def stacked(values: list[FloatArray | float]) -> FloatArray:
        if all(np.ndim(value) == 0 for value in values):
            return np.array([float(np.asarray(v)) for v in values])
        return np.column_stack([np.broadcast_to(np.asarray(v), (hours,)) for v in values])

    drives = [column.model.drive_w(column.around) for column in columns]
    models = [column.model for column in columns]
    node = Node(
        conductance_w_k=np.array([m.total_w_k for m in models]),
        capacity_j_k=np.array([m.capacity_j_k for m in models]),
        vent_w_k=np.array([m.vent_w_k for m in models]),
        vent_above_c=np.array([m.vent_above_c for m in models]),
    )
    control = Control(
        fixed_w=stacked([column.fixed_w for column in columns]),
        hold_c=stacked([column.hold_c for column in columns]),
        power_w=stacked([column.power_w for column in columns]),
    )
    start = np.array([_settled_start_c(c, d) for c, d in zip(columns, drives, strict=True)])
    outdoor = np.column_stack([column.around.air_c for column in columns])
    return step(node, np.column_stack(drives), outdoor, control, start)
