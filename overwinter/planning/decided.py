"""What is decided before places are sought, and the program with only the rest to decide."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from overwinter.program.data import ProgramData
from overwinter.program.model import Model
from overwinter.program.objective import left_out_price
from overwinter.program.read_back import Placement


class Freedom(IntEnum):
    """What the program may still decide."""

    NEAR = 0
    """Among the places that come into question."""
    PLACES = 1
    SETTINGS = 2
    """Everything."""


@dataclass(frozen=True)
class Decided:
    """What the places are sought within; trees alike may be divided in any shares."""

    settings: Mapping[str, tuple[int, ...]]
    """By shelter: setting in each spell."""
    chosen: Mapping[str, tuple[frozenset[str], ...]]
    """By tree and spell: places that come into question; no tree that is left out."""
    left_out_money: float
    """What the objective counts for trees left out, whole trees."""
    money: float = 0.0
    """The objective at this point, prices of trees left out included."""


def penalty(model: Model, left_out: frozenset[str]) -> float:
    """What the objective counts for trees left out."""
    return sum(
        left_out_price(model, group.index) * len(left_out.intersection(group.tree_ids))
        for group in model.data.groups
    )


def restricted(
    data: ProgramData, decided: Decided, freedom: Freedom, loose: frozenset[str]
) -> ProgramData:
    """The program's input with the decisions kept, as far as ``freedom`` says.

    Trees in ``loose`` may be at any place.
    """
    if freedom is Freedom.SETTINGS:
        return data
    allowed = {}
    for shelter, chosen in decided.settings.items():
        mask = np.zeros_like(data.setting_allowed[shelter])
        mask[list(chosen), np.arange(len(chosen))] = True
        allowed[shelter] = mask & data.setting_allowed[shelter]
    kept = replace(data, setting_allowed=allowed)
    return kept if freedom is Freedom.PLACES else _within_places(kept, decided, loose)


def _within_places(data: ProgramData, decided: Decided, loose: frozenset[str]) -> ProgramData:
    table = data.suitability
    where = np.array([option.place_id for option in table.options])
    inside = np.ones_like(table.allowed)
    masks: dict[frozenset[str], NDArray[np.bool_]] = {}
    for group in data.groups:
        paths = {decided.chosen.get(tree_id) for tree_id in group.tree_ids}
        if None in paths or not loose.isdisjoint(group.tree_ids):
            continue
        for spell in range(len(data.spells)):
            places = frozenset().union(*(path[spell] for path in paths if path is not None))
            if places not in masks:
                masks[places] = np.isin(where, sorted(places))
            inside[group.index, :, spell] = masks[places]
    return replace(data, suitability=replace(table, allowed=table.allowed & inside))


@dataclass(frozen=True)
class Held:
    """A placement to keep, but for trees that are in a loose shelter or loose themselves."""

    placement: Placement
    loose_shelters: frozenset[str] = frozenset()
    loose_trees: frozenset[str] = frozenset()


def held(data: ProgramData, to_keep: Held) -> ProgramData:
    """Hold every other tree where the placement has it.

    After a bench turned out too full, only its own shelter need be arranged anew.
    """
    table = data.suitability
    where = np.array([option.place_id for option in table.options])
    shelter_of = {place.id: place.shelter_id for place in data.season.places.values()}
    inside = np.ones_like(table.allowed)
    for group in data.groups:
        paths = [to_keep.placement.stays.get(tree_id) for tree_id in group.tree_ids]
        if None in paths or not to_keep.loose_trees.isdisjoint(group.tree_ids):
            continue
        for spell in range(len(data.spells)):
            chosen = {path[spell] or "" for path in paths if path is not None}
            if all(shelter_of.get(place) not in to_keep.loose_shelters for place in chosen):
                inside[group.index, :, spell] = np.isin(where, sorted(chosen))
    return replace(data, suitability=replace(table, allowed=table.allowed & inside))
