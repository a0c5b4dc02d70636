"""A new purchase is kept apart."""

from collections.abc import Iterator

import pulp

from overwinter.program.model import Model


def quarantine_unit(model: Model, place_id: str) -> str:
    """What is shared air: the whole of a closed shelter, outdoors the single place."""
    place = model.data.season.places[place_id]
    shelter = model.data.season.shelter_by_id[place.shelter_id]
    return place.id if shelter.open_air else shelter.id


def in_quarantine(model: Model, group: int, spell: int) -> bool:
    """Whether the trees of a group are still in quarantine when a spell begins."""
    until = model.data.groups[group].tree.quarantine_until
    return until is not None and model.data.spells[spell].start < until


def add_quarantine(model: Model) -> None:
    """One binary for each closed shelter or open-air place that a tree in quarantine may use."""
    for (group, spell), stays in model.stays.items():
        if in_quarantine(model, group, spell):
            for stay in stays:
                unit = quarantine_unit(model, stay.place_id)
                if (unit, spell) not in model.quarantine:
                    model.quarantine[unit, spell] = model.variable(0, 1, integer=True)


def kept_apart(model: Model) -> Iterator[pulp.LpConstraint]:
    """Trees in quarantine share no closed shelter, and outdoors no place, with other trees.

    sum of y over trees in quarantine <= n q[u,k];  y[g,p,c,k] <= n[g] (1 - q[u,k]) for the others
    """
    for (group, spell), stays in model.stays.items():
        apart = in_quarantine(model, group, spell)
        by_unit: dict[str, list[pulp.LpVariable]] = {}
        for stay in stays:
            by_unit.setdefault(quarantine_unit(model, stay.place_id), []).append(stay.variable)
        count = model.data.groups[group].count
        for unit, variables in by_unit.items():
            used = model.quarantine.get((unit, spell))
            if used is None:
                continue
            if apart:
                yield pulp.lpSum(variables) <= count * used
            else:
                yield pulp.lpSum(variables) <= count - count * used
