"""All winters that cost little at given prices, not only the cheapest."""

import numpy as np

from overwinter.domain.shelter import FloatArray
from overwinter.program.flow import IntArray
from overwinter.program.sweep import Sweep


def ways_within(sweep: Sweep, limit: FloatArray, most: int) -> list[tuple[int, IntArray]] | None:
    """Every winter that costs no more than its group's ``limit`` ``(group,)``.

    As (group, columns of the program), more than once where a stay stands for several settings.
    None if there are more than ``most``, beginnings that can still end within the limit counted as
    well.
    """
    sweep.look_ahead()
    flow = sweep.flow
    first = sweep.steps[0]
    node = np.arange(first.own_entry.size)
    group, cost = node.copy(), np.zeros(node.size)
    taken: list[tuple[IntArray, IntArray, IntArray]] = []
    """By spell: (beginning it follows, stay, column of the carry) of each beginning."""
    for spell in range(flow.spells):
        source, node, cost, stay, carry = _on(sweep, spell, node, cost, limit[group])
        group = group[source]
        if node.size > most:
            return None
        taken.append((source, stay, carry))
    return _read_back(sweep, group, taken)


def _on(
    sweep: Sweep, spell: int, node: IntArray, cost: FloatArray, limit: FloatArray
) -> tuple[IntArray, IntArray, FloatArray, IntArray, IntArray]:
    """Beginnings carried on by one spell: what each follows, its node, cost, stay and carry.

    ``node``, ``cost`` and ``limit`` ``(beginning,)``; -1 stands for no stay and no carry.
    """
    step, ahead, price = sweep.steps[spell], sweep.ahead[spell], sweep.price[spell]
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
    so_far = cost[source] + np.append(sweep.prices.column, 0.0)[carry]
    good = so_far + ahead.entry[entry] <= limit[source]
    good[staying.size :] &= step.own_entry[node[pooled[which]]] != come
    source, entry, carry, so_far = source[good], entry[good], carry[good], so_far[good]

    which, at = _runs(step.entry_start, entry)
    arc = step.by_entry[at]
    after = so_far[which] + price[arc]
    good = after + ahead.onward[step.node[arc]] <= limit[source[which]]
    which, arc, after = which[good], arc[good], after[good]
    nothing = np.full(waiting.size, -1)
    return (
        np.concatenate([waiting, source[which]]),
        np.concatenate([passed_at[node[waiting]], step.node[arc]]),
        np.concatenate([cost[waiting], after]),
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


def _read_back(
    sweep: Sweep, group: IntArray, taken: list[tuple[IntArray, IntArray, IntArray]]
) -> list[tuple[int, IntArray]]:
    stays = np.empty((group.size, len(taken)), dtype=np.int64)
    carried = np.empty_like(stays)
    at = np.arange(group.size)
    for spell in range(len(taken) - 1, -1, -1):
        source, stay, carry = taken[spell]
        stays[:, spell], carried[:, spell] = stay[at], carry[at]
        at = source[at]
    columns = np.where(stays >= 0, sweep.flow.stay_column[stays], -1)
    both = np.concatenate([columns, carried], axis=1)
    return [(g, row[row >= 0]) for g, row in zip(group.tolist(), both, strict=True)]
