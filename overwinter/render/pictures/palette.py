"""Colours of the report. Each also has a dash, a mark or a word of its own: none speaks alone.

Text stands 4.5:1 or more from the paper, lines and marks 3:1 or more (WCAG 2.2, 1.4.3 and 1.4.11);
tests/render hold that.
"""

from dataclasses import dataclass

PAPER = "#ffffff"
INK = "#16201b"
QUIET = "#46524c"
"""Second text."""
LINK = "#0b4f6c"
TINT = "#eef1ec"
"""Ground of cards and table heads; text stands on it too."""
ALARM = "#8c1d0f"
OUTDOOR_FILL = "#cfd8de"
OUTDOOR_EDGE = "#66767f"
BAR = "#3d6b52"
GRID = "#c9cfcb"
"""Helping lines only; nothing is read from them alone."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """How a line is drawn; the dash tells it apart where colours do not."""

    colour: str
    width: float
    dash: str = ""

    @property
    def svg(self) -> str:
        """Attributes of an SVG shape."""
        dashed = f' stroke-dasharray="{self.dash}"' if self.dash else ""
        return f'fill="none" stroke="{self.colour}" stroke-width="{self.width:g}"{dashed}'


AIR = Stroke("#0a5c66", 1.2)
ROOTS = Stroke("#14213d", 2.4)
COLDEST = Stroke("#14213d", 1.2, "1.5 2.5")
LIMIT = Stroke("#a3210f", 1.8, "7 3")
AIR_LIMIT = Stroke("#a3210f", 1.4, "8 3 1.5 3")
HOLD = Stroke("#7a5000", 1.8, "2.5 2")
CARRY = Stroke("#5b2a86", 1.2)
OTHER_CARRY = Stroke("#5b2a86", 0.9, "1 4")
LIGHT = Stroke("#7a5000", 2.2)
NEED = Stroke("#a3210f", 1.8, "7 3")

STROKES = (AIR, ROOTS, COLDEST, LIMIT, AIR_LIMIT, HOLD, CARRY, OTHER_CARRY, LIGHT, NEED)
