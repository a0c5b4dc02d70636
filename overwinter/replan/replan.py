"""The winter planned anew from where every tree really is."""

import time
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from overwinter.audit.audit import audit
from overwinter.model.changes import Changes, Mark, Unmarked
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.model.stage import Stage
from overwinter.model.start import Start
from overwinter.replan.changes import changed_season
from overwinter.replan.checks import UnmarkedCarries, check_day, check_places, check_trees
from overwinter.replan.compare import Comparison, compare
from overwinter.replan.going_on import GoneOn, go_on
from overwinter.replan.marks import assumed_marks, first_free_day, open_carries
from overwinter.replan.past import begun_stages, start_from
from overwinter.replan.stages import stages_anew
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
    """What the plan in force would come to if it were simply gone on with."""
    kept: bool
    """Whether it is gone on with: the search found nothing better by more than its gap."""


def replan(
    season: Season,
    in_force: InForce,
    request: Request,
    options: PlanOptions | None = None,
    on_progress: OnProgress | None = None,
) -> Replanned:
    """Plan the rest of a winter anew.

    Parameters
    ----------
    season : as the inputs have it, changed facts not laid over it.

    Raises
    ------
    UserError
        ``checks`` says no; or carries were due and are not marked, and ``request.unmarked`` does
        not say what to make of them.
    """
    began = time.monotonic()
    options = options or PlanOptions()
    plan = in_force.plan
    first = first_free_day(request.today, in_force.marks)
    check_day(season, plan, in_force.marks, request.today, first)
    check_trees(season, plan, request.changes)
    check_places(season, plan, in_force.marks)
    assumed = _assumed(season, in_force, request, first)
    marks = (*in_force.marks, *assumed)
    changed = changed_season(season, request.changes, marks, first)
    conditions = compute_conditions(changed)
    begun = begun_stages(changed, plan, marks, first)
    stage_days = stages_anew(changed, conditions, begun, first, _signs(changed, conditions, plan))
    start = start_from(changed, plan, marks, begun)
    left = _time_left(options, len(changed.trees), time.monotonic() - began)
    found = plan_winter(changed, left, on_progress, start, stage_days)
    gone_on = go_on(plan, found, start)
    kept = _no_better(found, gone_on, options.gap)
    outcome = _kept(found, gone_on, start) if kept else found
    still = _leading_anywhere(open_carries(changed, plan, marks), start, first)
    return Replanned(
        outcome=outcome,
        changes=request.changes,
        assumed=assumed,
        comparison=compare(plan, outcome.plan, first, still),
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


def _no_better(found: Outcome, gone_on: GoneOn, gap: float) -> bool:
    """Whether the new plan gains no more than the search can tell apart."""
    if gone_on.costs is None or gone_on.broken:
        return False
    fewer_out = len(found.plan.left_out) < len(gone_on.plan.left_out)
    return not fewer_out and gone_on.costs.total <= found.report.costs.total * (1.0 + gap)


def _kept(found: Outcome, gone_on: GoneOn, start: Start) -> Outcome:
    assert gone_on.costs is not None, "a plan without costs cannot be gone on with"
    total, bound = gone_on.costs.total, found.plan.proof.bound
    bound = None if bound is None else min(bound, total)
    gap = None if bound is None else (total - bound) / max(abs(total), 1e-9)
    proof = replace(found.plan.proof, objective=total, bound=bound, gap=gap)
    plan = replace(gone_on.plan, costs=gone_on.costs, proof=proof)
    report = audit(found.season, found.conditions, found.stage_days, plan, start)
    return replace(found, plan=plan, report=report)
