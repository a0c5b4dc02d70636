"""The last word on a placement: single trees on other ways, by what their true paths cost.

The program prices a stage for a tree that comes to it as it would from its summer stand; on the way
that a tree really takes, a stop may turn out to be for nothing.
"""

from collections.abc import Callable, Iterator

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.model.stage import IntArray
from overwinter.search.fitting import Fitting
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.reckoning import path_costs

WAYS = 16
"""Ways of a tree that are followed: those that cost least by the table. With 8 half of the gain."""
DEARER = 15.0
"""Carries by which a way may be dearer by the table than the tree's own is truly. With all ways the
same gain in twice the time; with 5 or none, the third or none of it."""
ROUNDS = 4
"""How often all trees are gone through, as each time one stay of a way changes, or one sign."""
LEAST = 0.25
"""Carries that a way must gain. With a thousandth of one, three times as many trees are put anew
for a tenth more of the gain."""


def improve(placement: Placement, fitting: Fitting | None, left_s: Callable[[], float]) -> bool:
    """Put trees on ways with another stay or sign, where these cost less on their true paths. No
    tree is carried more often for it. Returns whether any has changed its way."""
    changed = False
    learned, whole = placement.room, placement.area_room
    # what is drawn to scale may fit where a like set did not; most does not, so it is tried last
    for room in (learned, whole)[: 1 + bool((learned < whole).any())]:
        placement.room = room
        for _ in range(ROUNDS):
            better = sorted(_better(placement), key=lambda found: found[0]) if left_s() > 0 else []
            moved = [
                (room is learned or left_s() > 0) and _take(placement, tree, way, fitting)
                for _, tree, way in better
            ]
            if not any(moved):
                break
            changed = True
    return changed


def _better(placement: Placement) -> Iterator[tuple[float, int, IntArray]]:
    """Trees that have a cheaper way, or a safe one at last: what it costs less their own."""
    every = [(tree, *_ways(placement, tree, own)) for tree, own in _true_costs(placement).items()]
    found = [(tree, ways, crowding) for tree, ways, crowding in every if len(ways) > 1]
    if not found:
        return
    of = np.repeat([tree for tree, _, _ in found], [len(ways) for _, ways, _ in found])
    ways = np.concatenate([ways for _, ways, _ in found])
    groups = np.array([placement.trees[tree][0] for tree in of])
    each = path_costs(placement, groups, ways)
    money = each.total + np.concatenate([crowding for _, _, crowding in found])
    weights, lost = placement.problem.season.site.weights, [one.lost for one in each.chance]
    unsafe = np.maximum(lost, weights.most_chance) - weights.most_chance
    for tree, _, _ in found:
        own, *others = np.flatnonzero(of == tree)
        safe = [i for i in others if unsafe[i] <= unsafe[own]]
        best = min(safe, key=lambda i: (unsafe[i] > 0, money[i]), default=own)
        safer = unsafe[own] > unsafe[best] == 0
        if safer or money[best] < money[own] - LEAST * weights.carry:
            yield float(money[best] - money[own]), tree, ways[best]


def _true_costs(placement: Placement) -> dict[int, float]:
    """What the way of each tree that has a place costs truly, but for crowding."""
    trees = [tree for tree, path in enumerate(placement.paths) if path is not None]
    if not trees:
        return {}
    groups = np.array([placement.trees[tree][0] for tree in trees])
    paths = np.array([placement.paths[tree] for tree in trees])
    return dict(zip(trees, path_costs(placement, groups, paths).total.tolist(), strict=True))


def _ways(placement: Placement, tree: int, own: float) -> tuple[IntArray, FloatArray]:
    """The way of a tree, ``(way, stage)``, and the cheapest others by the table that the room
    allows which the other trees leave; money of what each crowds, ``(way,)``.

    own : what its way costs truly.
    """
    path, g, problem = placement.remove(tree), placement.trees[tree][0], placement.problem
    assert path is not None
    ways = np.array([path, *_neighbours(placement, path, problem.first)])
    stage = np.arange(problem.first, problem.stages)
    stage = stage[problem.there[g, stage]]
    moved = placement.moved(ways)
    moved[:, : problem.first] = False
    crowding = placement.crowding_of(g)[stage, ways[:, stage]].sum(axis=1)
    cost = np.where(placement.closed_to(g), np.inf, placement.cost[g])
    table = cost[stage, ways[:, stage]].sum(axis=1) + crowding
    table += (placement.carry[g][ways] * moved).sum(axis=1)
    table[(moved & placement.tired(g)[np.arange(problem.stages), ways]).any(axis=1)] = np.inf
    table[moved.sum(axis=1) > moved[0].sum()] = np.inf
    placement.put(tree, path)
    most = own + crowding[0] + DEARER * problem.season.site.weights.carry
    order = [i for i in np.argsort(table, kind="stable") if i and table[i] < most]
    kept = [0, *order[:WAYS]]
    return ways[kept], crowding[kept]


def _neighbours(placement: Placement, path: IntArray, first: int) -> Iterator[IntArray]:
    """Ways with one stay elsewhere, or with one carry a stage earlier or later."""
    carried = [int(k) for k in placement.moves(path) if k >= first]
    for begin, end in zip([first, *carried], [*carried, len(path)], strict=True):
        for place in range(len(placement.places)):
            if begin < end and path[begin] not in (place, NOWHERE):
                yield np.concatenate([path[:begin], np.full(end - begin, place), path[end:]])
    for k in carried:
        for at, place in ((k, path[k - 1]), (k - 1, path[k])):
            if at >= first:
                way = path.copy()
                way[at] = place
                yield way


def _take(placement: Placement, tree: int, way: IntArray, fitting: Fitting | None) -> bool:
    """Put a tree on a way if there still is room, and it fits when drawn to scale."""
    g, path = placement.trees[tree][0], placement.remove(tree)
    assert path is not None
    first = placement.problem.first
    stage = first + np.flatnonzero(way[first:] != NOWHERE)
    moves = placement.moves(way)
    moves = moves[moves >= first]
    full = placement.closed_to(g)[stage, way[stage]].any()
    if not full and not placement.tired(g)[moves, way[moves]].any():
        placement.put(tree, way)
        if fitting is None or fitting.fit_beside(placement, path, way):
            return True
        placement.remove(tree)
    placement.put(tree, path)
    return False
