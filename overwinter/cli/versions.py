"""``overwinter versions``: what runs here, for a report of a mistake."""

import platform
from importlib.metadata import version

from overwinter import __version__
from overwinter.cli.guard import Json, tell


def command(as_json: Json = False) -> None:
    """Show the versions of overwinter, Python and what solves the integer program."""
    found = {
        "overwinter": __version__,
        "Python": platform.python_version(),
        "platform": platform.platform(),
        "PuLP": version("pulp"),
        "HiGHS": version("highspy"),
    }
    width = max(map(len, found))
    lines = [f"{name:<{width}}  {number}" for name, number in found.items()]
    tell(as_json, lambda: found, lambda: "\n".join(lines))
