"""The picture of a run of ``sizes.py``: seconds against trees, both scales logarithmic."""

from collections.abc import Callable, Iterator, Sequence
from math import ceil, floor, log10
from typing import Any

WIDTH, HEIGHT = 720, 510
LEFT, RIGHT, TOP, BOTTOM = 84, 48, 72, 124
HALO = ' font-size="13" stroke="#fff" stroke-width="4" paint-order="stroke"'
"""White around the letters, so that no line crosses them."""
Values = dict[str, Any]
Point = tuple[float, float, bool]
"""Trees, seconds, whether it was stopped before its end."""
Scale = Callable[[float], float]


def picture(sizes: Sequence[Values], limit_s: float) -> str:
    """The SVG: readable in black and white, nothing loaded from elsewhere."""
    ours = [
        (one["trees"], one["ours"]["seconds"], False)
        for one in sizes
        if "failed" not in one["ours"]
    ]
    textbook = [
        (one["trees"], one["textbook"]["seconds"], not one["textbook"].get("reached"))
        for one in sizes
        if "seconds" in one["textbook"]
    ]
    across = _scale([one["trees"] for one in sizes], LEFT, WIDTH - RIGHT, whole=False)
    times = [seconds for _, seconds, _ in ours + textbook] or [1.0]
    up = _scale(times, HEIGHT - BOTTOM, TOP, whole=True)
    parts = [
        *_head(),
        *_grid(sizes, times, across, up),
        *_series(textbook, across, up, "textbook"),
        *_series(ours, across, up, "ours"),
        *_numbers(textbook, ours, across, up),
        *_numbers(ours, textbook, across, up),
        *_legend(limit_s, any(stopped for _, _, stopped in textbook)),
        *_untried(sizes, across),
    ]
    return "\n".join([*parts, "</svg>"]) + "\n"


def _scale(values: Sequence[float], start: float, end: float, *, whole: bool) -> Scale:
    """Logarithmic; over whole powers of ten, or with a little air on both sides."""
    low, high = log10(min(values)), log10(max(values))
    if whole:
        low, high = floor(low), max(ceil(high), floor(low) + 1)
    else:
        air = 0.06 * (high - low) or 0.5
        low, high = low - air, high + air
    return lambda value: start + (log10(value) - low) / (high - low) * (end - start)


def _head() -> list[str]:
    begun = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" role="img"'
        ' aria-labelledby="title" font-family="sans-serif" font-size="14" fill="#000">'
    )
    heading = "Time for a plan proven equally near to the best"
    return [
        begun,
        '<title id="title">Time for a plan against the number of trees</title>',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>',
        _text(LEFT, 26, heading, "start", ' font-size="17" font-weight="bold"'),
    ]


def _text(x: float, y: float, words: str, anchor: str = "middle", more: str = "") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{more}>{words}</text>'


def _line(x1: float, y1: float, x2: float, y2: float, style: str) -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" {style}/>'


def _grid(
    sizes: Sequence[Values], times: Sequence[float], across: Scale, up: Scale
) -> Iterator[str]:
    right, bottom = WIDTH - RIGHT, HEIGHT - BOTTOM
    low = floor(log10(min(times)))
    for power in range(low, max(ceil(log10(max(times))), low + 1) + 1):
        y = up(10.0**power)
        yield _line(LEFT, y, right, y, 'stroke="#bbb"')
        yield _text(LEFT - 8, y + 5, f"{10.0**power:,g}", "end")
    for one in sizes:
        x = across(one["trees"])
        yield _line(x, bottom, x, bottom + 6, 'stroke="#000"')
        yield _text(x, bottom + 22, f"{one['trees']:,}")
    yield _line(LEFT, bottom, right, bottom, 'stroke="#000"')
    yield _line(LEFT, TOP, LEFT, bottom, 'stroke="#000"')
    yield _text((LEFT + right) / 2, bottom + 44, "trees (logarithmic)")
    middle = (TOP + bottom) / 2
    yield _text(24, middle, "time, s (logarithmic)", more=f' transform="rotate(-90 24 {middle})"')


def _series(points: Sequence[Point], across: Scale, up: Scale, kind: str) -> Iterator[str]:
    places = [(across(trees), up(seconds)) for trees, seconds, _ in points]
    path = " ".join(f"{x:.1f},{y:.1f}" for x, y in places)
    dashes = ' stroke-dasharray="7 5"' if kind == "textbook" else ""
    yield f'<polyline points="{path}" fill="none" stroke="#000" stroke-width="2"{dashes}/>'
    for (x, y), (_, _seconds, stopped) in zip(places, points, strict=True):
        yield _mark(x, y, kind, stopped)


def _numbers(
    points: Sequence[Point], others: Sequence[Point], across: Scale, up: Scale
) -> Iterator[str]:
    """Seconds beside the marks, away from the other line."""
    beside = {trees: seconds for trees, seconds, _ in others}
    for trees, seconds, stopped in points:
        above = stopped or seconds > beside.get(trees, 0.0)
        shift = -26 if stopped else -13 if above else 24
        more = "&gt; " if stopped else ""
        words = f"{more}{seconds:.3g} s"
        yield _text(across(trees), up(seconds) + shift, words, more=HALO)


def _mark(x: float, y: float, kind: str, stopped: bool = False) -> str:
    if kind == "ours":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5.5"/>'
    box = f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" fill="#fff"'
    box += ' stroke="#000" stroke-width="2"/>'
    if not stopped:
        return box
    arrow = f"M{x:.1f} {y - 5:.1f}v-15m-5 6l5 -6l5 6"
    return f'{box}<path d="{arrow}" fill="none" stroke="#000" stroke-width="2"/>'


def _legend(limit_s: float, any_stopped: bool) -> Iterator[str]:
    y, long = HEIGHT - 54, 50
    for x, kind, words, dashes in (
        (LEFT, "ours", "overwinter plan, all of it", ""),
        (LEFT + 256, "textbook", "textbook model, built and solved", ' stroke-dasharray="7 5"'),
    ):
        yield _line(x, y, x + long, y, f'stroke="#000" stroke-width="2"{dashes}')
        yield _mark(x + long / 2, y, kind)
        yield _text(x + long + 8, y + 5, words, "start")
    if any_stopped:
        yield _mark(LEFT + 256 + long / 2, y + 36, "textbook", True)
        words = f"stopped after {limit_s:g} s of solving"
        yield _text(LEFT + 256 + long + 8, y + 37, words, "start")


def _untried(sizes: Sequence[Values], across: Scale) -> Iterator[str]:
    for one in sizes:
        if one["textbook"].get("not_tried"):
            x = across(one["trees"])
            small = ' font-size="13"'
            yield _text(x, TOP - 24, "textbook model not", more=small)
            yield _text(x, TOP - 8, "tried: too large", more=small)
