"""The winter planned anew from where every tree really is."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from overwinter.audit.report import AuditReport
from overwinter.model.changes import Changes, Mark, Unmarked
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.model.start import Start
from overwinter.planning.changes import changed_season, working_heaters
from overwinter.planning.compare import Comparison, compare
from overwinter.planning.keep import kept_or
from overwinter.planning.last_safe_date import LastSafeDate, last_safe_date
from overwinter.planning.marks import assumed_marks, first_free_day, open_carries, still_to_do
from overwinter.planning.merge import (
    View,
    carries_by_tree,
    merged_plan,
    view_from,
)
from overwinter.planning.openings import Situation
from overwinter.planning.options import OnProgress, PlanOptions, Progress
from overwinter.planning.past import Past, past_of, start_after
from overwinter.planning.plan_winter import to_plan, warmed_too_late
from overwinter.planning.replan_checks import (
    UnmarkedCarries,
    check_fits,
    check_today,
    check_trees,
    notes_on_trees,
)
from overwinter.planning.replan_spells import replan_spells
from overwinter.planning.search import Search
from overwinter.planning.told_costs import as_audited, judged
from overwinter.problems import UserError
from overwinter.shelters.conditions import compute_conditions

MOST_TRIES = 6
"""Searches for a plan in which every heater is turned up in time."""


@dataclass(frozen=True)
class InForce:
    """The plan in force and what has been marked."""

    plan: Plan
    changes: Changes = field(default_factory=Changes)
    marks: tuple[Mark, ...] = ()


@dataclass(frozen=True)
class Request:
    """What is known today, and how to plan."""

    today: date
    changes: Changes
    """All changed facts in force, old and new ones."""
    unmarked: Unmarked | None = None
    last_safe_dates: bool = True
    afresh: bool = False
    """Plan as if there were no plan in force: no price on other carries."""


@dataclass(frozen=True)
class Truth:
    """Where the winter really stands on the first free day."""

    first: date
    season: Season
    """With all changes laid over it."""
    conditions: Conditions
    past: Past
    start: Start
    changes: Changes
    """Those asked for, with carry days granted where the household used more than planned."""
    assumed: tuple[Mark, ...]
    """Marks for carries that were taken as done."""
    expected: Mapping[str, tuple[Carry, ...]]
    """By tree: carries the plan in force still had open, those not done in time included."""


@dataclass(frozen=True)
class Replanned:
    """The new plan of the whole winter, beside the one that was in force."""

    truth: Truth
    plan: Plan
    report: AuditReport
    comparison: Comparison
    last_safe: tuple[LastSafeDate, ...]
    notes: tuple[str, ...]


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
    season
        As the inputs have it, changed facts not laid over it.

    Raises
    ------
    UnmarkedCarries
        Carries were due, are not marked, and ``request.unmarked`` does not say what to make of it.
    UserError
        The day, the trees or the marks do not fit the plan in force.
    NoPlan
        The search was stopped before a first plan was found.
    """
    if on_progress is not None:
        on_progress(Progress("weather and shelters", 0.0))
    truth = truth_of(season, in_force, request)
    before = view_before(season, in_force, truth)
    options = options or PlanOptions()
    refused: set[tuple[str, str, date]] = set()
    for _ in range(MOST_TRIES):
        future = _future(in_force.plan, truth, options, on_progress, refused)
        plan = merged_plan(
            truth.season, truth.conditions, truth.past, future, truth.first, in_force.plan
        )
        plan, report = judged(truth.season, truth.conditions, plan)
        # today nobody can turn a heater up a day ahead: such trees go elsewhere
        too_late = warmed_too_late(plan, report) - refused
        if not too_late:
            break
        refused |= too_late
    plan = as_audited(plan, report)
    known = {tree_id: start.known_targets for tree_id, start in truth.start.trees.items()}
    left = truth.start.carry_days_left
    after = view_from(truth.season, truth.conditions, plan, truth.first, known, left)
    situation = Situation(
        truth.season, truth.conditions, truth.start, in_force.plan, plan, options, on_progress
    )
    late = [s for s in truth.changes.opens if s in season.shelter_by_id]
    found = [last_safe_date(situation, s) for s in late if request.last_safe_dates]
    return Replanned(
        truth=truth,
        plan=plan,
        report=report,
        comparison=compare(before, after, truth.first, truth.expected),
        last_safe=tuple(one for one in found if one is not None),
        notes=_notes(season, in_force, request, truth),
    )


def truth_of(season: Season, in_force: InForce, request: Request) -> Truth:
    """Everything that is settled before the search; raises as ``replan`` does."""
    plan, marks, changes = in_force.plan, in_force.marks, request.changes
    check_today(season, plan, marks, request.today)
    check_trees(season, plan, changes)
    first = max(first_free_day(request.today, marks), season.site.starts)
    if first > season.site.ends:
        raise UserError(f"The plan ends on {season.site.ends}; nothing is left to be planned.")
    changed = changed_season(season, changes, marks, first)
    due = [carry for carry in open_carries(changed, plan, marks) if carry.day < first]
    if due and request.unmarked is None:
        raise UnmarkedCarries(due)
    assumed = assumed_marks(due) if request.unmarked is Unmarked.DONE else ()
    if assumed:
        marks = tuple(sorted((*marks, *assumed), key=lambda mark: mark.day))
        changed = changed_season(season, changes, marks, first)
    conditions = compute_conditions(changed)
    check_fits(changed, conditions, plan, marks)
    past = past_of(changed, conditions, plan, marks, first)
    open_now = still_to_do(changed, plan, marks, first)
    left, granted = _carry_days(changed, past, open_now)
    if granted is not None:
        changes = replace(changes, carry_days=granted)
        changed = changed_season(season, changes, marks, first)
    expected = carries_by_tree(open_now)
    known = {
        tree_id: None
        if request.afresh
        else frozenset(carry.target for carry in expected.get(tree_id, ()))
        for tree_id in plan.stays
    }
    start = start_after(changed, conditions, past, first, known, left)
    return Truth(first, changed, conditions, past, start, changes, assumed, expected)


def _carry_days(season: Season, past: Past, open_now: Sequence[Carry]) -> tuple[int, int | None]:
    """Carry days left, and the winter's total where that had to be raised.

    Days that the plan in force still needs are never taken away because earlier carries were
    spread over more days than planned.
    """
    used = len({carry.day for carry in past.carries})
    needed = len({carry.day for carry in open_now})
    allowed = season.site.carry_days_max
    if allowed - used >= needed:
        return allowed - used, None
    return needed, used + needed


def view_before(season: Season, in_force: InForce, truth: Truth) -> View:
    """What lay ahead by the plan in force, with the facts it was made with."""
    plan = in_force.plan
    old = changed_season(season, in_force.changes, in_force.marks, plan.fixed_until)
    if in_force.changes.colder == truth.changes.colder:
        conditions = truth.conditions
    else:
        conditions = compute_conditions(old)
    return view_from(old, conditions, plan, truth.first)


def _future(
    plan: Plan,
    truth: Truth,
    options: PlanOptions,
    on_progress: OnProgress | None,
    refused: Collection[tuple[str, str, date]],
) -> Plan:
    """The plan from the first free day on; ``refused`` are trees, places and starts of spells."""
    spells = replan_spells(truth.season, truth.conditions, plan, truth.first)
    conditions = working_heaters(truth.season, truth.conditions, truth.first)
    search = Search(truth.season, conditions, truth.start, spells, options, on_progress)
    number = {spell.start: spell.index for spell in spells}
    search.forbid((tree, at, number[day]) for tree, at, day in sorted(refused) if day in number)
    with search.work.noting_ctrl_c():
        found = search.run()
    new, _report = to_plan(truth.season, truth.conditions, found)
    return kept_or(new, plan, truth.season, truth.conditions, truth.start, found)


def _notes(season: Season, in_force: InForce, request: Request, truth: Truth) -> tuple[str, ...]:
    notes = list(notes_on_trees(season, in_force.plan, truth.first, request.changes))
    if truth.first > request.today:
        notes.append(
            f"Something was carried on {request.today}, so that day is settled; "
            f"planned from {request.today + timedelta(days=1)}."
        )
    if truth.changes.carry_days != request.changes.carry_days:
        notes.append(
            "Carrying took more days than planned; the winter is now allowed "
            f"{truth.changes.carry_days} carry days."
        )
    return tuple(notes)
