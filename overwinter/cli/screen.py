"""What the terminal can show."""

import os
import shutil
import sys

from overwinter.render.terminal import Style


def style() -> Style:
    """Bold headings on a terminal, plain text in a pipe or with ``NO_COLOR`` set."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    return Style(bold=sys.stdout.isatty() and not plain)


def width() -> int:
    """Columns of the terminal (``COLUMNS`` where it is set); 80 in a pipe."""
    return shutil.get_terminal_size((80, 24)).columns
