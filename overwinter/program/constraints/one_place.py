"""Every tree is in one place at a time."""

from collections.abc import Iterator

import pulp

from overwinter.program.model import Model


def one_place(model: Model) -> Iterator[pulp.LpConstraint]:
    """Each tree that has joined is in exactly one place.

    sum over p, c of y[g,p,c,k] (+ out[g]) = n[g]        for all g, k with g present
    """
    for (group, _spell), stays in model.stays.items():
        terms = [stay.variable for stay in stays]
        if group in model.left_out:
            terms.append(model.left_out[group])
        yield pulp.lpSum(terms) == model.data.groups[group].count


def stays_together(model: Model) -> Iterator[pulp.LpConstraint]:
    """Groups that were parted from their like stay together.

    y[g,p,c,k] = n[g] b[g,p,c,k], b 0 or 1        for these g, all p, c, k
    """
    for (group, _spell), stays in model.stays.items():
        found = model.data.groups[group]
        if found.together:
            for stay in stays:
                yield stay.variable == found.count * model.variable(0, 1, integer=True)
