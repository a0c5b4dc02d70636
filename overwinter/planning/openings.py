"""One shelter opening on one day or another: is there still a place for every tree?

Three ways to ask, from cheap to dear, each sure of a no where a dearer one might still say no:
by every tree alone, by the room of whole shelters, by planning the winter.
"""

import time
from dataclasses import dataclass, replace
from datetime import date
from math import inf

import numpy as np

from overwinter.model.conditions import Conditions
from overwinter.model.plan import LeftOut, Plan
from overwinter.model.season import Season, Spell
from overwinter.model.start import Start
from overwinter.planning.changes import working_heaters
from overwinter.planning.no_room import no_room
from overwinter.planning.options import OnProgress, PlanOptions, Progress
from overwinter.planning.replan_spells import replan_spells
from overwinter.planning.search import Search
from overwinter.planning.solving import NoPlan
from overwinter.program.data import Cuts, ProgramData, program_data
from overwinter.program.model import Problem
from overwinter.solvers.choose import solve
from overwinter.solvers.report import SolverReport
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import group_trees
from overwinter.suitability.lacks import lacks

ANY_PLAN_GAP = 0.5
"""Whether there is a plan is asked, not what the best one costs."""
LEAST_SEARCH_S = 30.0
"""A search may last as long as that of the plan did, and this long at least."""
SEARCHES = 2.0
"""How many such searches there may be; more where they end sooner."""

PRICES = (
    "crowding_per_m2_day",
    "carry",
    "two_person_carry",
    "carry_day",
    "not_home",
    "extra_carry",
)
"""Those of the site's weights that the program prices what a plan does with."""


@dataclass(frozen=True)
class Situation:
    """The winter in which openings are tried: everything as it is now."""

    season: Season
    conditions: Conditions
    start: Start
    plan: Plan
    """The plan in force before, for its spells."""
    new: Plan
    """What was planned in its stead, with the openings as asked for."""
    options: PlanOptions
    on_progress: OnProgress | None = None

    def without(self, trees: frozenset[str]) -> "Situation":
        """The same without some trees."""
        left = tuple(tree for tree in self.season.trees if tree.id not in trees)
        return replace(self, season=replace(self.season, trees=left))


class _Enough(Exception):
    """The answer is known before the end: some tree has no place."""


def _for_nothing(data: ProgramData) -> ProgramData:
    """The program's input with no price but that of a tree left out.

    Whether there is room is then answered several times sooner, and no price can be higher than
    that of leaving a tree out.
    """
    free = dict.fromkeys(PRICES, 0.0)
    site = replace(data.season.site, weights=replace(data.season.site.weights, **free))
    table = data.suitability
    return replace(
        data,
        season=replace(data.season, site=site),
        heat_money={key: np.zeros_like(money) for key, money in data.heat_money.items()},
        suitability=replace(
            table,
            risk_money=np.zeros_like(table.risk_money),
            rodent_money=np.zeros_like(table.rodent_money),
        ),
    )


class Openings:
    """Tries openings of one shelter, all others as they were asked for."""

    def __init__(self, situation: Situation, shelter_id: str) -> None:
        self.shelter = situation.season.shelter_by_id[shelter_id]
        self._situation = situation
        mine = {place.id for place in self.shelter.places}
        self._elsewhere = [
            tree_id for tree_id, path in situation.new.stays.items() if mine.isdisjoint(path)
        ]
        """Trees that never stand there, and so have a place whenever it opens."""
        self._began = time.perf_counter()
        self._search_s = max(situation.new.proof.seconds, LEAST_SEARCH_S)
        self._searches_left_s = SEARCHES * self._search_s
        self.tried: set[date] = set()

    @property
    def may_search(self) -> bool:
        """Whether searches have not lasted too long yet."""
        return self._searches_left_s > 0.0

    def refused(self, opens: date) -> frozenset[str]:
        """Trees that every place refuses in some spell; the others may still lack room."""
        workshop = self._workshop(opens)
        groups = group_trees(workshop.season, self._situation.start, without=self._elsewhere)
        return workshop.table(groups).refused()

    def has_room(self, opens: date) -> bool:
        """Whether all trees go into the shelters, if they could be cut into pieces."""

        def in_whole_trees(_p: Problem, _phase: str) -> SolverReport:
            raise _Enough

        try:
            return not no_room(_for_nothing(self._data(opens)), in_whole_trees)
        except _Enough:
            return False

    def left_out(self, opens: date, all_of_them: bool = False) -> frozenset[str]:
        """Trees that a plan leaves out; unless ``all_of_them``, those it gives up first.

        Raises
        ------
        NoPlan
            Stopped by hand, or out of time: nothing is known of this opening.
        """
        season, conditions, spells = self._winter(opens)
        situation = self._situation
        limit = min(self._search_s, self._seconds_left())
        options = replace(situation.options, gap=ANY_PLAN_GAP, time_limit_s=limit)
        search: Search

        def watch(_progress: Progress) -> None:
            self._tell()
            if search.work.interrupted:
                raise NoPlan("Stopped by hand.")
            if search.without and not all_of_them:
                raise _Enough

        search = Search(season, conditions, situation.start, spells, options, watch)
        try:
            found = search.run()
            if found.left_out and found.ended_by is not None:
                raise NoPlan("Out of time.")  # with more of it there might have been room
            return frozenset(left.tree_id for left in found.left_out)
        except _Enough:
            pass
        except NoPlan:
            if search.without != {tree.id for tree in season.trees}:
                raise
        finally:
            self._searches_left_s -= search.work.seconds()
        return frozenset(search.without)

    def without_room(self, opens: date) -> frozenset[str]:
        """Trees that do not fit in beside the others, whole trees as far as that can be told."""

        def in_whole_trees(problem: Problem, _phase: str) -> SolverReport:
            options = self._situation.options
            return solve(
                problem,
                solver=options.solver,
                gap=options.gap,
                time_limit_s=LEAST_SEARCH_S,
                threads=options.threads,
            )

        return no_room(self._data(opens), in_whole_trees)

    def lacking(
        self, opens: date, trees: frozenset[str]
    ) -> tuple[tuple[LeftOut, ...], tuple[Spell, ...]]:
        """What each place lacks for some trees with an opening; and the spells that speaks of."""
        workshop = self._workshop(opens)
        alone = [frozenset({tree_id}) for tree_id in trees]
        groups = group_trees(workshop.season, self._situation.start, apart=alone)
        left = tuple(
            LeftOut(group.tree.id, lacks(workshop, group))
            for group in groups
            if group.tree.id in trees
        )
        return left, workshop.spells

    def _data(self, opens: date) -> ProgramData:
        workshop, start = self._workshop(opens), self._situation.start
        table = workshop.table(group_trees(workshop.season, start))
        return program_data(workshop.season, workshop.conditions, start, table, Cuts())

    def _workshop(self, opens: date) -> Workshop:
        return Workshop(*self._winter(opens))

    def _winter(self, opens: date) -> tuple[Season, Conditions, tuple[Spell, ...]]:
        """The winter with this opening; raises ``NoPlan`` if there is no time left for it."""
        self._tell()
        if self._seconds_left() <= 0.0:
            raise NoPlan("Out of time.")
        self.tried.add(opens)
        situation = self._situation
        season = replace(
            situation.season,
            shelters=tuple(
                replace(shelter, opens=opens) if shelter.id == self.shelter.id else shelter
                for shelter in situation.season.shelters
            ),
        )
        first = situation.start.day
        spells = replan_spells(season, situation.conditions, situation.plan, first)
        return season, working_heaters(season, situation.conditions, first), spells

    def _seconds_left(self) -> float:
        """Of the time limit, which all tries share."""
        limit = self._situation.options.time_limit_s
        return inf if limit is None else limit - (time.perf_counter() - self._began)

    def _tell(self) -> None:
        if self._situation.on_progress is not None:
            seconds = time.perf_counter() - self._began
            phase = f"last safe opening of {self.shelter.name}"
            self._situation.on_progress(Progress(phase, seconds, beside=True))
