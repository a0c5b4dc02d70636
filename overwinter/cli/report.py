"""``overwinter report``: the plan of a folder as one HTML page to look at, keep and print."""

from pathlib import Path
from typing import Annotated

import typer

from overwinter.cli.arguments import Folder
from overwinter.cli.exit_codes import ExitCode

REPORT = "report.html"


def command(
    folder: Folder,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help=f"Write there instead of DIR/{REPORT}.")
    ] = None,
    force: Annotated[
        bool, typer.Option(help="Replace a file that was edited or made by something else.")
    ] = False,
) -> None:
    """Write the plan in a folder, audited anew, as one page: signs, risks, heat, benches, costs."""
    from overwinter.cli.outputs import check_free, write_outputs
    from overwinter.cli.plan import PLAN
    from overwinter.cli.show import read_back
    from overwinter.files.plan_file import inputs_changed, read_plan_document
    from overwinter.problems import UserError
    from overwinter.render.report_page import report_page

    target = folder / REPORT if out is None else out
    if not target.name or target.is_dir():
        raise UserError(f"{target} is a folder; name a file to write, such as {REPORT}.")
    check_free(target.parent, [target.name], force)
    outcome = read_back(folder)
    notices = []
    if inputs_changed(read_plan_document(folder / PLAN), outcome.season):
        notices.append(
            "The inputs have changed since this plan was made. Everything here is computed from "
            "the inputs as they are now; plan again to make the best of them."
        )
    html = report_page(outcome.season, outcome.plan, outcome.report, notices=notices)
    write_outputs(target.parent, {target.name: html}, force)
    print(f"{target}: the report of {outcome.season.site.name}.")
    if outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)
