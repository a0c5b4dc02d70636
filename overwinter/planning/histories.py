"""Follows each tree's true winter through a placement: is it hardened and chilled enough?

The program knows hardening only from above; a history that it let through and that leaves a tree
too tender becomes a cut.
"""

from collections.abc import Sequence

import numpy as np

from overwinter.model.conditions import RootZone
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray
from overwinter.plants.hardiness import margin_k
from overwinter.program.data import ProgramData, TogetherCut
from overwinter.program.read_back import Placement
from overwinter.shelters.root_zone import pot_class
from overwinter.spells import day_slice
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import Group
from overwinter.suitability.physiology import tail_chance

TOLERANCE_K = 1e-6
LOT = 7
"""From so many trees alike they are taken apart as a lot, not one by one."""


def option_path(data: ProgramData, placement: Placement, tree_id: str) -> list[int | None]:
    """Option index of a tree in each spell; None before it joins."""
    index = data.suitability.option_at
    path: list[int | None] = []
    for spell, place in enumerate(placement.stays[tree_id]):
        if place is None:
            path.append(None)
        else:
            shelter = data.season.places[place].shelter_id
            path.append(index[place, placement.settings[shelter][spell]])
    return path


def unhardened_histories(
    data: ProgramData, workshop: Workshop, placement: Placement
) -> list[TogetherCut]:
    """A cut for each kind of history that leaves a tree too tender for where it stands."""
    cuts: dict[object, TogetherCut] = {}
    for group in data.groups:
        checked: set[tuple[int | None, ...]] = set()
        for tree_id in group.tree_ids:
            if tree_id not in placement.stays:
                continue
            path = option_path(data, placement, tree_id)
            if tuple(path) in checked:
                continue
            checked.add(tuple(path))
            cut = _first_break(data, workshop, group, path)
            if cut is not None:
                cuts[cut] = cut
    return list(cuts.values())


def true_risk(data: ProgramData, workshop: Workshop, placement: Placement) -> float:
    """Expected losses in the cold tail with the hardening each tree truly has, money.

    Never less than the program's, which knows hardening only from above.
    """
    total = 0.0
    for group in data.groups:
        known: dict[tuple[int | None, ...], float] = {}
        for tree_id in group.tree_ids:
            if tree_id not in placement.stays:
                continue
            path = tuple(option_path(data, placement, tree_id))
            if path not in known:
                known[path] = _chance_of_loss(data.season, workshop, group, path)
            total += group.tree.value * known[path]
    return total


def _chance_of_loss(
    season: Season, workshop: Workshop, group: Group, path: Sequence[int | None]
) -> float:
    """Sum over spells of the chance that a winter colder than the weather used kills the tree."""
    state, chance = group.start.hardening, 0.0
    root = workshop.stacked.root[pot_class(group.tree.pot_litres)]
    for spell, option in enumerate(path):
        if option is None:
            continue
        days = day_slice(season, workshop.spells[spell])
        margin, after = workshop.margins(group.tree, option, spell, state)
        here = RootZone(root.min_c[[option]], root.mean_c[[option]], root.cold_min_c[[option]])
        found = tail_chance(season.site, workshop.conditions, here, margin[None, :], days)
        chance += float(found[0])
        state = after
    return chance


def _first_break(
    data: ProgramData, workshop: Workshop, group: Group, path: list[int | None]
) -> TogetherCut | None:
    state = group.start.hardening
    for spell, option in enumerate(path):
        if option is None:
            continue
        margin, after = _through(data.season, workshop, group, option, spell, state)
        if margin < -TOLERANCE_K:
            return _cut(data, workshop, group, path, spell, state)
        state = after
    return None


def _through(
    season: Season, workshop: Workshop, group: Group, option: int, spell: int, state: float
) -> tuple[float, float]:
    """Least distance to the working floor in a spell (K), and the hardening after it."""
    margin, after = workshop.margins(group.tree, option, spell, state)
    return float(margin.min()) - margin_k(season.site.margins, group.tree.condition), after


def _cut(
    data: ProgramData,
    workshop: Workshop,
    group: Group,
    path: list[int | None],
    last: int,
    state: float,
) -> TogetherCut:
    """The shortest end of the history that breaks whatever came before it, made wider.

    Stays before ``last`` stand for all options at least as warm; the last one for all options that
    need more hardening than the history leaves.
    """
    first = last
    entry = state
    most = workshop.physiology_of(group).hardening_most
    while first > 0 and path[first - 1] is not None:
        begin = day_slice(data.season, workshop.spells[first]).start
        reached = float(most[begin])
        for spell in range(first, last):
            option = path[spell]
            assert option is not None
            reached = _through(data.season, workshop, group, option, spell, reached)[1]
        option = path[last]
        assert option is not None
        if _through(data.season, workshop, group, option, last, reached)[0] < -TOLERANCE_K:
            entry = reached
            break
        first -= 1
    table = data.suitability
    final = path[last]
    assert final is not None
    colder = np.flatnonzero(table.entry_least[group.index, :, last] > entry)
    stays = [
        (spell, _at_least_as_warm(data.season, workshop, group, path[spell], spell))
        for spell in range(first, last)
    ]
    stays.append((last, frozenset({int(o) for o in colder} | {final})))
    return TogetherCut(group.tree_ids, tuple(stays))


def _at_least_as_warm(
    season: Season, workshop: Workshop, group: Group, option: int | None, spell: int
) -> frozenset[int]:
    assert option is not None
    root = workshop.stacked.root[pot_class(group.tree.pot_litres)]
    mean: FloatArray = root.mean_c[:, day_slice(season, workshop.spells[spell])]
    warmer = (mean >= mean[option] - 1e-12).all(axis=1)
    return frozenset(int(o) for o in np.flatnonzero(warmer))


def parts_of(group: Group, trees: Sequence[str]) -> list[frozenset[str]]:
    """How a group is taken apart for the sake of some of its trees.

    A few alike become groups of their own, each for itself. Of a lot, only those named part from
    the others, and stay together: as many single trees that do not differ would take a solver
    ages to tell apart.
    """
    if group.count < LOT:
        return [frozenset({tree_id}) for tree_id in group.tree_ids]
    return [frozenset(trees)]


def short_of_chill(data: ProgramData, placement: Placement) -> list[frozenset[str]]:
    """Parts of groups whose members do not all earn the chilling they owe."""
    parts: list[frozenset[str]] = []
    for group in data.groups:
        short: list[str] = []
        owed = group.tree.limits.chill_need - group.start.chill
        if owed <= 0:
            continue
        for tree_id in group.tree_ids:
            if tree_id not in placement.stays:
                continue
            path = option_path(data, placement, tree_id)
            earned = sum(
                float(data.suitability.chill[group.index, option, spell])
                for spell, option in enumerate(path)
                if option is not None
            )
            if earned < owed - 1e-6:
                short.append(tree_id)
        if short:
            parts += parts_of(group, short)
    return parts
