"""One shelter warmer, others colder: what settings rounded shelter by shelter cannot see.

Fixed one after the other, no shelter knows that, kept warmer, it would let two others do with less.
What such an exchange saves at most is read off where trees stand: steps down are possible as far as
the trees that have to leave for them fit into the shelter made warmer, and could not before.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from overwinter.planning.rounding import value
from overwinter.program.model import Model

Settings = Mapping[str, tuple[int, ...]]
"""By shelter: the setting in each spell."""

LEAVING = 0.5
"""Share of the trees leaving for a step down that must be newly suited where it is warmer."""


@dataclass(frozen=True)
class Exchange:
    """One shelter at least at a setting; those of ``colder`` may be chosen anew."""

    shelter_id: str
    setting: int
    by_spell: tuple[int, ...]
    """Setting of the shelter in each spell."""
    colder: tuple[str, ...]
    saved_money: float
    """More than that is hardly saved in heat."""


@dataclass(frozen=True)
class _Step:
    """A shelter at the next cheaper setting for a spell."""

    shelter_id: str
    saved_money: float
    leaving_m2: Mapping[int, float]
    """By group: footprints of the trees that have to leave."""


@dataclass(frozen=True)
class _Standing:
    """Where trees are, and could be."""

    footprints_m2: Mapping[tuple[str, int], list[tuple[int, float, tuple[int, ...]]]]
    """By shelter and spell: group, m2, and the settings that suit it there."""
    suited: Mapping[tuple[str, int, int], frozenset[int]]
    """By shelter, spell and setting: groups that it suits."""


def exchanges(model: Model, settings: Settings, least_money: float) -> list[Exchange]:
    """Exchanges that could save so much in heat or more, those that save most first.

    The program's variables hold a point at which ``settings`` are chosen. Trees may also stand
    cheaper afterwards, so that heat that costs a little more is worth a look.
    """
    standing = _standing(model)
    steps = _steps(model, settings, standing)
    room_m2: dict[str, float] = {}
    for place in model.data.season.places.values():
        full = model.weights.fullest_share * place.area_m2
        room_m2[place.shelter_id] = room_m2.get(place.shelter_id, 0.0) + full
    found = []
    for shelter_id, now in settings.items():
        money = model.data.heat_money[shelter_id]
        for setting in range(len(money)):
            then = _at_least(model, shelter_id, now, setting)
            saved, colder = 0.0, set()
            for spell, (old, new) in enumerate(zip(now, then, strict=True)):
                if old == new:
                    continue
                suited = standing.suited.get((shelter_id, spell, new), frozenset())
                suited -= standing.suited.get((shelter_id, spell, old), frozenset())
                others = [down for one, down in steps[spell].items() if one != shelter_id]
                saved -= float(money[new, spell] - money[old, spell])
                for one, share in _fitting(others, suited, room_m2[shelter_id]):
                    saved += share * one.saved_money
                    colder.add(one.shelter_id)
            if colder and saved > least_money:
                found.append(Exchange(shelter_id, setting, then, tuple(sorted(colder)), saved))
    return sorted(found, key=lambda one: (-one.saved_money, one.shelter_id, one.setting))


def _at_least(model: Model, shelter_id: str, now: tuple[int, ...], least: int) -> tuple[int, ...]:
    """Settings by spell, raised to ``least`` or the nearest to it that there is in the spell."""
    warmth = np.argsort(np.argsort(model.data.heat_money[shelter_id].sum(axis=1), kind="stable"))
    then = []
    for spell, setting in enumerate(now):
        there = sorted(model.settings[shelter_id, spell], key=lambda s: warmth[s])
        warm = [s for s in there if warmth[s] >= warmth[least]]
        then.append(max(warm[0] if warm else there[-1], setting, key=lambda s: warmth[s]))
    return tuple(then)


def _standing(model: Model) -> _Standing:
    footprints: dict[tuple[str, int], list[tuple[int, float, tuple[int, ...]]]] = {}
    suited: dict[tuple[str, int, int], set[int]] = {}
    shelter_of = {place.id: place.shelter_id for place in model.data.season.places.values()}
    for (group, spell), stays in model.stays.items():
        footprint_m2 = model.data.groups[group].tree.footprint_m2
        for stay in stays:
            shelter_id = shelter_of[stay.place_id]
            for setting in stay.settings:
                suited.setdefault((shelter_id, spell, setting), set()).add(group)
            if (trees := value(stay.variable)) > 0.0:
                one = (group, trees * footprint_m2, stay.settings)
                footprints.setdefault((shelter_id, spell), []).append(one)
    return _Standing(footprints, {key: frozenset(groups) for key, groups in suited.items()})


def _steps(model: Model, settings: Settings, standing: _Standing) -> list[dict[str, list[_Step]]]:
    """By spell and shelter: the steps down from its setting, in order."""
    found: list[dict[str, list[_Step]]] = [{} for _ in model.data.spells]
    for shelter_id, now in settings.items():
        for spell, setting in enumerate(now):
            money = model.data.heat_money[shelter_id][:, spell]
            lower = [s for s in model.settings[shelter_id, spell] if money[s] < money[setting]]
            down = [setting, *sorted(lower, key=lambda s: -money[s])]
            trees = standing.footprints_m2.get((shelter_id, spell), [])
            for warmer, colder in pairwise(down):
                leaving: dict[int, float] = {}
                for group, m2, suiting in trees:
                    if colder not in suiting and warmer in suiting:
                        leaving[group] = leaving.get(group, 0.0) + m2
                saved = float(money[warmer] - money[colder])
                step = _Step(shelter_id, saved, leaving)
                found[spell].setdefault(shelter_id, []).append(step)
    return found


def _fitting(
    ways_down: list[list[_Step]], suited: frozenset[int], room_m2: float
) -> list[tuple[_Step, float]]:
    """How much of each step there is room for, share above 0; the worthiest first."""
    open_ = []
    for steps in ways_down:
        for step in steps:
            leaving_m2 = sum(step.leaving_m2.values())
            newly_m2 = sum(m2 for group, m2 in step.leaving_m2.items() if group in suited)
            if newly_m2 < LEAVING * leaving_m2:
                break
            if newly_m2 > 0.0:
                open_.append((step.saved_money / leaving_m2, leaving_m2, step))
    found = []
    for _worth, leaving_m2, step in sorted(open_, key=lambda one: -one[0]):
        if room_m2 <= 0.0:
            break
        found.append((step, min(1.0, room_m2 / leaving_m2)))
        room_m2 -= leaving_m2
    return found
