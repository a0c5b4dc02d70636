"""What all commands share: arguments, exit codes, the screen, progress, failures."""

import json
import os
import sys
import traceback
from collections.abc import Callable, Collection
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, TextIO

import typer
from typer.core import TyperGroup

from overwinter.files.findings import did_you_mean
from overwinter.problems import AuditRefused, InputProblems, UserError

if TYPE_CHECKING:  # these load numpy, and --help must stay fast
    from overwinter.search.options import Progress

Folder = Annotated[
    Path,
    typer.Argument(metavar="DIR", help="Folder of one winter: trees, shelters, site, weather."),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON for a script.")]
Force = Annotated[bool, typer.Option(help="Replace outputs edited or made by something else.")]
Gap = Annotated[float, typer.Option(help="Stop when no plan costs less by more than this share.")]
TimeLimit = Annotated[
    float | None,
    typer.Option(
        metavar="SECONDS",
        help="Stop then with the best plan found; 20 s for up to 1,000 trees unless given.",
    ),
]
Threads = Annotated[int, typer.Option(min=1, help="Threads of the solver.")]
Layouts = Annotated[bool, typer.Option(help="Lay places out to scale; plan again where it fails.")]
QUIET_S = 2.0  # nothing is said before the search has lasted this long
RENEW_S = 0.2  # seconds between renewals of a line on a terminal
EVERY_S = 5.0  # seconds between lines where the line cannot be written over


class ExitCode(IntEnum):
    """Exit codes of every command."""

    DONE = 0
    TREES_LEFT_OUT = 1  # a plan was made and written, but some trees have no place in it
    BAD_INPUT = 2  # the folder, the request or an option is wrong; nothing was written
    REFUSED = 3  # the audit refused the plan, or the program itself failed; nothing was written
    STOPPED = 130  # stopped by hand before there was a plan; nothing was written


def tell(as_json: bool, values: Callable[[], object], text: Callable[[], str]) -> None:
    """Print an answer for a script or a grower; plain text in a pipe or with ``NO_COLOR``."""
    if as_json:
        print_json(values())
        return
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    typer.echo(text().removesuffix("\n"), color=False if plain else None)


class ProgressLine:
    """Receives ``Progress`` and writes one line that renews itself, or a line every few seconds."""

    def __init__(self, stream: TextIO, currency: str) -> None:
        self._stream = stream
        self._currency = currency
        self._renews = stream.isatty()
        self._last_s = float("-inf")
        self._width = 0

    def __call__(self, progress: "Progress") -> None:
        """Show one report, if it is time."""
        if progress.seconds < QUIET_S:
            return
        least = RENEW_S if self._renews else EVERY_S
        if 0.0 <= progress.seconds - self._last_s < least:
            return
        self._last_s = progress.seconds
        text = describe(progress, self._currency)
        if self._renews:
            self._stream.write("\r" + text.ljust(self._width))
            self._width = len(text)
        else:
            self._stream.write(text + "\n")
        self._stream.flush()

    def close(self) -> None:
        """Wipe the line, so that what follows starts on a clean one."""
        if self._renews and self._width:
            self._stream.write("\r" + " " * self._width + "\r")
            self._stream.flush()
            self._width = 0


def describe(progress: "Progress", currency: str) -> str:
    """One report in words: the plan in hand and how far it is proven."""
    text = f"{progress.phase.value}, {progress.seconds:.0f} s"
    if progress.objective is None:
        return text
    found = f"{text}: plan in hand {progress.objective:.2f} {currency}"
    if progress.bound is None:
        return found
    gap = max(progress.objective - progress.bound, 0.0) / max(abs(progress.objective), 1e-9)
    return f"{found}, at most {gap * 100:.1f} % of it could be saved"


def chosen(option: str, asked: list[str], known: Collection[str]) -> list[str]:
    """What an option asks for, each once; ``all`` is every one."""
    names = list(known if "all" in asked else dict.fromkeys(asked))
    for one in names:
        if one not in known:
            near = did_you_mean(one, known)
            raise UserError(f"{option} is {', '.join(known)} or all, not '{one}'. {near}".rstrip())
    return names


class GuardedGroup(TyperGroup):
    """A command group that never shows a traceback unless ``--debug`` asks for it."""

    def invoke(self, ctx: Any) -> Any:
        """Run the command named; map exceptions to exit codes."""
        try:
            return super().invoke(ctx)
        except (Exception, KeyboardInterrupt) as error:
            # Exits and usage errors are exceptions of the command library; it handles them itself.
            library = type(error).__module__.split(".")[0] in {"typer", "click"}
            if library or isinstance(error, BrokenPipeError):
                raise
            if ctx.params.get("debug"):
                traceback.print_exc()
            raise typer.Exit(explain(error)) from error


def explain(error: BaseException) -> ExitCode:
    """Say on stderr what is wrong with request, file or plan, or that the program failed."""
    if isinstance(error, InputProblems):
        say("\n".join(error.lines))
        number = len(error.problems)
        say(f"{number} {'problem' if number == 1 else 'problems'}; nothing was written.")
        return ExitCode.BAD_INPUT
    if isinstance(error, KeyboardInterrupt):
        say("Stopped; nothing was written.")
        return ExitCode.STOPPED
    if isinstance(error, (UserError, AuditRefused)):
        from overwinter.solvers.report import SolverFailed

        say(str(error))
        refused = isinstance(error, (AuditRefused, SolverFailed))
        return ExitCode.REFUSED if refused else ExitCode.BAD_INPUT
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
    """One JSON document on stdout: keys in the order given, those of objects as in plan.json."""
    from overwinter.files.plan_file import jsonable

    print(json.dumps(jsonable(value), indent=2, ensure_ascii=False, default=sorted))
