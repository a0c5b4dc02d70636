"""What only a whole placement shows: trees hurt on their true paths, and sets that do not fit.

Either is told to the integer program, which then places those trees again.
"""

import time
from collections.abc import Callable, Collection
from dataclasses import dataclass

from overwinter.search.fitting import Fitting, Misfit, Misfits
from overwinter.search.heating import thrifty
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.reckoning import Reckoning, reckon
from overwinter.search.whole_trees import under

ROUNDS = 12
"""How many times all that are wrong are placed anew, while there is time; then one by one, once
each."""
ANEW = 3
"""How many times all trees are placed anew, as one of those that were wrong found no place: 31
instead of 43 of 190 trees left out where rooms are small; usual winters need it not once."""
HASTY_S = 0.5
"""A round that takes no longer is gone through, be the time over or not: trees put back one by one
may find no place."""
LESS_OF_TREE, LESS_OF_SET = 0.5, 0.02
"""Share of its smallest tree, or of its area if that is more, by which a set that did not fit must
shrink: a large set has many more that are alike and do not fit either."""


@dataclass(frozen=True)
class Mended:
    """A placement that can be carried out."""

    placement: Placement
    reckoning: Reckoning
    rounds: int


def mend(
    placement: Placement,
    fitting: Fitting | None,
    left_s: Callable[[], float],
    settled: bool = False,
    only: Collection[int] | None = None,
) -> Mended:
    """Place trees again until none is hurt more than allowed and every set fits.

    fitting : draws places to scale; without it, every set fits.
    settled : no tree has a cheaper way by itself that fits.
    only : trees that may be placed again; the others keep their places.
    """
    rounds, anew, moved, spent_s = 0, 0, set[int](), 0.0
    movable = set(range(len(placement.trees)) if only is None else only)
    loose = movable  # trees that may have a cheaper way by themselves
    while True:
        began = time.monotonic()
        rounds += 1
        one_by_one = rounds > ROUNDS or spent_s > max(left_s(), HASTY_S)
        if not one_by_one and (not settled or rounds > 1):
            _settle(placement, movable & loose)
        wrong = _hurt(placement)
        misfits: Misfits = {} if fitting is None else fitting.misfits_of(placement)
        for (place, k), misfit in misfits.items():
            _less_room(placement, place, k, misfit)
        if not wrong and not misfits:
            break
        one_by_one = one_by_one or time.monotonic() - began > max(left_s(), HASTY_S)
        if not one_by_one:
            wrong |= {tree for misfit in misfits.values() for tree in misfit.trees} & movable
            out = len(placement.out)
            loose = _place_again(placement, wrong, max(left_s(), HASTY_S))
            if only is None and len(placement.out) > out and anew < ANEW and left_s() > 0:
                anew += 1
                placement, loose = _all_again(placement, left_s), movable
            spent_s = time.monotonic() - began
            continue
        for misfit in misfits.values():
            here = movable.intersection(misfit.trees)
            wrong |= here.intersection(misfit.over) or here or set(misfit.over or misfit.trees)
        for tree in wrong:
            placement.remove(tree)
        for tree in sorted(wrong - moved):
            placement.insert(tree)
        moved |= wrong
    placement.run(thrifty(placement))
    return Mended(placement, reckon(placement), rounds)


def _settle(placement: Placement, movable: Collection[int]) -> None:
    """Every tree once on its own cheapest way: the program stops at a gap and counts the carries
    of alike trees together."""
    for tree in sorted(movable):
        path = placement.paths[tree]
        before = placement.path_cost(tree)
        placement.remove(tree)
        if not placement.insert(tree) or placement.path_cost(tree) > before:
            placement.remove(tree)
            placement.put(tree, path)


def _hurt(placement: Placement) -> set[int]:
    """Trees that a stage takes more often than allowed; their groups are barred from the place."""
    problem = placement.problem
    found: set[int] = set()
    for tree, chance in reckon(placement).chance.items():
        path, g = placement.paths[tree], placement.trees[tree][0]
        assert path is not None
        for k in range(problem.first, problem.stages):
            if chance.lost_by_stage[k] > problem.most_chance[g] and path[k] != NOWHERE:
                found.add(tree)
                placement.barred[g, k, path[k]] = True
    return found


def _less_room(placement: Placement, place: int, stage: int, misfit: Misfit) -> None:
    def area(tree: int) -> float:
        return placement.problem.groups[placement.trees[tree][0]].tree.footprint_m2

    used = float(placement.used_m2[stage, place])
    less = max(
        LESS_OF_TREE * min(map(area, misfit.trees)),
        LESS_OF_SET * used,
        sum(map(area, misfit.over)),  # not searched to the end: by what found no room
    )
    placement.room[stage, place] = used - less


def _place_again(placement: Placement, wrong: set[int], seconds: float) -> set[int]:
    """Those that are wrong, or have no place yet, placed anew among the others; with all that are
    like them."""
    groups = sorted({placement.trees[tree][0] for tree in wrong | set(placement.out)})
    trees = [tree for g in groups for tree in placement.trees_of(g)]
    for tree in trees:
        placement.remove(tree)
    end = time.monotonic() + seconds
    if not under(placement, groups).round(placement, lambda: end - time.monotonic()):
        for tree in trees:
            placement.insert(tree)
    return set(trees)


def _all_again(placement: Placement, left_s: Callable[[], float]) -> Placement:
    """All trees placed anew, if that is cheaper; what was learned of rooms and true paths stays."""
    again = Placement(placement.problem, placement.settings)
    again.room, again.barred = placement.room, placement.barred
    placed = under(again, range(len(again.problem.groups))).round(again, left_s)
    return again if placed and again.money() < placement.money() else placement
