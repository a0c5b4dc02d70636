"""What only a whole placement shows: trees hurt on their true paths, and sets that do not fit.

Either is told to the integer program, which then places the trees again.
"""

from collections.abc import Callable
from dataclasses import dataclass

from overwinter.benches.results import Effort
from overwinter.model.plan import Shift
from overwinter.search.fitting import Fitting, Layouts, Misfit, Misfits
from overwinter.search.heating import thrifty
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.reckoning import Reckoning, reckon
from overwinter.search.whole_trees import Whole, under

ROUNDS = 8
"""How many times all that are wrong are placed anew; then one by one, once each."""
LESS_OF_TREE, LESS_OF_SET = 0.5, 0.02
"""Share of its smallest tree, or of its area if that is more, by which a set that did not fit must
shrink: a large set has many more that are alike and do not fit either."""
LARGE_SET = Effort().exact_trees
"""A larger set is not searched to the end; it shrinks by what found no room."""


@dataclass(frozen=True)
class Mended:
    """A placement that can be carried out."""

    placement: Placement
    reckoning: Reckoning
    layouts: Layouts
    shifts: tuple[Shift, ...]
    rounds: int
    misfits: int


def mend(
    placement: Placement, solver: str, layouts: bool, at_once: bool, left_s: Callable[[], float]
) -> Mended:
    """Place trees again until none is hurt more than allowed and every set fits.

    Parameters
    ----------
    layouts : whether places are drawn to scale.
    at_once : whether all trees are one program; if not, those that are wrong are placed anew among
        the others.
    """
    fitting = Fitting(placement.problem)
    groups = range(len(placement.problem.groups))
    whole = under(_empty(placement), groups, solver) if at_once else None
    rounds, moved = 0, set[int]()
    while True:
        rounds += 1
        _settle(placement)
        wrong = _hurt(placement, whole)
        misfits: Misfits = {}
        if layouts:
            misfits = fitting.misfits_of(placement)
        for (place, k), misfit in misfits.items():
            _less_room(placement, whole, place, k, misfit)
        if not wrong and not misfits:
            break
        if rounds < ROUNDS and left_s() > 0:
            wrong |= {tree for misfit in misfits.values() for tree in misfit.trees}
            placement = _again(placement, whole, wrong, solver, left_s)
            continue
        wrong |= {tree for misfit in misfits.values() for tree in misfit.over}
        for tree in wrong:
            placement.remove(tree)
        for tree in sorted(wrong - moved):
            placement.insert(tree)
        moved |= wrong
    placement.run(thrifty(placement))
    drawn, shifts = fitting.lay_out(placement) if layouts else ({}, ())
    return Mended(placement, reckon(placement), drawn, shifts, rounds, fitting.misfits)


def _settle(placement: Placement) -> None:
    """Every tree once on its own cheapest way: the program stops at a gap and counts the carries
    of alike trees together."""
    for tree, path in enumerate(placement.paths):
        before = placement.path_cost(tree)
        placement.remove(tree)
        if not placement.insert(tree) or placement.path_cost(tree) > before:
            placement.remove(tree)
            placement.put(tree, path)


def _hurt(placement: Placement, whole: Whole | None) -> set[int]:
    """Trees with a higher chance of loss than allowed; their groups are barred from the place."""
    problem, most = placement.problem, placement.problem.season.site.weights.most_chance
    found: set[int] = set()
    for tree, chance in reckon(placement).chance.items():
        path, g = placement.paths[tree], placement.trees[tree][0]
        assert path is not None
        for k in range(problem.first, problem.stages):
            if chance[k] > most and path[k] != NOWHERE:
                found.add(tree)
                placement.barred[g, k, path[k]] = True
                if whole is not None:
                    whole.bar(g, placement.places[path[k]], k)
    return found


def _less_room(
    placement: Placement, whole: Whole | None, place: int, stage: int, misfit: Misfit
) -> None:
    area = _area(placement)
    used = float(placement.used_m2[stage, place])
    less = max(LESS_OF_TREE * min(map(area, misfit.trees)), LESS_OF_SET * used)
    if len(misfit.trees) > LARGE_SET:
        less = max(less, sum(map(area, misfit.over)))
    placement.room[stage, place] = used - less
    if whole is not None:
        room = float(placement.room[stage, place])
        whole.less_room(placement.places[place], stage, room)


def _area(placement: Placement) -> Callable[[int], float]:
    groups = placement.problem.groups
    return lambda tree: groups[placement.trees[tree][0]].tree.footprint_m2


def _again(
    placement: Placement,
    whole: Whole | None,
    wrong: set[int],
    solver: str,
    left_s: Callable[[], float],
) -> Placement:
    if whole is not None:
        again = _empty(placement)
        if whole.round(again, left_s):
            return again
    groups = sorted({placement.trees[tree][0] for tree in wrong})
    freed = [tree for g in groups for tree in placement.trees_of(g)]
    for tree in freed:
        placement.remove(tree)
    if whole is not None or not under(placement, groups, solver).round(placement, left_s):
        for tree in freed:
            placement.insert(tree)
    return placement


def _empty(placement: Placement) -> Placement:
    """Nobody stands anywhere; what was learned of rooms and true paths stays."""
    empty = Placement(placement.problem, placement.settings)
    empty.room, empty.barred = placement.room, placement.barred
    return empty
