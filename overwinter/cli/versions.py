"""``overwinter versions``: what runs here, for a report of a mistake."""

import platform

from overwinter import __version__
from overwinter.cli.guard import Json, print_json
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
    if as_json:
        print_json(found)
        return
    width = max(map(len, found))
    print("\n".join(f"{name:<{width}}  {version}" for name, version in found.items()))
