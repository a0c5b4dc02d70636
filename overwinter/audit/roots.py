"""Outer-root temperatures hour by hour, along the places where each tree really stands.

A tree carried to another place takes the warmth or cold of its roots along: the lag goes on from
where it was. ``shelters.root_zone`` gives what the roots follow at each place; the stepping along
paths is the audit's own, exact for straight lines between the hours.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from overwinter.audit.ledger import IndexArray, Ledger
from overwinter.domain.shelter import FloatArray, PlaceKind
from overwinter.domain.tree import Tree
from overwinter.shelters.root_zone import (
    BOTTOM_SHARE,
    GROUND_DEPTH_M,
    SUNK_DEPTH_M,
    outer_root_time_constant_h,
    pot_class,
    soil_c,
)
from overwinter.shelters.surroundings import colder_ground, hourly_days_of_year
from overwinter.units import HOURS_PER_DAY

CHUNK = 500
"""Paths stepped side by side; bounds the memory for nurseries with thousands of paths."""

PathKey = tuple[float, tuple[str | None, ...]]
"""Pot class in litres and the place in each spell: trees alike in both have the same roots."""


@dataclass(frozen=True)
class RootPath:
    """Daily root temperatures of one path; NaN before the tree joins. Shapes ``(day,)``."""

    min_c: FloatArray
    mean_c: FloatArray
    cold_min_c: FloatArray
    """Daily minimum in the colder winter."""


def path_key(ledger: Ledger, tree: Tree) -> PathKey:
    """What decides the root temperatures of a tree."""
    return pot_class(tree.pot_litres), ledger.plan.stays[tree.id]


def root_paths(
    ledger: Ledger, air_c: Mapping[str, FloatArray], cold_air_c: Mapping[str, FloatArray] | None
) -> Mapping[PathKey, RootPath]:
    """Roots along every path that some tree takes.

    Parameters
    ----------
    air_c, cold_air_c : mapping of arrays (hour,)
        Air of every shelter by planned hour, degC, in the winter planned for and in the colder
        one; without the latter ``cold_min_c`` is the same as ``min_c``.
    """
    keys = list(dict.fromkeys(path_key(ledger, tree) for tree in ledger.trees))
    used = list(dict.fromkeys(place for _, stays in keys for place in stays if place is not None))
    if not used:
        nothing = np.full(sum(spell.days for spell in ledger.spells), np.nan)
        return {key: RootPath(nothing, nothing, nothing) for key in keys}
    column = {place_id: number for number, place_id in enumerate(used)}
    warm = followed_c(ledger, used, air_c, 0.0)
    colder_by_k = ledger.conditions.colder_by_k
    cold = None if cold_air_c is None else followed_c(ledger, used, cold_air_c, colder_by_k)
    found: dict[PathKey, RootPath] = {}
    for first in range(0, len(keys), CHUNK):
        some = keys[first : first + CHUNK]
        usual = _by_day(_follow(ledger, some, column, warm))
        low = usual.min(axis=1)
        cold_low = low if cold is None else _by_day(_follow(ledger, some, column, cold)).min(axis=1)
        mean = usual.mean(axis=1)
        for number, key in enumerate(some):
            found[key] = RootPath(low[:, number], mean[:, number], cold_low[:, number])
    return found


def _by_day(hourly: FloatArray) -> FloatArray:
    """``(hour, path)`` as ``(day, 24, path)``."""
    return hourly.reshape(-1, HOURS_PER_DAY, hourly.shape[1])


def followed_c(
    ledger: Ledger, places: list[str], air_c: Mapping[str, FloatArray], colder_by_k: float
) -> FloatArray:
    """What the outer roots follow at each place, degC, ``(hour, place)``."""
    first = ledger.first_day * HOURS_PER_DAY
    day_of_year = hourly_days_of_year(ledger.season)[first:]
    ground = colder_ground(ledger.season.site.ground, colder_by_k, 0.0)
    columns = []
    for place_id in places:
        place = ledger.season.places[place_id]
        series = air_c[place.shelter_id]
        if place.kind is PlaceKind.SUNK:
            series = soil_c(series, day_of_year, ground, SUNK_DEPTH_M)
        elif place.kind is PlaceKind.GROUND:
            soil = soil_c(series, day_of_year, ground, GROUND_DEPTH_M)
            series = (1 - BOTTOM_SHARE) * series + BOTTOM_SHARE * soil
        columns.append(series)
    return np.stack(columns, axis=1)


def _follow(
    ledger: Ledger, keys: list[PathKey], column: Mapping[str, int], followed: FloatArray
) -> FloatArray:
    """Root temperature of each path at the end of each hour, ``(hour, path)``."""
    out = np.full((followed.shape[0], len(keys)), np.nan)
    where = np.array(
        [[-1 if place is None else column[place] for place in stays] for _, stays in keys],
        dtype=np.intp,
    )
    sunk = np.array([_is_sunk(ledger, place) for place in column], dtype=np.bool_)
    classes = [litres for litres, _ in keys]
    constants = {litres: outer_root_time_constant_h(litres) for litres in set(classes)}
    tau_h = np.array([constants[litres] for litres in classes])
    state = np.full(len(keys), np.nan)
    for spell in ledger.spells:
        span = ledger.hours(spell)
        places: IndexArray = where[:, spell.index]
        target = followed[span][:, places]
        before = followed[max(span.start - 1, 0)][places]
        at_once = sunk[places]
        keep = np.where(at_once, 0.0, np.exp(-1.0 / tau_h))
        new = np.where(at_once, 1.0, 1.0 - tau_h * (1.0 - np.exp(-1.0 / tau_h)))
        old = 1.0 - keep - new
        fresh = np.isnan(state)
        state = np.where(fresh, target[0], state)
        before = np.where(fresh, target[0], before)
        for hour in range(target.shape[0]):
            state = keep * state + old * before + new * target[hour]
            before = target[hour]
            out[span.start + hour] = state
        absent = places < 0
        out[span, absent] = np.nan
        state = np.where(absent, np.nan, state)
    return out


def _is_sunk(ledger: Ledger, place_id: str) -> bool:
    return ledger.season.places[place_id].kind is PlaceKind.SUNK
