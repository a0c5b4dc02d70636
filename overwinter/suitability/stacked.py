"""Daily conditions of every option, stacked into arrays of shape ``(option, day)``."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from overwinter.model.conditions import Conditions, PlaceConditions, RootZone
from overwinter.model.shelter import FloatArray
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

    @cached_property
    def _sums(self) -> tuple[FloatArray, FloatArray]:
        """Running sums of air and light, ``(option, day + 1)``."""
        zero = np.zeros((self.air_mean_c.shape[0], 1))
        air, light = (
            np.concatenate([zero, np.cumsum(series, axis=1)], axis=1)
            for series in (self.air_mean_c, self.dli_mol_m2_d)
        )
        return air, light

    def means(self, days: slice) -> tuple[FloatArray, FloatArray]:
        """Mean air (degC) and mean light (mol/(m2 d)) of a stretch of days, ``(option,)`` each."""
        air, light = (
            (sums[:, days.stop] - sums[:, days.start]) / (days.stop - days.start)
            for sums in self._sums
        )
        return air, light


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
