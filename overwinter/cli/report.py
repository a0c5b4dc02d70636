"""``overwinter report``: the plan of a folder as one HTML page to look at, keep and print."""

from pathlib import Path
from typing import Annotated

import typer

from overwinter.api.folder import REPORT, read_back
from overwinter.api.plan import tell
from overwinter.cli.guard import ExitCode, Folder, Force, say
from overwinter.files.history import HISTORY, read_history
from overwinter.files.outputs import check_free, write_outputs
from overwinter.files.plan_file import inputs_changed, jsonable, read_plan_document
from overwinter.files.text_files import PLAN
from overwinter.problems import UserError
from overwinter.render.replan_report import change_words
from overwinter.render.report_page import Told, report_page
from overwinter.replan.going_on import stays_by
from overwinter.search.plan_winter import Outcome


def command(
    folder: Folder,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help=f"Write there instead of DIR/{REPORT}.")
    ] = None,
    force: Force = False,
) -> None:
    """Write the plan in a folder, audited anew, as one page: answer, winter, benches, risks."""
    target = folder / REPORT if out is None else out
    if not target.name or target.is_dir():
        raise UserError(f"{target} is a folder; name a file to write, such as {REPORT}.")
    check_free(target.parent, [target.name], force)
    outcome = read_back(folder, say)
    html = report_page(outcome.season, outcome.plan, outcome.report, _told(folder, outcome))
    write_outputs(target.parent, {target.name: html}, force)
    print(f"{target}: the report of {outcome.season.site.name}.")
    if outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)


def _told(folder: Path, outcome: Outcome) -> Told:
    """What a report tells beside plan and audit."""
    season, plan = outcome.season, outcome.plan
    notices = []
    if inputs_changed(read_plan_document(folder / PLAN), season):
        notices.append(
            "The inputs have changed since this plan was made. Everything here is computed from "
            "the inputs as they are now; plan again to make the best of them."
        )
    before, because = None, tuple[str, ...]()
    history = read_history(folder) if (folder / HISTORY).is_file() else None
    if history is not None and plan.fixed_stages:
        entry = history.in_force
        if entry.parent is not None and entry.document.get("plan") == jsonable(plan):
            parent = history.plans[entry.parent]
            before = stays_by(parent.read().plan, plan)
            because = change_words(season, entry.changes, parent.changes)
    return tell(outcome, notices, before, because)
