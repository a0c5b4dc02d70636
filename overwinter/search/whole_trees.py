"""Whole trees under programmes that are decided: round the relaxation down, solve the rest.

With the programmes decided the relaxation is nearly whole. What it places in whole trees is kept,
and the integer program decides about the others only (relax and fix): 0.3 % above the relaxation in
0.3 s for the demo, where the whole integer program takes 5 s for 0.1 %.
"""

import math
from collections import Counter
from collections.abc import Callable, Collection, Sequence

import numpy as np

from overwinter.model.plan import Termination
from overwinter.model.stage import IntArray
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import Problem
from overwinter.search.program import LE, Program, build
from overwinter.solvers.highs import Highs
from overwinter.solvers.report import SolverReport, SolverSettings

WHOLE_GAP = 0.005  # gap asked of the rest: well below what a grower needs of the whole
WHOLE_SHARE = 0.3
"""Share of the time left for it: of 200 trees all different, the last half per cent takes minutes.
"""
LEAST_S = 0.1


class Whole:
    """A program solved for whole trees."""

    def __init__(self, program: Program) -> None:
        self.program = program
        self._highs = Highs(SolverSettings())

    def less_room(self, place_id: str, stage: int, area_m2: float) -> None:
        """Trees at a place in a stage take at most so much: what is laid out knows better."""
        problem = self.program.problem
        stays = self.program.by_place_stage[place_id, stage]
        terms = [(s.variable, problem.groups[s.group].tree.footprint_m2) for s in stays]
        self.program.row(terms, LE, area_m2)

    def not_together(self, groups: Collection[int], place_id: str) -> None:
        """Groups of one tree each that do not all fit at a place, whatever the stage."""
        for k in range(self.program.problem.first, self.program.problem.stages):
            stays = self.program.by_place_stage[place_id, k]
            terms = [(stay.variable, 1.0) for stay in stays if stay.group in groups]
            if terms:
                self.program.row(terms, LE, len(groups) - 1)

    def round(self, placement: Placement, left_s: Callable[[], float]) -> bool:
        """Put all trees of the program into a placement where none of them stands. Returns whether
        it was done; the placement is as it was if not."""
        stays = self.program.stays
        report = self._run(left_s(), relax=True)
        if report.termination is not Termination.OPTIMAL or left_s() <= 0:
            return False
        values = [stay.variable.varValue or 0.0 for stay in stays]
        whole = [math.floor(value + 1e-6) for value in values]
        split = [stay for stay, v, n in zip(stays, values, whole, strict=True) if v - n > 1e-6]
        groups = {stay.group for stay in split}
        places = {(stay.place_id, stay.stage) for stay in split}
        # What is whole is kept; where no answer is left then, but for trees in pieces and those
        # beside them; where that leaves more out than the relaxation, nothing is.
        most_out = math.ceil(self._out() - 1e-6)
        for kept in (2, 1, 0):
            for stay, n in zip(stays, whole, strict=True):
                beside = stay.group in groups or (stay.place_id, stay.stage) in places
                stay.variable.lowBound = n if kept > beside else 0
            report = self._run(WHOLE_SHARE * left_s(), gap=WHOLE_GAP)
            if report.objective is not None and (kept == 2 or self._out() < most_out + 0.5):
                break
        for stay in stays:
            stay.variable.lowBound = 0
        if report.objective is not None:
            _put(self.program, placement)
        return report.objective is not None

    def _out(self) -> float:
        """Trees that the answer leaves out."""
        return sum(column.varValue or 0.0 for column in self.program.left_out.values())

    def solve(self, gap: float, seconds: float) -> tuple[Placement | None, float | None]:
        """The integer program with all that is open in it: a placement and the proven bound."""
        report = self._run(seconds, gap=gap)
        if report.objective is None:
            return None, report.bound
        placement = Placement(self.program.problem, self.program.favoured(self.program.chosen()))
        _put(self.program, placement)
        return placement, report.bound

    def least(self, seconds: float, at: tuple[int, str, int] | None = None) -> float | None:
        """What no plan of the program costs less than, be it with a tree at a place in a stage.
        ``at`` is group, place and stage. None where there is no such plan, or no answer in time."""
        forced = [] if at is None else self.program.by_group_stage[at[0], at[2]]
        columns = [stay.variable for stay in forced if at is None or stay.place_id == at[1]][:1]
        if at is not None and not columns:
            return None
        for column in columns:
            column.lowBound = 1
        report = self._run(seconds, relax=True)
        for column in columns:
            column.lowBound = 0
        return report.objective if report.termination is Termination.OPTIMAL else None

    def _run(self, seconds: float, relax: bool = False, gap: float = 0.0) -> SolverReport:
        limit_s = max(seconds, LEAST_S)
        self._highs.settings = SolverSettings(gap=gap, relax=relax, time_limit_s=limit_s)
        return self._highs.run(self.program.lp)


def under(placement: Placement, groups: Sequence[int], share: float = 1.0) -> Whole:
    """The program of some groups for the programmes of a placement and the room left in it."""
    ways = {
        h: [way for way in placement.problem.programmes[h] if way.settings == tuple(settings)][:1]
        for h, settings in placement.settings.items()
    }
    return Whole(build(placement.problem, ways, groups, placement, share))


def place_in_parts(
    placement: Placement, parts: Sequence[Sequence[int]], left_s: Callable[[], float]
) -> None:
    """Place trees part by part, each with its share of the room still left. Trees that get no place
    so, or for which no time is left, go one by one where they still can: those in quarantine first,
    which share no room, then the dearest."""
    for number, groups in enumerate(parts):
        if left_s() <= 0:
            break
        under(placement, groups, 1.0 / (len(parts) - number)).round(placement, left_s)
    problem = placement.problem

    def first(tree: int) -> tuple[bool, float]:
        g = placement.trees[tree][0]
        return not problem.apart[g].any(), -float(problem.left_out[g])

    for tree in sorted(placement.out, key=first):
        placement.insert(tree)


def _put(program: Program, placement: Placement) -> None:
    """The solver's answer as whole trees on paths."""
    counts: dict[tuple[int, int], Counter[int]] = {}
    for stay in program.stays:
        n = round(stay.variable.varValue or 0.0)
        if n:
            here = counts.setdefault((stay.group, stay.stage), Counter())
            here[placement.at[stay.place_id]] += n
    for g in program.groups:
        placed = program.problem.groups[g].count - round(program.left_out[g].varValue or 0.0)
        paths = _paths(program.problem, placement, g, placed, counts)
        for tree, path in zip(placement.trees_of(g), paths, strict=False):
            placement.put(tree, path)


def _paths(
    problem: Problem,
    placement: Placement,
    g: int,
    placed: int,
    counts: dict[tuple[int, int], Counter[int]],
) -> list[IntArray]:
    """Counts by place and stage as paths: whoever may stay stays, the others go where room is."""
    past = placement.path_of(problem.groups[g].start[: problem.first])
    paths = [np.full(problem.stages, NOWHERE, dtype=np.intp) for _ in range(placed)]
    for path in paths:
        path[: problem.first] = past
    for k in range(problem.first, problem.stages):
        left = Counter(counts.get((g, k), Counter()))
        moving = []
        for path in paths:
            if left[int(path[k - 1])] > 0 and path[k - 1] != NOWHERE:
                path[k] = path[k - 1]
                left[int(path[k])] -= 1
            else:
                moving.append(path)
        for path, place in zip(moving, left.elements(), strict=False):
            path[k] = place
    return _shared_out(placement, paths, problem.first)


def _shared_out(placement: Placement, paths: list[IntArray], first: int) -> list[IntArray]:
    """The same stays with carries shared out: of trees that stand together, who was carried most
    so far takes the way on with the fewest carries."""
    for k in range(first, len(paths[0]) if paths else first):
        for place in {int(path[k]) for path in paths}:
            here = [path for path in paths if path[k] == place]
            here.sort(key=lambda path: placement.moves(path[: k + 1]).size, reverse=True)
            onward = sorted(
                (path[k:].copy() for path in here), key=lambda w: placement.moves(w).size
            )
            for path, way in zip(here, onward, strict=True):
                path[k:] = way
    return paths
