"""Places whole trees within the settings and carry days that are held."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.planning.decided import Decided, penalty
from overwinter.planning.whole_winters import read_winters, winter_choice
from overwinter.planning.winters import IntArray, Winters
from overwinter.program.data import RoomCut
from overwinter.program.model import Problem
from overwinter.program.objective import LEFT_OUT_EACH
from overwinter.program.read_back import Placement, whole
from overwinter.program.ways_within import ways_within
from overwinter.program.winter_choice import WinterChoice, WinterProgram, winter_program
from overwinter.solvers.report import SolverReport, Termination

NEAR_WINTERS = (0.1, 0.3)
"""Whole trees are placed on winters that cost at most this much more than their group's cheapest,
share of the mean cost of a tree; on more of them where they do not fit."""
MOST_WAYS = 50_000
"""Winters listed at most where all are wanted."""
NOWHERE_SMALLER: Mapping[str, float] = {}
MANY_NODES = 1000
"""Nodes of branching for whole trees on winters."""


class Solve(Protocol):
    """Solves a program to a share of the gap asked."""

    def __call__(
        self,
        problem: Problem,
        phase: str,
        *,
        nodes: int | None,
        share: float,
        cutoff: float | None,
    ) -> SolverReport: ...


@dataclass(frozen=True)
class Placed:
    """A program of whole trees, solved."""

    choice: WinterChoice
    program: WinterProgram
    report: SolverReport

    def read(self, decided: Decided) -> Placement:
        """The placement of every tree, with the settings held."""
        return read_winters(self.choice, self.program, decided)

    def leaves_out_more_than(self, decided: Decided) -> bool:
        """Whether a tree has no place that had one in what was decided on."""
        if not self.report.has_solution:
            return True
        out = penalty(self.choice.model, self.read(decided).left_out)
        return out > decided.left_out_money + LEFT_OUT_EACH / 2


@dataclass(frozen=True)
class Cheaper:
    """What came of looking for a plan no dearer than some money."""

    bound: float
    """No plan costs less, or less than that money."""
    shared: FloatArray | None
    """Values of the shared columns in what was found; None for nothing."""
    winters: IntArray
    """Numbers of the winters that trees have in it."""


class Placing:
    """Whole trees on the winters of one relaxation."""

    def __init__(self, winters: Winters, solve: Solve) -> None:
        self.winters, self._solve = winters, solve

    def near(
        self,
        decided: Decided,
        cuts: Sequence[RoomCut],
        room_share: Mapping[str, float],
        phase: str,
        share: float,
    ) -> Placed:
        """On winters that cost little more than their group's cheapest; nothing is proven."""
        trees = max(int(self.winters.flow.count.sum()), 1)
        for near in NEAR_WINTERS:
            money = near * decided.money / trees
            self.winters.look_near(money)
            numbers = self.winters.near_winters(money)
            placed = self._placed(numbers, phase, share, cuts=cuts, room_share=room_share)
            if not placed.leaves_out_more_than(decided):
                break
        return placed

    def no_dearer(self, money: float, phase: str, share: float, nodes: int) -> Cheaper:
        """On all winters that a plan no dearer than ``money`` could be made of.

        In a plan each tree costs more than its cheapest winter by what bound and money are apart
        at most, all of them together not being more either. Settings and days may be open. What
        is found is no plan then: a winter costs what it does with those of the settings that
        harden its trees best.
        """
        outlook = self.winters.outlook()
        nobody = np.zeros(0, dtype=np.int64)
        limit = outlook.each + (money - outlook.bound)
        ways = ways_within(outlook.sweep, limit, MOST_WAYS)
        if ways is None:
            return Cheaper(outlook.bound, None, nobody)
        self.winters.add(ways)
        numbers = self.winters.within(outlook, limit)
        placed = self._placed(numbers, phase, share, nodes=nodes, cutoff=money)
        report, program = placed.report, placed.program
        if report.termination is Termination.INFEASIBLE:
            return Cheaper(money, None, nobody)
        bound = outlook.bound if report.bound is None else min(report.bound, money)
        bound = max(bound, outlook.bound)
        if not report.has_solution:
            return Cheaper(bound, None, nobody)
        has_trees = np.array([whole(v.varValue) > 0 for v in program.trees])
        shared = np.array([v.varValue for v in program.shared])
        return Cheaper(bound, shared, numbers[has_trees])

    def only_on(self, numbers: IntArray, phase: str, share: float) -> Placed:
        """On these winters, as far as they are open."""
        open_ = numbers[np.isfinite(self.winters.costs[numbers])]
        return self._placed(open_, phase, share)

    def _placed(
        self,
        numbers: IntArray,
        phase: str,
        share: float,
        *,
        cuts: Sequence[RoomCut] = (),
        room_share: Mapping[str, float] = NOWHERE_SMALLER,
        nodes: int = MANY_NODES,
        cutoff: float | None = None,
    ) -> Placed:
        choice = winter_choice(self.winters, numbers)
        program = winter_program(choice, cuts, room_share)
        report = self._solve(program.problem, phase, nodes=nodes, share=share, cutoff=cutoff)
        return Placed(choice, program, report)


def money_of(placed: Placed | None) -> float:
    """What it costs, money; infinite for none."""
    money = None if placed is None else placed.report.objective
    return np.inf if money is None else money
