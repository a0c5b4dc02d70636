"""Lays changed facts over a season. The inputs stay as they are."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from overwinter.model.changes import Changes, Colder, Mark
from overwinter.model.conditions import Conditions, PlaceConditions, RootZone, ShelterConditions
from overwinter.model.season import Season, Weather
from overwinter.model.shelter import Shelter
from overwinter.model.tree import Tree
from overwinter.units import HOURS_PER_DAY


def changed_season(
    season: Season, changes: Changes, marks: Sequence[Mark] = (), first: date | None = None
) -> Season:
    """The season as it really is by what is known now.

    Parameters
    ----------
    season
        As in the inputs.
    changes
        Facts of shelters, trees or heaters that are no longer in the season are passed over.
    marks, first
        What was really carried before ``first``, the first day that is still free: a tree joins on
        the day it was marked, and one that was due before ``first`` and did not come joins then.
    """
    came = _first_marked(marks, first)
    trees = [
        _joined(tree, came.get(tree.id), first)
        for tree in season.trees
        if tree.id not in changes.gone
    ]
    site = season.site
    if changes.carry_days is not None:
        site = replace(site, carry_days_max=changes.carry_days)
    return replace(
        season,
        site=site,
        weather=_colder(season, changes.colder),
        trees=tuple(trees),
        shelters=tuple(_changed_shelter(shelter, changes) for shelter in season.shelters),
    )


def _first_marked(marks: Sequence[Mark], first: date | None) -> dict[str, date]:
    came: dict[str, date] = {}
    for mark in marks:
        if first is not None and mark.day < first:
            came[mark.tree_id] = min(came.get(mark.tree_id, mark.day), mark.day)
    return came


def _joined(tree: Tree, came: date | None, first: date | None) -> Tree:
    if tree.joins is None or first is None:
        return tree
    if came is not None:
        return replace(tree, joins=came)
    return replace(tree, joins=max(tree.joins, first))


def _changed_shelter(shelter: Shelter, changes: Changes) -> Shelter:
    heaters = tuple(
        replace(heater, broken_from=changes.broken[shelter.id, heater.name])
        if (shelter.id, heater.name) in changes.broken
        else heater
        for heater in shelter.heaters
    )
    return replace(
        shelter,
        opens=changes.opens.get(shelter.id, shelter.opens),
        closes=changes.closes.get(shelter.id, shelter.closes),
        heaters=heaters,
    )


def _colder(season: Season, colder: tuple[Colder, ...]) -> Weather:
    """The weather shifted from each day named to the next one named."""
    if not colder:
        return season.weather
    shift = np.zeros(season.hours)
    told = []
    for one in sorted(colder, key=lambda fact: fact.since):
        shift[max(season.day_index(one.since), 0) * HOURS_PER_DAY :] = one.by_k
        told.append(f"{one.by_k:+g} K colder from {one.since.isoformat()}")
    weather = season.weather
    origin = f"{weather.origin} Taken as {', '.join(told)}."
    return replace(weather, air_c=weather.air_c - shift, origin=origin)


def working_heaters(season: Season, conditions: Conditions, first: date) -> Conditions:
    """Conditions without the settings that rely on a heater that is broken on ``first``."""
    shelters, places = dict(conditions.shelters), dict(conditions.places)
    for shelter in season.shelters:
        broken = broken_heaters(shelter, first)
        found = conditions.shelters[shelter.id]
        kept = [n for n, s in enumerate(found.settings) if not broken & set(s.heaters)]
        if len(kept) == len(found.settings):
            continue
        shelters[shelter.id] = _some_settings(found, kept)
        for place in shelter.places:
            places[place.id] = _some_settings_at(conditions.places[place.id], kept)
    return replace(conditions, shelters=shelters, places=places)


def broken_heaters(shelter: Shelter, day: date) -> frozenset[str]:
    """Names of the heaters that do not heat on ``day``."""
    return frozenset(
        heater.name
        for heater in shelter.heaters
        if heater.broken_from is not None and heater.broken_from <= day
    )


def _some_settings(found: ShelterConditions, kept: list[int]) -> ShelterConditions:
    return ShelterConditions(
        shelter_id=found.shelter_id,
        settings=tuple(found.settings[n] for n in kept),
        air_c=found.air_c[kept],
        cold_air_c=found.cold_air_c[kept],
        heat_w=found.heat_w[kept],
        purchased_kwh=found.purchased_kwh[kept],
        money=found.money[kept],
        holds_at_design=tuple(found.holds_at_design[n] for n in kept),
        design_shortfall_w=tuple(found.design_shortfall_w[n] for n in kept),
    )


def _some_settings_at(found: PlaceConditions, kept: list[int]) -> PlaceConditions:
    return PlaceConditions(
        place_id=found.place_id,
        dli_mol_m2_d=found.dli_mol_m2_d,
        air_min_c=found.air_min_c[kept],
        air_mean_c=found.air_mean_c[kept],
        cold_air_min_c=found.cold_air_min_c[kept],
        chill_hours=found.chill_hours[kept],
        utah_units=found.utah_units[kept],
        root={
            pot: RootZone(zone.min_c[kept], zone.mean_c[kept], zone.cold_min_c[kept])
            for pot, zone in found.root.items()
        },
    )


def unheated_key(conditions: ShelterConditions, key: str, broken: frozenset[str]) -> str:
    """What is left of a setting when some of its heaters are broken."""
    by_key = {setting.key: setting for setting in conditions.settings}
    setting = by_key.get(key)
    if setting is None or not broken & set(setting.heaters):
        return key
    left = tuple(name for name in setting.heaters if name not in broken)
    parts = key.split(" + ")
    kept = [part for part, name in zip(parts, setting.heaters, strict=False) if name in left]
    return " + ".join(kept) if kept and " + ".join(kept) in by_key else "off"
