"""The winter planned anew from where every tree really is."""

import time
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from overwinter.audit.audit import audit
from overwinter.model.changes import Changes, Mark, Start, Unmarked
from overwinter.model.plan import Carry, Plan, Proof
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions
from overwinter.model.stage import Stage
from overwinter.replan.changes import (
    UnmarkedCarries,
    changed_season,
    check_day,
    check_fits,
    check_late,
)
from overwinter.replan.going_on import Comparison, Facts, GoneOn, compare, go_on
from overwinter.replan.past import (
    assumed_marks,
    begun_stages,
    first_free_day,
    open_carries,
    stages_anew,
    start_from,
)
from overwinter.search.options import OnProgress, PlanOptions
from overwinter.search.plan_winter import (
    ENDING_S,
    ENDING_S_PER_TREE,
    LONGER_S_PER_TREE,
    USUAL_LIMIT_S,
    USUAL_TREES,
    Outcome,
    plan_stages,
    plan_winter,
)
from overwinter.shelters.conditions import compute_conditions


@dataclass(frozen=True)
class InForce:
    """The plan in force and what has been marked."""

    plan: Plan
    changes: Changes = field(default_factory=Changes)
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True)
class Request:
    """What is known today."""

    today: date
    changes: Changes
    """All changed facts in force, old and new ones."""
    unmarked: Unmarked | None = None


@dataclass(frozen=True)
class Replanned:
    """The new plan of the whole winter beside the one that was in force."""

    outcome: Outcome
    changes: Changes
    assumed: tuple[Mark, ...]
    """Marks for carries that were taken as done."""
    comparison: Comparison
    gone_on: GoneOn
    """The plan in force simply gone on with, by what is known now."""
    kept: bool
    """Whether it is gone on with: the search found nothing better by more than its gap."""


class Today:
    """A day of a winter: what has happened, and what any news of that day is judged by."""

    def __init__(self, season: Season, in_force: InForce, request: Request) -> None:
        """
        Parameters
        ----------
        season : as the inputs have it, changed facts not laid over it.

        Raises ``UserError``: the day, the trees or the places do not fit the plan in force; or
        carries were due and are not marked, and ``request.unmarked`` does not say what to make of
        them.
        """
        plan = in_force.plan
        self.season, self.in_force = season, in_force
        self.first = first_free_day(request.today, in_force.marks)
        check_day(season, plan, in_force.marks, request.today, self.first)
        check_fits(season, plan, request.changes, in_force.marks)
        self.assumed = _assumed(season, in_force, request, self.first)
        self.marks = (*in_force.marks, *self.assumed)
        before = changed_season(season, in_force.changes, self.marks, self.first)
        self.conditions = compute_conditions(before)

    def facts(self, changes: Changes) -> Facts:
        """The winter by what is known, the same physics under all changes."""
        plan = self.in_force.plan
        changed = changed_season(self.season, changes, self.marks, self.first)
        begun = begun_stages(changed, plan, self.marks, self.first)
        start = start_from(changed, plan, self.marks, begun)
        signs = _signs(changed, self.conditions, plan)
        days = stages_anew(changed, self.conditions, begun, self.first, signs)
        return Facts(changed, self.conditions, days, start)

    def planned(
        self, facts: Facts, options: PlanOptions, on_progress: OnProgress | None = None
    ) -> Outcome:
        """The rest planned anew.

        Raises ``UserError``: A shelter is said to be late in which trees stand.
        """
        check_late(facts.season, facts.start, self.first)
        return plan_winter(
            facts.season, options, on_progress, facts.start, facts.stage_days, self.conditions
        )

    def still(self, facts: Facts) -> tuple[Carry, ...]:
        """Carries of the plan in force that nobody has done yet."""
        carries = open_carries(facts.season, self.in_force.plan, self.marks)
        return _leading_anywhere(carries, facts.start, self.first)


def replan(
    season: Season,
    in_force: InForce,
    request: Request,
    options: PlanOptions | None = None,
    on_progress: OnProgress | None = None,
) -> Replanned:
    """Plan the rest of a winter anew; parameters and errors are those of ``Today``."""
    began = time.monotonic()
    options = options or PlanOptions()
    today = Today(season, in_force, request)
    facts = today.facts(request.changes)
    gone_on = go_on(in_force.plan, facts)
    left = _time_left(options, len(facts.season.trees), time.monotonic() - began)
    found = today.planned(facts, left, on_progress)
    kept = no_better(found, gone_on, options.gap)
    outcome = kept_outcome(facts, gone_on, found.plan.proof) if kept else found
    return Replanned(
        outcome=outcome,
        changes=request.changes,
        assumed=today.assumed,
        comparison=compare(in_force.plan, outcome.plan, today.first, today.still(facts)),
        gone_on=gone_on,
        kept=kept,
    )


def _time_left(options: PlanOptions, trees: int, spent_s: float) -> PlanOptions:
    """The limit less what is spent, and what the audit of the plan in force will take."""
    longer_s = max(0, trees - USUAL_TREES) * LONGER_S_PER_TREE
    limit_s = options.time_limit_s or USUAL_LIMIT_S + longer_s
    left_s = limit_s - spent_s - ENDING_S - ENDING_S_PER_TREE * trees
    return replace(options, time_limit_s=max(left_s, 0.5 * limit_s))


def _signs(season: Season, conditions: Conditions, plan: Plan) -> Sequence[Stage]:
    """Those of the plan in force, unless a tree has come that it did not know."""
    known = {*plan.stays, *(left.tree_id for left in plan.left_out)}
    if known >= {tree.id for tree in season.trees}:
        return plan.stages
    return plan_stages(season, conditions).stages


def _assumed(season: Season, in_force: InForce, request: Request, first: date) -> tuple[Mark, ...]:
    due = [
        carry
        for carry in open_carries(season, in_force.plan, in_force.marks)
        if carry.day < first and carry.tree_id not in request.changes.gone
    ]
    if not due or request.unmarked is Unmarked.NOT_DONE:
        return ()
    if request.unmarked is None:
        raise UnmarkedCarries(due)
    return assumed_marks(due)


def _leading_anywhere(carries: tuple[Carry, ...], start: Start, first: date) -> tuple[Carry, ...]:
    """Carries still to come; of those that were due only each tree's last, if it is not there."""
    due: dict[str, Carry] = {}
    later: dict[str, list[Carry]] = defaultdict(list)
    for carry in carries:
        if carry.day < first:
            due[carry.tree_id] = carry
        else:
            later[carry.tree_id].append(carry)
    found = []
    for tree_id in dict.fromkeys(carry.tree_id for carry in carries):
        last = due.get(tree_id)
        if last is not None and last.target != start.stays[tree_id][-1]:
            found.append(last)
        found += later[tree_id]
    return tuple(found)


def no_better(found: Outcome, gone_on: GoneOn, gap: float) -> bool:
    """Whether the new plan gains no more than the search can tell apart."""
    if gone_on.costs is None or gone_on.broken:
        return False
    fewer_out = len(found.plan.left_out) < len(gone_on.plan.left_out)
    return not fewer_out and gone_on.costs.total <= found.report.costs.total * (1.0 + gap)


def kept_outcome(facts: Facts, gone_on: GoneOn, proof: Proof) -> Outcome:
    """The plan in force, gone on with, as the outcome of a re-plan.

    Parameters
    ----------
    proof : of a search over the same facts; its bound holds for every plan.
    """
    assert gone_on.costs is not None, "a plan without costs cannot be gone on with"
    total = gone_on.costs.total
    bound = None if proof.bound is None else min(proof.bound, total)
    plan = replace(
        gone_on.plan,
        costs=gone_on.costs,
        proof=replace(proof, objective=total, bound=bound, gap=Proof.gap_of(total, bound)),
    )
    report = audit(facts.season, facts.conditions, facts.stage_days, plan, facts.start)
    return Outcome(facts.season, facts.conditions, facts.stage_days, plan, report)
