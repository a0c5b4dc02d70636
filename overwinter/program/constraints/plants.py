"""What the trees need beyond a single spell: chilling, and hardening that a warm stay undoes."""

from collections.abc import Iterator
from math import floor

import numpy as np
import pulp

from overwinter.program.expression import weighted
from overwinter.program.model import Model

NEEDS = 20
"""Needed hardening is told apart in so many steps."""
A_LITTLE = 1e-6


def chilling(model: Model) -> Iterator[pulp.LpConstraint]:
    """A rest-needing tree earns over the winter the chilling it owes.

    sum over p, c, k of ch[g,p,c,k] y[g,p,c,k] >= need[g] (n[g] - out[g])        for all g that owe

    For a group of several trees this is their mean; a tree that falls short afterwards becomes a
    group of its own and the program is solved again.
    """
    by_group: dict[int, list[tuple[pulp.LpVariable, float]]] = {}
    for (group, _spell), stays in model.stays.items():
        by_group.setdefault(group, []).extend(
            (stay.variable, stay.chill) for stay in stays if stay.chill
        )
    for group, terms in by_group.items():
        found = model.data.groups[group]
        owed = found.tree.limits.chill_need - found.start.chill
        if owed > 0 and terms:
            out = model.left_out.get(group)
            needed = owed * found.count if out is None else owed * found.count - owed * out
            yield weighted(terms) >= needed


def cold_after_warm(model: Model) -> Iterator[pulp.LpConstraint]:
    """A tree that a warm stay has left too little hardened does not go out into the cold.

    sum over stays (k) that leave less than e + sum over stays (k+1) that need e or more <= n[g]
                                                        for all g, k and each needed hardening e
    """
    table = model.data.suitability
    for (group, spell), stays in model.stays.items():
        after = model.stays.get((group, spell + 1))
        if not after:
            continue
        leaves = [
            _exit_most(model, stay.group, stay.place_id, stay.settings, spell) for stay in stays
        ]
        needs = [_entry_least(model, s.group, s.place_id, s.settings, spell + 1) for s in after]
        for needed in sorted({need for need in needs if need > 0}):
            soft = [
                stay.variable for stay, left in zip(stays, leaves, strict=True) if left < needed
            ]
            cold = [
                stay.variable for stay, need in zip(after, needs, strict=True) if need >= needed
            ]
            if soft and cold:
                yield pulp.lpSum(soft) + pulp.lpSum(cold) <= table.groups[group].count


def _option_indices(model: Model, place_id: str, settings: tuple[int, ...]) -> list[int]:
    return [
        option.index
        for option in model.data.options_of_place[place_id]
        if option.setting in settings
    ]


def _exit_most(
    model: Model, group: int, place_id: str, settings: tuple[int, ...], spell: int
) -> float:
    indices = _option_indices(model, place_id, settings)
    return float(np.max(model.data.suitability.exit_most[group, indices, spell]))


def _entry_least(
    model: Model, group: int, place_id: str, settings: tuple[int, ...], spell: int
) -> float:
    """Rounded down, so that few rows stand for many needs that hardly differ."""
    indices = _option_indices(model, place_id, settings)
    least = float(np.min(model.data.suitability.entry_least[group, indices, spell]))
    return floor(least * NEEDS) / NEEDS + A_LITTLE if least > 0.0 else 0.0


def histories(model: Model) -> Iterator[pulp.LpConstraint]:
    """Winters that were found to leave a tree unhardened or unchilled are not tried again.

    sum over the stays of the history of y <= n[g] (stays - 1)        for each history found
    """
    for cut in model.data.cuts.together:
        trees = frozenset(cut.group_key)
        for group in model.data.groups:
            if not trees.issuperset(group.tree_ids):
                continue
            terms = [
                stay.variable
                for spell, options in cut.stays
                for stay in model.stays.get((group.index, spell), ())
                if options.issuperset(_option_indices(model, stay.place_id, stay.settings))
            ]
            if terms:
                yield pulp.lpSum(terms) <= group.count * (len(cut.stays) - 1)
