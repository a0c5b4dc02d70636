"""Writes down in the history what a command did, before any other file shows it."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from overwinter.files.history import Entry, History, PlanEntry
    from overwinter.model.changes import Changes, Mark
    from overwinter.search.plan_winter import Outcome


def refuse_restart(folder: Path, restart: bool) -> None:
    """Refuse to plan afresh over a winter that is under way.

    Raises
    ------
    UserError
        Something was marked or planned anew, and ``restart`` is not set.
    """
    from overwinter.files.history import HISTORY, MarkEntry, read_history
    from overwinter.problems import UserError

    history = None if restart else read_history(folder)
    if history is None:
        return
    marks = len(history.marks)
    anew = sum(entry.parent is not None for entry in history.plans.values())
    if anew or any(isinstance(entry, MarkEntry) for entry in history.entries):
        raise UserError(
            f"This winter is under way ({HISTORY}: {marks} marked, {anew} made anew). "
            f"Use `overwinter replan {folder} --today DATE`; or --restart to begin afresh, which "
            f"keeps the old {HISTORY} under another name."
        )


def record_plan(
    folder: Path, outcome: "Outcome", restart: bool, say: Callable[[str], None]
) -> None:
    """Put a plan made afresh in force; the history begins with it, or goes on."""
    from overwinter.files.history import HISTORY, add_entries, begin_history, read_history
    from overwinter.model.changes import Changes

    def entry(number: int) -> "PlanEntry":
        return plan_entry(outcome, number, None, Changes(), "planned afresh")

    history = None if restart else read_history(folder)
    if history is None:
        kept = begin_history(folder, entry(1), put_aside=restart)
        if kept is not None:
            say(f"The {HISTORY} of before is kept as {kept.name}.")
        return

    def make(found: "History") -> list["Entry"]:
        new = entry(found.next_plan)
        same = found.in_force.document.get("plan") == new.document["plan"]
        return [] if same and found.in_force.changes.none else [new]

    add_entries(folder, make)


def record_replan(
    folder: Path,
    outcome: "Outcome",
    parent: int,
    changes: "Changes",
    assumed: tuple["Mark", ...],
    why: str,
) -> int:
    """Put a re-plan in force, with the marks it took for granted; the plan's number.

    Raises
    ------
    UserError
        Another command put another plan in force or marked something meanwhile.
    """
    from overwinter.files.history import MarkEntry, add_entries
    from overwinter.problems import UserError

    numbers = []

    def make(history: "History") -> list["Entry"]:
        if history.in_force.number != parent:
            raise UserError("Another plan was put in force meanwhile; nothing was written.")
        first = history.next_mark
        marks = [MarkEntry(first + n, parent, mark) for n, mark in enumerate(assumed)]
        numbers.append(history.next_plan)
        return [*marks, plan_entry(outcome, history.next_plan, parent, changes, why)]

    add_entries(folder, make)
    return numbers[-1]


def plan_entry(
    outcome: "Outcome", number: int, parent: int | None, changes: "Changes", why: str
) -> "PlanEntry":
    """The entry of a plan made today."""
    import json
    from datetime import date

    from overwinter.files.history import PlanEntry
    from overwinter.files.plan_file import plan_text

    plan = outcome.plan
    return PlanEntry(
        number=number,
        made=date.today(),
        since=plan.stages[plan.fixed_stages].usual,
        parent=parent,
        changes=changes,
        why=why,
        document=json.loads(plan_text(outcome.season, plan)),
    )
