"""From the solved program to single trees: who is where, and which setting each shelter has."""

from collections.abc import Mapping
from dataclasses import dataclass

from overwinter.program.model import Model

WHOLE = 1e-5
"""How far from a whole number an integer variable may come back."""


class NotWhole(Exception):
    """The solver returned a fraction for an integer variable."""


@dataclass(frozen=True)
class Placement:
    """The solution in terms of trees, for the spells of the program."""

    settings: Mapping[str, tuple[int, ...]]
    """By shelter: setting index in each spell."""
    stays: Mapping[str, tuple[str | None, ...]]
    """By tree: place in each spell; None before it joins."""
    left_out: frozenset[str]


def whole(value: float | None) -> int:
    """The whole number a solver meant.

    Raises
    ------
    NotWhole
        If ``value`` is missing or further than ``WHOLE`` from a whole number.
    """
    if value is None or abs(value - round(value)) > WHOLE:
        raise NotWhole(f"an integer variable has the value {value}")
    return round(value)


def read_back(model: Model) -> Placement:
    """The placement of every tree, from the variables' values.

    Trees of a group stay put where they can; otherwise the first of the list moves first, so that
    equal solutions give equal plans.
    """
    spells = len(model.data.spells)
    settings: dict[str, list[int]] = {}
    for (shelter, _spell), found in model.settings.items():
        chosen = [s for s, v in found.items() if v is None or whole(v.varValue) == 1]
        settings.setdefault(shelter, []).append(chosen[0])
    stays: dict[str, tuple[str | None, ...]] = {}
    out: set[str] = set()
    for group in model.data.groups:
        left = model.left_out.get(group.index)
        missing = whole(left.varValue) if left is not None else 0
        out.update(group.tree_ids[group.count - missing :])
        ids = group.tree_ids[: group.count - missing]
        counts = [_counts(model, group.index, spell) for spell in range(spells)]
        for tree_id, path in zip(ids, _paths(group.start.place, counts, len(ids)), strict=True):
            stays[tree_id] = path
    return Placement(
        settings={shelter: tuple(found) for shelter, found in settings.items()},
        stays=stays,
        left_out=frozenset(out),
    )


def _counts(model: Model, group: int, spell: int) -> dict[str, int]:
    counts: dict[str, int] = {}
    for stay in model.stays.get((group, spell), ()):
        number = whole(stay.variable.varValue)
        if number:
            counts[stay.place_id] = counts.get(stay.place_id, 0) + number
    return counts


def _paths(
    start: str | None, counts: list[dict[str, int]], trees: int
) -> list[tuple[str | None, ...]]:
    where: list[str | None] = [start] * trees
    paths: list[list[str | None]] = [[] for _ in range(trees)]
    for spell_counts in counts:
        if not spell_counts:
            for path in paths:
                path.append(None)
            continue
        room = dict(spell_counts)
        moving = []
        for tree, place in enumerate(where):
            if place is not None and room.get(place, 0) > 0:
                room[place] -= 1
            else:
                moving.append(tree)
        targets = [place for place, number in room.items() for _ in range(number)]
        for tree, place in zip(moving, targets, strict=True):
            where[tree] = place
        for path, place in zip(paths, where, strict=True):
            path.append(place)
    return [tuple(path) for path in paths]
