"""What the terminal can show."""

import os
import sys

from overwinter.render.terminal import Style


def style() -> Style:
    """Bold headings on a terminal, plain text in a pipe or with ``NO_COLOR`` set."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    return Style(bold=sys.stdout.isatty() and not plain)
