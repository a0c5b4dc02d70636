"""The ground of a place in a drawing: its edges, how they are marked, the paths left free."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from overwinter.benches.paths import Strip
from overwinter.model.plan import Layout
from overwinter.model.shelter import Place, Side
from overwinter.render.bench_canvas import FAINT, INK, Canvas

PAD = 23.0
"""Around the place, px: room for the marks of its sides."""


@dataclass(frozen=True)
class Part:
    """A stretch of the place along its front, m, and what stands there."""

    start_m: float
    end_m: float
    layouts: tuple[Layout, ...]


def draw_ground(
    canvas: Canvas, place: Place, part: Part, scale: float, paths: Sequence[Strip]
) -> None:
    """Ground, sides and paths of one stretch, below what is there."""
    left, top = PAD, canvas.y + PAD
    right = left + (part.end_m - part.start_m) * scale
    bottom = top + place.depth_m * scale
    canvas.rect(left, top, right - left, bottom - top, 'fill="#eceae4"')
    for strip in paths:
        start = max(strip.x_m, part.start_m)
        end = min(strip.x_m + strip.width_m, part.end_m)
        if end > start:
            x = left + (start - part.start_m) * scale
            y = bottom - (strip.y_m + strip.depth_m) * scale
            _draw_path(canvas, x, y, (end - start) * scale, strip.depth_m * scale)
    _draw_side(canvas, place, Side.BACK, (left, top, right, top), (0, -1))
    _draw_side(canvas, place, Side.FRONT, (left, bottom, right, bottom), (0, 1))
    for side, x, outwards, place_end in (
        (Side.LEFT, left, -1, part.start_m <= 1e-6),
        (Side.RIGHT, right, 1, part.end_m >= place.width_m - 1e-6),
    ):
        if place_end:
            _draw_side(canvas, place, side, (x, top, x, bottom), (outwards, 0))
        else:
            canvas.line(x, top - 6, x, bottom + 6, 1.0, "2 3")


def _draw_path(canvas: Canvas, x: float, y: float, width: float, height: float) -> None:
    canvas.rect(x, y, width, height, f'fill="#fff" stroke="{FAINT}" stroke-dasharray="5 4"')
    upwards = height > width
    if max(width, height) > 40 and min(width, height) > 14:
        middle_x, middle_y = x + width / 2, y + height / 2
        dx, dy = (4.0, 0.0) if upwards else (0.0, 4.0)
        canvas.text(middle_x + dx, middle_y + dy, "path", 12.0, turned=upwards)


def _draw_side(
    canvas: Canvas,
    place: Place,
    side: Side,
    ends: tuple[float, float, float, float],
    outwards: tuple[int, int],
) -> None:
    """One edge: thick where closed, arrowheads where one reaches in, a double line for glass."""
    x1, y1, x2, y2 = ends
    out_x, out_y = outwards
    if side in place.open_sides:
        canvas.line(x1, y1, x2, y2, 1.0)
        _draw_arrowheads(canvas, ends, outwards)
    else:  # outside, so that no tree covers it
        dx, dy, past_x, past_y = 2 * out_x, 2 * out_y, 4 * abs(out_y), 4 * abs(out_x)
        canvas.line(x1 + dx - past_x, y1 + dy - past_y, x2 + dx + past_x, y2 + dy + past_y, 4.0)
    if side is place.glass_side:
        for away in (6, 9):
            dx, dy = away * out_x, away * out_y
            canvas.line(x1 + dx, y1 + dy, x2 + dx, y2 + dy, 1.0)
    if side in (Side.FRONT, Side.BACK):
        glass = side is place.glass_side
        words = f"{side.value}, glass" if glass else side.value
        off = 16 if side is Side.FRONT else -7
        canvas.text(x1, y1 + off + out_y * (4 if glass else 0), words, 12.0, anchor="start")


def _draw_arrowheads(
    canvas: Canvas, ends: tuple[float, float, float, float], outwards: tuple[int, int]
) -> None:
    """Pointing in over an edge, one every 70 px."""
    x1, y1, x2, y2 = ends
    out_x, out_y = outwards
    length = math.hypot(x2 - x1, y2 - y1)
    marks = max(1, int(length // 70))
    for i in range(marks):
        share = (i + 0.5) / marks
        x, y = x1 + (x2 - x1) * share + 2 * out_x, y1 + (y2 - y1) * share + 2 * out_y
        along_x, along_y = 4 * abs(out_y), 4 * abs(out_x)
        points = (
            (x, y),
            (x + 7 * out_x + along_x, y + 7 * out_y + along_y),
            (x + 7 * out_x - along_x, y + 7 * out_y - along_y),
        )
        drawn = " ".join(f"{px:.1f},{py:.1f}" for px, py in points)
        canvas.raw(f'<polygon points="{drawn}" fill="{INK}"/>')


def marks_in_words(place: Place) -> str:
    """What the marks at the edges mean, as far as the place has them."""
    reached = [side.value for side in Side if side in place.open_sides]
    words = "Seen from above, front at the bottom. "
    if reached:
        joined = " and ".join(filter(None, [", ".join(reached[:-1]), reached[-1]]))
        words += f"Arrowheads: reach in here ({joined})."
    if place.glass_side is not None:
        words += f" Double line: glass ({place.glass_side.value})."
    return words
