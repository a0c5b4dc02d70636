"""What the marks of a winter amount to: carries as they really were, and what is still to do."""

from collections.abc import Sequence
from datetime import date, timedelta

from overwinter.model.changes import Mark
from overwinter.model.fingerprint import carry_key
from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.model.start import start_of_season


def first_free_day(today: date, marks: Sequence[Mark]) -> date:
    """First day that can still be planned: today, or tomorrow if something was carried today."""
    return today + timedelta(days=1) if any(mark.day >= today for mark in marks) else today


def stands(season: Season, marks: Sequence[Mark]) -> dict[str, str | None]:
    """Where every tree stands after all marks; None: it has not joined."""
    at = {tree_id: stays[-1] for tree_id, stays in start_of_season(season).stays.items()}
    for mark in sorted(marks, key=lambda one: one.day):
        if mark.tree_id in at:
            at[mark.tree_id] = mark.target
    return at


def marks_by_carry(season: Season, marks: Sequence[Mark]) -> dict[str, Mark]:
    """The mark that stands for a carry, by the carry's key.

    A mark without a key stands for the carry that it is exactly: day, tree, source and target.
    Of several marks of one tree on one day the last counts.
    """
    last = {(mark.day, mark.tree_id): mark for mark in marks}
    at = {tree_id: stays[-1] for tree_id, stays in start_of_season(season).stays.items()}
    found = {}
    for mark in sorted(last.values(), key=lambda one: one.day):
        if mark.tree_id in at and at[mark.tree_id] != mark.target:
            # the number of the stage is no part of a carry's key
            carry = Carry(0, mark.day, mark.tree_id, at[mark.tree_id], mark.target)
            found[carry_key(carry)] = mark
            at[mark.tree_id] = mark.target
    return found | {mark.carry_key: mark for mark in marks if mark.carry_key is not None}


def open_carries(season: Season, plan: Plan, marks: Sequence[Mark]) -> tuple[Carry, ...]:
    """Carries of the plan that lie ahead of it and that no mark stands for, by stage."""
    done = marks_by_carry(season, marks)
    return tuple(
        carry
        for carry in plan.carries
        if carry.stage >= plan.fixed_stages
        and carry.tree_id in season.tree_by_id
        and carry_key(carry) not in done
    )


def assumed_marks(carries: Sequence[Carry]) -> tuple[Mark, ...]:
    """Marks for carries that are taken as done on their day."""
    return tuple(
        Mark(carry.day, carry.tree_id, carry.target, carry_key(carry), assumed=True)
        for carry in carries
    )
