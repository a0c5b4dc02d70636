"""One place to scale, seen from above; one stands at the bottom edge.

Everything is said in words or by a mark, nothing by colour, and it prints in black and white. On a
sheet what comes has its step number and what stays is grey; a long place is drawn in parts, one
below the other, so that the smallest pot that comes still holds its number.
"""

import math
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from markupsafe import Markup

from overwinter.benches.region import Strip, paths_left
from overwinter.model.plan import Layout
from overwinter.model.shelter import Place, Side
from overwinter.render.templates import filled
from overwinter.render.words import count
from overwinter.units import Display

FONT = "Arial, Helvetica, 'Liberation Sans', Roboto, sans-serif"

# Advance widths in em, rounded up from the Helvetica family (from memory); wider for what is not
# listed. The factor allows for wider fonts put in its place (DejaVu Sans is a sixth wider).
_WIDTHS = (
    ("ijl'|.,:;! \u00a0", 0.28),
    ('frtI()[]-/"', 0.34),
    ("mM", 0.84),
    ("wW@%", 0.95),
    ("GOQ×", 0.78),
    ("ABCDEFHJKLNPRSTUVXYZ&", 0.72),
    ("abcdeghknopqsuvxyz0123456789", 0.56),
)
_EM = {letter: width for letters, width in _WIDTHS for letter in letters}
_OTHER_EM, _WIDE_EM, _ALLOWANCE = 0.75, 1.05, 1.16
LINE = 1.15  # height of a line in em
INK = "#111"
PAD = 23  # around the place, px: room for the marks of its sides
HEADING, HEADING_PX = 15, 11  # height of the words above a part, and of their letters, px
INSIDE = 1.5  # between a tree's edge and its text, px
ARROW_EVERY = 70.0
_LARGEST_SCALE, _TALLEST = 170.0, 240.0
_LEAST_BOX, _BOX_PER_DIGIT = 6.0, 7.0

NUMBER_SIZES = (13.0, 11.0, 10.0)
COMES = f'fill="#fff" stroke="{INK}" stroke-width="2"'
STAYS = 'fill="#d4d2cc" stroke="#888"'
PUSHED = f'fill="#fff" stroke="{INK}" stroke-dasharray="3 2"'
PLAIN = f'fill="#fff" stroke="{INK}"'


@dataclass(frozen=True, slots=True)
class Label:
    """Lines of text at one size, px."""

    lines: tuple[str, ...]
    size: float
    bold: bool = False


@dataclass(frozen=True)
class Spot:
    """A tree where it stands, as it is drawn."""

    layout: Layout
    label: Label = field(default_factory=lambda: Label((), NUMBER_SIZES[0]))
    look: str = PLAIN
    css: str = "tree"
    hint: str = ""  # what a pointer over it shows


def text_width(text: str, size: float) -> float:
    """Width of ``text`` in px at ``size`` px, not less than it will be."""

    def em(letter: str) -> float:
        return _EM.get(letter, _WIDE_EM if ord(letter) >= 0x1100 else _OTHER_EM)

    return size * _ALLOWANCE * sum(map(em, text))


def fitted(text: str, width: float, height: float, sizes: tuple[float, ...]) -> Label | None:
    """``text`` in the first of ``sizes`` at which its words fit ``width`` x ``height`` px."""
    for size in sizes:
        lines = wrapped(text, width, size)
        if lines is not None and len(lines) * LINE * size <= height:
            return Label(lines, size)
    return None


def wrapped(text: str, width: float, size: float) -> tuple[str, ...] | None:
    """Lines of whole words no wider than ``width`` px; None where a word alone is wider."""
    lines: list[str] = []
    for word in text.split():
        if text_width(word, size) > width:
            return None
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, size) <= width:
            lines[-1] = joined
        else:
            lines.append(word)
    return tuple(lines)


def numbered_scale(
    place: Place, coming: Sequence[Layout], numbers: Mapping[str, int], width_px: float
) -> float:
    """px per m: as wide as may be, not too tall, and the smallest pot holds its number."""
    digits = len(str(max(numbers.values(), default=1)))
    smallest = min((min(it.width_m, it.depth_m) for it in coming), default=1.0)
    box = 2 * INSIDE + _LEAST_BOX + _BOX_PER_DIGIT * (digits - 1)
    largest = max((max(it.width_m, it.depth_m) for it in coming), default=0.1)
    room = width_px - 2 * PAD
    whole = min(room / place.width_m, _TALLEST / place.depth_m, _LARGEST_SCALE)
    return min(max(whole, box / smallest), room / (1.5 * largest))


def in_one_piece(
    place: Place, layouts: Sequence[Layout], numbers: Mapping[str, int], width_px: float
) -> bool:
    """Whether the place need not be drawn in parts at that width."""
    coming = [one for one in layouts if one.tree_id in numbers]
    scale = numbered_scale(place, coming, numbers, width_px)
    return place.width_m * scale <= width_px - 2 * PAD + 1e-6


def draw_bench(
    place: Place,
    layouts: Sequence[Layout],
    numbers: Mapping[str, int],
    display: Display,
    *,
    pushed: Collection[str] = (),
    width_px: float = 720.0,
    key: str = "",
) -> Markup:
    """SVG of ``place`` as a stage begins with each of ``layouts`` (m), no wider than ``width_px``.

    numbers : step by tree id, of those that come.
    pushed : ids of trees that stay but are shifted.
    key : tells drawings of one place in one page apart, as ids must differ.
    """
    coming = [one for one in layouts if one.tree_id in numbers]
    coming.sort(key=lambda one: numbers[one.tree_id])
    scale = numbered_scale(place, coming, numbers, width_px)
    spots = []
    for one in layouts:
        if one.tree_id not in numbers:
            spots.append(Spot(one, look=PUSHED if one.tree_id in pushed else STAYS))
            continue
        text = str(numbers[one.tree_id])
        room = (one.width_m * scale - 2 * INSIDE, one.depth_m * scale - 2 * INSIDE)
        label = fitted(text, *room, NUMBER_SIZES)
        size = label.size if label else NUMBER_SIZES[-1]
        spots.append(Spot(one, Label((text,), size, bold=True), COMES))
    said = " ".join(
        f"Step {numbers[one.tree_id]}: {display.length(one.x_m)} from the left, "
        f"{display.length(one.y_m)} from the front."
        for one in coming
    )
    title = f"{place.name}: {count(len(coming), 'tree')} of {len(layouts)} come"
    name, paths = f"{place.id} {key}", paths_left(place, layouts)
    return draw_place(place, spots, scale, width_px, display, name, title, said, paths)


@dataclass(frozen=True)
class Part:
    """A stretch of the place along its front, m, and what stands there."""

    start_m: float
    end_m: float
    spots: Sequence[Spot]


def stretches(place: Place, spots: Sequence[Spot], room_m: float) -> list[Part]:
    """The place in stretches at most ``room_m`` long, cut where fewest trees stand."""
    if place.width_m <= room_m + 1e-6:
        return [Part(0.0, place.width_m, spots)]
    layouts = [spot.layout for spot in spots]
    widest = max((it.width_m for it in layouts), default=0.0)
    pieces = math.ceil(place.width_m / max(room_m - widest, room_m / 3))
    length = place.width_m / pieces
    cuts = [0.0, *(_cut_near(layouts, i * length, length / 6) for i in range(1, pieces))]
    parts = []
    for start, end in pairwise([*cuts, place.width_m]):
        mine = [s for s in spots if start <= s.layout.x_m + s.layout.width_m / 2 < end]
        low = min((s.layout.x_m for s in mine), default=start)
        high = max((s.layout.x_m + s.layout.width_m for s in mine), default=end)
        parts.append(Part(min(low, start), max(high, end), mine))
    return parts


def _cut_near(layouts: Sequence[Layout], at_m: float, within_m: float) -> float:
    """A distance from the left near ``at_m`` at which fewest trees stand."""
    edges = [it.x_m + it.width_m for it in layouts if abs(it.x_m + it.width_m - at_m) < within_m]

    def crossed(x: float) -> tuple[int, float]:
        standing = sum(it.x_m < x - 1e-6 and it.x_m + it.width_m > x + 1e-6 for it in layouts)
        return standing, abs(x - at_m)

    return min([at_m, *edges], key=crossed)


def draw_place(
    place: Place,
    spots: Sequence[Spot],
    scale: float,
    width_px: float,
    display: Display,
    key: str,
    title: str,
    said: str = "",
    paths: Sequence[Strip] = (),
) -> Markup:
    """SVG of a place, in parts where it is longer than the width; ``said`` is read aloud.
    ``scale``: px per m. ``key``: of the ids, which no other drawing of the page may have."""
    parts = stretches(place, spots, (width_px - 2 * PAD) / scale)
    words = [
        f"{display.length(part.start_m)} to {display.length(part.end_m)} from the left "
        f"({number} of {len(parts)})"
        for number, part in enumerate(parts, 1)
        if len(parts) > 1
    ]
    longest = 2 * PAD + max(part.end_m - part.start_m for part in parts) * scale
    deep = round(place.depth_m * scale, 1)
    drawn: list[dict[str, object]] = []
    heading = HEADING if words else 0
    row = heading + PAD + deep + PAD
    for number, part in enumerate(parts):
        wide = round((part.end_m - part.start_m) * scale, 1)
        first, last = part.start_m <= 1e-6, part.end_m >= place.width_m - 1e-6
        drawn.append(
            {
                "view": f"{number * row:.1f}",
                "top": round(number * row + heading + PAD, 1),
                "words": words[number] if words else "",
                "wide": wide,
                "paths": list(_paths(place, part, scale, paths)),
                "edges": list(_edges(place, wide, deep, first, last)),
                "cuts": [0] * (not first) + [wide] * (not last),
                "trees": [_tree(place, part, scale, spot) for spot in part.spots],
            }
        )
    return filled(
        "bench.svg",
        width=f"{max([longest, *(text_width(one, HEADING_PX) for one in words)]):.1f}",
        height=f"{len(parts) * row:.0f}",
        row=f"{row:.1f}",
        key=re.sub(r"[^a-z0-9]+", "-", f"bench {key}".lower()).strip("-"),
        title=title,
        said=f"{marks_in_words(place)} {said}".strip(),
        parts=drawn,
        pad=PAD,
        deep=deep,
        glass=place.glass_side and place.glass_side.value,
        font=FONT,
        heading_px=HEADING_PX,
        ink=INK,
    )


def _paths(
    place: Place, part: Part, scale: float, paths: Sequence[Strip]
) -> Iterator[tuple[float, float, float, float, bool, bool]]:
    """x, y, width and height of each path, px; whether it runs to the back, and is named."""
    for strip in paths:
        start, end = max(strip.x_m, part.start_m), min(strip.x_m + strip.width_m, part.end_m)
        if end > start:
            x, y = (start - part.start_m) * scale, place.depth_m - strip.y_m - strip.depth_m
            wide, high = (end - start) * scale, strip.depth_m * scale
            named, upright = max(wide, high) > 40 and min(wide, high) > 14, high > wide
            x, y, wide, high = (round(one, 1) for one in (x, y * scale, wide, high))
            yield x, y, wide, high, upright, named


def _edges(
    place: Place, wide: float, deep: float, first: bool, last: bool
) -> Iterator[dict[str, object]]:
    """Each side that is there: from its left end, as seen from inside, with its marks outwards."""
    for side, x, y, turn, long, there in (
        (Side.BACK, 0, 0, 0, wide, True),
        (Side.RIGHT, wide, 0, 90, deep, last),
        (Side.FRONT, wide, deep, 180, wide, True),
        (Side.LEFT, 0, deep, 270, deep, first),
    ):
        if there:
            marks = max(1, int(long // ARROW_EVERY))
            arrows = [round((i + 0.5) / marks * long, 1) for i in range(marks)]
            is_ = {"open": side in place.open_sides, "glass": side is place.glass_side}
            yield {"x": x, "y": y, "turn": turn, "long": long, "arrows": arrows, **is_}


def _tree(place: Place, part: Part, scale: float, spot: Spot) -> dict[str, object]:
    it, label = spot.layout, spot.label
    y = (place.depth_m - it.y_m - it.depth_m) * scale
    high, step = it.depth_m * scale, LINE * label.size
    return {
        "id": it.tree_id,
        "css": spot.css,
        "hint": spot.hint,
        "look": spot.look,
        "x": round((it.x_m - part.start_m) * scale, 1),
        "y": round(y, 1),
        "wide": round(it.width_m * scale, 1),
        "high": round(high, 1),
        "lines": label.lines,
        "first": round(y + (high - step * len(label.lines)) / 2 + 0.9 * label.size, 1),
        "step": step,
        "size": label.size,
        "bold": label.bold,
    }


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
