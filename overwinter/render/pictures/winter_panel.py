"""One shelter's winter: outdoors, its air, roots, limits, what the heater holds, carry days."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from overwinter.render.bench_canvas import INK, Canvas
from overwinter.render.bench_labels import text_width
from overwinter.render.pictures.chart import (
    ROW,
    SMALL,
    Flag,
    Frame,
    Tick,
    band,
    clip,
    draw_frame,
    draw_months,
    draw_value_axis,
    hatch,
    in_rows,
    line,
    months_between,
    steps,
    temperature_ticks,
)
from overwinter.render.pictures.legend import Entry, draw_legend
from overwinter.render.pictures.palette import (
    AIR,
    AIR_LIMIT,
    CARRY,
    COLDEST,
    HOLD,
    LIMIT,
    OTHER_CARRY,
    OUTDOOR_EDGE,
    OUTDOOR_FILL,
    ROOTS,
)
from overwinter.render.report_book import ShelterWinter, WinterBook
from overwinter.render.words import short_date

_LEFT, _RIGHT = 48.0, 10.0
_HEIGHT = 190.0
_ABOVE_K = 6.0
"""How far above the highest limit or held temperature a panel goes on, K."""
_LEAST_TOP_C = 12.0
_ALIKE_K = 0.3
"""Coldest roots are drawn on their own only where they differ by more than this, K."""


@dataclass(frozen=True)
class Scale:
    """The temperatures every panel shows, degC, so that panels can be compared."""

    ticks: tuple[Tick, ...]
    cut: bool
    """Whether some day is warmer than the top."""

    @property
    def low(self) -> float:
        """degC."""
        return self.ticks[0].value

    @property
    def high(self) -> float:
        """degC."""
        return self.ticks[-1].value


def common_scale(book: WinterBook) -> Scale:
    """From the coldest of all to somewhat above what a limit or heater asks for."""
    low_c, high_c = book.outdoor_min_max_c
    lows = [float(low_c.min())]
    asked = [_LEAST_TOP_C - _ABOVE_K]
    tops = [float(high_c.max())]
    for one in book.shelters:
        for series in (one.air_min_c, one.coldest_root_c, one.limit_c):
            lows += [float(value) for value in series[np.isfinite(series)]]
        for series in (one.limit_c, one.air_limit_c, one.hold_c):
            asked += [float(value) for value in series[np.isfinite(series)]]
        tops.append(float(one.air_min_c.max()))
    top = min(max(asked) + _ABOVE_K, max(tops))
    ticks = temperature_ticks(min(lows), top, book.display)
    return Scale(ticks, max(tops) > ticks[-1].value)


def draw_winter(
    book: WinterBook, one: ShelterWinter, scale: Scale, width_px: float, key: str
) -> str:
    """SVG of one shelter's panel; ``key`` keeps its ids apart."""
    canvas = Canvas(width_px)
    flags = in_rows([(_x(book, width_px, m.day), m.words) for m in one.moves], 0.0, width_px)
    rows = max((flag.row for flag in flags), default=-1) + 1
    top = 9.0 + rows * ROW
    frame = Frame(_LEFT, top, width_px - _LEFT - _RIGHT, _HEIGHT, book.days, scale.low, scale.high)
    canvas.raw(f"<defs>{clip(frame, key)}{hatch(key, LIMIT.colour)}</defs>")
    canvas.raw(f'<g clip-path="url(#{key}-clip)">')
    low_c, high_c = book.outdoor_min_max_c
    canvas.raw(band(frame, low_c, high_c, OUTDOOR_FILL, OUTDOOR_EDGE))
    canvas.raw("</g>")
    draw_value_axis(canvas, frame, scale.ticks)
    canvas.y = frame.bottom
    _draw_heater(canvas, frame, one)
    _draw_spells(canvas, frame, book)
    draw_months(canvas, frame, months_between(book.season, book.ledger.first_day, book.days))
    canvas.raw(f'<g clip-path="url(#{key}-clip)">')
    _draw_series(canvas, frame, one, key)
    canvas.raw("</g>")
    draw_frame(canvas, frame)
    _draw_carries(canvas, frame, book, one)
    _draw_flags(canvas, frame, flags)
    draw_legend(canvas, _legend(book, one, key))
    letters = [f"{letter}: {label}" for label, letter in _letters(frame, one).items()]
    if letters:
        canvas.paragraph("Heater " + ", ".join(letters), SMALL)
    name = f"{one.shelter.name}: temperatures through the winter"
    return canvas.svg(name, described(book, one), key)


def _x(book: WinterBook, width_px: float, day: int) -> float:
    return _LEFT + (width_px - _LEFT - _RIGHT) * day / book.days


def _draw_series(canvas: Canvas, frame: Frame, one: ShelterWinter, key: str) -> None:
    canvas.raw(steps(frame, one.limit_c, LIMIT, f"url(#{key}-hatch)"))
    if not one.shelter.open_air:
        canvas.raw(line(frame, one.air_min_c, AIR))
    canvas.raw(steps(frame, one.air_limit_c, AIR_LIMIT))
    canvas.raw(steps(frame, one.hold_c, HOLD))
    canvas.raw(line(frame, _elsewhere(one), COLDEST))
    canvas.raw(line(frame, one.root_c, ROOTS))
    worst = one.worst_day
    if worst is not None:
        x, y = frame.x(worst + 0.5), frame.y(float(one.root_c[worst]))
        canvas.raw(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5.5" fill="#fff" fill-opacity="0.6" '
            f'stroke="{INK}" stroke-width="1.8"/>'
        )


def _elsewhere(one: ShelterWinter) -> np.ndarray:
    """Coldest roots where they are another tree's, NaN elsewhere."""
    apart = one.root_c - one.coldest_root_c > _ALIKE_K
    return np.where(apart, one.coldest_root_c, np.nan)


def _draw_heater(canvas: Canvas, frame: Frame, one: ShelterWinter) -> None:
    """A strip of the settings in force; too short stretches get a letter, told below."""
    if len(one.settings) == 1 and not one.shelter.heaters:
        return
    top, letters = canvas.y + 4, _letters(frame, one)
    canvas.text(frame.left - 5, top + 11.5, "heater", SMALL, anchor="end")
    for run in one.settings:
        x, width = frame.x(run.first), frame.x(run.last) - frame.x(run.first)
        fill = "#fff" if run.label == "off" else "#e3e0d6"
        canvas.rect(x, top, width, 16, f'fill="{fill}" stroke="{INK}" stroke-width="0.8"')
        words = letters.get(run.label, run.label)
        if text_width(words, SMALL) <= width - 2:
            canvas.text(x + width / 2, top + 12, words, SMALL)
    canvas.y = top + 16


def _letters(frame: Frame, one: ShelterWinter) -> dict[str, str]:
    """Letters for settings whose words do not fit everywhere."""
    tight = dict.fromkeys(
        run.label
        for run in one.settings
        if text_width(run.label, SMALL) > frame.x(run.last) - frame.x(run.first) - 4
    )
    return {label: "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[n % 26] for n, label in enumerate(tight)}


def _draw_spells(canvas: Canvas, frame: Frame, book: WinterBook) -> None:
    """A strip of the spells with their numbers, where there is room."""
    top = canvas.y + 4
    # a little low: right under a picture without heater its lowest temperature stands above
    canvas.text(frame.left - 5, top + 11.5, "spell", SMALL, anchor="end")
    for spell in book.plan.spells:
        days = book.span(spell)
        x, width = frame.x(days.start), frame.x(days.stop) - frame.x(days.start)
        canvas.rect(x, top, width, 13, f'fill="#fff" stroke="{INK}" stroke-width="0.8"')
        number = str(spell.index + 1)
        if text_width(number, SMALL) <= width - 1:
            canvas.text(x + width / 2, top + 10.5, number, SMALL)
    canvas.y = top + 13


def _draw_carries(canvas: Canvas, frame: Frame, book: WinterBook, one: ShelterWinter) -> None:
    """Carry days: those that concern the shelter with a head, the others faint."""
    own = {moves.day for moves in one.moves}
    for date in book.plan.carry_days:
        day = book.season.day_index(date) - book.ledger.first_day
        x = frame.x(day)
        stroke = CARRY if day in own else OTHER_CARRY
        canvas.raw(f'<path d="M{x:.1f} {frame.top:.1f}V{frame.bottom:.1f}" {stroke.svg}/>')
        if day in own:
            canvas.raw(f'<path d="M{x - 4:.1f} {frame.top:.1f}h8l-4 7Z" fill="{CARRY.colour}"/>')


def _draw_flags(canvas: Canvas, frame: Frame, flags: Sequence[Flag]) -> None:
    """What is carried on a day, above the frame; poles first, so that none crosses a word."""
    for flag in flags:
        y = frame.top - 7.0 - flag.row * ROW
        canvas.raw(f'<path d="M{flag.x:.1f} {y:.1f}V{frame.top:.1f}" {CARRY.svg}/>')
    for flag in flags:
        y, width = frame.top - 9.0 - flag.row * ROW, text_width(flag.words, SMALL) * 0.9
        canvas.rect(flag.middle - width / 2, y - SMALL + 1, width, SMALL + 1, 'fill="#fff"')
        canvas.text(flag.middle, y, flag.words, SMALL)


def _legend(book: WinterBook, one: ShelterWinter, key: str) -> list[Entry]:
    box = f'<rect width="26" height="10" fill="{OUTDOOR_FILL}" stroke="{OUTDOOR_EDGE}"/>'
    hatched = f'<rect y="5" width="26" height="6" fill="url(#{key}-hatch)"/>'
    entries = [Entry("outdoors", shape=box)]
    if not one.shelter.open_air:
        entries.append(Entry("air", AIR))
    if one.worst_day is not None:
        entries += [Entry("roots", ROOTS), Entry("their limit", LIMIT, hatched)]
    if np.isfinite(_elsewhere(one)).any():
        entries.append(Entry("coldest roots", COLDEST))
    if np.isfinite(one.air_limit_c).any():
        entries.append(Entry("air limit", AIR_LIMIT))
    if np.isfinite(one.hold_c).any():
        entries.append(Entry("heater holds", HOLD))
    if one.moves:
        head = f'<path d="M13 0V11" {CARRY.svg}/><path d="M9 0h8l-4 7Z" fill="{CARRY.colour}"/>'
        entries.append(Entry("carry day", shape=head))
    if len(one.moves) < len(book.plan.carry_days):
        across = f'<path d="M13 -1V11" {OTHER_CARRY.svg}/>'
        entries.append(Entry("carry day elsewhere", shape=across))
    return entries


def nearest_words(book: WinterBook, one: ShelterWinter) -> str:
    """Which tree comes nearest to its limit there, and when."""
    worst = one.worst_day
    tree = None if worst is None else one.nearest[worst]
    if worst is None or tree is None:
        return "No tree is ever here."
    day = book.date(worst)
    spare_k = float(one.spare_k[worst])
    apart = "to spare" if spare_k >= 0 else "BELOW it"
    spare = book.display.kelvin(abs(spare_k))
    root = book.display.temperature(float(one.root_c[worst]))
    limit = book.display.temperature(float(one.limit_c[worst]))
    return (
        f"Nearest its limit here: {tree.name}, {spare} {apart} on {short_date(day)} "
        f"(roots {root}, limit {limit})."
    )


def described(book: WinterBook, one: ShelterWinter) -> str:
    """The panel in words."""
    show = book.display.temperature
    said = [
        f"Air between {show(float(one.air_min_c.min()))} and {show(float(one.air_max_c.max()))}.",
        nearest_words(book, one),
        f"Heater: {_in_words(book, one)}." if one.shelter.heaters else "",
        *(f"{short_date(book.date(moves.day))}: {moves.words}." for moves in one.moves),
    ]
    return " ".join(filter(None, said))


def _in_words(book: WinterBook, one: ShelterWinter) -> str:
    runs: Sequence[str] = [
        f"{run.label} from {short_date(book.date(run.first))}" for run in one.settings
    ]
    return ", ".join(runs)
