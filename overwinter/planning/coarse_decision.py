"""Large winters: shelters and heat are decided in the coarse program, benches afterwards.

The coarse program (``program.coarse``) takes each closed shelter as one place, so its relaxation is
small. The program itself then has only the places within the shelters chosen to find. Trees without
room in the coarse program have none in any.
"""

from collections.abc import Callable, Mapping
from math import ceil

import numpy as np
from numpy.typing import NDArray

from overwinter.domain.season import Season
from overwinter.domain.shelter import Shelter
from overwinter.planning.decided import Decided
from overwinter.planning.rounding import (
    ANY,
    chosen_settings,
    fix_days,
    fix_settings,
    out_money,
    value,
    whole_out_money,
)
from overwinter.planning.winters import Winters
from overwinter.program.build import build
from overwinter.program.coarse import coarse_data, fine_to_coarse
from overwinter.program.data import ProgramData
from overwinter.program.model import Model, Problem
from overwinter.program.objective import LEFT_OUT_EACH
from overwinter.program.read_back import read_back
from overwinter.solvers.report import SolverReport

TIGHTER = 0.92
"""How much smaller a shelter is reckoned when trees did not fit its benches."""
AIRY = 0.97
"""Share of the room of shelters that is reckoned with at first, so that trees fit their benches."""
LARGE = 100_000
"""From so many allowed (group, option, spell) cells the coarse program decides, and what a check
broke is mended by itself."""
AT_ONCE = 40_000
"""Up to so many variables it is decided in whole trees who has no room; beyond, in pieces."""
TOLERANCE = 5e-4
"""How near to its own best value the relaxation is solved, share of it."""

IntArray = NDArray[np.int64]

Solve = Callable[[Problem, str, Mapping[str, float]], SolverReport]


def is_large(data: ProgramData) -> bool:
    """Whether what is slow is left to be approximate."""
    return int(data.suitability.allowed.sum()) > LARGE


class Shelters:
    """Decides settings and shelters for one table; remembers the winters found for it."""

    def __init__(self, data: ProgramData) -> None:
        self.data = data
        self.bound: float | None = None
        """On any plan, prices of trees left out included; from the relaxation."""
        self.shares: dict[str, float] = {}
        """Shares of the shelters' room to reckon with, by shelter id."""
        self._found: list[tuple[int, IntArray]] = []

    def decide(self, solve: Solve) -> Decided:
        """Settings and shelters, by fixing one shelter of the relaxation after the other."""
        if self.shares:
            return _dive(self._relaxed()[0], self.data.season)
        airy = self._with_air()
        if airy is not None:
            return airy
        winters, self.bound = self._relaxed()
        no_room = self._without_room(winters.model, solve)
        return (
            Decided({}, {}, 0.0, no_room=no_room) if no_room else _dive(winters, self.data.season)
        )

    def no_room(self, solve: Solve) -> frozenset[str]:
        """Trees that do not fit in beside the others, however they are spread over benches."""
        return self._without_room(self._relaxed()[0].model, solve)

    @staticmethod
    def _without_room(model: Model, solve: Solve) -> frozenset[str]:
        leaves_out = out_money(model) > LEFT_OUT_EACH * ANY
        return _who_is_left_out(model, solve) if leaves_out else frozenset()

    def _with_air(self) -> Decided | None:
        """The decision with a little air left in the shelters; None where it is needed."""
        self.shares = {shelter.id: AIRY for shelter in _merged(self.data)}
        if self.shares:
            winters = self._relaxed()[0]
            if out_money(winters.model) <= LEFT_OUT_EACH * ANY:
                decided = _dive(winters, self.data.season)
                if decided.left_out_money == 0:
                    return decided
        self.shares = {}
        return None

    def _relaxed(self) -> tuple[Winters, float]:
        winters = Winters(build(coarse_data(self.data, self.shares), may_leave_out=True))
        winters.add(self._found)  # smaller shares change sides of rows, not columns
        bound = winters.relax(TOLERANCE)
        self._found = list(zip(winters.owner, winters.paths, strict=True))
        return winters, bound


def _merged(data: ProgramData) -> list[Shelter]:
    """Shelters whose places the coarse program takes as one."""
    return [s for s in data.season.shelters if not s.open_air and len(s.places) > 1]


def _who_is_left_out(model: Model, solve: Solve) -> frozenset[str]:
    """Whole trees to leave out where the relaxation leaves out some, perhaps in pieces.

    Their price is above everything, so a plan is within a small share of the best long before its
    costs are: who is left out is decided first, and the costs without them.
    """
    if len(model.problem.variables()) <= AT_ONCE:
        report = solve(model.problem, "who has a place", {})
        if report.has_solution:
            return read_back(model).left_out
    return frozenset(
        tree_id
        for group in model.data.groups
        for tree_id in group.tree_ids[
            group.count - ceil(value(model.left_out[group.index]) - ANY) :
        ]
    )


def _dive(winters: Winters, season: Season) -> Decided:
    """Fix the settings of one shelter after the other, then carry days."""
    fix_settings(winters, TOLERANCE)
    money = fix_days(winters, TOLERANCE)
    model = winters.model
    return Decided(chosen_settings(model), _shelters(model, season), whole_out_money(model), money)


def _shelters(model: Model, season: Season) -> dict[str, tuple[frozenset[str], ...]]:
    """By tree and spell: all places of the shelters that some of its like are in."""
    fine_of: dict[str, set[str]] = {}
    for fine, coarse in fine_to_coarse(season).items():
        fine_of.setdefault(coarse, set()).add(fine)
    chosen: dict[str, tuple[frozenset[str], ...]] = {}
    for group in model.data.groups:
        if value(model.left_out[group.index]) > ANY:
            continue
        where = tuple(
            frozenset(
                place
                for stay in model.stays.get((group.index, spell), ())
                if value(stay.variable) > ANY
                for place in fine_of[stay.place_id]
            )
            for spell in range(len(model.data.spells))
        )
        chosen |= dict.fromkeys(group.tree_ids, where)
    return chosen


def tighter(
    data: ProgramData, decided: Decided, unplaced: frozenset[str], shares: Mapping[str, float]
) -> dict[str, float]:
    """Shares of the shelters' room to reckon with next, after trees could not be placed.

    Trees are not sand: a shelter whose area would do may have no bench free for the last one. The
    closed shelters that the unplaced trees should have been in are reckoned smaller; where it is
    not known who they are, all closed shelters.
    """
    trees = unplaced.intersection(decided.chosen) or decided.chosen
    wanted = {p for tree_id in trees for places in decided.chosen[tree_id] for p in places}
    return {**shares} | {
        shelter.id: shares.get(shelter.id, 1.0) * TIGHTER
        for shelter in _merged(data)
        if any(place.id in wanted for place in shelter.places)
    }
