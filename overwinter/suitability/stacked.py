"""Daily conditions of every option, stacked into arrays of shape ``(option, day)``."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overwinter.domain.conditions import Conditions, PlaceConditions, RootZone
from overwinter.domain.shelter import FloatArray
from overwinter.suitability.options import Option


@dataclass(frozen=True)
class Stacked:
    """All series by option and day; ``dli`` does not depend on the setting but is repeated."""

    air_min_c: FloatArray
    air_mean_c: FloatArray
    cold_air_min_c: FloatArray
    dli_mol_m2_d: FloatArray
    chill_hours: FloatArray
    utah_units: FloatArray
    root: Mapping[float, RootZone]
    """By pot class; its arrays have shape ``(option, day)``."""


def stack(conditions: Conditions, options: tuple[Option, ...]) -> Stacked:
    """Stack the conditions of all options."""
    rows = [(conditions.places[option.place_id], option.setting) for option in options]

    def by_setting(pick: str) -> FloatArray:
        return np.stack([getattr(place, pick)[setting] for place, setting in rows])

    return Stacked(
        air_min_c=by_setting("air_min_c"),
        air_mean_c=by_setting("air_mean_c"),
        cold_air_min_c=by_setting("cold_air_min_c"),
        dli_mol_m2_d=np.stack([place.dli_mol_m2_d for place, _setting in rows]),
        chill_hours=by_setting("chill_hours"),
        utah_units=by_setting("utah_units"),
        root={pot: _stack_root(rows, pot) for pot in rows[0][0].root},
    )


def _stack_root(rows: list[tuple[PlaceConditions, int]], pot: float) -> RootZone:
    zones = [(place.root[pot], setting) for place, setting in rows]
    return RootZone(
        min_c=np.stack([zone.min_c[setting] for zone, setting in zones]),
        mean_c=np.stack([zone.mean_c[setting] for zone, setting in zones]),
        cold_min_c=np.stack([zone.cold_min_c[setting] for zone, setting in zones]),
    )
