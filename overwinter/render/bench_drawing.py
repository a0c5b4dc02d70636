"""One place with its trees, to scale, as a drawing that stands in a page or on its own.

Seen from above; one stands at the bottom edge. Everything is said in words or by a mark, nothing by
colour, and it prints in black and white. A long place is drawn in parts, one below the other, so
that the smallest pot still holds its number.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from overwinter.benches.paths import Strip, paths_left
from overwinter.model.plan import Layout
from overwinter.model.shelter import Place
from overwinter.model.tree import Tree
from overwinter.render.bench_canvas import INK, Canvas
from overwinter.render.bench_ground import PAD, Part, draw_ground, marks_in_words
from overwinter.render.bench_labels import LINE, Label, broken, fitted, text_width
from overwinter.render.bench_parts import INSIDE, scale_px_m, stretches
from overwinter.render.bench_words import (
    described,
    facts,
    legend_words,
    measures,
    part_words,
)
from overwinter.render.words import count
from overwinter.units import METRES_PER_FOOT, METRES_PER_INCH, Display

_NAME_SIZES = (12.0, 11.0, 10.0)
_NUMBER_SIZES = (13.0, 11.0, 10.0)
_TEXT = 12.0
_LEGEND_COLUMN = 225.0


@dataclass(frozen=True)
class _Tagged:
    """What is written on each tree, by id, and the numbers that need explaining."""

    labels: Mapping[str, Label]
    numbered: Mapping[str, int]


def draw_bench(
    place: Place,
    trees: Sequence[Tree],
    layouts: Sequence[Layout],
    display: Display,
    *,
    width_px: float = 720.0,
    key: str = "",
) -> str:
    """SVG of ``place`` seen from above with each of ``layouts`` (m), to scale.

    ``trees`` holds at least the trees of ``layouts``. ``width_px`` is the width it is meant to be
    shown at: its text is at least 10 px high then (360 suits a phone, 720 a page or A4). ``key``
    tells drawings of one place in one page apart, as ids must differ.
    """
    plan = _planned(place, trees, layouts, display, width_px)
    canvas = Canvas(width_px)
    canvas.paragraph(place.name, 16.0, weight="bold")
    _draw_facts(canvas, plan)
    for number in range(len(plan.parts)):
        _draw_part(canvas, plan, number)
    _draw_scale_bar(canvas, plan.scale, display)
    _draw_legend(canvas, plan.tagged, plan.by_id, display)
    canvas.y += 4
    name = f"{place.name}: {count(len(layouts), 'tree')}, drawn to scale"
    ordered = [layout for part in plan.parts for layout in part.layouts]
    return canvas.svg(name, described(place, ordered, plan.by_id, display), _slug(place, key))


@dataclass(frozen=True)
class BenchPieces:
    """A drawing in pieces that a page may set apart, and the names its numbers stand for."""

    svgs: tuple[str, ...]
    """One for each stretch; the first says what is measured, the last has the scale bar."""
    names: tuple[str, ...]
    """What 1, 2, 3 ... on the trees stand for; empty where every name is on its tree."""


def draw_bench_in_pieces(
    place: Place,
    trees: Sequence[Tree],
    layouts: Sequence[Layout],
    display: Display,
    *,
    width_px: float = 720.0,
    key: str = "",
) -> BenchPieces:
    """``draw_bench`` for a page that has its own heading and may break between stretches."""
    plan = _planned(place, trees, layouts, display, width_px)
    svgs = []
    for number, part in enumerate(plan.parts):
        canvas = Canvas(width_px)
        if number == 0:
            _draw_facts(canvas, plan)
        _draw_part(canvas, plan, number)
        if number == len(plan.parts) - 1:
            _draw_scale_bar(canvas, plan.scale, display)
        canvas.y += 4
        name = f"{place.name}: {count(len(part.layouts), 'tree')}, drawn to scale"
        if len(plan.parts) > 1:
            name += f", part {number + 1} of {len(plan.parts)}"
        words = described(place, part.layouts, plan.by_id, display)
        svgs.append(canvas.svg(name, words, _slug(place, f"{key} {number}")))
    numbered = plan.tagged.numbered
    names = tuple(legend_words(plan.by_id[tree_id], display) for tree_id in numbered)
    return BenchPieces(tuple(svgs), names)


@dataclass(frozen=True)
class _Planned:
    """What is drawn, before any of it is."""

    place: Place
    by_id: Mapping[str, Tree]
    scale: float
    tagged: _Tagged
    parts: Sequence[Part]
    paths: Sequence[Strip]
    display: Display
    facts: str


def _planned(
    place: Place,
    trees: Sequence[Tree],
    layouts: Sequence[Layout],
    display: Display,
    width_px: float,
) -> _Planned:
    by_id = {tree.id: tree for tree in trees}
    ordered = sorted(layouts, key=lambda it: (round(it.y_m, 1), it.x_m, it.tree_id))
    scale = scale_px_m(place, ordered, width_px)
    return _Planned(
        place=place,
        by_id=by_id,
        scale=scale,
        tagged=_tagged(ordered, by_id, scale, display),
        parts=stretches(place, ordered, (width_px - 2 * PAD) / scale),
        paths=paths_left(place, ordered),
        display=display,
        facts=facts(place, ordered, by_id, display),
    )


def _slug(place: Place, key: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", f"bench {place.id} {key}".lower()).strip("-")


def _draw_facts(canvas: Canvas, plan: _Planned) -> None:
    canvas.paragraph(plan.facts, _TEXT)
    canvas.paragraph(marks_in_words(plan.place), _TEXT)
    canvas.y += 4


def _draw_part(canvas: Canvas, plan: _Planned, number: int) -> None:
    part = plan.parts[number]
    if len(plan.parts) > 1:
        canvas.y += 8
        words = part_words(part, number + 1, len(plan.parts), plan.display)
        canvas.paragraph(words, _TEXT, weight="bold")
    draw_ground(canvas, plan.place, part, plan.scale, plan.paths)
    for layout in part.layouts:
        tree = plan.by_id[layout.tree_id]
        label = plan.tagged.labels[tree.id]
        _draw_tree(canvas, plan.place, part, plan.scale, layout, tree, label, plan.display)
    canvas.y += 2 * PAD + plan.place.depth_m * plan.scale


def _tagged(
    layouts: Sequence[Layout], by_id: Mapping[str, Tree], scale: float, display: Display
) -> _Tagged:
    """Names where they fit and mostly do, else numbers from the front left corner on."""
    named = {}
    for layout in layouts:
        label = _name_label(by_id[layout.tree_id], layout, scale, display)
        if label is not None:
            named[layout.tree_id] = label
    if 2 * len(named) < len(layouts):
        named = {}
    unnamed = [layout for layout in layouts if layout.tree_id not in named]
    numbered = {layout.tree_id: number for number, layout in enumerate(unnamed, 1)}
    for layout in unnamed:
        width, height = _room(layout, scale)
        number = str(numbered[layout.tree_id])
        label = fitted(number, width, height, _NUMBER_SIZES)
        named[layout.tree_id] = label or Label((number,), _NUMBER_SIZES[-1])
    return _Tagged(named, numbered)


def _room(layout: Layout, scale: float) -> tuple[float, float]:
    """Width and height for text on a tree, px."""
    return layout.width_m * scale - 2 * INSIDE, layout.depth_m * scale - 2 * INSIDE


def _name_label(tree: Tree, layout: Layout, scale: float, display: Display) -> Label | None:
    """The name, with the height below it where there is room."""
    width, height = _room(layout, scale)
    label = fitted(tree.name, width, height, _NAME_SIZES)
    tall = f"{display.length(tree.height_m)} tall"
    if label is None or text_width(tall, label.size) > width:
        return label
    if (len(label.lines) + 1) * LINE * label.size > height:
        return label
    return Label((*label.lines, tall), label.size)


def _draw_tree(
    canvas: Canvas,
    place: Place,
    part: Part,
    scale: float,
    layout: Layout,
    tree: Tree,
    label: Label,
    display: Display,
) -> None:
    x = PAD + (layout.x_m - part.start_m) * scale
    y = canvas.y + PAD + (place.depth_m - layout.y_m - layout.depth_m) * scale
    width, height = layout.width_m * scale, layout.depth_m * scale
    canvas.raw('<g class="tree">')
    canvas.hint(f"{tree.name}: {measures(tree, display)}")
    canvas.rect(x, y, width, height, f'fill="#fff" stroke="{INK}"', round_px=2)
    line = LINE * label.size
    first = y + (height - line * len(label.lines)) / 2 + 0.9 * label.size
    for i, words in enumerate(label.lines):
        canvas.text(x + width / 2, first + i * line, words, label.size)
    canvas.raw("</g>")


def _draw_scale_bar(canvas: Canvas, scale: float, display: Display) -> None:
    inch, foot = METRES_PER_INCH, METRES_PER_FOOT
    lengths = (6 * inch, foot, 2 * foot, 4 * foot) if display.us else (0.1, 0.2, 0.5, 1.0, 2.0)
    length = max((m for m in lengths if m * scale <= 160), default=lengths[0])
    width, y = length * scale, canvas.y + 6
    canvas.rect(PAD, y, width, 5, f'fill="#fff" stroke="{INK}"')
    canvas.rect(PAD, y, width / 2, 5, f'fill="{INK}"')
    canvas.text(PAD + width + 8, y + 7, display.length(length), _TEXT, anchor="start")
    canvas.y += 22


def _draw_legend(
    canvas: Canvas, tagged: _Tagged, by_id: Mapping[str, Tree], display: Display
) -> None:
    """The numbered trees in columns, numbers running down."""
    if not tagged.numbered:
        return
    columns = max(1, int(canvas.width // _LEGEND_COLUMN))
    column_px = canvas.width / columns
    indent = text_width(str(len(tagged.numbered)), _TEXT) + 8
    entries = []
    for tree_id, number in tagged.numbered.items():
        words = legend_words(by_id[tree_id], display)
        entries.append((number, broken(words, column_px - indent - 8, _TEXT)))
    total = sum(len(lines) for _, lines in entries)
    top, deepest, column, row = canvas.y + 6, 0, 0, 0
    for number, lines in entries:
        if row >= math.ceil(total / columns) and column < columns - 1:
            column, row = column + 1, 0
        x = column * column_px
        baseline = top + (row + 0.8) * 1.3 * _TEXT
        canvas.text(x + indent - 6, baseline, str(number), _TEXT, anchor="end", weight="bold")
        for i, line in enumerate(lines):
            canvas.text(x + indent, baseline + i * 1.3 * _TEXT, line, _TEXT, anchor="start")
        row += len(lines)
        deepest = max(deepest, row)
    canvas.y = top + deepest * 1.3 * _TEXT
