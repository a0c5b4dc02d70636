"""``overwinter report``: the plan of a folder as one HTML page to look at, keep and print."""

from pathlib import Path
from typing import Annotated

import typer

from overwinter.api.folder import REPORT, Winter, audited, open_winter
from overwinter.api.plan import tell
from overwinter.cli.guard import ExitCode, Folder, Force, say
from overwinter.files.outputs import check_free, write_outputs
from overwinter.files.plan_file import inputs_changed
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
    winter = open_winter(folder)
    outcome = audited(winter, say=say)
    html = report_page(outcome.season, outcome.plan, outcome.report, _told(winter, outcome))
    write_outputs(target.parent, {target.name: html}, force)
    print(f"{target}: the report of {outcome.season.site.name}.")
    if outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)


def _told(winter: Winter, outcome: Outcome) -> Told:
    """What a report tells beside plan and audit."""
    season, plan, entry = outcome.season, outcome.plan, winter.entry()
    notices = []
    if inputs_changed(entry.read(), season):
        notices.append(
            "The inputs have changed since this plan was made. Everything here is computed from "
            "the inputs as they are now; plan again to make the best of them."
        )
    before, because = None, tuple[str, ...]()
    if entry.parent is not None:
        parent = winter.entry(entry.parent)
        before = stays_by(parent.read().plan, plan)
        because = change_words(season, entry.changes, parent.changes)
    return tell(outcome, notices, before, because)
