"""Season in, audited plan out."""

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Carry, Layout, Plan, Proof
from overwinter.model.season import Season
from overwinter.model.stage import StageDays
from overwinter.model.start import Start, start_of_season
from overwinter.search.bound import Bound
from overwinter.search.exact import improved
from overwinter.search.fitting import Fitting
from overwinter.search.heating import (
    RESCUE_TRIES,
    Heating,
    heat_money,
    thrifty,
    within_breakers,
)
from overwinter.search.options import OnProgress, Phase, PlanOptions, Progress
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import Problem, make_problem
from overwinter.search.reckoning import Reckoning, reckon
from overwinter.search.whole_trees import improve
from overwinter.search.why import left_out_trees
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.harm_table import Follower
from overwinter.solvers.choose import choose_solver
from overwinter.solvers.report import Termination

USUAL_LIMIT_S = 20.0
"""Wall-clock limit of a plan where none is asked, for up to ``USUAL_TREES`` trees."""
USUAL_TREES = 1000
LONGER_S_PER_TREE = 0.01
ENDING_S, ENDING_S_PER_TREE = 1.0, 0.015
"""Layouts and audit, as measured on 15 to 360 trees, s."""
BOUND_SHARE, PROGRAMMES_SHARE, TREES_SHARE = 0.7, 0.4, 0.4
"""Shares of the time then left for the relaxation, for programmes, and for whole trees."""
TRIES = 40
"""Neighbourhoods tried a tree, if time does not end them."""
SMALL_ROOT_S = 1.0
"""A relaxation solved as fast leaves the solver time for whole numbers: on 15 to 45 trees it proves
2 % in 0.2 to 6 s, on 120 it proves nothing in 15 s."""
DIVIDE_SHARE, EXACT_SHARE, LEAST_EXACT_S = 0.6, 0.8, 1.0
OTHER_CHOICES = 4
"""Choices of programmes tried where layouts leave trees out under the cheapest."""
STILL_SHARE = 0.8
ROUNDS = 12
"""How many times trees that are hurt or do not fit are placed again."""


@dataclass(frozen=True)
class Outcome:
    """A plan with all it was made from and what the audit found."""

    season: Season
    conditions: Conditions
    stage_days: StageDays
    plan: Plan
    report: AuditReport


def plan_stages(season: Season, conditions: Conditions) -> StageDays:
    """The stages of a season: thresholds from its collection, days from its winters."""
    return Follower(season, conditions).stages()


def plan_winter(
    season: Season,
    options: PlanOptions | None = None,
    on_progress: OnProgress | None = None,
    start: Start | None = None,
    stage_days: StageDays | None = None,
) -> Outcome:
    """Plan a winter, or the rest of one.

    Parameters
    ----------
    start, stage_days : of a winter that has begun; both or none.
    """
    options = options or PlanOptions()
    watch = _Watch(season, options, on_progress)
    watch.tell(Phase.PHYSICS)
    conditions = compute_conditions(season)
    follower = Follower(season, conditions)
    stage_days = stage_days or follower.stages()
    start = start or start_of_season(season)
    problem = make_problem(season, conditions, follower, stage_days, start)
    plan = _Search(problem, options, watch).plan()
    watch.tell(Phase.AUDIT)
    report = audit(season, conditions, stage_days, plan, start)
    return Outcome(season, conditions, stage_days, plan, report)


class _Watch:
    """Time that is left, and what is told of the search."""

    def __init__(
        self, season: Season, options: PlanOptions, on_progress: OnProgress | None
    ) -> None:
        self.began, self.began_cpu = time.monotonic(), time.process_time()
        self.trees = len(season.trees)
        more = max(0, self.trees - USUAL_TREES) * LONGER_S_PER_TREE
        self.limit_s = options.time_limit_s or USUAL_LIMIT_S + more
        self.on_progress = on_progress
        self.objective: float | None = None
        self.bound: float | None = None

    @property
    def left_s(self) -> float:
        """Seconds to the limit, less what the layouts and the audit take at the end."""
        ending = min(ENDING_S + ENDING_S_PER_TREE * self.trees, 0.5 * self.limit_s)
        return self.limit_s - ending - (time.monotonic() - self.began)

    def goes_on(self) -> bool:
        """Whether there is time."""
        return self.left_s > 0

    def still_on(self) -> bool:
        """Whether the limit itself is not near."""
        return time.monotonic() - self.began < STILL_SHARE * self.limit_s

    def share(self, of: float) -> Callable[[], bool]:
        """Whether a share of the time left now has not passed."""
        end = time.monotonic() + max(0.0, of * self.left_s)
        return lambda: time.monotonic() < end

    def tell(self, phase: Phase) -> None:
        """Tell where the search stands."""
        if self.on_progress is not None:
            seconds = time.monotonic() - self.began
            self.on_progress(Progress(phase, seconds, self.objective, self.bound))


class _Search:
    """From a problem to a plan."""

    def __init__(self, problem: Problem, options: PlanOptions, watch: _Watch) -> None:
        self.problem, self.options, self.watch = problem, options, watch
        self.solver = choose_solver(options.solver)
        self.fitting = Fitting(problem)
        self.rounds = 0

    def plan(self) -> Plan:
        """Programmes, whole trees, layouts; then the bound, and better plans while time is left."""
        watch, seed = self.watch, self.problem.season.site.seed
        trees = len(self.problem.season.trees)
        watch.tell(Phase.PROGRAMMES)
        heating = Heating(self.problem)
        watch.objective = heating.money
        watch.tell(Phase.PROGRAMMES)
        bound = Bound(self.problem, self.solver, self.options.threads)
        if watch.goes_on():
            heating.offer(bound.begin(BOUND_SHARE * watch.left_s))
        watch.bound = bound.value
        heating.search(watch.share(PROGRAMMES_SHARE))
        watch.objective = heating.money
        watch.tell(Phase.TREES)
        placement = heating.placement(heating.settings)
        improve(placement, seed, watch.share(TREES_SHARE), TRIES * trees)
        placement, proven = self._proved(bound, heating, placement)
        watch.bound = proven
        watch.tell(Phase.LAYOUTS)
        reckoning, layouts = self._mended(placement)
        for settings in heating.next_best(OTHER_CHOICES):
            if not reckoning.costs.left_out or not watch.still_on():
                break
            other = heating.placement(settings)
            again, drawn = self._mended(other)
            if again.costs.total < reckoning.costs.total:
                placement, reckoning, layouts = other, again, drawn
        placement.run(thrifty(placement))
        reckoning = reckon(placement)
        return self._to_plan(placement, reckoning, layouts, proven)

    def _proved(
        self, bound: Bound, heating: Heating, placement: Placement
    ) -> tuple[Placement, float | None]:
        """A better placement, as far as time is left, and what no plan costs less than.

        A small winter is one integer program. A larger one is branched on programmes; whole trees
        are then placed by the integer program under the best of them.
        """
        small = bound.root_s < SMALL_ROOT_S
        if not small:
            placement = self._divided(bound, heating, placement, self.watch.share(DIVIDE_SHARE))
        if self.watch.left_s < LEAST_EXACT_S:
            return placement, bound.value
        found, proven = improved(
            bound.program,
            placement,
            self.solver,
            self.options.gap / 2,
            lambda: EXACT_SHARE * self.watch.left_s,
            fixed=not small,
        )
        if found is not None and self._money(found) < self._money(placement):
            placement = found
        known = [value for value in (proven, bound.value) if value is not None]
        return placement, max(known, default=None)

    def _money(self, placement: Placement) -> float:
        return placement.total() + heat_money(self.problem, placement.settings)

    def _divided(
        self, bound: Bound, heating: Heating, placement: Placement, goes_on: Callable[[], bool]
    ) -> Placement:
        """Branch on programmes until the gap is proven or time runs out; the better placement."""
        watch, problem = self.watch, self.problem
        best = self._money(placement)
        while goes_on():
            enough = best * (1.0 - self.options.gap)
            likely = bound.divide(enough, lambda: watch.left_s)
            if not likely:
                break
            before = heating.money
            for settings in likely:
                heating.offer(settings)
            if heating.money < before and heating.money < best:
                other = heating.placement(heating.settings)
                improve(other, problem.season.site.seed, watch.share(0.5), TRIES)
                money = self._money(other)
                if money < best:
                    placement, best = other, money
            watch.objective, watch.bound = best, bound.value
        return placement

    def _mended(
        self, placement: Placement
    ) -> tuple[Reckoning, dict[str, dict[int, tuple[Layout, ...]]]]:
        """Trees hurt more than allowed on their true paths, or that do not fit, placed again."""
        reckoning = reckon(placement)
        layouts: dict[str, dict[int, tuple[Layout, ...]]] = {}
        for left in reversed(range(ROUNDS)):
            self.rounds += 1
            hurt = self._hurt(placement, reckoning)
            for tree, (place, k) in hurt:
                placement.cost[placement.trees[tree][0], k, place] = np.inf
            moved = {tree for tree, _ in hurt}
            if self.options.layouts:
                layouts, misfits = self.fitting.lay_out(placement)
                for _, (place, k) in misfits:
                    # whatever takes its place must take less room than this set
                    placement.room[k, place] = placement.used_m2[k, place] - 1e-6
                moved |= {tree for tree, _ in misfits}
            for tree in sorted(moved):
                if placement.remove(tree) is not None and left:
                    placement.insert(tree)
            if not moved:
                break
            if left and any(path is None for path in placement.paths):
                seed = self.problem.season.site.seed + self.rounds
                improve(placement, seed, lambda: True, RESCUE_TRIES)
            reckoning = reckon(placement)
        if moved and self.options.layouts:
            layouts, _ = self.fitting.lay_out(placement)
        return reckoning, layouts

    def _hurt(self, placement: Placement, reckoning: Reckoning) -> set[tuple[int, tuple[int, int]]]:
        most = self.problem.season.site.weights.most_chance
        found: set[tuple[int, tuple[int, int]]] = set()
        for tree, chance in reckoning.chance.items():
            path = placement.paths[tree]
            assert path is not None
            for k in range(self.problem.first, self.problem.stages):
                if chance[k] > most and path[k] != NOWHERE:
                    found.add((tree, (int(path[k]), k)))
        return found

    def _to_plan(
        self,
        placement: Placement,
        reckoning: Reckoning,
        layouts: dict[str, dict[int, tuple[Layout, ...]]],
        bound: float | None,
    ) -> Plan:
        problem, costs = self.problem, reckoning.costs
        assert within_breakers(problem, placement.settings)
        objective = costs.total
        bound = None if bound is None else min(bound, objective)
        gap = None if bound is None else (objective - bound) / max(abs(objective), 1e-9)
        stays = _stays(placement)
        reached = gap is not None and gap <= self.options.gap
        ended = Termination.GAP_REACHED
        if not reached:
            ended = Termination.NODE_LIMIT if self.watch.goes_on() else Termination.TIME_LIMIT
        return Plan(
            stages=problem.stage_days.stages,
            settings={
                h: tuple(problem.conditions.shelters[h].settings[s] for s in settings)
                for h, settings in placement.settings.items()
            },
            stays=stays,
            carries=_carries(problem, stays),
            left_out=left_out_trees(placement),
            costs=costs,
            proof=Proof(
                solver=self.solver,
                termination=ended,
                objective=objective,
                bound=bound,
                gap=gap,
                seconds=time.process_time() - self.watch.began_cpu,
                rounds=self.rounds,
                misfits=self.fitting.misfits,
            ),
            layouts=layouts,
            fixed_stages=problem.first if problem.start.known_targets is not None else 0,
        )


def _stays(placement: Placement) -> dict[str, tuple[str | None, ...]]:
    found: dict[str, tuple[str | None, ...]] = {}
    for (g, i), path in zip(placement.trees, placement.paths, strict=True):
        if path is not None:
            found[placement.problem.groups[g].tree_ids[i]] = tuple(
                None if p == NOWHERE else placement.places[p] for p in path
            )
    order = [tree.id for tree in placement.problem.season.trees if tree.id in found]
    return {tree_id: found[tree_id] for tree_id in order}


def _carries(problem: Problem, stays: dict[str, tuple[str | None, ...]]) -> tuple[Carry, ...]:
    found = []
    for k in range(1, problem.stages):
        for tree_id, path in stays.items():
            before, now = path[k - 1], path[k]
            if now is not None and now != before:
                day = problem.stage_days.stages[k].usual
                found.append(Carry(k, day, tree_id, before, now))
    return tuple(found)
