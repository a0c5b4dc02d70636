"""One place with its trees, to scale, as a drawing that stands in a page or on its own.

Seen from above; one stands at the bottom edge. Everything is said in words or by a mark, nothing by
colour, and it prints in black and white. A long place is drawn in parts, one below the other, so
that the smallest pot still holds its number.
"""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from overwinter.benches.paths import paths_left
from overwinter.domain.plan import Layout
from overwinter.domain.shelter import Place
from overwinter.domain.tree import Tree
from overwinter.reports.bench_canvas import INK, Canvas
from overwinter.reports.bench_ground import PAD, Part, draw_ground, marks_in_words
from overwinter.reports.bench_labels import LINE, NO_BREAK, Label, broken, fitted, text_width
from overwinter.reports.words import count
from overwinter.units import METRES_PER_FOOT, METRES_PER_INCH, Display

_INSIDE = 3.0
"""Between a tree's edge and its text, px."""
_NAME_SIZES = (12.0, 11.0, 10.0)
_NUMBER_SIZES = (13.0, 11.0, 10.0)
_TEXT = 12.0
_LEGEND_COLUMN = 225.0
_LARGEST_SCALE, _TALLEST = 260.0, 520.0
_LEAST_BOX, _BOX_PER_DIGIT = 6.0, 7.0


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
    headed: bool = True,
) -> str:
    """SVG of ``place`` seen from above with each of ``layouts`` (m), to scale.

    ``trees`` holds at least the trees of ``layouts``. ``width_px`` is the width it is meant to be
    shown at: its text is at least 10 px high then (360 suits a phone, 720 a page or A4). ``key``
    tells drawings of one place in one page apart, as ids must differ. Without ``headed`` the name
    of the place is left to the page.
    """
    by_id = {tree.id: tree for tree in trees}
    ordered = sorted(layouts, key=lambda it: (round(it.y_m, 1), it.x_m, it.tree_id))
    scale = _scale(place, ordered, width_px)
    tagged = _tagged(ordered, by_id, scale, display)
    parts = _parts(place, ordered, (width_px - 2 * PAD) / scale)
    paths = paths_left(place, ordered)
    canvas = Canvas(width_px)
    if headed:
        canvas.paragraph(place.name, 16.0, weight="bold")
    canvas.paragraph(_facts(place, ordered, by_id, display), _TEXT)
    canvas.paragraph(marks_in_words(place), _TEXT)
    canvas.y += 4
    for number, part in enumerate(parts, 1):
        if len(parts) > 1:
            canvas.y += 8
            canvas.paragraph(_part_words(part, number, len(parts), display), _TEXT, weight="bold")
        draw_ground(canvas, place, part, scale, paths)
        for layout in part.layouts:
            tree = by_id[layout.tree_id]
            _draw_tree(canvas, place, part, scale, layout, tree, tagged.labels[tree.id], display)
        canvas.y += 2 * PAD + place.depth_m * scale
    _draw_scale_bar(canvas, scale, display)
    _draw_legend(canvas, tagged, by_id, display)
    canvas.y += 4
    name = f"{place.name}: {count(len(ordered), 'tree')}, drawn to scale"
    slug = re.sub(r"[^a-z0-9]+", "-", f"bench {place.id} {key}".lower()).strip("-")
    return canvas.svg(name, _description(place, ordered, by_id, display), slug)


def _scale(place: Place, layouts: Sequence[Layout], width_px: float) -> float:
    """px per m: the place as wide as the drawing, but the smallest pot wide enough for a number."""
    whole = min((width_px - 2 * PAD) / place.width_m, _TALLEST / place.depth_m, _LARGEST_SCALE)
    smallest = min((min(it.width_m, it.depth_m) for it in layouts), default=1.0)
    box = 2 * _INSIDE + _LEAST_BOX + _BOX_PER_DIGIT * (len(str(max(1, len(layouts)))) - 1)
    largest = max((max(it.width_m, it.depth_m) for it in layouts), default=0.1)
    return min(max(whole, box / smallest), (width_px - 2 * PAD) / (1.5 * largest))


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
    return layout.width_m * scale - 2 * _INSIDE, layout.depth_m * scale - 2 * _INSIDE


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


def _parts(place: Place, layouts: Sequence[Layout], room_m: float) -> list[Part]:
    """The place in stretches at most ``room_m`` long, cut where fewest trees stand."""
    if place.width_m <= room_m + 1e-6:
        return [Part(0.0, place.width_m, tuple(layouts))]
    widest = max((it.width_m for it in layouts), default=0.0)
    pieces = math.ceil(place.width_m / max(room_m - widest, room_m / 3))
    length = place.width_m / pieces
    cuts = [0.0, *(_cut_near(layouts, i * length, length / 6) for i in range(1, pieces))]
    parts = []
    for start, end in pairwise([*cuts, place.width_m]):
        mine = tuple(it for it in layouts if start <= it.x_m + it.width_m / 2 < end)
        low = min((it.x_m for it in mine), default=start)
        high = max((it.x_m + it.width_m for it in mine), default=end)
        parts.append(Part(min(low, start), max(high, end), mine))
    return parts


def _cut_near(layouts: Sequence[Layout], at_m: float, within_m: float) -> float:
    """A distance from the left near ``at_m`` at which fewest trees stand."""
    edges = [it.x_m + it.width_m for it in layouts if abs(it.x_m + it.width_m - at_m) < within_m]

    def crossed(x: float) -> tuple[int, float]:
        standing = sum(it.x_m < x - 1e-6 and it.x_m + it.width_m > x + 1e-6 for it in layouts)
        return standing, abs(x - at_m)

    return min([at_m, *edges], key=crossed)


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
    canvas.hint(f"{tree.name}: {_measures(tree, display)}")
    canvas.rect(x, y, width, height, f'fill="#fff" stroke="{INK}"', round_px=2)
    line = LINE * label.size
    first = y + (height - line * len(label.lines)) / 2 + 0.9 * label.size
    for i, words in enumerate(label.lines):
        canvas.text(x + width / 2, first + i * line, words, label.size)
    canvas.raw("</g>")


def _measures(tree: Tree, display: Display) -> str:
    return (
        f"{display.length(tree.width_m)} × {display.length(tree.depth_m)}, "
        f"{display.length(tree.height_m)} tall, {display.weight(tree.weight_kg)}"
    )


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
        tall = f"{display.length(by_id[tree_id].height_m)} tall".replace(" ", NO_BREAK)
        words = f"{by_id[tree_id].name}, {tall}"
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


def _facts(
    place: Place, layouts: Sequence[Layout], by_id: Mapping[str, Tree], display: Display
) -> str:
    weight_kg = sum(by_id[it.tree_id].weight_kg for it in layouts)
    taken = sum(it.width_m * it.depth_m for it in layouts) / place.area_m2
    facts = [
        f"{display.length(place.width_m)} wide, {display.length(place.depth_m)} deep",
        count(len(layouts), "tree"),
        f"{taken * 100:.0f} % of the area",
    ]
    if math.isfinite(place.headroom_m):
        facts.append(f"headroom {display.length(place.headroom_m)}")
    if math.isfinite(place.load_limit_kg):
        facts.append(f"{display.weight(weight_kg)} of {display.weight(place.load_limit_kg)}")
    else:
        facts.append(display.weight(weight_kg))
    return ", ".join(facts)


def _part_words(part: Part, number: int, parts: int, display: Display) -> str:
    start, end = display.length(part.start_m), display.length(part.end_m)
    return f"Part {number} of {parts}: {start} to {end} from the left"


def _description(
    place: Place, layouts: Sequence[Layout], by_id: Mapping[str, Tree], display: Display
) -> str:
    """The drawing in words: what stands where, from the front left on."""
    return " ".join(
        [
            f"{_facts(place, layouts, by_id, display)}. {marks_in_words(place)}",
            *_stands(layouts, by_id, display),
        ]
    )


def _stands(
    layouts: Sequence[Layout], by_id: Mapping[str, Tree], display: Display
) -> Iterator[str]:
    for layout in layouts:
        tree = by_id[layout.tree_id]
        yield (
            f"{tree.name}: {display.length(layout.x_m)} from the left, "
            f"{display.length(layout.y_m)} from the front, {_measures(tree, display)}."
        )
