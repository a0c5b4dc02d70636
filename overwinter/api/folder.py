"""What commands need of a winter that is under way: inputs, history, the plan in force."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from overwinter.files.history import History, PlanEntry
    from overwinter.model.plan import Plan
    from overwinter.model.season import Season
    from overwinter.replan.replan import InForce
    from overwinter.search.plan_winter import Outcome
    from overwinter.shelters.damp import WetSurface


PLAN, PLACEMENTS, CARRIES = "plan.json", "placements.csv", "carries.csv"
OUTPUTS = (PLAN, PLACEMENTS, CARRIES)


@dataclass(frozen=True)
class Winter:
    """A folder with a history."""

    folder: Path
    season: "Season"
    """The inputs as they are now, no changed fact laid over them."""
    history: "History"

    def plan(self, number: int | None = None) -> "Plan":
        """A plan of the history, or the one in force."""
        return self.entry(number).read().plan

    def entry(self, number: int | None = None) -> "PlanEntry":
        """A plan's entry, or that of the plan in force."""
        from overwinter.problems import UserError

        if number is None:
            return self.history.in_force
        if number not in self.history.plans:
            known = ", ".join(map(str, self.history.plans))
            raise UserError(f"There is no plan {number} in the history; there are {known}.")
        return self.history.plans[number]

    def season_of(self, entry: "PlanEntry", plan: "Plan") -> "Season":
        """The inputs with the facts laid over them that a plan reckons with."""
        if entry.changes.none and not plan.fixed_stages:
            return self.season
        from overwinter.replan.changes import changed_season

        marks = [one.mark for one in self.history.marks]
        first = plan.stages[plan.fixed_stages].usual if plan.fixed_stages else None
        return changed_season(self.season, entry.changes, marks, first)

    @property
    def in_force(self) -> "InForce":
        """The plan in force with its facts and all marks."""
        from overwinter.replan.replan import InForce

        entry = self.history.in_force
        marks = tuple(one.mark for one in self.history.marks)
        return InForce(entry.read().plan, entry.changes, marks)


def open_winter(folder: Path) -> Winter:
    """Read a winter's inputs and its history.

    Raises
    ------
    InputProblems
        With every mistake of the inputs, or of the history.
    UserError
        There is no history yet.
    """
    from overwinter.files.history import HISTORY, read_history
    from overwinter.files.season import read_season
    from overwinter.problems import UserError

    season = read_season(folder)
    history = read_history(folder)
    if history is None:
        raise UserError(f"There is no {HISTORY} in {folder}; plan with `overwinter plan {folder}`.")
    return Winter(folder, season, history)


def season_of_plan_file(folder: Path, season: "Season", plan: "Plan") -> "Season":
    """The inputs as the plan in ``folder`` reckons with them; as they are without a history."""
    from overwinter.files.history import read_history
    from overwinter.files.plan_file import jsonable

    history = read_history(folder)
    if history is None:
        return season
    content = jsonable(plan)
    entries = [history.in_force, *reversed(tuple(history.plans.values()))]
    for entry in entries:
        if entry.document.get("plan") == content:
            return Winter(folder, season, history).season_of(entry, plan)
    return season


def audited(winter: Winter, number: int | None = None) -> "Outcome":
    """A plan of the history with its season, audited against the inputs as they are now.

    Raises
    ------
    AuditRefused
        It no longer holds.
    """
    entry = winter.entry(number)
    plan = entry.read().plan
    outcome = audited_plan(winter.season_of(entry, plan), plan)
    outcome.report.refuse_unless_passed()
    return outcome


def read_back(folder: Path, say: Callable[[str], None]) -> "Outcome":
    """The plan of a folder with its season, audited; refuses a plan that no longer holds."""
    from overwinter.files.plan_file import inputs_changed, read_plan_document
    from overwinter.files.season import read_season
    from overwinter.problems import UserError

    if not (folder / PLAN).is_file():
        read_season(folder)
        raise UserError(
            f"There is no {PLAN} in {folder}; make one with `overwinter plan {folder}`."
        )
    document = read_plan_document(folder / PLAN)
    season = season_of_plan_file(folder, read_season(folder), document.plan)
    if inputs_changed(document, season):
        say(f"The inputs have changed since {PLAN} was made; it is checked against them as now.")
    outcome = audited_plan(season, document.plan)
    outcome.report.refuse_unless_passed()
    return outcome


def audited_plan(season: "Season", plan: "Plan") -> "Outcome":
    """A plan with what it is judged by: weather, stages and audit computed anew."""
    from overwinter.audit.audit import audit
    from overwinter.replan.stages import stages_of
    from overwinter.search.plan_winter import Outcome
    from overwinter.shelters.conditions import compute_conditions

    conditions = compute_conditions(season)
    stage_days = stages_of(season, conditions, plan)
    report = audit(season, conditions, stage_days, plan)
    return Outcome(season, conditions, stage_days, plan, report)


def drips(outcome: "Outcome") -> "list[WetSurface]":
    """Where water forms on cold faces, over the winters of a plan."""
    from overwinter.shelters.damp import wet_surfaces

    days = outcome.stage_days.stage_of_day
    return wet_surfaces(outcome.season, outcome.conditions, outcome.plan.settings, days)


def write_plan(outcome: "Outcome", target: Path, force: bool) -> None:
    """Write all outputs of a plan together."""
    from overwinter.files.outputs import write_outputs
    from overwinter.files.plan_file import plan_text
    from overwinter.render.placements import placements_text
    from overwinter.render.table import csv_text
    from overwinter.render.tables import carries_table

    season, plan = outcome.season, outcome.plan
    texts = {
        PLAN: plan_text(season, plan),
        PLACEMENTS: placements_text(season, plan),
        CARRIES: csv_text(carries_table(season, plan, outcome.report)),
    }
    write_outputs(target, texts, force)
