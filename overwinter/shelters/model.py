"""A shelter as modes, from its envelope or a fit, and its winters under each setting."""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import Envelope, FloatArray, HeaterSetting
from overwinter.shelters.envelope import air_exchange_w_k
from overwinter.shelters.fit import FittedShelter
from overwinter.shelters.modes import Control, Modes, modes_of, step
from overwinter.shelters.network import (
    DEEP_M,
    LEVEL_SUN,
    OUTDOORS,
    GroundAt,
    Reduced,
    network_of,
)
from overwinter.shelters.surroundings import Surroundings


@dataclass(frozen=True)
class ShelterModel:
    """Its modes, what drives them, and its vents."""

    modes: Modes
    sources: tuple[Hashable, ...]
    vent_w_k: float = 0.0
    vent_above_c: float = float("inf")


def model_of_envelope(envelope: Envelope, pot_litres: float = 0.0) -> ShelterModel:
    """The model of an envelope in which pots stand."""
    network = network_of(envelope, pot_litres)
    vent_w_k = air_exchange_w_k(envelope.volume_m3, envelope.vent_air_changes_per_h)
    vented = envelope.vent_above_c is not None and vent_w_k > 0
    return ShelterModel(
        modes=modes_of(network),
        sources=network.sources,
        vent_w_k=vent_w_k if vented else 0.0,
        vent_above_c=float(envelope.vent_above_c or 0.0) if vented else float("inf"),
    )


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
    """One shelter with each of its settings held all winter.

    Returns
    -------
    Air (degC, end of the hour) and heat delivered (W, mean), ``(setting, winter, hour)``.
    """
    control = Control(
        fixed_w=np.array([s.fixed_w for s in settings]),
        hold_c=np.array([-np.inf if s.hold_c is None else s.hold_c for s in settings]),
        power_w=np.array([s.power_w for s in settings]),
        vent_w_k=model.vent_w_k,
        vent_above_c=model.vent_above_c,
    )
    return step(model.modes, around.sources(model.sources), around.air_c, control)
