"""Whether a winter can be planned anew at all: the day, the trees, the marks, the inputs as now."""

from collections.abc import Sequence
from datetime import date, timedelta

from overwinter.model.changes import Changes, Mark
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.problems import UserError

SHOWN = 12
"""Carries named in a message; the rest is counted."""


class UnmarkedCarries(UserError):
    """Carries were due before today and nobody said whether they were done."""

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
            f"{len(self.carries)} {'carry was' if one else 'carries were'} due and "
            f"{'is' if one else 'are'} not marked:"
        )
        tail = (
            "Mark what was done with `overwinter mark`, or say --unmarked done (all of them, on "
            "their days) or --unmarked not-done (none of them)."
        )
        super().__init__("\n".join([head, *lines, tail]))


def check_today(season: Season, plan: Plan, marks: Sequence[Mark], today: date) -> None:
    """Refuse a day outside the winter, before what was decided, or before a mark.

    Raises
    ------
    UserError
        With what is wrong.
    """
    site = season.site
    if not site.starts - timedelta(days=180) <= today <= site.ends:
        raise UserError(f"--today {today} is not in this winter, {site.starts} to {site.ends}.")
    if plan.fixed_until is not None and today < plan.fixed_until - timedelta(days=1):
        raise UserError(
            f"--today {today} is before {plan.fixed_until}, from which the plan in force was made; "
            "what was before that day is settled. Go back to an earlier plan with "
            "`overwinter history DIR --back N` if that one was a mistake."
        )
    later = [mark for mark in marks if mark.day > today]
    if later:
        mark = later[0]
        raise UserError(
            f"{mark.tree_id} is marked as carried on {mark.day}, which is after --today {today}."
        )


def check_trees(season: Season, plan: Plan, changes: Changes) -> None:
    """Refuse a tree that turned up in the list without a day on which it joins.

    Raises
    ------
    UserError
        Naming every such tree.
    """
    known = {*plan.stays, *(left.tree_id for left in plan.left_out)}
    new = [
        tree
        for tree in season.trees
        if tree.id not in known and tree.joins is None and tree.id not in changes.gone
    ]
    if new:
        names = ", ".join(f"{tree.id} (row {tree.row})" for tree in new)
        raise UserError(
            f"In the tree list, but not in the plan in force: {names}. Write the day on which it "
            "comes into the column joins."
        )


def check_fits(season: Season, conditions: Conditions, plan: Plan, marks: Sequence[Mark]) -> None:
    """Refuse a plan that speaks of places or heater settings that the inputs no longer have.

    Raises
    ------
    UserError
        Naming them.
    """
    places = {p for path in plan.stays.values() for p in path if p is not None}
    places |= {mark.target for mark in marks}
    odd = [place for place in sorted(places) if place not in season.places]
    for shelter_id, keys in plan.settings.items():
        found = conditions.shelters.get(shelter_id)
        known = set() if found is None else {setting.key for setting in found.settings}
        odd += [f"{shelter_id} {key}" for key in dict.fromkeys(keys) if key not in known]
    if odd:
        raise UserError(
            "The plan in force or the marks speak of what the inputs no longer have: "
            f"{', '.join(odd)}. Put the names back, or begin anew with `overwinter plan --restart`."
        )


def notes_on_trees(season: Season, plan: Plan, first: date, changes: Changes) -> tuple[str, ...]:
    """What the grower should know of trees that joined late or left the list."""
    known = {*plan.stays, *(left.tree_id for left in plan.left_out)}
    notes = [
        f"{tree.id} was to join on {tree.joins} and is in no plan yet; it counts as joining on "
        f"{first}."
        for tree in season.trees
        if tree.id not in known and tree.joins is not None and tree.joins < first
    ]
    missing = sorted(known - set(season.tree_by_id) - set(changes.gone))
    if missing:
        notes.append(f"No longer in the tree list, and left aside: {', '.join(missing)}.")
    return tuple(notes)
