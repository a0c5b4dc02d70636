"""Changed facts laid over a season, and whether they can be."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

from overwinter.model.changes import Changes, Mark, Start
from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.model.tree import Tree
from overwinter.problems import UserError


def changed_season(
    season: Season, changes: Changes, marks: Sequence[Mark] = (), first: date | None = None
) -> Season:
    """The season as it really is by what is known now.

    Parameters
    ----------
    season : As in the inputs.
    changes : Facts of shelters, trees or heaters that are no longer in the season are passed over.
    marks, first : What was really carried before ``first``, the first day that is still free: a
        tree that was due before ``first`` and did not come joins then.
    """

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
            heaters=tuple(
                replace(
                    one, broken_from=changes.broken.get((shelter.id, one.name), one.broken_from)
                )
                for one in shelter.heaters
            ),
        )
        for shelter in season.shelters
    )
    return replace(season, trees=tuple(trees), shelters=tuple(shelters))


SHOWN = 12
"""Carries named in a message; the rest is counted."""


class UnmarkedCarries(UserError):
    """Carries were usually due before today and nobody said whether they were done."""

    def __init__(self, carries: Sequence[Carry]) -> None:
        self.carries = tuple(carries)
        lines = [
            f"  {carry.day.isoformat()}  {carry.tree_id}: "
            f"{carry.source or 'joins'} to {carry.target}"
            for carry in self.carries[:SHOWN]
        ]
        if len(self.carries) > SHOWN:
            lines.append(f"  and {len(self.carries) - SHOWN} more")
        one = len(self.carries) == 1
        head = (
            f"{len(self.carries)} {'carry was' if one else 'carries were'} usually due by now and "
            f"{'is' if one else 'are'} not marked:"
        )
        tail = (
            "Mark what was done with `overwinter mark`, or say --unmarked done (all of them, on "
            "their usual days), or --unmarked not-done (none of them; a sign whose carries all "
            "wait has not come yet)."
        )
        super().__init__("\n".join([head, *lines, tail]))


def check_day(season: Season, plan: Plan, marks: Sequence[Mark], today: date, first: date) -> None:
    """Refuse a day outside the winter, before what was decided, or before a mark.

    Raises ``UserError``: Saying which day is wrong.
    """
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
    later = [mark for mark in marks if mark.day > today]
    if later:
        raise UserError(
            f"{later[0].tree_id} is marked as carried on {later[0].day}, which is after "
            f"--today {today}."
        )


def check_fits(season: Season, plan: Plan, changes: Changes, marks: Sequence[Mark]) -> None:
    """Refuse trees that turned up without a day on which they join, and a plan or marks that speak
    of places or shelters that the inputs no longer have.

    Raises ``UserError``: Naming them.
    """
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

    Parameters
    ----------
    season : with the changed facts laid over it.

    Raises ``UserError``: Naming every such shelter and its trees.
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
