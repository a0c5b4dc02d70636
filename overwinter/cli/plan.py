"""``overwinter plan``: compute the plan of a winter, audit it, write it, show it."""

import sys
from contextlib import closing
from pathlib import Path
from typing import Annotated

import typer

from overwinter.api.folder import OUTPUTS, record_plan, refuse_restart, write_plan
from overwinter.api.plan import plan
from overwinter.audit.report import deciding_limits
from overwinter.cli import guard
from overwinter.cli.guard import ExitCode, Folder, Force, Json, say, tell
from overwinter.files.outputs import check_free
from overwinter.files.season import read_season
from overwinter.render.tables import costs_values, cures_words
from overwinter.render.terminal import labelled, summary
from overwinter.search.explain import cures
from overwinter.search.options import USUAL_GAP, PlanOptions
from overwinter.search.plan_winter import Outcome
from overwinter.solvers.report import SolverSettings


def command(
    folder: Folder,
    gap: guard.Gap = USUAL_GAP,
    time_limit: guard.TimeLimit = None,
    threads: guard.Threads = 2,
    layouts: guard.Layouts = True,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Write the plan there instead of into DIR.")
    ] = None,
    force: Force = False,
    restart: Annotated[
        bool, typer.Option(help="Begin afresh though this winter is under way; history is kept.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Plan the winter of a folder; writes plan.json, placements.csv and carries.csv."""
    # Raises for a value out of its range, before anything is done.
    options = options_of(gap, time_limit, threads, layouts)
    own = out is None or out.resolve() == folder.resolve()
    target = folder if out is None else out
    season = read_season(folder)
    check_free(target, OUTPUTS, force)
    if own:
        refuse_restart(folder, restart)
    with closing(guard.ProgressLine(sys.stderr, season.site.currency)) as line:
        outcome = plan(season, options, line).outcome
    if own:
        record_plan(folder, outcome, restart, say)
    write_plan(outcome, target, force)
    show_outcome(outcome, as_json)
    if outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)


def options_of(gap: float, time_limit_s: float | None, threads: int, layouts: bool) -> PlanOptions:
    """Options of the search; raises ``UserError`` for what is out of range or not there."""
    SolverSettings(gap=gap, time_limit_s=time_limit_s, threads=threads)
    return PlanOptions(gap, time_limit_s, threads, layouts=layouts)


def show_outcome(outcome: Outcome, as_json: bool) -> None:
    """Print the summary, or the whole plan as JSON, and what would make unsafe trees safe."""
    season, plan, helps = outcome.season, outcome.plan, cures(outcome)
    more = labelled("To be safe", cures_words(season, helps)) if helps else []
    tell(
        as_json,
        lambda: plan_json(outcome) | {"cures_of_trees_not_safe": helps},
        lambda: "\n".join([summary(season, plan, outcome.report), *more]),
    )


def plan_json(outcome: Outcome) -> dict[str, object]:
    """What a script asks first; the whole plan is in plan.json."""
    season, plan, report = outcome.season, outcome.plan, outcome.report
    return {
        "site": season.site.name,
        "starts": season.site.starts,
        "ends": season.site.ends,
        "currency": season.site.currency,
        "trees_placed": len(plan.stays),
        "trees_not_safe": plan.unsafe,
        "trees_left_out": [left.tree_id for left in plan.left_out],
        "audit_passed": report.passed,
        "bill": report.bill,
        "costs": costs_values(report.costs),
        "expected_loss": report.expected_loss,
        "unseen_winters_of_risks": report.unseen,
        "lost_in_winters_of_the_plan": report.planned,
        "proof": plan.proof,
        "stages": plan.stages,
        "carries": plan.carries,
        "settings": plan.settings,
        "heat": report.heat,
        "limits_that_decide": deciding_limits(season, report),
        "risks": report.risks,
    }
