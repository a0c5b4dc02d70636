"""What only a whole placement shows: trees hurt on their true paths, and sets that do not fit.

Either is told to the integer program, which then places the trees again.
"""

from collections.abc import Callable
from dataclasses import dataclass

from overwinter.search.fitting import Fitting, Layouts, Misfits
from overwinter.search.heating import thrifty
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.reckoning import Reckoning, reckon
from overwinter.search.whole_trees import Whole, under

ROUNDS = 8
"""How many times trees are placed again; those that are wrong after the last are left out."""
DROPPED = 0.03
"""Share of its area by which a set that did not fit shrinks then: few more drawings, few trees."""
LESS = 0.5
"""Share of its smallest tree by which a set that did not fit has to shrink."""


@dataclass(frozen=True)
class Mended:
    """A placement that can be carried out."""

    placement: Placement
    reckoning: Reckoning
    layouts: Layouts
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
    drawn: Layouts = {}
    rounds = 0
    while True:
        rounds += 1
        wrong = _hurt(placement, whole)
        misfits: Misfits = {}
        if layouts:
            drawn, misfits = fitting.lay_out(placement)
        if not wrong and not misfits:
            break
        if rounds < ROUNDS and left_s() > 0:
            for (place, k), trees in misfits.items():
                _less_room(placement, whole, place, k, trees)
                wrong |= set(trees)
            placement = _again(placement, whole, wrong, solver, left_s)
        else:
            for (place, k), trees in misfits.items():
                wrong |= _dropped(placement, place, k, trees)
            for tree in wrong:
                placement.remove(tree)
    placement.run(thrifty(placement))
    return Mended(placement, reckon(placement), drawn, rounds, fitting.misfits)


def _dropped(placement: Placement, place: int, stage: int, trees: list[int]) -> set[int]:
    """Smallest trees of a set that did not fit, enough to make it clearly smaller."""
    area, dropped, gone = _area(placement), set(), 0.0
    for tree in sorted(trees, key=area):
        if gone >= DROPPED * placement.used_m2[stage, place]:
            break
        dropped.add(tree)
        gone += area(tree)
    return dropped


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
    placement: Placement, whole: Whole | None, place: int, stage: int, trees: list[int]
) -> None:
    less = LESS * min(map(_area(placement), trees))
    placement.room[stage, place] = placement.used_m2[stage, place] - less
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
