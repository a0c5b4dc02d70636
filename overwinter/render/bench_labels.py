"""Text that is sure to fit its box: widths are estimated on the wide side, names are wrapped."""

import re
from dataclasses import dataclass

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
