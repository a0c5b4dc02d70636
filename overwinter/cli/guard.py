"""Turns whatever a command raises into one clear message and an exit code."""

import json
import sys
import traceback
from typing import Any

import typer
from typer.core import TyperGroup

from overwinter.cli.exit_codes import ExitCode
from overwinter.problems import AuditRefused, InputProblems, UserError


class GuardedGroup(TyperGroup):
    """A command group that never shows a traceback unless ``--debug`` asks for it."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command named; map exceptions to exit codes."""
        try:
            return super().invoke(ctx)
        except (InputProblems, UserError, AuditRefused, KeyboardInterrupt) as error:
            if ctx.params.get("debug"):
                traceback.print_exc()
            raise typer.Exit(explain(error)) from error
        except Exception as error:
            if isinstance(error, BrokenPipeError) or _is_control_flow(error):
                raise
            if ctx.params.get("debug"):
                traceback.print_exc()
            raise typer.Exit(explain_failure(error)) from error


def _is_control_flow(error: BaseException) -> bool:
    """Exits and usage errors are exceptions of the command library; it handles them itself."""
    return type(error).__module__.split(".")[0] in {"typer", "click"}


def explain(error: BaseException) -> ExitCode:
    """Say on stderr what is wrong with the request or the plan."""
    if isinstance(error, InputProblems):
        say("\n".join(error.lines))
        number = len(error.problems)
        say(f"{number} {'problem' if number == 1 else 'problems'}; nothing was written.")
        return ExitCode.BAD_INPUT
    if isinstance(error, KeyboardInterrupt):
        say("Stopped; nothing was written.")
        return ExitCode.STOPPED
    say(str(error))
    if isinstance(error, AuditRefused):
        return ExitCode.REFUSED
    return _code_of_user_error(error)


def _code_of_user_error(error: BaseException) -> ExitCode:
    """Tell a wrong request from a solver that broke down."""
    from overwinter.solvers.report import SolverFailed

    return ExitCode.REFUSED if isinstance(error, SolverFailed) else ExitCode.BAD_INPUT


def explain_failure(error: Exception) -> ExitCode:
    """Say that the program failed; a file that can't be read or written is named."""
    if isinstance(error, OSError) and error.filename is not None:
        say(f"{error.filename}: {error.strerror}.")
        return ExitCode.BAD_INPUT
    say(f"The program failed ({type(error).__name__}: {error}).")
    say("This is a mistake in overwinter. `overwinter --debug ...` shows where.")
    return ExitCode.REFUSED


def say(text: str) -> None:
    """One line on stderr."""
    print(text, file=sys.stderr, flush=True)


def print_json(value: object) -> None:
    """One JSON document on stdout, keys in the order given."""
    print(json.dumps(value, indent=2, ensure_ascii=False))
