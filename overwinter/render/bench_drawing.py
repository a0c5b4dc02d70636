"""One place as a stage begins, to scale: what comes with its step number, what stays in grey.

Seen from above; one stands at the bottom edge. Everything is said in words or by a mark, nothing by
colour, and it prints in black and white. A long place is drawn in parts, one below the other, so
that the smallest pot that comes still holds its number.
"""

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise

from overwinter.benches.paths import Strip, paths_left
from overwinter.model.plan import Layout
from overwinter.model.shelter import Place, Side
from overwinter.model.tree import Tree
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
LINE = 1.15
"""Height of a line in em."""
NO_BREAK = "\u00a0"


@dataclass(frozen=True, slots=True)
class Label:
    """Lines of text at one size, px."""

    lines: tuple[str, ...]
    size: float


def text_width(text: str, size: float) -> float:
    """Width of ``text`` in px at ``size`` px, not less than it will be."""
    return size * _ALLOWANCE * sum(map(_em, text))


def _words(text: str) -> list[str]:
    """Split where a line may end: at blanks, not at ``NO_BREAK``."""
    return [word for word in re.split(r"[ \t\n]+", text) if word]


def _em(letter: str) -> float:
    if letter in _EM:
        return _EM[letter]
    return _WIDE_EM if ord(letter) >= 0x1100 else _OTHER_EM


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
    for word in _words(text):
        if text_width(word, size) > width:
            return None
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(joined, size) <= width:
            lines[-1] = joined
        else:
            lines.append(word)
    return tuple(lines)


def broken(text: str, width: float, size: float) -> tuple[str, ...]:
    """Lines no wider than ``width`` px; a word wider than that is broken, never cut off."""
    pieces: list[str] = []
    for word in _words(text):
        rest = word
        while text_width(rest, size) > width and len(rest) > 1:
            keep = len(rest) - 1
            while keep > 1 and text_width(rest[:keep], size) > width:
                keep -= 1
            pieces.append(rest[:keep])
            rest = rest[keep:]
        pieces.append(rest)
    return wrapped(" ".join(pieces), width, size) or tuple(pieces)


INK, FAINT = "#111", "#555"


class Canvas:
    """Collects SVG; ``y`` is where the next thing goes, px."""

    def __init__(self, width: float) -> None:
        self.width = width
        self.y = 0.0
        self._shapes: list[str] = []

    def raw(self, svg: str) -> None:
        """Markup as it is."""
        self._shapes.append(svg)

    def rect(
        self, x: float, y: float, width: float, height: float, style: str, *, round_px: float = 0.0
    ) -> None:
        """A rectangle."""
        corner = f' rx="{round_px:g}"' if round_px else ""
        self.raw(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"'
            f"{corner} {style}/>"
        )

    def line(
        self, x1: float, y1: float, x2: float, y2: float, stroke_px: float, dash: str = ""
    ) -> None:
        """A straight line."""
        dashed = f' stroke-dasharray="{dash}"' if dash else ""
        self.raw(
            f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" '
            f'stroke="{INK}" stroke-width="{stroke_px:g}"{dashed}/>'
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float,
        *,
        anchor: str = "middle",
        weight: str = "normal",
        turned: bool = False,
    ) -> None:
        """One line of text, its baseline at ``y``; ``turned`` reads upwards."""
        turn = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turned else ""
        self.raw(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" text-anchor="{anchor}" '
            f'font-weight="{weight}"{turn}>{escape(words)}</text>'
        )

    def paragraph(self, words: str, size: float, *, weight: str = "normal") -> None:
        """Text over the whole width, wrapped, below what is there."""
        for line in broken(words, self.width, size):
            self.y += LINE * size
            self.text(0.0, self.y - 0.2 * size, line, size, anchor="start", weight=weight)
        self.y += 0.25 * size

    def hint(self, words: str) -> None:
        """What a pointer over the surrounding group shows."""
        self.raw(f"<title>{escape(words)}</title>")

    def svg(self, name: str, description: str, key: str) -> str:
        """The whole drawing."""
        width, height = f"{self.width:g}", f"{self.y:.0f}"
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
            f'viewBox="0 0 {width} {height}" role="img" '
            f'aria-labelledby="{key}-name {key}-text" '
            f'style="max-width:100%;height:auto" font-family="{FONT}" fill="{INK}">\n'
            f'<title id="{key}-name">{escape(name)}</title>\n'
            f'<desc id="{key}-text">{escape(description)}</desc>\n'
            f'<rect width="{width}" height="{height}" fill="#fff"/>\n'
            + "\n".join(self._shapes)
            + "\n</svg>\n"
        )


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


INSIDE = 1.5
"""Between a tree's edge and its text, px."""
_LARGEST_SCALE, _TALLEST = 170.0, 240.0
_LEAST_BOX, _BOX_PER_DIGIT = 6.0, 7.0


def scale_px_m(place: Place, numbered: Sequence[Layout], digits: int, width_px: float) -> float:
    """px per m: the place as wide as the drawing, but the smallest pot holds ``digits``."""
    whole = min((width_px - 2 * PAD) / place.width_m, _TALLEST / place.depth_m, _LARGEST_SCALE)
    smallest = min((min(it.width_m, it.depth_m) for it in numbered), default=1.0)
    box = 2 * INSIDE + _LEAST_BOX + _BOX_PER_DIGIT * (digits - 1)
    largest = max((max(it.width_m, it.depth_m) for it in numbered), default=0.1)
    return min(max(whole, box / smallest), (width_px - 2 * PAD) / (1.5 * largest))


def stretches(place: Place, layouts: Sequence[Layout], room_m: float) -> list[Part]:
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


def measures(tree: Tree, display: Display) -> str:
    """Footprint, height and weight."""
    return (
        f"{display.length(tree.width_m)} × {display.length(tree.depth_m)}, "
        f"{display.length(tree.height_m)} tall, {display.weight(tree.weight_kg)}"
    )


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
