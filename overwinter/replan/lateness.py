"""What it costs that a shelter opens late, week by week, from where the trees are."""

from dataclasses import dataclass, replace
from datetime import date, timedelta

from overwinter.model.plan import Costs
from overwinter.problems import UserError
from overwinter.replan.going_on import go_on
from overwinter.replan.replan import Request, Today, kept_outcome, no_better
from overwinter.search.options import OnProgress, PlanOptions
from overwinter.search.plan_winter import Outcome

WEEKS = 6
NOTHING = 0.002
"""A plan gone on with that costs no more than this share more is not searched for again."""


@dataclass(frozen=True)
class Late:
    """The shelter opens on one day."""

    opens: date | None  # None: not at all in this winter
    outcome: Outcome

    @property
    def costs(self) -> Costs:
        """By the audit."""
        return self.outcome.report.costs


@dataclass(frozen=True)
class Lateness:
    """All days that were tried; the first is the one it was to open on."""

    shelter_id: str
    first: date  # first day that can still be planned
    days: tuple[Late, ...]


def lateness(
    today: Today,
    request: Request,
    shelter_id: str,
    options: PlanOptions | None = None,
    on_progress: OnProgress | None = None,
) -> Lateness:
    """Plan the rest of the winter for one opening after the other. Every plan is judged by the same
    audit over the same winters from the same day. A plan that can be gone on with for the next week
    at no more cost is. The plan of a later week is taken where it is cheaper, signs and all: a
    shelter that opens early can be left empty until it would have opened late. So no week costs
    less than the one before."""
    options = replace(options or PlanOptions(), layouts=False)
    shelter = today.facts(request.changes).season.shelter_by_id[shelter_id]
    if shelter.opens is None or shelter.opens < today.first:
        raise UserError(
            f"{shelter.name} is open. Say since when it cannot be used, with --closes "
            f"'{shelter_id}=DATE'; or that it is not open yet after all, --late "
            f"'{shelter_id}=DATE'."
        )
    ends = today.season.site.ends
    weeks = (shelter.opens + timedelta(weeks=week) for week in range(WEEKS + 1))
    days = [*(day for day in weeks if day < ends), ends]  # on the last day: not at all
    changes = request.changes
    known = [
        today.facts(replace(changes, opens={**changes.opens, shelter_id: day})) for day in days
    ]
    found: list[Outcome] = []
    for number, facts in enumerate(known):
        before = found[-1].plan if found else today.in_force.plan
        moved = go_on(before, facts)
        money = found[-1].report.costs.total * (1.0 + NOTHING) if found else 0.0
        if moved.costs is not None and not moved.broken and moved.costs.total <= money:
            found.append(kept_outcome(facts, moved, found[-1].plan.proof))
            continue
        outcome = today.planned(facts, moved, options, on_progress)
        if no_better(outcome, moved, 0.0 if number else options.gap):
            outcome = kept_outcome(facts, moved, outcome.plan.proof)
        found.append(outcome)
    for number in reversed(range(len(found) - 1)):
        moved = go_on(found[number + 1].plan, known[number])
        if no_better(found[number], moved, 0.0):
            found[number] = kept_outcome(known[number], moved, found[number].plan.proof)
        found[number] = min(found[number : number + 2], key=lambda one: one.report.costs.total)
    opens = [None if day == ends else day for day in days]
    return Lateness(shelter_id, today.first, tuple(map(Late, opens, found)))
