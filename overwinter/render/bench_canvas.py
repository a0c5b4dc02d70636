"""A drawing that grows downwards, of shapes and of texts that are sure to fit their boxes."""

import re
from dataclasses import dataclass
from html import escape

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
