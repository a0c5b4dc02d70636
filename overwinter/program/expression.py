"""Sums of priced variables.

PuLP makes an expression of its own for every product; of a list of pairs it makes one.
"""

from collections.abc import Iterable

import pulp


def weighted(terms: Iterable[tuple[pulp.LpVariable, float]]) -> pulp.LpAffineExpression:
    """Sum of coefficient times variable; a variable may come more than once."""
    total: dict[pulp.LpVariable, float] = {}
    for variable, coefficient in terms:
        total[variable] = total.get(variable, 0.0) + coefficient
    return pulp.LpAffineExpression(total)
