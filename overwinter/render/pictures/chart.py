"""What every chart over time shares: axes, lines with gaps, labels that keep out of each other."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

import numpy as np

from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray
from overwinter.render.bench_canvas import Canvas
from overwinter.render.bench_labels import text_width
from overwinter.render.pictures.palette import GRID, INK, Stroke
from overwinter.render.words import MONTHS
from overwinter.units import Display, celsius_to_fahrenheit, fahrenheit_to_celsius

SMALL = 11.0
"""Size of the text in charts, px."""
ROW = 14.0
"""Height of a row of small text, px."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The plotting area: px of its upper left corner and size; days along, values upwards."""

    left: float
    top: float
    width: float
    height: float
    days: int
    low: float
    high: float

    @property
    def bottom(self) -> float:
        """px."""
        return self.top + self.height

    @property
    def right(self) -> float:
        """px."""
        return self.left + self.width

    def x(self, day: float) -> float:
        """px of a day counted from the first one's midnight."""
        return self.left + self.width * day / self.days

    def y(self, value: float) -> float:
        """px of a value; may lie outside the frame, which is clipped."""
        return self.bottom - self.height * (value - self.low) / (self.high - self.low)


@dataclass(frozen=True, slots=True)
class Tick:
    """A value on an axis and how it is written."""

    value: float
    label: str


def temperature_ticks(low_c: float, high_c: float, display: Display) -> tuple[Tick, ...]:
    """Round temperatures in the units shown, from at or below ``low_c`` to at or above ``high_c``.

    Values are degC.
    """
    low = celsius_to_fahrenheit(low_c) if display.us else low_c
    high = celsius_to_fahrenheit(high_c) if display.us else high_c
    ticks = round_steps(low, high, 6)
    back = fahrenheit_to_celsius if display.us else float
    return tuple(Tick(back(value), display.temperature(back(value), 0)) for value in ticks)


def round_steps(low: float, high: float, most: int) -> list[float]:
    """At most ``most`` + 2 round values, equally apart, that embrace ``low`` to ``high``."""
    span = max(high - low, 1e-9)
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next(power * m for m in (1, 2, 5, 10, 20) if span / (power * m) <= most)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [number * step for number in range(first, max(last, first + 1) + 1)]


def draw_value_axis(canvas: Canvas, frame: Frame, ticks: Iterable[Tick]) -> None:
    """Helping lines with their values on the left."""
    for tick in ticks:
        y = frame.y(tick.value)
        if frame.top - 0.5 <= y <= frame.bottom + 0.5:
            canvas.raw(
                f'<path d="M{frame.left:.1f} {y:.1f}H{frame.right:.1f}" '
                f'stroke="{GRID}" stroke-width="1"/>'
            )
            canvas.text(frame.left - 5, y + 0.35 * SMALL, tick.label, SMALL, anchor="end")


def months_between(season: Season, first_day: int, days: int) -> list[tuple[int, int, str]]:
    """(first day, day after the last, name) of each month, in days counted from ``first_day``."""
    found: list[tuple[int, int, str]] = []
    for day in range(days):
        date = season.date_of(first_day) + timedelta(days=day)
        if day == 0 or date.day == 1:
            found.append((day, day + 1, MONTHS[date.month - 1]))
        else:
            found[-1] = (found[-1][0], day + 1, found[-1][2])
    return found


def draw_months(canvas: Canvas, frame: Frame, months: Sequence[tuple[int, int, str]]) -> None:
    """Month limits through the frame, and names under ``canvas.y``, which moves down."""
    for first, last, name in months:
        if first:
            x = frame.x(first)
            canvas.raw(
                f'<path d="M{x:.1f} {frame.top:.1f}V{frame.bottom:.1f}'
                f'M{x:.1f} {canvas.y:.1f}v5" stroke="{GRID}" stroke-width="1"/>'
            )
        if frame.x(last) - frame.x(first) >= text_width(name, SMALL):
            middle = (frame.x(first) + frame.x(last)) / 2
            canvas.text(middle, canvas.y + SMALL + 1, name, SMALL)
    canvas.y += ROW + 2


def draw_frame(canvas: Canvas, frame: Frame) -> None:
    """The edges."""
    canvas.raw(
        f'<rect x="{frame.left:.1f}" y="{frame.top:.1f}" width="{frame.width:.1f}" '
        f'height="{frame.height:.1f}" fill="none" stroke="{INK}" stroke-width="1"/>'
    )


def clip(frame: Frame, key: str) -> str:
    """A clip path of the frame's area with the id ``<key>-clip``."""
    return (
        f'<clipPath id="{key}-clip"><rect x="{frame.left:.1f}" y="{frame.top:.1f}" '
        f'width="{frame.width:.1f}" height="{frame.height:.1f}"/></clipPath>'
    )


def line(frame: Frame, by_day: FloatArray, stroke: Stroke) -> str:
    """A line through the middle of each day; days without a value are gaps."""
    path = " ".join(
        "M" + "L".join(f"{frame.x(day + 0.5):.1f} {frame.y(by_day[day]):.1f}" for day in run)
        for run in _runs(by_day)
        if len(run) > 1
    )
    dots = "".join(
        f"M{frame.x(run[0]):.1f} {frame.y(by_day[run[0]]):.1f}H{frame.x(run[0] + 1):.1f}"
        for run in _runs(by_day)
        if len(run) == 1
    )
    return f'<path d="{path}{dots}" {stroke.svg} stroke-linejoin="round"/>' if path or dots else ""


def steps(frame: Frame, by_day: FloatArray, stroke: Stroke, fill_down: str = "") -> str:
    """A line level through each day, with upright steps; ``fill_down``: paint of what is below."""
    drawn = ""
    for run in _runs(by_day):
        points = [f"M{frame.x(run[0]):.1f} {frame.y(by_day[run[0]]):.1f}"]
        for day in run:
            if day > run[0] and abs(by_day[day] - by_day[day - 1]) > 1e-9:
                points.append(f"V{frame.y(by_day[day]):.1f}")
            points.append(f"H{frame.x(day + 1):.1f}")
        path = "".join(points)
        if fill_down:
            closed = f"{path}V{frame.bottom:.1f}H{frame.x(run[0]):.1f}Z"
            drawn += f'<path d="{closed}" fill="{fill_down}"/>'
        drawn += f'<path d="{path}" {stroke.svg}/>'
    return drawn


def band(frame: Frame, low: FloatArray, high: FloatArray, fill: str, edge: str) -> str:
    """The area between two daily series without gaps."""
    days = range(low.size)
    up = "L".join(f"{frame.x(day + 0.5):.1f} {frame.y(high[day]):.1f}" for day in days)
    down = "L".join(f"{frame.x(day + 0.5):.1f} {frame.y(low[day]):.1f}" for day in reversed(days))
    return f'<path d="M{up}L{down}Z" fill="{fill}" stroke="{edge}" stroke-width="0.6"/>'


def hatch(key: str, colour: str, width: float = 0.8) -> str:
    """A pattern of slanting lines with the id ``<key>-hatch``."""
    return (
        f'<pattern id="{key}-hatch" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V7" stroke="{colour}" '
        f'stroke-width="{width:g}"/></pattern>'
    )


def _runs(by_day: FloatArray) -> list[range]:
    """Stretches of days with a value."""
    there = np.concatenate([[False], np.isfinite(by_day), [False]])
    edges = np.flatnonzero(there[1:] != there[:-1])
    return [range(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


@dataclass(frozen=True, slots=True)
class Flag:
    """A label over a place along the axis, and the row it stands in, 0 nearest the plot."""

    x: float
    words: str
    row: int
    middle: float


def in_rows(
    wanted: Sequence[tuple[float, str]], left: float, right: float, size: float = SMALL
) -> list[Flag]:
    """Labels put into as few rows as keep them apart and between ``left`` and ``right``, px."""
    flags: list[Flag] = []
    ends: list[float] = []
    for x, words in sorted(wanted):
        half = text_width(words, size) / 2
        middle = min(max(x, left + half), right - half)
        row = next((n for n, end in enumerate(ends) if end + 6 <= middle - half), len(ends))
        ends[row : row + 1] = [middle + half]
        flags.append(Flag(x, words, row, middle))
    return flags
