"""Lays changed facts over a season. The inputs stay as they are."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from overwinter.model.changes import Changes, Mark
from overwinter.model.season import Season
from overwinter.model.shelter import Shelter
from overwinter.model.tree import Tree


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
        What was really carried before ``first``, the first day that is still free: a tree that was
        due before ``first`` and did not come joins then.
    """
    came: dict[str, date] = {}
    for mark in marks:
        if first is not None and mark.day < first:
            came[mark.tree_id] = min(came.get(mark.tree_id, mark.day), mark.day)
    trees = [
        replace(
            _joined(tree, came.get(tree.id), first),
            leaves_down=changes.leaves_down.get(tree.id),
        )
        for tree in season.trees
    ]
    weights = season.site.weights
    if changes.most_chance is not None:
        weights = replace(weights, most_chance=max(weights.most_chance, changes.most_chance))
    return replace(
        season,
        site=replace(season.site, weights=weights),
        trees=tuple(tree for tree in trees if tree.id not in changes.gone),
        shelters=tuple(_changed_shelter(shelter, changes) for shelter in season.shelters),
    )


def _joined(tree: Tree, came: date | None, first: date | None) -> Tree:
    if tree.joins is None or first is None:
        return tree
    if came is not None:
        return replace(tree, joins=min(tree.joins, came))
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
