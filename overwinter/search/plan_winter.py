"""Season in, audited plan out."""

import math
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Carry, Costs, Plan, Proof
from overwinter.model.season import Season
from overwinter.model.stage import StageDays
from overwinter.model.start import Start, start_of_season
from overwinter.search.bound import Bound
from overwinter.search.heating import Settings, affordable, warmest, within_breakers
from overwinter.search.mending import Mended, mend
from overwinter.search.options import OnProgress, Phase, PlanOptions, Progress
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import Problem, make_problem
from overwinter.search.program import build
from overwinter.search.whole_trees import Whole, place_in_parts, under
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
SAMPLE = 4
"""One group in so many makes the first guess at the programmes, in a tenth of the time of all."""
ROOT_SHARE = 0.7
"""Share of the time then left for the first relaxation."""
MOST_OPEN = 10_000
"""Columns y up to which the integer program is asked with all programmes open: with 8,000 it proves
1 % in 5 s, with 17,000 it finds no plan in 7 s."""
OPEN_SHARE = 0.6
"""Share of the time then left for the integer program of a small winter."""
MOST_OPTIONS = 150_000
"""Options of one part over the stages; the demo has 40,000, and a relaxation of 2 s."""
TABLE_OFF = 0.01
"""A plan that its true paths make dearer by more than this share is sought again, with trees coming
to each stage as they do in it: a gain of 3 to 12 % on winters of 15 to 45 trees."""
BRANCH_SHARE, BRANCH_GAP = 0.4, 0.5
"""Share of the time then left for branching, which ends at this share of the gap that is asked:
layouts and true paths add to it."""


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
    conditions: Conditions | None = None,
) -> Outcome:
    """Plan a winter, or the rest of one.

    Parameters
    ----------
    start, stage_days : of a winter that has begun; both or none.
    conditions : of the same shelters and weather, so that nothing is computed twice.
    """
    options = options or PlanOptions()
    watch = _Watch(season, options, on_progress)
    watch.tell(Phase.PHYSICS)
    conditions = conditions or compute_conditions(season)
    follower = Follower(season, conditions)
    stage_days = stage_days or follower.stages()
    start = start or start_of_season(season)
    exact = options.gap == 0
    problem = make_problem(season, conditions, follower, stage_days, start, exact)
    search = _Search(problem, options, watch)
    search.run()
    if search.off > TABLE_OFF and not search.good_enough and watch.goes_on():
        known = likely_paths(search.mended.placement)
        problem = make_problem(season, conditions, follower, stage_days, start, exact, known)
        again = _Search(problem, options, watch)
        again.run()
        if again.mended.reckoning.costs.total < search.mended.reckoning.costs.total:
            search = again
    plan = search.to_plan()
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
        self.everyone = range(len(problem.groups))
        self.parts = _parts(problem)
        self.tried: list[Settings] = []

    mended: Mended
    proven: float | None

    @property
    def off(self) -> float:
        """How much dearer the plan is on its true paths than by the table, a share."""
        total = self.mended.reckoning.costs.total
        return (total - self.mended.placement.money()) / max(total, 1e-9)

    @property
    def good_enough(self) -> bool:
        """Whether the gap asked is proven."""
        total = self.mended.reckoning.costs.total
        return self.proven is not None and total - self.proven <= self.options.gap * abs(total)

    def run(self) -> None:
        """Programmes and whole trees, with their bound; then layouts and true paths."""
        watch, parts = self.watch, self.parts
        watch.tell(Phase.PROGRAMMES)
        program = build(self.problem, groups=parts[0], share=1.0 / len(parts))
        first = self._first_guess()
        bound = Bound(program, self.solver, self.options.threads)
        likely = bound.begin(ROOT_SHARE * watch.left_s, first) if watch.goes_on() else {}
        if len(parts) > 1 or not likely:
            placement = Placement(
                self.problem, affordable(self.problem, likely) if likely else first
            )
            watch.tell(Phase.TREES)
            place_in_parts(placement, parts, self.solver, lambda: watch.left_s)
            watch.objective, self.proven = placement.money(), None
        else:
            placement, self.proven = self._branched(bound, likely)
        watch.tell(Phase.LAYOUTS)
        self.mended = mend(
            placement, self.solver, self.options.layouts, len(parts) == 1, lambda: watch.left_s
        )

    def _first_guess(self) -> Settings:
        """What one group in ``SAMPLE`` would choose with so much of the room; else all warm."""
        groups = self.everyone[::SAMPLE]
        if len(groups) < SAMPLE:
            return warmest(self.problem)
        program = build(self.problem, groups=groups, share=1.0 / SAMPLE)
        bound, warm = Bound(program, self.solver, self.options.threads), warmest(self.problem)
        likely = bound.begin(self.watch.left_s, warm)
        return affordable(self.problem, likely) if likely else warm

    def _branched(self, bound: Bound, likely: Settings) -> tuple[Placement, float | None]:
        """The best placement found by branching on programmes, and what no plan costs less than."""
        watch = self.watch
        placement = self._under(affordable(self.problem, likely), None)
        watch.objective, watch.bound = placement.money(), bound.value
        watch.tell(Phase.TREES)
        if bound.value is not None and bound.value >= self._enough:
            return placement, bound.value
        if len(bound.program.stays) <= MOST_OPEN and watch.goes_on():
            whole = Whole(bound.program, self.solver)
            found, value = whole.solve(self.options.gap / 2, OPEN_SHARE * watch.left_s)
            if found is not None and found.money() < placement.money():
                placement = found
            watch.objective, watch.bound = placement.money(), value or bound.value
            return placement, watch.bound
        goes_on = watch.share(BRANCH_SHARE)
        while goes_on():
            parts = bound.divide(self._enough, lambda: watch.left_s)
            if not parts:
                break
            for settings in parts:
                new = settings not in self.tried and within_breakers(self.problem, settings)
                if new and bound.under(settings, watch.left_s) < watch.objective:
                    placement = self._under(settings, placement)
            watch.objective, watch.bound = placement.money(), bound.value
            watch.tell(Phase.TREES)
        return placement, bound.value

    @property
    def _enough(self) -> float:
        """A bound that leaves layouts and true paths half of the gap asked."""
        assert self.watch.objective is not None
        return self.watch.objective * (1.0 - BRANCH_GAP * self.options.gap)

    def _under(self, settings: Settings, best: Placement | None) -> Placement:
        """Whole trees under some programmes, if that costs less than the best; else the best."""
        self.tried.append(settings)
        placement = Placement(self.problem, settings)
        whole = under(placement, self.everyone, self.solver)
        placed = whole.round(placement, lambda: self.watch.left_s)
        if not placed and best is None:
            place_in_parts(placement, (), self.solver, lambda: 0.0)
        if best is not None and (not placed or best.money() <= placement.money()):
            return best
        return placement

    def to_plan(self) -> Plan:
        """What was found, as a plan."""
        problem, mended, bound = self.problem, self.mended, self.proven
        placement, costs = mended.placement, _with_shifts(problem.season, mended)
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
                rounds=mended.rounds,
                misfits=mended.misfits if self.options.layouts else None,
            ),
            layouts=mended.layouts,
            shifts=mended.shifts,
            fixed_stages=problem.past,
        )


def _with_shifts(season: Season, mended: Mended) -> Costs:
    weights, costs = season.site.weights, mended.reckoning.costs
    kg = [season.tree_by_id[shift.tree_id].weight_kg for shift in mended.shifts]
    return replace(costs, carries=costs.carries + weights.shift * sum(map(weights.carry_of, kg)))


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


def likely_paths(placement: Placement) -> dict[int, tuple[int, ...]]:
    """Option in each stage of the commonest path of each kind."""
    problem, stage = placement.problem, np.arange(placement.problem.stages)
    home = problem.follower.exposures.index[problem.season.site.summer_place, 0]
    found: dict[int, Counter[tuple[int, ...]]] = defaultdict(Counter)
    for (g, _), path in zip(placement.trees, placement.paths, strict=True):
        if path is not None:
            options = np.where(path == NOWHERE, home, placement.option[stage, path])
            found[problem.groups[g].kind][tuple(options.tolist())] += 1
    return {kind: paths.most_common(1)[0][0] for kind, paths in found.items()}


def _parts(problem: Problem) -> list[list[int]]:
    """Groups in parts that the solver can take at once; trees of all sorts in each."""
    options = problem.allowed[:, :, problem.first :].sum(axis=(1, 2))
    number = max(1, math.ceil(float(options.sum()) / MOST_OPTIONS))
    return [list(range(len(problem.groups)))[first::number] for first in range(number)]
