"""Bars one below the other, each with its name and its value in words above it."""

from collections.abc import Sequence
from dataclasses import dataclass

from overwinter.render.bench_canvas import INK, Canvas
from overwinter.render.bench_labels import broken, text_width
from overwinter.render.pictures.palette import BAR

_SIZE = 12.0
_LINE = 15.0
_BAR = 9.0
_GAP = 7.0


@dataclass(frozen=True, slots=True)
class BarRow:
    """One bar."""

    name: str
    value: float
    words: str


def draw_bars(
    rows: Sequence[BarRow],
    title: str,
    description: str,
    width_px: float,
    key: str,
    *,
    full: float | None = None,
) -> str:
    """SVG of bars from 0 to ``full`` (None: the longest); longer ones end in an arrowhead.

    The bars say nothing that the words above them do not.
    """
    canvas = Canvas(width_px)
    if full is None:
        full = max((row.value for row in rows), default=0.0)
    scale = (width_px - 12.0) / full if full > 0 else 0.0
    for row in rows:
        _draw_words(canvas, row)
        _draw_bar(canvas, row, scale)
    return canvas.svg(title, description, key)


def _draw_words(canvas: Canvas, row: BarRow) -> None:
    """Name on the left, value on the right; one below the other where they are too long."""
    width = canvas.width - 4
    if text_width(row.name, _SIZE) + text_width(row.words, _SIZE) + 10 <= width:
        canvas.text(2, canvas.y + 12, row.name, _SIZE, anchor="start", weight="bold")
        canvas.text(canvas.width - 2, canvas.y + 12, row.words, _SIZE, anchor="end")
        canvas.y += _LINE
        return
    for words, weight in ((row.name, "bold"), (row.words, "normal")):
        # bold letters are wider than those measured
        for one in broken(words, width * (0.92 if weight == "bold" else 1.0), _SIZE):
            canvas.text(2, canvas.y + 12, one, _SIZE, anchor="start", weight=weight)
            canvas.y += _LINE


def _draw_bar(canvas: Canvas, row: BarRow, scale: float) -> None:
    top, edge = canvas.y + 3, canvas.width - 10.0
    canvas.raw(f'<path d="M2 {top - 1:.1f}V{top + _BAR + 1:.1f}" stroke="{INK}" stroke-width="1"/>')
    length = max(row.value, 0.0) * scale
    if length > 0:
        style = f'fill="{BAR}" stroke="{BAR}"'
        canvas.rect(2, top, max(min(length, edge - 2), 0.8), _BAR, style)
    if length > edge - 2 + 0.5:
        tip = canvas.width - 2
        canvas.raw(
            f'<path d="M{edge:.1f} {top:.1f}L{tip:.1f} {top + _BAR / 2:.1f}'
            f'L{edge:.1f} {top + _BAR:.1f}Z" fill="{BAR}"/>'
        )
    canvas.y += _BAR + 2 + _GAP
