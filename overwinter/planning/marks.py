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


def real_carries(season: Season, marks: Sequence[Mark]) -> tuple[Carry, ...]:
    """The marks as carries, by day, each from where the tree really was.

    Of several marks of one tree on one day the last counts; one that moves nothing is no carry.
    """
    last = {(mark.day, mark.tree_id): mark.target for mark in marks}
    at = {tree_id: start.place for tree_id, start in start_of_season(season).trees.items()}
    carries = []
    order = {tree.id: number for number, tree in enumerate(season.trees)}
    known = [key for key in last if key[1] in order]
    for day, tree_id in sorted(known, key=lambda key: (key[0], order[key[1]])):
        target = last[day, tree_id]
        if at[tree_id] != target:
            carries.append(Carry(day, tree_id, at[tree_id], target))
            at[tree_id] = target
    return tuple(carries)


def marks_by_carry(season: Season, marks: Sequence[Mark]) -> dict[str, Mark]:
    """The mark that stands for a carry, by the carry's key."""
    last = {(mark.day, mark.tree_id): mark for mark in marks}
    real = {carry_key(c): last[c.day, c.tree_id] for c in real_carries(season, marks)}
    return real | {mark.carry_key: mark for mark in marks if mark.carry_key is not None}


def open_carries(season: Season, plan: Plan, marks: Sequence[Mark]) -> tuple[Carry, ...]:
    """Carries of the plan that no mark stands for, by day."""
    done = marks_by_carry(season, marks)
    return tuple(
        carry
        for carry in plan.carries
        if carry.tree_id in season.tree_by_id and carry_key(carry) not in done
    )


def still_to_do(
    season: Season, plan: Plan, marks: Sequence[Mark], first: date
) -> tuple[Carry, ...]:
    """Open carries that still mean something on ``first``.

    Of those that were due and were not done only the last of each tree counts, if it was not
    overtaken by a later carry that was done and does not lead to where the tree stands anyway.
    """
    open_now = open_carries(season, plan, marks)
    waiting = set(open_now)
    last_done = {c.tree_id: c.day for c in plan.carries if c not in waiting}
    at = {tree_id: start.place for tree_id, start in start_of_season(season).trees.items()}
    at |= {carry.tree_id: carry.target for carry in real_carries(season, marks)}
    last_due = {carry.tree_id: carry for carry in open_now if carry.day < first}
    kept = []
    for carry in open_now:
        done = last_done.get(carry.tree_id)
        if done is not None and done > carry.day:
            continue
        late = carry.day < first
        if late and (last_due[carry.tree_id] != carry or at[carry.tree_id] == carry.target):
            continue
        kept.append(carry)
    return tuple(kept)


def assumed_marks(carries: Sequence[Carry]) -> tuple[Mark, ...]:
    """Marks for carries that are taken as done on their day."""
    return tuple(
        Mark(carry.day, carry.tree_id, carry.target, carry_key(carry), assumed=True)
        for carry in carries
    )
