"""``overwinter versions``: what runs here, for a report of a mistake."""

import platform

from overwinter import __version__
from overwinter.cli.guard import Json, tell
from overwinter.problems import UserError
from overwinter.solvers.choose import choose_solver, solver_versions


def command(as_json: Json = False) -> None:
    """Show the versions of overwinter, Python and the solvers, and which solver would be used."""

    try:
        used = choose_solver("auto")
    except UserError as error:
        used = f"none ({error})"
    found = {
        "overwinter": __version__,
        "Python": platform.python_version(),
        "platform": platform.platform(),
        **solver_versions(),
        "solver used": used,
    }
    width = max(map(len, found))
    lines = [f"{name:<{width}}  {version}" for name, version in found.items()]
    tell(as_json, lambda: found, lambda: "\n".join(lines))
