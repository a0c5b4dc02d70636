"""Colours of the report; none speaks alone, a word says the same.

Text stands 4.5:1 or more from the paper, lines and marks 3:1 or more (WCAG 2.2, 1.4.3 and 1.4.11);
tests/render hold that.
"""

PAPER = "#ffffff"
INK = "#16201b"
QUIET = "#46524c"
"""Second text."""
LINK = "#0b4f6c"
TINT = "#eef1ec"
"""Ground of cards and table heads; text stands on it too."""
ALARM = "#8c1d0f"
BAR = "#3d6b52"
GRID = "#c9cfcb"
"""Helping lines only; nothing is read from them alone."""
