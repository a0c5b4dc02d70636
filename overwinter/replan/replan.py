"""The winter planned anew from where every tree really is."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from overwinter.model.changes import Changes, Mark, Start, Unmarked
from overwinter.model.plan import Carry, Plan, Proof, carry_key
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions, Place
from overwinter.model.stage import Stage
from overwinter.model.tree import Tree
from overwinter.problems import UserError
from overwinter.replan.going_on import Comparison, Facts, GoneOn, compare, go_on
from overwinter.replan.past import begun_stages, first_free_day, open_carries, stands, start_from
from overwinter.search.options import OnProgress, PlanOptions
from overwinter.search.plan_winter import Outcome, judged, plan_stages, plan_winter
from overwinter.search.watch import ending_s, limit_s
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.begun import stages_anew
from overwinter.simulate.harm_table import passed_over


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
    changes: Changes  # all changed facts in force, old and new ones
    unmarked: Unmarked | None = None


@dataclass(frozen=True)
class Replanned:
    """The new plan of the whole winter beside the one that was in force."""

    outcome: Outcome
    changes: Changes
    assumed: tuple[Mark, ...]  # marks for carries that were taken as done
    comparison: Comparison
    gone_on: GoneOn  # the plan in force simply gone on with, by what is known now
    kept: bool  # whether it is gone on with: the search found nothing better by more than its gap


def changed_season(
    season: Season, changes: Changes, marks: Sequence[Mark] = (), first: date | None = None
) -> Season:
    """The season as it really is by what is known now.

    season : As in the inputs.
    changes : Facts of shelters, trees or heaters that are no longer in the season are passed over.
    marks, first : What was really carried before ``first``, the first day that is still free: a
        tree that was due before ``first`` and did not come joins then; a place is as high and as
        large as a tree that stood there. What it may carry stays as the inputs say: an overloaded
        shelf falls.
    """
    stood: dict[str, list[Tree]] = {}
    for mark in marks:
        if mark.tree_id in season.tree_by_id:
            stood.setdefault(mark.target, []).append(season.tree_by_id[mark.tree_id])

    def joins(tree: Tree) -> date | None:
        if tree.joins is None or first is None:
            return tree.joins
        came = [mark.day for mark in marks if mark.tree_id == tree.id and mark.day < first]
        return min(tree.joins, *came) if came else max(tree.joins, first)

    trees = (
        replace(tree, joins=joins(tree), leaves_down=changes.leaves_down.get(tree.id))
        for tree in season.trees
        if tree.id not in changes.gone
    )
    shelters = (
        replace(
            shelter,
            opens=changes.opens.get(shelter.id, shelter.opens),
            closes=changes.closes.get(shelter.id, shelter.closes),
            places=tuple(_as_seen(one, stood.get(one.id, ())) for one in shelter.places),
            heaters=tuple(
                replace(h, broken_from=changes.broken.get((shelter.id, h.name), h.broken_from))
                for h in shelter.heaters
            ),
        )
        for shelter in season.shelters
    )
    return replace(season, trees=tuple(trees), shelters=tuple(shelters))


def _as_seen(place: Place, trees: Sequence[Tree]) -> Place:
    """A place no lower and no smaller than the trees that stood there."""
    for tree in trees:
        sides = sorted((tree.width_m, tree.depth_m), reverse=place.width_m > place.depth_m)
        place = replace(
            place,
            width_m=max(place.width_m, sides[0]),
            depth_m=max(place.depth_m, sides[1]),
            headroom_m=max(place.headroom_m, tree.height_m),
        )
    return place


SHOWN = 12  # carries named in a message; the rest is counted


class UnmarkedCarries(UserError):
    """Carries were usually due before today and nobody said whether they were done."""

    def __init__(self, season: Season, carries: Sequence[Carry]) -> None:
        self.carries = tuple(carries)
        lines = [
            f"  {one.day.isoformat()}  {one.tree_id}: "
            f"{season.place_name(one.source) + ' to' if one.source else 'joins at'} "
            f"{season.place_name(one.target)}"
            for one in self.carries[:SHOWN]
        ]
        if (more := len(self.carries) - SHOWN) > 0:
            lines.append(f"  and {more} more")
        due = "carry was" if len(self.carries) == 1 else "carries were"
        head = f"{len(self.carries)} {due} usually due by now and not marked as done:"
        tail = (
            "Mark what was done with `overwinter mark`, or say --unmarked done (all of them, on "
            "their usual days), or --unmarked not-done (none of them; a sign whose carries all "
            "wait has not come yet)."
        )
        super().__init__("\n".join([head, *lines, tail]))


def check_day(season: Season, plan: Plan, marks: Sequence[Mark], today: date, first: date) -> None:
    """Refuse a day outside the winter, before what was decided, or before a mark."""
    site = season.site
    if not site.starts < today or first > site.ends:
        raise UserError(
            f"--today {today} is not in this winter, after {site.starts} and before {site.ends}."
        )
    settled = plan.stages[plan.fixed_stages].usual
    if plan.fixed_stages and today < settled - timedelta(days=1):
        raise UserError(
            f"--today {today} is before {settled}, from which the plan in force was made; what was "
            "before that day is settled. Go back to an earlier plan with "
            "`overwinter history DIR --back N` if that one was a mistake."
        )
    check_marks(marks, today)


def check_marks(marks: Sequence[Mark], today: date) -> None:
    """Refuse a day before a mark; raises ``UserError``."""
    for mark in marks:
        if mark.day > today:
            raise UserError(
                f"{mark.tree_id} is marked as carried on {mark.day}, which is after {today}. Say "
                "with --today which day it is."
            )


def check_fits(season: Season, plan: Plan, changes: Changes, marks: Sequence[Mark]) -> None:
    """Refuse trees that turned up without a day on which they join, and a plan or marks that speak
    of places or shelters that the inputs no longer have."""
    known = {*plan.stays, *(left.tree_id for left in plan.left_out), *changes.gone}
    new = [tree for tree in season.trees if tree.id not in known and tree.joins is None]
    if new:
        names = ", ".join(f"{tree.id} (row {tree.row})" for tree in new)
        raise UserError(
            f"In the tree list, but not in the plan in force: {names}. Write the day on which it "
            "comes into the column joins."
        )
    places = {place for path in plan.stays.values() for place in path if place is not None}
    places |= {mark.target for mark in marks}
    odd = sorted(places - {*season.places})
    odd += [shelter for shelter in plan.settings if shelter not in season.shelter_by_id]
    if odd:
        raise UserError(
            "The plan in force or the marks speak of what the inputs no longer have: "
            f"{', '.join(odd)}. Put the names back, or begin anew with `overwinter plan --restart`."
        )


def check_late(season: Season, start: Start, first: date) -> None:
    """Refuse a shelter that opens later although trees stand in it.

    season : with the changed facts laid over it.
    """
    lines = []
    for shelter in season.shelters:
        if shelter.opens is None or shelter.opens <= first:
            continue
        here = {place.id for place in shelter.places}
        trees = [tree_id for tree_id, path in start.stays.items() if path[-1] in here]
        if trees:
            names = ", ".join(trees[:SHOWN]) + (" and more" if len(trees) > SHOWN else "")
            lines.append(
                f"{shelter.name} cannot open as late as {shelter.opens}: trees stand in it "
                f"({names}). Does it close? Then say --closes '{shelter.id}=DATE'. If they "
                "are not there, mark where they are."
            )
    if lines:
        raise UserError("\n".join(lines))


class Today:
    """A day of a winter: what has happened, and what any news of that day is judged by."""

    def __init__(self, season: Season, in_force: InForce, request: Request) -> None:
        """
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
        # pots are mass of a shelter: those of trees that are gone no more
        known = replace(in_force.changes, gone=request.changes.gone)
        self.before = changed_season(season, known, self.marks, self.first)
        self.conditions = compute_conditions(self.before)

    def facts(self, changes: Changes) -> Facts:
        """The winter by what is known, the same physics under all changes."""
        plan = self.in_force.plan
        changed = changed_season(self.season, changes, self.marks, self.first)
        begun = begun_stages(changed, plan, self.marks, self.first)
        start = start_from(changed, plan, self.marks, begun, self.first)
        signs = _signs(changed, self.conditions, plan)
        passed = {s for s in passed_over(changed, plan.stages) if self._waits_no_more(changed, s)}
        days = stages_anew(changed, self.conditions.outdoor_min_c, begun, self.first, signs, passed)
        return Facts(changed, self.conditions, days, start)

    def _waits_no_more(self, changed: Season, shelter_id: str) -> bool:
        """Whether the days of a shelter that began no stage begin none yet: it is open no longer
        than before, and no tree stands in it that has to leave sooner, or is in it by the plan
        while it is shut, which may not know what has been written into the inputs since."""
        plan, here = self.in_force.plan, {p.id for p in changed.shelter_by_id[shelter_id].places}
        (opened, closed), (opens, closes) = (
            (shelter.opens or date.min, shelter.closes or date.max)
            for shelter in (season.shelter_by_id[shelter_id] for season in (self.before, changed))
        )
        return (
            opened <= opens
            and closes <= closed
            and (closes == closed or here.isdisjoint(stands(changed, self.marks).values()))
            and all(
                opens <= stage.usual and stage.until <= closes
                for stage in plan.stages[plan.fixed_stages :]
                if any(path[stage.index] in here for path in plan.stays.values())
            )
        )

    def planned(
        self,
        facts: Facts,
        gone_on: GoneOn,
        options: PlanOptions,
        on_progress: OnProgress | None = None,
    ) -> Outcome:
        """The rest planned anew, from the plan in force where that can be gone on with. Raises
        ``UserError``: A shelter is said to be late in which trees stand."""
        check_late(facts.season, facts.start, self.first)
        season, start, days = facts.season, facts.start, facts.stage_days
        known = None if gone_on.costs is None or gone_on.broken else gone_on.plan
        return plan_winter(season, options, on_progress, start, days, self.conditions, known)


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
    # the limit less what is spent, and what the audit of the plan in force will take
    trees, limit = len(facts.season.trees), limit_s(len(facts.season.trees), options)
    left_s = limit - (time.monotonic() - began) - ending_s(trees)
    left = replace(options, time_limit_s=max(left_s, 0.5 * limit))
    found = today.planned(facts, gone_on, left, on_progress)
    kept = no_better(found, gone_on, options.gap)
    outcome = kept_outcome(facts, gone_on, found.plan.proof) if kept else found
    return Replanned(
        outcome=outcome,
        changes=request.changes,
        assumed=today.assumed,
        comparison=compare(facts.season, in_force.plan, outcome.plan, today.first, today.marks),
        gone_on=gone_on,
        kept=kept,
    )


def _signs(season: Season, conditions: Conditions, plan: Plan) -> Sequence[Stage]:
    """Those of the plan in force, and what a tree needs that it did not know."""
    known = {*plan.stays, *(left.tree_id for left in plan.left_out)}
    if known >= {tree.id for tree in season.trees}:
        return plan.stages
    return plan_stages(season, conditions, plan.stages).stages


def _assumed(season: Season, in_force: InForce, request: Request, first: date) -> tuple[Mark, ...]:
    """Marks for carries that are taken as done on their day."""
    due = [
        carry
        for carry in open_carries(season, in_force.plan, in_force.marks)
        if carry.day < first and carry.tree_id not in request.changes.gone
    ]
    if not due or request.unmarked is Unmarked.NOT_DONE:
        return ()
    if request.unmarked is None:
        raise UnmarkedCarries(season, due)
    return tuple(Mark(c.day, c.tree_id, c.target, carry_key(c), assumed=True) for c in due)


def no_better(found: Outcome, gone_on: GoneOn, gap: float) -> bool:
    """Whether the new plan gains no more than the search can tell apart."""
    if gone_on.costs is None or gone_on.broken:
        return False
    fewer_out = len(found.plan.left_out) < len(gone_on.plan.left_out)
    return not fewer_out and gone_on.costs.total <= found.report.costs.total * (1.0 + gap)


def kept_outcome(facts: Facts, gone_on: GoneOn, proof: Proof) -> Outcome:
    """The plan in force, gone on with, as the outcome of a re-plan.

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
    return judged(facts.season, facts.conditions, facts.stage_days, plan, facts.start)
