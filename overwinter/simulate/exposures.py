"""Kinds of tree, and what each would meet at every place under every heater setting. An *option* is
a place with a heater setting of its shelter. Options that share an air or a root zone share one
series, so an option is a set of indices into stacks of shape ``(series, winter, day)``."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from overwinter.model.season import Season
from overwinter.model.shelter import Conditions, FloatArray, PlaceConditions
from overwinter.model.species import LIMITS, ChillModel, LeafHabit, Limits
from overwinter.model.stage import BoolArray, IntArray
from overwinter.model.tree import Condition, Tree
from overwinter.plants import harm
from overwinter.plants.hardening import leaves_left
from overwinter.plants.harm import Array
from overwinter.shelters.root_zone import pot_class

Key = tuple[float, float | None, bool]  # class of pot, air floor, chilling in Utah units
LIGHT_WINDOW_DAYS = 15  # leaves live on the light of about two weeks: a judgement
EQUINOX_H = 12.0
_At = tuple[PlaceConditions, int]  # a place and a setting of its shelter


@dataclass(frozen=True, slots=True)
class Kind:
    """What decides the harm that a day does to a tree; many trees are of one kind."""

    limits: Limits
    pot_class_l: float
    young_roots: bool
    condition: Condition
    leaves_down: date | None = None  # day on which the grower saw it bare


def kind_of(tree: Tree) -> Kind:
    """The kind of one tree."""
    litres = pot_class(tree.pot_litres)
    return Kind(tree.limits, litres, tree.young_roots, tree.condition, tree.leaves_down)


def key_of(kind: Kind) -> Key:
    """What a kind meets is looked up by."""
    limits = kind.limits
    return kind.pot_class_l, limits.air_floor_c, limits.chill_model is ChillModel.UTAH


class KindArrays:
    """Limits of kinds side by side, float32, of shape ``(kind, 1, 1)``.

    Every number of ``Limits`` by its name, reckoned for the condition of the tree, and besides:
    ``evergreen`` and ``rests`` (1 where leaves stay, where it rests in winter), ``young_share``
    (of the value, in young roots) and ``leaves_down`` (ordinal of the day on which the grower saw
    it bare; nan: not yet).
    """

    def __init__(self, table: NDArray[np.void]) -> None:
        self.table = table

    def __getattr__(self, name: str) -> Array:
        return np.asarray(self.table[name])

    def of(self, which: IntArray) -> "KindArrays":
        """The kinds picked by an index array."""
        return KindArrays(self.table[which])


def kind_arrays(kinds: Sequence[Kind]) -> KindArrays:
    """Limits of ``kinds``, each with the shift for its condition."""
    rows = [_row(kind) for kind in kinds]
    columns = np.dtype([(name, np.float32) for name in rows[0]])
    table = np.array([tuple(row.values()) for row in rows], dtype=columns)
    return KindArrays(table[:, None, None])


def _row(kind: Kind) -> dict[str, float]:
    row: dict[str, float] = {}
    for name, limit in LIMITS.items():
        value = getattr(kind.limits, name)
        value = float(limit.if_none or 0.0) if value is None else max(value, limit.least)
        row[name] = value + harm.CONDITION_SHIFT_K[kind.condition] * limit.kills
    seen = kind.leaves_down
    return {
        **row,
        "evergreen": float(kind.limits.leaf is LeafHabit.EVERGREEN),
        "rests": float(kind.limits.rests),
        "young_share": harm.ALL_YOUNG_SHARE if kind.young_roots else harm.YOUNG_ROOT_SHARE,
        "leaves_down": math.nan if seen is None else float(seen.toordinal()),
    }


@dataclass(frozen=True, slots=True)
class Option:
    """One place with one heater setting."""

    place_id: str
    shelter_id: str
    setting: int  # index into the settings of the shelter


@dataclass(frozen=True)
class Series:
    """Daily series of some trees or options, float32, ``(..., winter, day)``."""

    wall_min_c: Array
    core_min_c: Array
    core_mean_c: Array
    air_min_c: Array
    air_mean_c: Array
    cold_dose_k_h: Array
    chill: Array
    warmth_k_d: Array
    dli_mol_m2_d: Array  # mean of two weeks around the day
    shelter_factor: Array  # 1 in the open, less under cover: how fast the wind dries
    rodents: Array  # exposure that guards leave, 0 to 1


@dataclass(frozen=True)
class Calendar:
    """What the days of the plan have to do with the sun."""

    day_length_h: Array
    leaves: Array  # share of its leaves that a deciduous tree still has, `(winter, day)`
    first_day: int = 0  # ordinal of the first day

    def leaves_of(self, kinds: KindArrays) -> Array:
        """Summer's leaves of each kind; what the grower saw counts instead of the forecast."""
        seen = np.isfinite(kinds.leaves_down)
        if not seen.any():
            return self.leaves
        before = np.arange(self.day_length_h.size) + self.first_day < kinds.leaves_down
        return np.where(seen, before, self.leaves)

    @property
    def chills(self) -> BoolArray:
        """Days that count for chilling: from the autumn equinox on, ``(day,)``."""
        return np.cumsum(self.day_length_h < EQUINOX_H) > 0

    @property
    def wakes(self) -> BoolArray:
        """Days whose warmth counts for bud break: from the shortest day on, ``(day,)``."""
        return np.arange(self.day_length_h.size) >= int(np.argmin(self.day_length_h))


class Exposures:
    """All options of a season with their series."""

    def __init__(self, season: Season, conditions: Conditions) -> None:
        self.season = season
        self.day_length_h = np.asarray(conditions.day_length_h, dtype=np.float32)
        self.outdoor_min_c = np.asarray(conditions.outdoor_min_c, dtype=np.float32)
        self.winters, self.days = self.outdoor_min_c.shape
        self.options = tuple(
            Option(place.id, shelter.id, setting)
            for shelter in season.shelters
            for place in shelter.places
            for setting in range(len(conditions.shelters[shelter.id].settings))
        )
        self.index = {(o.place_id, o.setting): i for i, o in enumerate(self.options)}
        self._stack_air_and_roots(conditions)
        self._stack_places(conditions)

    def _stack_air_and_roots(self, conditions: Conditions) -> None:
        at = [(conditions.places[o.place_id], o.setting) for o in self.options]
        self.air_of, airs = _once(at, lambda place: place.air_min_c)
        self.root_of, roots = _once(at, lambda place: place.root)

        def stacked(name: str) -> Array:
            return _stack([getattr(place, name)[setting] for place, setting in airs])

        self.air_min_c, self.air_mean_c = stacked("air_min_c"), stacked("air_mean_c")
        self.chill = (stacked("chill_hours"), stacked("utah_units"))
        self.warmth_k_d = stacked("warmth_k_d")
        self.cold_dose_k_h: Mapping[float, Array] = {
            floor: _stack([place.cold_dose_k_h[floor][setting] for place, setting in airs])
            for floor in airs[0][0].cold_dose_k_h
        }
        self.no_dose = np.zeros_like(self.air_min_c)
        self.roots = {
            litres: tuple(
                _stack([getattr(place.root[litres], name)[setting] for place, setting in roots])
                for name in ("wall_min_c", "core_min_c", "core_mean_c")
            )
            for litres in roots[0][0].root
        }

    def _stack_places(self, conditions: Conditions) -> None:
        places = tuple(self.season.places)
        at = {place_id: i for i, place_id in enumerate(places)}
        self.place_of: IntArray = np.array([at[o.place_id] for o in self.options])
        self.dli_mol_m2_d = _smoothed(_stack([conditions.places[p].dli_mol_m2_d for p in places]))
        shelters = self.season.shelter_by_id
        self.open_air = np.array([shelters[o.shelter_id].open_air for o in self.options])
        self.shelter_factor = np.where(self.open_air, 1.0, harm.SHELTERED_DRYING).astype(np.float32)
        guard = self.season.site.weights.guard_leaves
        of = [self.season.places[o.place_id] for o in self.options]
        exposure = [one.rodent_exposure * (guard if one.guarded else 1.0) for one in of]
        self.rodents = np.array(exposure, dtype=np.float32)

    @cached_property
    def calendar(self) -> Calendar:
        """Sun and leaves of the season's days."""
        home = self.air_of[self.index[self.season.site.summer_place, 0]]
        leaves = leaves_left(self.air_mean_c[home], self.day_length_h)
        return Calendar(self.day_length_h, leaves, self.season.site.starts.toordinal())

    def apart(self, key: Key) -> Series:
        """Every root zone and every air once: ``root_of`` and ``air_of`` lead to the options."""
        none = np.zeros((1, 1, 1), dtype=np.float32)
        sheltered = np.empty((len(self.air_min_c), 1, 1), dtype=np.float32)
        sheltered[self.air_of, 0, 0] = self.shelter_factor
        return self._picked(key, ..., ..., none, sheltered, none, each=self.air_min_c.shape[1:])

    def series(self, options: IntArray, key: Key) -> Series:
        """Series of ``options``, ``(n,)`` or ``(n, winter, day)``, for kinds of one key."""
        by_day, options = options.ndim == 3, np.ascontiguousarray(options)
        day = np.arange(self.winters * self.days).reshape(self.winters, self.days)

        def at(rows: IntArray) -> IntArray:
            return rows[options] * day.size + day if by_day else rows[options]

        each, behind = ((), ()) if by_day else (day.shape, (..., None, None))
        dli = self.dli_mol_m2_d.reshape(-1, *each)[at(self.place_of)]
        met = (dli, self.shelter_factor[options][behind], self.rodents[options][behind])
        return self._picked(key, at(self.air_of), at(self.root_of), *met, each=each)

    def _picked(self, key: Key, air: Any, root: Any, *met: Array, each: tuple[int, ...]) -> Series:
        """The airs and the root zones picked, ``each`` of this shape, and what is met there."""
        pot_l, floor_c, utah = key
        roots = (stack.reshape(-1, *each)[root] for stack in self.roots[pot_l])
        dose = self.no_dose if floor_c is None else self.cold_dose_k_h[floor_c]
        airs = (self.air_min_c, self.air_mean_c, dose, self.chill[utah], self.warmth_k_d)
        return Series(*roots, *(stack.reshape(-1, *each)[air] for stack in airs), *met)


def _once(met: list[_At], of: Callable[[PlaceConditions], object]) -> tuple[IntArray, list[_At]]:
    """Row of each option, and the rows: places alike share what is asked of them."""
    keys = [(id(of(place)), setting) for place, setting in met]
    rows = dict(zip(reversed(keys), reversed(met), strict=True))
    at = {key: i for i, key in enumerate(rows)}
    return np.array([at[key] for key in keys]), list(rows.values())


def _stack(series: list[FloatArray]) -> Array:
    return np.ascontiguousarray(np.stack(series), dtype=np.float32)


def _smoothed(dli: Array) -> Array:
    """Running mean over two weeks, shorter at the ends, along the days."""
    half = LIGHT_WINDOW_DAYS // 2
    days = dli.shape[-1]
    sums = np.concatenate([np.zeros((*dli.shape[:-1], 1)), np.cumsum(dli, axis=-1)], axis=-1)
    day = np.arange(days)
    first, last = np.maximum(day - half, 0), np.minimum(day + half + 1, days)
    return np.asarray((sums[..., last] - sums[..., first]) / (last - first), dtype=np.float32)
