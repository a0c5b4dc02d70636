"""Outer-root temperatures hour by hour, along the places where each tree really stands.

A tree carried to another place takes the warmth or cold of its roots along: the lag goes on from
where it was. ``shelters.root_zone`` gives what the roots follow at each place; the stepping along
paths is the audit's own, exact for straight lines between the hours.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.audit.ledger import AirCourse, IndexArray, Ledger
from overwinter.model.shelter import FloatArray, Place, PlaceKind
from overwinter.model.tree import Tree
from overwinter.shelters.root_zone import (
    BOTTOM_SHARE,
    GROUND_DEPTH_M,
    outer_root_time_constant_h,
    pot_class,
    soil_c,
)
from overwinter.shelters.surroundings import colder_ground, hourly_days_of_year
from overwinter.units import HOURS_PER_DAY

BoolArray = NDArray[np.bool_]
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
    ledger: Ledger, air: Mapping[str, AirCourse], cold_air: Mapping[str, AirCourse] | None
) -> Mapping[PathKey, RootPath]:
    """Roots along every path that some tree takes.

    Parameters
    ----------
    air, cold_air : mapping by shelter
        Air in the winter planned for and in the colder one; without the latter ``cold_min_c`` is
        the same as ``min_c``.
    """
    keys = list(dict.fromkeys(path_key(ledger, tree) for tree in ledger.trees))
    used = list(dict.fromkeys(place for _, stays in keys for place in stays if place is not None))
    if not used:
        nothing = np.full(sum(spell.days for spell in ledger.spells), np.nan)
        return {key: RootPath(nothing, nothing, nothing) for key in keys}
    warm = what_is_followed(ledger, used, air, 0.0)
    colder_by_k = ledger.conditions.colder_by_k
    cold = None if cold_air is None else what_is_followed(ledger, used, cold_air, colder_by_k)
    found: dict[PathKey, RootPath] = {}
    for first in range(0, len(keys), CHUNK):
        some = keys[first : first + CHUNK]
        usual = _by_day(_follow(ledger, some, warm))
        low = usual.min(axis=1)
        cold_low = low if cold is None else _by_day(_follow(ledger, some, cold)).min(axis=1)
        mean = usual.mean(axis=1)
        for number, key in enumerate(some):
            found[key] = RootPath(low[:, number], mean[:, number], cold_low[:, number])
    return found


def _by_day(hourly: FloatArray) -> FloatArray:
    """``(hour, path)`` as ``(day, 24, path)``."""
    return hourly.reshape(-1, HOURS_PER_DAY, hourly.shape[1])


@dataclass(frozen=True)
class Followed:
    """What the outer roots follow at each place, degC."""

    column: Mapping[str, int]
    """Place id to column."""
    hourly_c: FloatArray
    """(hour, place)"""
    eve_c: FloatArray
    """(spell, place): at the end of the hour before the spell."""
    at_once: BoolArray
    """(place,): sunk pots take the soil's temperature whatever the pot."""


def what_is_followed(
    ledger: Ledger, places: list[str], air: Mapping[str, AirCourse], colder_by_k: float
) -> Followed:
    """Air, or air and soil, or soil, by the kind of place (``shelters.root_zone``)."""
    hourly, eves = [], []
    eve = [max(ledger.hours(spell).start - 1, 0) for spell in ledger.spells]
    for place_id in places:
        place = ledger.season.places[place_id]
        course = air[place.shelter_id]
        share, soil = _soil(ledger, place, course.hourly_c, colder_by_k)
        hourly.append((1 - share) * course.hourly_c + share * soil)
        eves.append((1 - share) * course.eve_c + share * soil[eve])
    return Followed(
        column={place_id: number for number, place_id in enumerate(places)},
        hourly_c=np.stack(hourly, axis=1),
        eve_c=np.stack(eves, axis=1),
        at_once=np.array([_is_sunk(ledger, place_id) for place_id in places], dtype=np.bool_),
    )


def _soil(
    ledger: Ledger, place: Place, air_c: FloatArray, colder_by_k: float
) -> tuple[float, FloatArray]:
    """Share of the soil in what the roots follow, and its temperature, degC, ``(hour,)``."""
    if place.kind not in (PlaceKind.GROUND, PlaceKind.SUNK):
        return 0.0, np.zeros_like(air_c)
    day_of_year = hourly_days_of_year(ledger.season)[ledger.first_day * HOURS_PER_DAY :]
    ground = colder_ground(ledger.season.site.ground, colder_by_k, 0.0)
    if place.kind is PlaceKind.SUNK:
        return 1.0, soil_c(air_c, day_of_year, ground, place.cover_m)
    return BOTTOM_SHARE, soil_c(air_c, day_of_year, ground, GROUND_DEPTH_M)


def _follow(ledger: Ledger, keys: list[PathKey], followed: Followed) -> FloatArray:
    """Root temperature of each path at the end of each hour, ``(hour, path)``."""
    out = np.full((followed.hourly_c.shape[0], len(keys)), np.nan)
    column = followed.column
    where = np.array(
        [[-1 if place is None else column[place] for place in stays] for _, stays in keys],
        dtype=np.intp,
    )
    classes = [litres for litres, _ in keys]
    constants = {litres: outer_root_time_constant_h(litres) for litres in set(classes)}
    tau_h = np.array([constants[litres] for litres in classes])
    fades = np.exp(-1.0 / tau_h)
    state = np.full(len(keys), np.nan)
    for spell in ledger.spells:
        span = ledger.hours(spell)
        places: IndexArray = where[:, spell.index]
        target = followed.hourly_c[span][:, places]
        at_once = followed.at_once[places]
        # exact for a straight line from the hour before: shares of the old state, the old and the
        # new end of the line
        keep = np.where(at_once, 0.0, fades)
        new = np.where(at_once, 1.0, 1.0 - tau_h * (1.0 - fades))
        old = 1.0 - keep - new
        before = followed.eve_c[spell.index, places]
        state = np.where(np.isnan(state), before, state)
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
