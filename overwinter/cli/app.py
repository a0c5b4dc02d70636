"""The command table. A new command is one file with a ``command`` function and one line here.

A command's file is imported when it is called, so that ``overwinter --help`` stays fast.
"""

import gc
import sys
from collections.abc import Mapping
from importlib import import_module
from typing import Annotated, Any

import typer

from overwinter.cli.guard import ExitCode, GuardedGroup

COMMANDS: Mapping[str, str] = {  # in the order of the help, with what it says there
    "init": "Ask where and what, and write a commented folder that plans.",
    "check": "Read the inputs of a winter and report every problem.",
    "plan": "Plan the winter of a folder.",
    "show": "Show the plan in a folder, as a summary or as tables.",
    "report": "Write the plan in a folder as one page.",
    "lists": "Write carry lists to work from.",
    "mark": "Mark carries that were really done.",
    "tonight": "Say what a cold night that is forecast asks for.",
    "replan": "Plan the rest of the winter anew.",
    "history": "List plans and marks, compare two plans, or go back.",
    "versions": "Show the versions of overwinter, Python and the solver.",
}
SMALL_OBJECTS = 100_000
"""New ones after which Python looks for cycles among them. A program holds a million that all stay:
looking through them again and again takes a tenth of a plan at Python's own 700."""


class _Commands(GuardedGroup):
    """Finds a command in the file of its name."""

    def list_commands(self, ctx: Any) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in COMMANDS:
            return None
        alone = typer.Typer(rich_markup_mode=None, add_completion=False)
        alone.command(cmd_name)(import_module(f"overwinter.cli.{cmd_name}").command)
        return typer.main.get_command(alone)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


app = typer.Typer(
    cls=_Commands,
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


@app.callback()
def overwinter(
    debug: Annotated[bool, typer.Option(help="Show where the program failed.")] = False,
) -> None:
    """Plan where every potted tree spends the winter, and what it costs."""


def main() -> None:
    """Entry point of the ``overwinter`` command."""
    gc.set_threshold(SMALL_OBJECTS)
    try:
        app(prog_name="overwinter")
    except BrokenPipeError:
        # The reader of a pipe (head, less) has gone; that is no failure of ours.
        sys.stderr.close()
        sys.exit(ExitCode.DONE)
