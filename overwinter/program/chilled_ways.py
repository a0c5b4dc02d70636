"""The cheapest winter that earns a tree the chilling it owes (a shortest path with a resource).

With a price on chilling that lies near what the need costs, few beginnings of winters are left that
could both end cheaply and earn enough; of those that come to the same state, only those matter that
no other one beats in both.
"""

from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.program.beginnings import Beginnings, beginnings, carried_on, whole_ways
from overwinter.program.flow import IntArray
from overwinter.program.sweep import Sweep, least_of_runs

SAME = 1e-9
"""Chilling by which one beginning must earn more than another to count as more."""


@dataclass(frozen=True)
class Chilling:
    """What stays earn and trees owe, in units of the tree's chilling model."""

    earned: FloatArray
    """``(stay + 1,)``, 0 in the end for no stay."""
    owed: FloatArray
    """``(group,)``."""
    price: FloatArray
    """``(group,)``: what a sweep's prices take off for a unit of chilling earned, money."""


def cheapest_chilled(
    sweep: Sweep, groups: IntArray, chilling: Chilling, limit: FloatArray, most: int
) -> tuple[list[tuple[int, IntArray]], FloatArray] | None:
    """The cheapest winter of each of these groups that earns it what it owes.

    As (group, columns of the program), and the cost ``(group,)`` of each without what chilling
    takes off, infinite where every one costs more than ``limit`` ``(group,)``. None if there are
    more than ``most`` beginnings.
    """
    sweep.look_ahead()
    ahead = _most_ahead(sweep, chilling.earned)
    at_prices = limit - chilling.price * chilling.owed
    now, got = beginnings(groups), np.zeros(groups.size)
    cost = got
    by_spell: list[Beginnings] = []
    for spell in range(sweep.flow.spells):
        now = carried_on(sweep, spell, now, at_prices)
        got = got[now.source] + chilling.earned[now.stay]
        cost = now.cost + chilling.price[now.group] * got
        owed = chilling.owed[now.group]
        some = np.flatnonzero(got + ahead[spell][now.node] >= owed)
        some = some[_unbeaten(now.node[some], cost[some], np.minimum(got, owed)[some])]
        now, got, cost = now.only(some), got[some], cost[some]
        if some.size > most:
            return None
        by_spell.append(now)
    # a winter that earns more than is owed may have passed the limit unseen
    order = np.lexsort((cost, now.group))
    order = order[cost[order] <= limit[now.group[order]]]
    found, at = np.unique(now.group[order], return_index=True)
    least = np.full(sweep.flow.groups, np.inf)
    least[found] = cost[order[at]]
    return whole_ways(sweep, by_spell, order[at]), least


def _unbeaten(node: IntArray, cost: FloatArray, got: FloatArray) -> IntArray:
    """Of beginnings at the same node: those that no other one beats in both, cost and chilling."""
    order = np.lexsort((-got, cost, node))
    node, got = node[order], got[order]
    first = np.append(True, node[1:] != node[:-1])[: node.size]
    # the most earned so far within each node: runs are lifted above each other
    lifted = got + np.cumsum(first) * (got.max(initial=0.0) + 1.0)
    most = np.maximum.accumulate(lifted)
    good = first.copy()
    good[1:] |= lifted[1:] > most[:-1] + SAME
    return np.sort(order[good])


def _most_ahead(sweep: Sweep, earned: FloatArray) -> list[FloatArray]:
    """By spell: the most that can be earned from each node after it, ``(node,)``."""
    onward = np.zeros(sweep.steps[-1].after.group.size)
    found: list[FloatArray] = []
    for step, price in zip(reversed(sweep.steps), reversed(sweep.price), strict=True):
        found.append(onward)
        arc = np.where(np.isfinite(price), earned[step.stay] + onward[step.node], -np.inf)
        entry = np.append(-least_of_runs(-arc[step.by_entry], step.entry_start), -np.inf)
        pool = np.append(-least_of_runs(-entry[step.carried], step.carried_start), -np.inf)
        before = np.maximum(entry[step.own_entry], pool[step.of_pool])
        before[step.passed] = onward[: step.passed.size]
        onward = before
    found.reverse()
    return found
