"""A shelter as numbers for the heat balance, whether from its envelope or from a fit."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
        """Everything that drives the node but heaters, W, ``(winter, hour)``."""
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


def _settled_start_c(
    model: ShelterModel, drive_w: FloatArray, setting: HeaterSetting
) -> FloatArray:
    """Air before the first hour, ``(winter,)``: balance of the first days, at least the hold."""
    hours = max(HOURS_PER_DAY, int(_SETTLING_TIME_CONSTANTS * model.time_constant_h))
    balance = (drive_w[:, :hours].mean(axis=1) + setting.fixed_w) / model.total_w_k
    hold = -np.inf if setting.hold_c is None else setting.hold_c
    return np.asarray(np.minimum(np.maximum(balance, hold), model.vent_above_c))


def run(
    model: ShelterModel, around: Surroundings, settings: Sequence[HeaterSetting]
) -> tuple[FloatArray, FloatArray]:
    """One shelter with each of its settings held all winter.

    Returns
    -------
    Air (degC, end of the hour) and heat delivered (W, mean), ``(setting, winter, hour)``.
    """
    drive = model.drive_w(around)
    winters, hours = drive.shape
    every = (len(settings), 1)
    held = np.repeat(np.arange(len(settings)), winters)
    start = np.concatenate([_settled_start_c(model, drive, s) for s in settings])
    trace = _step(
        model, np.tile(drive, every), np.tile(around.air_c, every), _control(settings, held), start
    )
    shape = (len(settings), winters, hours)
    return trace.air_c.T.reshape(shape), trace.heat_w.T.reshape(shape)


def _control(settings: Sequence[HeaterSetting], chosen: NDArray[np.intp]) -> Control:
    """What the heaters do in each column, or in each hour of it."""

    def of_chosen(values: list[float]) -> FloatArray:
        return np.asarray(np.array(values, dtype=np.float64)[chosen])

    return Control(
        fixed_w=of_chosen([s.fixed_w for s in settings]),
        hold_c=of_chosen([-np.inf if s.hold_c is None else s.hold_c for s in settings]),
        power_w=of_chosen([s.power_w for s in settings]),
    )


def _step(
    model: ShelterModel,
    drive_w: FloatArray,
    outdoor_c: FloatArray,
    control: Control,
    start_c: FloatArray,
) -> Trace:
    """Step one node for all columns; inputs ``(column, hour)``."""
    columns = drive_w.shape[0]
    node = Node(
        conductance_w_k=np.full(columns, model.total_w_k),
        capacity_j_k=np.full(columns, model.capacity_j_k),
        vent_w_k=np.full(columns, model.vent_w_k),
        vent_above_c=np.full(columns, model.vent_above_c),
    )
    return step(node, drive_w.T, outdoor_c.T, control, start_c, exact=False)
