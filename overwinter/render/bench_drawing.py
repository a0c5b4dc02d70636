"""One place as a stage begins, to scale: what comes with its step number, what stays in grey.

Seen from above; one stands at the bottom edge. Everything is said in words or by a mark, nothing by
colour, and it prints in black and white. A long place is drawn in parts, one below the other, so
that the smallest pot that comes still holds its number.
"""

import re
from collections.abc import Mapping, Sequence

from overwinter.benches.paths import paths_left
from overwinter.model.plan import Layout
from overwinter.model.shelter import Place
from overwinter.render.bench_canvas import INK, Canvas
from overwinter.render.bench_ground import PAD, Part, draw_ground, marks_in_words
from overwinter.render.bench_labels import LINE, Label, fitted
from overwinter.render.bench_parts import INSIDE, scale_px_m, stretches
from overwinter.render.words import count
from overwinter.units import Display

NUMBER_SIZES = (13.0, 11.0, 10.0)
COMES = f'fill="#fff" stroke="{INK}" stroke-width="2"'
STAYS = 'fill="#d4d2cc" stroke="#888"'
PUSHED = f'fill="#fff" stroke="{INK}" stroke-dasharray="3 2"'


def draw_bench(
    place: Place,
    layouts: Sequence[Layout],
    numbers: Mapping[str, int],
    display: Display,
    *,
    pushed: frozenset[str] = frozenset(),
    width_px: float = 720.0,
    key: str = "",
) -> str:
    """SVG of ``place`` with each of ``layouts`` (m), to scale, no wider than ``width_px``.

    Parameters
    ----------
    numbers : step by tree id, of those that come.
    pushed : ids of trees that stay but are shifted.
    key : tells drawings of one place in one page apart, as ids must differ.
    """
    coming = [one for one in layouts if one.tree_id in numbers]
    scale = scale_px_m(place, coming, len(str(max(numbers.values(), default=1))), width_px)
    parts = stretches(place, layouts, (width_px - 2 * PAD) / scale)
    widest = max(part.end_m - part.start_m for part in parts)
    canvas = Canvas(2 * PAD + widest * scale)
    paths = paths_left(place, layouts)
    for number, part in enumerate(parts, 1):
        if len(parts) > 1:
            start, end = display.length(part.start_m), display.length(part.end_m)
            canvas.paragraph(f"{start} to {end} from the left ({number} of {len(parts)})", 11.0)
        draw_ground(canvas, place, part, scale, paths)
        for layout in part.layouts:
            _draw_tree(canvas, place, part, scale, layout, numbers, pushed)
        canvas.y += 2 * PAD + place.depth_m * scale
    name = f"{place.name}: {count(len(coming), 'tree')} of {len(layouts)} come"
    slug = re.sub(r"[^a-z0-9]+", "-", f"bench {place.id} {key}".lower()).strip("-")
    words = " ".join(
        f"Step {numbers[one.tree_id]}: {display.length(one.x_m)} from the left, "
        f"{display.length(one.y_m)} from the front."
        for one in sorted(coming, key=lambda one: numbers[one.tree_id])
    )
    return canvas.svg(name, f"{marks_in_words(place)} {words}", slug)


def in_one_piece(
    place: Place, layouts: Sequence[Layout], numbers: Mapping[str, int], width_px: float
) -> bool:
    """Whether the place need not be drawn in parts at that width."""
    coming = [one for one in layouts if one.tree_id in numbers]
    digits = len(str(max(numbers.values(), default=1)))
    scale = scale_px_m(place, coming, digits, width_px)
    return place.width_m * scale <= width_px - 2 * PAD + 1e-6


def _draw_tree(
    canvas: Canvas,
    place: Place,
    part: Part,
    scale: float,
    layout: Layout,
    numbers: Mapping[str, int],
    pushed: frozenset[str],
) -> None:
    x = PAD + (layout.x_m - part.start_m) * scale
    y = canvas.y + PAD + (place.depth_m - layout.y_m - layout.depth_m) * scale
    width, height = layout.width_m * scale, layout.depth_m * scale
    number = numbers.get(layout.tree_id)
    style = COMES if number is not None else PUSHED if layout.tree_id in pushed else STAYS
    canvas.raw('<g class="tree">')
    canvas.rect(x, y, width, height, style, round_px=2)
    if number is not None:
        room = (width - 2 * INSIDE, height - 2 * INSIDE)
        label = fitted(str(number), *room, NUMBER_SIZES) or Label((str(number),), NUMBER_SIZES[-1])
        middle = y + height / 2 + (0.9 - LINE / 2) * label.size
        canvas.text(x + width / 2, middle, label.lines[0], label.size, weight="bold")
    canvas.raw("</g>")
