"""Pictures of the report: values stand where the axes say, labels keep apart."""

import re
import sys
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from report_winters import large_winter

from overwinter.audit.audit import audit
from overwinter.render.bench_labels import text_width
from overwinter.render.pictures import palette
from overwinter.render.pictures.bar_rows import BarRow, draw_bars
from overwinter.render.pictures.chart import (
    SMALL,
    Frame,
    in_rows,
    line,
    round_steps,
    steps,
    temperature_ticks,
)
from overwinter.render.pictures.light_panel import PlaceLight, described, draw_light
from overwinter.render.pictures.winter_panel import common_scale, draw_winter, nearest_words
from overwinter.render.report_book import WinterBook
from overwinter.units import Display

sys.path.append(str(Path(__file__).parents[1] / "audit"))
from audit_season import good

SVG = "{http://www.w3.org/2000/svg}"


def by_hand() -> WinterBook:
    season, conditions, plan = good()
    return WinterBook(season, conditions, plan, audit(season, conditions, plan))


def value_axis(svg: str) -> tuple[float, float]:
    """degC per px and degC at y = 0, from the written ticks."""
    ticks = re.findall(r'y="([\d.]+)"[^>]*text-anchor="end"[^>]*>(-?\d+) °C<', svg)
    points = [(float(y) - 0.35 * SMALL, float(label)) for y, label in ticks]
    (y1, v1), (y2, v2) = points[0], points[-1]
    slope = (v2 - v1) / (y2 - y1)
    return slope, v1 - slope * y1


def drawn_values(svg: str, stroke: palette.Stroke) -> list[float]:
    """Values at the corners of the first path drawn with a stroke, read against the axis."""
    slope, at_zero = value_axis(svg)
    paths = re.findall(rf'<path d="([^"]+)" {re.escape(stroke.svg)}', svg)
    ys = [float(y) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", paths[0])]
    return [at_zero + slope * y for y in ys]


def test_a_panel_shows_the_values_it_was_given() -> None:
    # Intent: read back from the drawing, against its own axis, the hand-made season's numbers: air
    # 7.6 and 5 degC; limit -7 degC; hold 5 degC; to a tenth of a pixel (0.02 K here).
    book = by_hand()
    shed = next(one for one in book.shelters if one.shelter.id == "shed")
    svg = draw_winter(book, shed, common_scale(book), 720.0, "k")
    air = drawn_values(svg, palette.AIR)
    assert air == pytest.approx([7.6] * 10 + [5.0] * 10 + [7.6] * 10, abs=0.05)
    assert drawn_values(svg, palette.LIMIT)[0] == pytest.approx(-7.0, abs=0.05)
    assert drawn_values(svg, palette.HOLD)[0] == pytest.approx(5.0, abs=0.05)


def test_a_panel_says_all_this_in_words() -> None:
    # Intent: title, coldest, nearest tree, heater and carries are in the description.
    book = by_hand()
    shed = next(one for one in book.shelters if one.shelter.id == "shed")
    root = ElementTree.fromstring(draw_winter(book, shed, common_scale(book), 720.0, "k"))
    said = root.findtext(f"{SVG}desc") or ""
    assert "hold 5 °C from 11 Dec" in said
    assert "11 Dec: 3 in." in said
    assert nearest_words(book, shed) in said
    assert "to spare" in nearest_words(book, shed)


def test_panels_share_one_scale() -> None:
    # Intent: small multiples can be compared: every panel of a site has the same axis.
    book = WinterBook(*large_winter(40))
    scale = common_scale(book)
    svgs = [draw_winter(book, one, scale, 720.0, str(n)) for n, one in enumerate(book.shelters)]
    slopes = [value_axis(svg)[0] for svg in svgs]
    assert len(svgs) >= 4
    assert slopes == pytest.approx([slopes[0]] * len(slopes), rel=0.002)
    lows = [float(np.nanmin(one.air_min_c)) for one in book.shelters]
    assert scale.low <= min(*lows, float(book.outdoor_min_max_c[0].min()))


def test_a_plan_that_breaks_a_limit_says_so() -> None:
    # Intent: no "to spare" where there is none.
    book = WinterBook(*large_winter(40))
    worst = next(one for one in book.shelters if (one.spare_k < 0).any())
    assert "BELOW it" in nearest_words(book, worst)
    assert "to spare" not in nearest_words(book, worst)


def test_gaps_are_left_where_there_is_nothing() -> None:
    # Intent: days without a value are not bridged; a single day still shows.
    frame = Frame(0.0, 0.0, 80.0, 10.0, 8, 0.0, 10.0)
    series = np.array([1.0, 2.0, np.nan, 3.0, np.nan, 4.0, 4.0, np.nan])
    assert line(frame, series, palette.AIR).count("M") == 3
    assert steps(frame, series, palette.AIR).count("M") == 3
    assert line(frame, np.full(8, np.nan), palette.AIR) == ""


@pytest.mark.parametrize("us", [False, True])
def test_ticks_are_round_and_embrace_the_values(us: bool) -> None:
    # Intent: whole round numbers in the unit shown, first at or below, last at or above.
    ticks = temperature_ticks(-23.4, 17.2, Display(us))
    assert ticks[0].value <= -23.4
    assert ticks[-1].value >= 17.2
    shown = [int(tick.label.split()[0]) for tick in ticks]
    steps_between = {b - a for a, b in pairwise(shown)}
    assert len(steps_between) == 1
    assert steps_between.pop() in (5, 10, 20)


@pytest.mark.parametrize("low_high", [(0.0, 0.7), (-25.0, 30.0), (3.0, 3.0), (0.0, 1234.0)])
def test_round_steps_are_few(low_high: tuple[float, float]) -> None:
    # Intent: never more than asked for plus the ends.
    low, high = low_high
    values = round_steps(low, high, 6)
    assert values[0] <= low + 1e-9
    assert values[-1] >= high - 1e-9
    assert 2 <= len(values) <= 8


def test_flags_never_touch_each_other_or_the_edge() -> None:
    # Intent: many labels close together are put into rows.
    rng = np.random.default_rng(4)
    wanted = [(float(x), f"{n} in, {n} out") for n, x in enumerate(rng.uniform(0, 300, 40))]
    flags = in_rows(wanted, 0.0, 300.0)
    assert len(flags) == 40
    boxes = []
    for flag in flags:
        half = text_width(flag.words, SMALL) / 2
        boxes.append((flag.row, flag.middle - half, flag.middle + half))
        assert flag.middle - half >= -1e-9
        assert flag.middle + half <= 300.0 + 1e-9
    for n, (row, left, right) in enumerate(boxes):
        for other_row, other_left, other_right in boxes[n + 1 :]:
            assert row != other_row or right <= other_left or other_right <= left


def bars(svg: str) -> list[float]:
    """Widths of the bars, px."""
    return [
        float(rect.get("width", "nan"))
        for rect in ElementTree.fromstring(svg).iter(f"{SVG}rect")
        if rect.get("stroke") == palette.BAR
    ]


def test_bars_are_as_long_as_their_values() -> None:
    # Intent: proportional from 0; what is longer than the full width ends in an arrowhead.
    rows = [BarRow("a", 10.0, "10 K"), BarRow("b", 5.0, "5 K"), BarRow("c", 0.0, "0 K")]
    widths = bars(draw_bars(rows, "t", "d", 350.0, "k"))
    assert widths[0] == pytest.approx(2 * widths[1], rel=0.01)
    assert len(widths) == 2
    cut = draw_bars([BarRow("a", 10.0, "10", 1.0)], "t", "d", 350.0, "k", full=3.0)
    assert "Z" in cut
    assert max(bars(cut)) < 350.0


def test_long_names_and_values_of_bars_are_wrapped() -> None:
    # Intent: nothing is cut: all letters are there, no line wider than the picture.
    name = "The long-named windswept double-trunk one from the old neighbour's garden"
    svg = draw_bars([BarRow(name, 1.0, "12.5 K, roots, 24 Oct, " + name)], "t", "d", 350.0, "k")
    lines = ["".join(t.itertext()) for t in ElementTree.fromstring(svg).iter(f"{SVG}text")]
    assert " ".join(lines).count("neighbour's garden") == 2
    assert all(text_width(one, 12.0) <= 350.0 for one in lines)


def test_light_panel_names_the_tightest_spell() -> None:
    # Intent: the spell in which light over need is least, not the darkest one without need.
    book = by_hand()
    one = PlaceLight(
        "shed/bench", np.array([9.0, 3.0, 1.0]), np.array([4.0, 2.0, np.nan]), ("a", "b", "")
    )
    assert "spell 2: 3.0 mol/(m² d) where b needs 2.0" in described(one)
    root = ElementTree.fromstring(draw_light(book, one, "t", 350.0, "k"))
    assert root.findtext(f"{SVG}desc") == described(one)
