"""The key under a chart: a sample of each line, mark or fill with its name."""

from collections.abc import Sequence
from dataclasses import dataclass

from overwinter.render.bench_canvas import Canvas
from overwinter.render.bench_labels import text_width
from overwinter.render.pictures.chart import ROW, SMALL
from overwinter.render.pictures.palette import Stroke

_SAMPLE = 26.0
_GAP = 14.0


@dataclass(frozen=True, slots=True)
class Entry:
    """A name and what stands for it: a line, or a shape in a box of 26 x 10 px at (0, 0)."""

    words: str
    stroke: Stroke | None = None
    shape: str = ""


def draw_legend(canvas: Canvas, entries: Sequence[Entry], left: float = 0.0) -> None:
    """Entries side by side, broken into rows, below what is there."""
    x = left
    canvas.y += 4
    for entry in entries:
        width = _SAMPLE + 5 + text_width(entry.words, SMALL)
        if x > left and x + width > canvas.width:
            x = left
            canvas.y += ROW + 2
        shape = entry.shape
        if entry.stroke is not None:
            shape += f'<path d="M0 5H{_SAMPLE:g}" {entry.stroke.svg}/>'
        canvas.raw(f'<g transform="translate({x:.1f} {canvas.y:.1f})">{shape}</g>')
        canvas.text(x + _SAMPLE + 5, canvas.y + 9, entry.words, SMALL, anchor="start")
        x += width + _GAP
    canvas.y += ROW + 4
