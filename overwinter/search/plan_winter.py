"""Season in, audited plan out."""

import math
import time
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from overwinter.audit.audit import audit, with_unseen
from overwinter.audit.report import AuditReport
from overwinter.model.changes import Start, start_of_season
from overwinter.model.plan import Plan, Proof, Shift, Stays, Termination, carries_of_stays
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions
from overwinter.model.stage import DOORS, HappeningKind, Sign, Stage, StageDays
from overwinter.search.bound import Bound
from overwinter.search.fitting import Fitting, Layouts
from overwinter.search.heating import Settings, affordable, reheat, warmest, within_breakers
from overwinter.search.mending import Mended, mend
from overwinter.search.options import USUAL_GAP, OnProgress, Phase, PlanOptions
from overwinter.search.ordering import in_own_order, listed_as
from overwinter.search.placement import Placement
from overwinter.search.problem import Problem, make_problem
from overwinter.search.program import build
from overwinter.search.reckoning import reckon
from overwinter.search.true_paths import improve
from overwinter.search.watch import Watch
from overwinter.search.whole_trees import Whole, place_in_parts, under
from overwinter.search.why import left_out_trees
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.begun import thresholds_of
from overwinter.simulate.exposures import kind_of
from overwinter.simulate.harm_table import Follower

SAMPLE = 4
"""One group in so many makes the first guess at the programmes, in a tenth of the time of all."""
MOST_OPEN = 10_000
"""Columns y up to which, for a smaller gap than usual, the integer program is asked with all
programmes open: with 8,000 it proves 1 % in 5 s, with 17,000 it finds no plan in 7 s."""
MOST_EXACT = 1_000
"""Columns y up to which, at a gap of 0, it is asked again for every set that does not fit."""
OPEN_SHARE = 0.6  # share of the time then left for that
MOST_OPTIONS = 150_000
"""Options of one part over the stages; the demo has 40,000, and a relaxation of 2 s."""
UNSAFE_SHARE = 0.5
"""Share of the time left that is kept for trees which the first plan has no safe place for."""
TABLE_OFF, AGAIN = 0.01, 4.0
"""A plan that its true paths make dearer by more than this share is sought again, with trees coming
to each stage as they do in it, where so many times what it took is left: docs/tried.md."""
GUESSES, GUESS_GAP = 8, 0.05
"""How often the first guess is divided where it is not within so much of its own bound: a tree may
live on a fraction of a programme in the relaxation, and on no whole one of the guess."""
BRANCH_GAP = 0.5
"""Branching ends where it could gain no more than this share of the gap that is asked."""


@dataclass(frozen=True)
class Outcome:
    """A plan with all it was made from and what the audit found."""

    season: Season
    conditions: Conditions
    stage_days: StageDays
    plan: Plan
    report: AuditReport


def plan_stages(
    season: Season,
    conditions: Conditions,
    in_force: Sequence[Stage] = (),
    passed: Collection[str] = (),
) -> StageDays:
    """The stages of a season: thresholds from its collection, days from its winters.

    in_force : stages whose signs stay, beside which others must be worth their while.
    passed : shelters whose days begin no stage.
    """
    return Follower(in_own_order(season), conditions).stages(thresholds_of(in_force), passed)


def plan_winter(
    season: Season,
    options: PlanOptions | None = None,
    on_progress: OnProgress | None = None,
    start: Start | None = None,
    stage_days: StageDays | None = None,
    conditions: Conditions | None = None,
    known: Plan | None = None,
) -> Outcome:
    """Plan a winter, or the rest of one.

    start, stage_days : of a winter that has begun; both or none.
    conditions : of the same shelters and weather, so that nothing is computed twice.
    known : a plan of these stages that breaks no rule, from which the search begins.
    """
    options = options or PlanOptions()
    watch = Watch(season, options, on_progress)
    watch.tell(Phase.PHYSICS)
    conditions = conditions or compute_conditions(season)
    ordered = in_own_order(season)
    follower = Follower(ordered, conditions)
    stages_given, stage_days = stage_days is not None, stage_days or follower.stages()
    start = start or start_of_season(season)
    exact = options.gap == 0
    first, stays, likely = None, None, None
    if known is not None:
        of, stays = conditions.shelters, known.stays
        first = {h: tuple(map(of[h].settings.index, some)) for h, some in known.settings.items()}
        likely = likely_paths(follower, stays, first)
    problem = make_problem(ordered, conditions, follower, stage_days, start, exact, likely).hoping()
    watch.allow_for_slowness()
    search = _Search(problem, options, watch)
    search.begin(first, stays)
    idle = frozenset[str]() if stages_given else search.idle_doors
    if (idle or search.off > TABLE_OFF) and watch.left_s > AGAIN * search.first_s:
        if idle:
            stage_days = follower.stages(passed=idle)
        first, stays = _without_days_of(idle, search.mended.placement)
        likely = likely_paths(follower, stays, first)
        problem = make_problem(
            ordered, conditions, follower, stage_days, start, exact, likely
        ).hoping()
        again = _Search(problem, options, watch)
        again.begin(first)
        search = min(search, again, key=_Search.standing)
    if search.bolder is not None:
        watch.kept_s = UNSAFE_SHARE * max(0.0, watch.left_s)
    if not exact:
        search.improve()
        search.seek()
    watch.kept_s = 0.0
    search.give_unsafe_places()
    search.improve()
    plan = listed_as(season, search.to_plan())
    watch.tell(Phase.AUDIT)
    return judged(season, conditions, search.problem.stage_days, plan, start)


def judged(
    season: Season, conditions: Conditions, stage_days: StageDays, plan: Plan, start: Start
) -> Outcome:
    """A plan with what its audit finds, and its losses in winters that it was not made from."""
    report = with_unseen(season, plan, audit(season, conditions, stage_days, plan, start))
    if report.unseen:
        plan = replace(plan, other_loss=report.expected_loss)
    return Outcome(season, conditions, stage_days, plan, report)


class _Search:
    """From a problem to a plan; keeps the best that can be carried out."""

    def __init__(self, problem: Problem, options: PlanOptions, watch: Watch) -> None:
        self.problem, self.options, self.watch = problem, options, watch
        self.everyone = range(len(problem.groups))
        self.parts = _parts(problem)
        self.fitting = Fitting(problem) if options.layouts else None
        self.best: Mended | None = None
        self.improved: Mended | None = None  # no single tree of it has a cheaper way
        self.bound: float | None = None
        self.tried: list[Settings] = []
        self.began = time.monotonic()
        self.first_s, self.try_s = math.inf, 0.0
        """How long the first plan took, and the last trial of programmes, s."""

    @property
    def mended(self) -> Mended:
        """The best found."""
        assert self.best is not None
        return self.best

    @property
    def total(self) -> float:
        """What the best costs."""
        return self.mended.reckoning.costs.total

    def standing(self) -> tuple[int, float]:
        """What plans are compared by: trees without a place, then cost."""
        return len(self.mended.placement.out), self.total

    @property
    def off(self) -> float:
        """How much dearer the plan is on its true paths than by the table, a share."""
        by_table = self.mended.placement.money() + self.problem.done
        return (self.total - by_table) / max(self.total, 1e-9)

    @property
    def idle_doors(self) -> frozenset[str]:
        """Shelters that open on a day that only moves or holds back others: none of their trees is
        carried on it, or on the day on which they close. None while trees have no place."""
        placement = self.mended.placement
        stages = () if placement.out else self.problem.stage_days.stages
        carried: dict[int, set[str]] = defaultdict(set)
        for path in placement.stays.values():
            for k, ends in enumerate(pairwise(path), start=1):
                if ends[0] != ends[1] and None not in ends:
                    carried[k] |= {self.problem.season.shelter_of(str(place)).id for place in ends}
        days = [(s.index, what) for s in stages for what in s.happenings if what.kind in DOORS]
        used = {what.subject for k, what in days if what.subject in carried[k]}
        opens = [(k, what.subject) for k, what in days if what.kind is HappeningKind.OPENS]
        alone = {k for k, _ in opens if {what.kind for what in stages[k].happenings} <= DOORS}
        return frozenset(shelter for k, shelter in opens if carried[k] or k in alone) - used

    @property
    def good_enough(self) -> bool:
        """Whether the gap asked is proven."""
        claimed = self.claimed
        return claimed is not None and self.total - claimed <= self.options.gap * abs(self.total)

    @property
    def claimed(self) -> float | None:
        """The bound as it is told: no plan is below it by the table. Where true paths make the plan
        in hand cheaper than the table says, others may gain as much, and the bound is lower."""
        if self.bound is None:
            return None
        done = self.problem.done
        gained = max(0.0, self.mended.placement.money() + done - self.total)
        return max(0.0, min(self.bound + done, self.total) - gained)

    def begin(self, first: Settings | None = None, stays: Stays | None = None) -> None:
        """A first guess at the programmes, whole trees, layouts and true paths: a plan.

        first, stays : programmes that are known to be good, and where trees may stand under them.
        """
        watch = self.watch
        watch.tell(Phase.PROGRAMMES)
        ways = {h: {way.settings for way in some} for h, some in self.problem.programmes.items()}
        if first is None or any(first[h] not in ways[h] for h in ways):
            first, stays = self._first_guess(), None
        if len(self.parts) > 1:
            self._place_parts(first)
            return
        watch.tell(Phase.TREES)
        known = Placement(self.problem, first)
        for tree, (g, i) in enumerate(known.trees):
            path = (stays or {}).get(self.problem.groups[g].tree_ids[i])
            known.put(tree, None if path is None else known.path_of(path))
        if stays and math.isfinite(known.money()):
            self._keep(known)
        else:
            self._try(first)
        if self.options.gap == 0:
            self.seek()

    def seek(self) -> None:
        """The bound, and from it other programmes, while there is time; with parts neither."""
        watch = self.watch
        if len(self.parts) > 1 or watch.left_s <= 0:
            return
        first = dict(self.mended.placement.settings)
        bound = Bound(build(self.problem), self.options.threads)
        likely = bound.begin(watch.left_s, first)
        self.bound = bound.value
        watch.tell(Phase.PROGRAMMES)
        if likely and not self.good_enough and not self.tried:
            self._try(first)
        if likely and not self.good_enough:
            self._improve(bound, affordable(self.problem, likely))

    def _place_parts(self, first: Settings) -> None:
        """Part by part, under the programmes that the relaxation of the first part favours."""
        watch, parts = self.watch, self.parts
        program = build(self.problem, groups=parts[0], share=1.0 / len(parts))
        bound = Bound(program, self.options.threads)
        # whole trees and layouts take about as long as all before
        likely = bound.begin(watch.left_s - watch.elapsed_s, first)
        placement = Placement(self.problem, affordable(self.problem, likely) if likely else first)
        watch.tell(Phase.TREES)
        place_in_parts(placement, parts, lambda: watch.left_s)
        self._keep(placement)

    def _fitting_best(self, whole: Whole, best: Placement | None) -> Placement | None:
        """The cheapest plan whose sets all fit: only sets that do not are cut, not areas."""
        while best is not None and self.fitting and (misfits := self.fitting.misfits_of(best)):
            for (place, _), misfit in misfits.items():
                apart = {best.trees[tree][0] for tree in misfit.trees}
                whole.not_together(apart, best.places[place])
            left_s = self.watch.left_s
            best = whole.solve(0.0, left_s)[0] if left_s > 0 else None
        return best

    def _keep(self, placement: Placement, settled: bool = False) -> None:
        """Mend a placement; keep it if it is the best."""
        watch = self.watch
        if not settled:
            reheat(placement)
        new = mend(placement, self.fitting, lambda: watch.left_s, settled)
        if self.best is None:
            self.first_s = time.monotonic() - self.began
        out = Counter(new.placement.trees[tree][0] for tree in new.placement.out)
        kept = all(number <= self.problem.most_out[g] for g, number in out.items())
        if self.best is None or (kept and new.reckoning.costs.total < self.total):
            self.best = new
        # trees that are out may get unsafe places yet, which this bound does not know of
        watch.objective = min(self.total, watch.objective or math.inf)
        watch.bound = None if self.mended.placement.out else self.claimed
        watch.tell(Phase.LAYOUTS)

    def _first_guess(self) -> Settings:
        """What one group in ``SAMPLE``, and any in quarantine, would choose with so much of the
        room; else all warm."""
        apart = self.problem.apart
        groups = [g for g in self.everyone if g % SAMPLE == 0 or apart[g].any()]
        if len(groups) < SAMPLE:
            return warmest(self.problem)
        program = build(self.problem, groups=groups, share=1.0 / SAMPLE)
        bound, warm = Bound(program, self.options.threads), warmest(self.problem)
        watch = self.watch
        likely = bound.begin(watch.left_s, warm)
        best = affordable(self.problem, likely) if likely else warm
        value = bound.under(best, watch.left_s)
        for _ in range(GUESSES):
            parts = bound.divide(value * (1.0 - GUESS_GAP), lambda: watch.left_s)
            if not parts:
                break
            for settings in parts:
                found = bound.under(settings, watch.left_s)
                if found < value and within_breakers(self.problem, settings):
                    best, value = settings, found
        return best

    def _try(self, settings: Settings) -> None:
        """Whole trees under some programmes, mended if they may be the best."""
        self.tried.append(settings)
        began = time.monotonic()
        placement = Placement(self.problem, settings)
        whole = under(placement, self.everyone)
        placed = whole.round(placement, lambda: self.watch.left_s)
        if not placed and self.best is None:
            place_in_parts(placement, (), lambda: 0.0)
        if self.best is None or (placed and placement.money() < self.mended.placement.money()):
            self._keep(placement)
        self.try_s = time.monotonic() - began

    def _improve(self, bound: Bound, likely: Settings) -> None:
        """Likely programmes, then others by branching; for a smaller gap, small winters whole."""
        watch = self.watch
        self._try_if_promising(bound, likely)
        if self.good_enough:
            return
        if self.options.gap < USUAL_GAP and len(bound.program.stays) <= MOST_OPEN:
            whole = Whole(bound.program)
            found, value = whole.solve(self.options.gap / 2, OPEN_SHARE * watch.left_s)
            self.bound = value or self.bound
            exact = self.options.gap == 0 and len(whole.program.stays) <= MOST_EXACT
            if exact and found is not None:
                found = self._fitting_best(whole, found)
            if found is not None and found.money() < self.mended.placement.money():
                self._keep(found, exact)
            return
        while watch.left_s > self.try_s and not self.good_enough:
            parts = bound.divide(self._enough, lambda: watch.left_s)
            self.bound = bound.value
            if not parts:
                break
            for settings in parts:
                self._try_if_promising(bound, settings)

    @property
    def _enough(self) -> float:
        """Programmes whose relaxation is at least this are of no interest."""
        return self.mended.placement.money() * (1.0 - BRANCH_GAP * self.options.gap)

    def _try_if_promising(self, bound: Bound, settings: Settings) -> None:
        watch = self.watch
        if settings in self.tried or not within_breakers(self.problem, settings):
            return
        if watch.left_s > self.try_s and bound.under(settings, watch.left_s) < self._enough:
            self._try(settings)

    @property
    def bolder(self) -> Problem | None:
        """The problem in which trees without a place get one where they are kept more likely than
        lost; None: that opens nothing to them."""
        placement = self.mended.placement
        bolder = self.problem.at_even_odds(Counter(placement.trees[t][0] for t in placement.out))
        return None if (bolder.allowed == self.problem.allowed).all() else bolder

    def give_unsafe_places(self) -> None:
        """Trees without a place get one where they are kept more likely than lost, in the room that
        is left and under other programmes. The others keep a safe place."""
        bolder, placement = self.bolder, self.mended.placement
        if bolder is None:
            return
        self.problem, out = bolder, placement.out
        unsafe = placement.under_rules_of(bolder)
        for tree in sorted(out, key=lambda t: -bolder.groups[placement.trees[t][0]].tree.value):
            unsafe.insert(tree)
        self.best = mend(unsafe, self.fitting, lambda: self.watch.left_s, only=out)
        self.bound, self.tried = None, [dict(self.best.placement.settings)]
        self.seek()

    def improve(self) -> None:
        """Single trees on ways that turn out cheaper on their true paths."""
        found = self.mended
        new = found is not self.improved
        if new and improve(found.placement, self.fitting, lambda: self.watch.left_s):
            self.best = replace(found, reckoning=reckon(found.placement))
        self.improved = self.best

    def to_plan(self) -> Plan:
        """What was found, as a plan."""
        problem, placement, bound = self.problem, self.mended.placement, self.claimed
        layouts: Layouts = {}
        shifts: tuple[Shift, ...] = ()
        if self.fitting is not None:
            layouts, shifts = self.fitting.lay_out(placement)
        trees, weights = problem.season.tree_by_id, problem.season.site.weights
        shifted = sum(weights.carry_of(trees[one.tree_id].weight_kg) for one in shifts)
        costs = self.mended.reckoning.costs
        costs = replace(costs, carries=costs.carries + weights.shift * shifted)
        assert within_breakers(problem, placement.settings)
        objective = costs.total
        gap = Proof.gap_of(objective, bound)
        stays = placement.stays
        reached = gap is not None and gap <= self.options.gap
        ended = Termination.GAP_REACHED
        if not reached:
            ended = Termination.NODE_LIMIT if self.watch.left_s > 0 else Termination.TIME_LIMIT
        return Plan(
            stages=problem.stage_days.stages,
            settings={
                h: tuple(problem.conditions.shelters[h].settings[s] for s in settings)
                for h, settings in placement.settings.items()
            },
            stays=stays,
            carries=carries_of_stays(problem.stage_days.stages, stays),
            left_out=left_out_trees(placement),
            costs=costs,
            proof=Proof(
                solver="highs",
                termination=ended,
                objective=objective,
                bound=bound,
                gap=gap,
                seconds=time.process_time() - self.watch.began_cpu,
                rounds=self.mended.rounds,
                misfits=None if self.fitting is None else self.fitting.misfits,
            ),
            layouts=layouts,
            shifts=shifts,
            fixed_stages=problem.past,
            unsafe=_unsafe(self.mended),
        )


def _unsafe(mended: Mended) -> tuple[str, ...]:
    """Placed trees that are lost more often than the site allows."""
    placement = mended.placement
    problem = placement.problem
    most = problem.season.site.weights.most_chance
    at = (
        placement.trees[tree]
        for tree, chance in mended.reckoning.chance.items()
        if chance.lost > most
    )
    return tuple(sorted(problem.groups[g].tree_ids[i] for g, i in at))


def _without_days_of(shelters: Collection[str], placement: Placement) -> tuple[Settings, Stays]:
    """Settings and stays without the stages that only the doors of some shelters begin."""
    kept = [
        stage.index
        for stage in placement.problem.stage_days.stages
        if stage.sign is not Sign.CALENDAR
        or any(what.kind not in DOORS or what.subject not in shelters for what in stage.happenings)
    ]
    settings = {h: tuple(some[k] for k in kept) for h, some in placement.settings.items()}
    return settings, {t: tuple(path[k] for k in kept) for t, path in placement.stays.items()}


def likely_paths(follower: Follower, stays: Stays, settings: Settings) -> dict[int, list[int]]:
    """Option in each stage of the commonest path of each kind."""
    season, index = follower.season, follower.exposures.index
    found: dict[int, Counter[tuple[int, ...]]] = defaultdict(Counter)
    for tree in season.trees:
        path = [
            (season.site.summer_place, 0)
            if p is None
            else (p, settings[season.shelter_of(p).id][k])
            for k, p in enumerate(stays.get(tree.id, ()))
        ]
        if path:
            found[follower.kind_index[kind_of(tree)]][tuple(index[at] for at in path)] += 1
    return {kind: list(paths.most_common(1)[0][0]) for kind, paths in found.items()}


def _parts(problem: Problem) -> list[list[int]]:
    """Groups in parts that the solver can take at once; trees of all sorts in each."""
    options = problem.allowed[:, :, problem.first :].sum(axis=(1, 2))
    number = max(1, math.ceil(float(options.sum()) / MOST_OPTIONS))
    return [list(range(len(problem.groups)))[first::number] for first in range(number)]
