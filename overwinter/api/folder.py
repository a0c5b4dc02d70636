"""What commands need of a winter that is under way: inputs, history, the plan in force."""

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from overwinter.audit.audit import audit, with_unseen
from overwinter.files.history import (
    HISTORY,
    ChangesRow,
    Entry,
    History,
    MarkEntry,
    PlanEntry,
    add_entries,
    begin_history,
    read_history,
)
from overwinter.files.outputs import own_names, write_outputs
from overwinter.files.plan_file import inputs_changed, plan_text
from overwinter.files.season import read_season
from overwinter.files.text_files import PLAN
from overwinter.model.changes import Changes
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.problems import UserError
from overwinter.render.table import csv_text
from overwinter.render.tables import carries_table, placements_table
from overwinter.replan.past import stages_of
from overwinter.replan.replan import InForce, Replanned, changed_season
from overwinter.search.plan_winter import Outcome
from overwinter.shelters.conditions import compute_conditions
from overwinter.shelters.damp import WetSurface, wet_surfaces

PLACEMENTS, CARRIES = "placements.csv", "carries.csv"
OUTPUTS = (PLAN, PLACEMENTS, CARRIES)
LISTS, REPORT = "lists", "report.html"
"""Where the carry lists and the report of the plan in force are written, unless told otherwise."""


@dataclass(frozen=True)
class Winter:
    """A folder with a history."""

    folder: Path
    season: Season  # the inputs as they are now, no changed fact laid over them
    history: History

    def entry(self, number: int | None = None) -> PlanEntry:
        """A plan's entry, or that of the plan in force."""
        if number is None:
            return self.history.in_force
        if number not in self.history.plans:
            known = ", ".join(map(str, self.history.plans))
            raise UserError(f"There is no plan {number} in the history; there are {known}.")
        return self.history.plans[number]

    def season_of(self, entry: PlanEntry, plan: Plan) -> Season:
        """The inputs with the facts laid over them that a plan reckons with."""
        if entry.changes.none and not plan.fixed_stages:
            return self.season
        first = plan.stages[plan.fixed_stages].usual if plan.fixed_stages else None
        marks = [one.mark for one in self.history.marks]
        return changed_season(self.season, entry.changes, marks, first)

    @property
    def in_force(self) -> InForce:
        """The plan in force with its facts and all marks."""
        entry = self.history.in_force
        marks = tuple(one.mark for one in self.history.marks)
        return InForce(entry.read().plan, entry.changes, marks)


ANEW = (
    "Make it anew with `overwinter plan`; once the winter is under way, with `overwinter replan`."
)


def open_winter(folder: Path) -> Winter:
    """Read a winter's inputs and its history. Raises ``InputProblems``: With every mistake of the
    inputs, or of the history. ``UserError``: There is no history yet."""
    season = read_season(folder)
    history = read_history(folder)
    if history is None:
        raise UserError(
            f"There is no {HISTORY} in {folder}; plan first, with `overwinter plan {folder}`."
        )
    return Winter(folder, season, history)


def audited(
    winter: Winter, number: int | None = None, say: Callable[[str], None] | None = None
) -> Outcome:
    """A plan of the history with its season, audited against the inputs as they are now.

    say : is told if these have changed since.
    """
    entry = winter.entry(number)
    document = entry.read()
    season = winter.season_of(entry, document.plan)
    known = frozenset(document.plan.tree_ids)
    new = [f"{tree.name} (row {tree.row})" for tree in season.trees if tree.id not in known]
    if new:
        raise UserError(f"New in the tree list: {', '.join(new)}. {ANEW}")
    if say is not None and inputs_changed(document, season):
        say("The inputs have changed since this plan was made; it is checked against them as now.")
    outcome = audited_plan(season, document.plan)
    outcome.report.refuse_unless_passed(outcome.season.site.display, ANEW)
    return outcome


def audited_plan(season: Season, plan: Plan) -> Outcome:
    """A plan with what it is judged by: weather, stages and audit computed anew."""
    conditions = compute_conditions(season)
    stage_days = stages_of(season, conditions, plan)
    report = audit(season, conditions, stage_days, plan)
    return Outcome(season, conditions, stage_days, plan, report)


def in_unseen(outcome: Outcome) -> Outcome:
    """The same with the risks of winters that the plan was not made from."""
    report = with_unseen(outcome.season, outcome.plan, outcome.report)
    return replace(outcome, report=report)


def drips(outcome: Outcome) -> list[WetSurface]:
    """Where water forms on cold faces, over the winters of a plan."""
    days = outcome.stage_days.stage_of_day
    return wet_surfaces(outcome.season, outcome.conditions, outcome.plan.settings, days)


def write_plan(outcome: Outcome, target: Path, force: bool) -> None:
    """Write all outputs of a plan together."""
    season, plan = outcome.season, outcome.plan
    texts = {
        PLAN: plan_text(season, plan),
        PLACEMENTS: csv_text(placements_table(season, plan)),
        CARRIES: csv_text(carries_table(season, plan, outcome.report)),
    }
    write_outputs(target, texts, force)


def older_words(folder: Path) -> str:
    """What lies in a folder that was made of a plan before, and how to make it again; or empty."""
    listed = any((folder / LISTS / name).exists() for name in own_names(folder / LISTS))
    found = ["lists"] * listed + ["report"] * (folder / REPORT).exists()
    old = " and ".join(f"the {one}" for one in found)
    again = " and ".join(f"overwinter {one} {folder}" for one in found)
    return f"Older than this plan: {old}. Run {again} again." if found else ""


def refuse_restart(folder: Path, restart: bool) -> None:
    """Refuse to plan afresh over a winter that is under way."""
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


def record_plan(folder: Path, outcome: Outcome, restart: bool, say: Callable[[str], None]) -> None:
    """Put a plan made afresh in force; the history begins with it, or goes on."""

    def entry(number: int) -> PlanEntry:
        return plan_entry(outcome, number, None, Changes(), "planned afresh")

    history = None if restart else read_history(folder)
    if history is None:
        kept = begin_history(folder, entry(1), put_aside=restart)
        if kept is not None:
            say(f"The {HISTORY} of before is kept as {kept.name}.")
        return

    def make(found: History) -> list[Entry]:
        new = entry(found.next_plan)
        same = found.in_force.document.get("plan") == new.document["plan"]
        return [] if same and found.in_force.changes.none else [new]

    add_entries(folder, make)


def record_replan(folder: Path, found: Replanned, parent: int, because: Sequence[str]) -> int:
    """Put a re-plan in force, with the marks it took for granted; the plan's number."""
    why = "; ".join(because) or "planned anew"

    def make(history: History) -> list[Entry]:
        if history.in_force.number != parent:
            raise UserError("Another plan was put in force meanwhile; nothing was written.")
        first = history.next_mark
        marks = [MarkEntry.of(first + n, parent, mark) for n, mark in enumerate(found.assumed)]
        new = plan_entry(found.outcome, history.next_plan, parent, found.changes, why)
        return [*marks, new]

    return add_entries(folder, make).in_force.number


def plan_entry(
    outcome: Outcome, number: int, parent: int | None, changes: Changes, why: str
) -> PlanEntry:
    """The entry of a plan made today."""
    plan = outcome.plan
    return PlanEntry(
        number=number,
        made=date.today(),
        since=plan.stages[plan.fixed_stages].usual,
        parent=parent,
        changes=ChangesRow.of(changes),
        why=why,
        document=json.loads(plan_text(outcome.season, plan)),
    )
