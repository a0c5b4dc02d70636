"""The command table. A new command is one file with a ``command`` function and one line here.

Command files import nothing heavy at their top: ``--help`` must stay fast.
"""

import sys
from collections.abc import Callable, Mapping
from typing import Annotated

import typer

from overwinter.cli import (
    check,
    history,
    init,
    lists,
    mark,
    plan,
    replan,
    report,
    show,
    tonight,
    versions,
)
from overwinter.cli.exit_codes import ExitCode
from overwinter.cli.guard import GuardedGroup

COMMANDS: Mapping[str, Callable[..., None]] = {
    "init": init.command,
    "check": check.command,
    "plan": plan.command,
    "show": show.command,
    "report": report.command,
    "lists": lists.command,
    "mark": mark.command,
    "tonight": tonight.command,
    "replan": replan.command,
    "history": history.command,
    "versions": versions.command,
}
"""Every command by name, in the order of the help."""

app = typer.Typer(
    cls=GuardedGroup,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


@app.callback()
def overwinter(
    debug: Annotated[
        bool, typer.Option(help="Show where in the program a failure happened.")
    ] = False,
) -> None:
    """Plan where every potted tree spends the winter, and what it costs."""


for _name, _command in COMMANDS.items():
    app.command(_name)(_command)


def main() -> None:
    """Entry point of the ``overwinter`` command."""
    try:
        app(prog_name="overwinter")
    except BrokenPipeError:
        # The reader of a pipe (head, less) has gone; that is no failure of ours.
        sys.stderr.close()
        sys.exit(ExitCode.DONE)
