"""Light at one place through the winter against what the trees there need."""

from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.render.bench_canvas import Canvas
from overwinter.render.pictures.chart import (
    SMALL,
    Frame,
    Tick,
    clip,
    draw_frame,
    draw_months,
    draw_value_axis,
    hatch,
    months_between,
    round_steps,
    steps,
)
from overwinter.render.pictures.legend import Entry, draw_legend
from overwinter.render.pictures.palette import LIGHT, NEED
from overwinter.render.report_book import WinterBook

_LEFT, _RIGHT, _HEIGHT = 30.0, 8.0, 92.0
LIGHT_UNIT = "mol/(m² d)"


@dataclass(frozen=True)
class PlaceLight:
    """Spell means at a place, ``(spell,)``, mol/(m2 d); need is NaN where no tree needs light."""

    place_id: str
    light: FloatArray
    need: FloatArray
    neediest: tuple[str, ...]
    """Name of the tree of ``need``, "" for none."""


def draw_light(book: WinterBook, one: PlaceLight, title: str, width_px: float, key: str) -> str:
    """SVG of one place."""
    needed = one.need[np.isfinite(one.need)]
    low = float(np.nanmax(one.need)) if needed.size else 1.0
    asked = one.light[np.isfinite(one.need)]
    high = max(low * 1.6, float(asked.min()) * 1.4 if asked.size else low)
    values = round_steps(0.0, high, 3)
    frame = Frame(_LEFT, 22.0, width_px - _LEFT - _RIGHT, _HEIGHT, book.days, 0.0, values[-1])
    canvas = Canvas(width_px)
    canvas.raw(f"<defs>{clip(frame, key)}{hatch(key, NEED.colour)}</defs>")
    canvas.text(0, 12, f"light, {LIGHT_UNIT}", SMALL, anchor="start")
    draw_value_axis(canvas, frame, [Tick(value, f"{value:g}") for value in values])
    canvas.y = frame.bottom
    draw_months(canvas, frame, months_between(book.season, book.ledger.first_day, book.days))
    canvas.raw(f'<g clip-path="url(#{key}-clip)">')
    canvas.raw(steps(frame, _by_day(book, one.need), NEED, f"url(#{key}-hatch)"))
    canvas.raw(steps(frame, _by_day(book, one.light), LIGHT))
    canvas.raw("</g>")
    draw_frame(canvas, frame)
    hatched = f'<rect y="5" width="26" height="6" fill="url(#{key}-hatch)"/>'
    legend = [Entry("light there", LIGHT), Entry("greatest need", NEED, hatched)]
    draw_legend(canvas, legend, _LEFT)
    return canvas.svg(title, described(one), key)


def _by_day(book: WinterBook, by_spell: FloatArray) -> FloatArray:
    days = np.full(book.days, np.nan)
    for spell in book.plan.spells:
        days[book.span(spell)] = by_spell[spell.index]
    return days


def described(one: PlaceLight) -> str:
    """The tightest spell in words."""
    ratio = one.light / one.need
    if not np.isfinite(ratio).any():
        return "No tree here needs light."
    worst = int(np.nanargmin(ratio))
    return (
        f"Tightest in spell {worst + 1}: {one.light[worst]:.1f} {LIGHT_UNIT} where "
        f"{one.neediest[worst]} needs {one.need[worst]:.1f} {LIGHT_UNIT}."
    )
