"""Places whole trees: the dearest to misplace first, then by taking some out and putting them back.

``improve`` is large-neighbourhood search (Shaw 1998): trees that crowd one another are taken out
together and put back in another order; what is dearer is undone.
"""

import time
from collections.abc import Callable

import numpy as np

from overwinter.search.placement import Placement

TOGETHER = 12
"""Trees taken out at once: enough to trade places, few enough for hundreds of tries a second."""


def place_all(placement: Placement, passes: int = 1) -> None:
    """A first path for every tree.

    The dearest and largest go first, as they find a place with the greatest trouble. Where that
    leaves trees out, those go first that are dearest to leave out for the room they take, and the
    better of both ways is kept.
    """
    problem, trees = placement.problem, range(len(placement.trees))

    def worth(tree: int) -> float:
        one = problem.groups[placement.trees[tree][0]].tree
        return -(one.value + 1.0) * float(one.footprint_m2**0.5)

    def density(tree: int) -> float:
        g = placement.trees[tree][0]
        return -float(problem.left_out[g]) / problem.groups[g].tree.footprint_m2

    _place(placement, sorted(trees, key=worth), passes)
    if all(path is not None for path in placement.paths):
        return
    total, before = placement.total(), list(placement.paths)
    for tree in trees:
        placement.remove(tree)
    _place(placement, sorted(trees, key=density), passes)
    if placement.total() > total:
        for tree in trees:
            placement.remove(tree)
        for tree, path in enumerate(before):
            placement.put(tree, path)


def _place(placement: Placement, order: list[int], passes: int) -> None:
    for tree in order:
        placement.insert(tree)
    settle(placement, passes)


def settle(placement: Placement, passes: int) -> None:
    """Every tree once more on its cheapest path, until nothing changes."""
    for _ in range(passes):
        changed = False
        for tree in range(len(placement.trees)):
            before = placement.remove(tree)
            if not placement.insert(tree):
                placement.put(tree, before)
            after = placement.paths[tree]
            changed |= (before is None) != (after is None) or (
                before is not None and after is not None and bool((before != after).any())
            )
        if not changed:
            break


def improve(placement: Placement, seed: int, goes_on: Callable[[], bool], most_tries: int) -> float:
    """Take out and put back while ``goes_on``; the money saved."""
    rng = np.random.default_rng(seed)
    trees = len(placement.trees)
    if trees < 2:
        return 0.0
    total = start = placement.total()
    for _ in range(most_tries):
        if not goes_on():
            break
        chosen = _crowd(placement, rng)
        before = {tree: placement.remove(tree) for tree in chosen}
        for tree in rng.permutation(chosen):
            placement.insert(int(tree))
        after = placement.total()
        if after < total - 1e-9:
            total = after
            continue
        for tree in chosen:
            placement.remove(tree)
        for tree, path in before.items():
            placement.put(tree, path)
    return start - total


def _crowd(placement: Placement, rng: np.random.Generator) -> list[int]:
    """Trees at one place in one stage, the fuller the likelier, and those left out."""
    problem = placement.problem
    fill = placement.used_m2 / np.maximum(placement.room, 1e-9)
    fill[: problem.first] = 0.0
    odds = (fill**4).ravel()
    left_out = [t for t, path in enumerate(placement.paths) if path is None]
    if odds.sum() <= 0:
        return [int(t) for t in rng.choice(len(placement.trees), 2, replace=False)]
    k, place = np.unravel_index(rng.choice(odds.size, p=odds / odds.sum()), fill.shape)
    there = [t for t, path in enumerate(placement.paths) if path is not None and path[k] == place]
    some = rng.permutation(there)[: TOGETHER - 2].tolist()
    some += rng.choice(len(placement.trees), 2, replace=False).tolist()
    some += rng.permutation(left_out)[:2].tolist()
    return list(dict.fromkeys(int(t) for t in some))


def within(seconds: float) -> Callable[[], bool]:
    """Whether so many seconds have not passed yet, counted from now."""
    end = time.monotonic() + seconds
    return lambda: time.monotonic() < end
