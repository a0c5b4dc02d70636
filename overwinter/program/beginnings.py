"""Beginnings of winters, carried on spell by spell as long as they may still end cheaply."""

from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.program.flow import IntArray
from overwinter.program.sweep import Sweep


@dataclass(frozen=True)
class Beginnings:
    """Beginnings of winters up to one spell; arrays ``(beginning,)``."""

    group: IntArray
    node: IntArray
    """Of ``Step.after`` of that spell."""
    cost: FloatArray
    source: IntArray
    """The beginning up to the spell before that it follows."""
    stay: IntArray
    """In that spell; -1 for none."""
    carry: IntArray
    """Column of the carry on its first day; -1 for none."""

    def only(self, some: IntArray) -> "Beginnings":
        """These of them."""
        return Beginnings(
            self.group[some],
            self.node[some],
            self.cost[some],
            self.source[some],
            self.stay[some],
            self.carry[some],
        )


def beginnings(groups: IntArray) -> Beginnings:
    """Nothing yet, of these groups."""
    # before the first spell each group has one state
    nothing = np.full(groups.size, -1, dtype=np.int64)
    return Beginnings(
        groups, groups.copy(), np.zeros(groups.size), nothing, nothing.copy(), nothing.copy()
    )


def carried_on(sweep: Sweep, spell: int, so_far: Beginnings, limit: FloatArray) -> Beginnings:
    """Beginnings carried on by one spell, those left out that cannot end within ``limit``.

    ``limit`` ``(group,)``, at the prices of ``sweep``, which has looked ahead.
    """
    step, ahead, price = sweep.steps[spell], sweep.ahead[spell], sweep.price[spell]
    node, cost, most = so_far.node, so_far.cost, limit[so_far.group]
    passed_at = np.full(step.own_entry.size, -1, dtype=np.int64)
    passed_at[step.passed] = np.arange(step.passed.size)
    waiting = np.flatnonzero(passed_at[node] >= 0)

    # who stays where it is, and who is carried to another place
    staying = np.flatnonzero(step.own_entry[node] >= 0)
    pooled = np.flatnonzero(step.of_pool[node] >= 0)
    which, at = _runs(step.carried_start, step.of_pool[node[pooled]])
    come = step.carried[at]
    source = np.concatenate([staying, pooled[which]])
    entry = np.concatenate([step.own_entry[node[staying]], come])
    carry = np.concatenate([np.full(staying.size, -1), step.carry[come]])
    paid = cost[source] + np.append(sweep.prices.column, 0.0)[carry]
    good = paid + ahead.entry[entry] <= most[source]
    good[staying.size :] &= step.own_entry[node[pooled[which]]] != come
    source, entry, carry, paid = source[good], entry[good], carry[good], paid[good]

    which, at = _runs(step.entry_start, entry)
    arc = step.by_entry[at]
    after = paid[which] + price[arc]
    good = after + ahead.onward[step.node[arc]] <= most[source[which]]
    which, arc, after = which[good], arc[good], after[good]
    nothing = np.full(waiting.size, -1)
    follows = np.concatenate([waiting, source[which]])
    return Beginnings(
        so_far.group[follows],
        np.concatenate([passed_at[node[waiting]], step.node[arc]]),
        np.concatenate([cost[waiting], after]),
        follows,
        np.concatenate([nothing, step.stay[arc]]),
        np.concatenate([nothing, carry[which]]),
    )


def _runs(bounds: IntArray, runs: IntArray) -> tuple[IntArray, IntArray]:
    """Members of these runs: which of ``runs`` each is of, and where it is."""
    sizes = bounds[runs + 1] - bounds[runs]
    which = np.repeat(np.arange(runs.size), sizes)
    at = np.arange(which.size) - np.repeat(np.cumsum(sizes) - sizes, sizes)
    found: IntArray = at + bounds[runs][which]
    return which, found


def whole_ways(
    sweep: Sweep, by_spell: list[Beginnings], some: IntArray
) -> list[tuple[int, IntArray]]:
    """Winters, as (group, columns of the program), of some that came to the end."""
    stays = np.empty((some.size, len(by_spell)), dtype=np.int64)
    carried = np.empty_like(stays)
    at = some
    for spell in range(len(by_spell) - 1, -1, -1):
        there = by_spell[spell]
        stays[:, spell], carried[:, spell] = there.stay[at], there.carry[at]
        at = there.source[at]
    columns = np.where(stays >= 0, sweep.flow.stay_column[stays], -1)
    both = np.concatenate([columns, carried], axis=1)
    group = by_spell[-1].group[some]
    return [(g, row[row >= 0]) for g, row in zip(group.tolist(), both, strict=True)]
