"""``overwinter report``: the plan of a folder as one HTML page to look at, keep and print."""

from pathlib import Path
from typing import Annotated

import typer

from overwinter.api.folder import REPORT
from overwinter.api.plan import load
from overwinter.cli.guard import ExitCode, Folder, Force, say
from overwinter.files.outputs import check_free
from overwinter.problems import UserError


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
    found = load(folder)
    for notice in found.notices:
        say(notice)
    found.report(target, force)
    print(f"{target}: the report of {found.season.site.name}.")
    if found.outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)
