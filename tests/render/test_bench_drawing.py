"""A bench as a stage begins: to scale, what comes numbered, nothing cut off."""

import re
import sys
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from carry_browser import browser, needs_chromium

from overwinter.benches.layout import LaidOut, lay_out
from overwinter.model.shelter import Place, PlaceKind, Side
from overwinter.model.tree import Tree
from overwinter.render.bench_drawing import (
    draw_bench,
    fitted,
    in_one_piece,
    text_width,
    wrapped,
)
from overwinter.units import Display

sys.path.append(str(Path(__file__).parents[1] / "benches"))
from bench_cases import drawn as layouts_drawn
from bench_cases import make_place, make_tree, random_trees

SVG = "{http://www.w3.org/2000/svg}"


def drawn(place: Place, trees: list[Tree], *, comes: int | None = None, **more: Any) -> str:
    """The first trees come (all, unless said), as steps 1, 2, ...; the others stay."""
    result = lay_out(place, trees, clearance_m=0.01)
    assert isinstance(result, LaidOut)
    numbers = {tree.id: n for n, tree in enumerate(trees[:comes], 1)}
    return draw_bench(place, layouts_drawn(place, trees, result), numbers, Display(), **more)


def some_bench(count: int) -> tuple[Place, list[Tree]]:
    """An invented bench with room for ``count`` trees."""
    trees = random_trees(count, 1000.0, 1.0, sides_cm=(15, 45))[:count]
    area = sum(tree.footprint_m2 for tree in trees)
    depth = 0.7 if count < 100 else 1.4
    glass = {3: Side.BACK, 12: Side.LEFT}.get(count)
    sides = (Side.FRONT, Side.BACK) if count >= 100 else (Side.FRONT, Side.RIGHT)
    width = round(max(1.0, area / depth / 0.65), 1)
    return make_place(width, depth, glass_side=glass, open_sides=sides), trees


def rectangles(svg: str) -> dict[str, tuple[float, ...]]:
    """x, y, width, height of each tree's rectangle, px, by its number (or "stays n")."""
    found = {}
    for group in ElementTree.fromstring(svg).iterfind(f".//{SVG}g[@class='tree']"):
        rect = group.find(f"{SVG}rect")
        assert rect is not None
        number = group.findtext(f"{SVG}text") or f"stays {len(found)}"
        found[number] = tuple(float(rect.get(k, "")) for k in ("x", "y", "width", "height"))
    return found


def test_rectangles_are_to_scale_with_the_front_at_the_bottom() -> None:
    # Intent: one scale for both axes; what stands in front is drawn lower; left is left.
    place = make_place(1.0, 0.8)
    trees = [make_tree(0, 0.9, 0.3, height_m=0.3), make_tree(1, 0.9, 0.4, height_m=1.2)]
    boxes = rectangles(drawn(place, trees))
    low, high = boxes["1"], boxes["2"]
    assert low[2] / 0.9 == pytest.approx(low[3] / 0.3, rel=0.01)
    assert low[2] / 0.9 == pytest.approx(high[3] / 0.4, rel=0.01)
    assert low[1] > high[1] + high[3] - 1e-6


@pytest.mark.parametrize("count", [3, 12, 40, 300])
def test_who_comes_has_the_step_and_who_stays_has_none(count: int) -> None:
    # Intent: each tree once; the numbers are the steps, also in the words read aloud.
    svg = drawn(*some_bench(count), comes=count // 3)
    boxes = rectangles(svg)
    assert len(boxes) == count
    steps = {str(n) for n in range(1, count // 3 + 1)}
    assert {key for key in boxes if not key.startswith("stays")} == steps
    said = ElementTree.fromstring(svg).findtext(f"{SVG}desc") or ""
    assert set(re.findall(r"Step (\d+): \d+ cm from the left", said)) == steps


def test_ids_differ() -> None:
    # Intent: two drawings of one place in one page have different ids.
    place, trees = some_bench(3)
    ids = [
        found
        for key in ("a", "b")
        for found in re.findall(r'id="([^"]+)"', drawn(place, trees, key=key))
    ]
    assert len(ids) == len(set(ids)) == 4


def test_nothing_is_said_by_colour() -> None:
    # Intent: prints in black and white: every colour is a grey.
    svg = drawn(*some_bench(12))
    for colour in set(re.findall(r"#([0-9a-f]{3,6})\b", svg)):
        parts = re.findall("." if len(colour) == 3 else "..", colour)
        values = [int(part, 16) for part in parts]
        assert max(values) - min(values) <= 8, colour


def test_a_long_place_is_drawn_in_parts() -> None:
    # Intent: 300 trees on a long bench: parts, each tree once, text never below 10 px.
    place, trees = some_bench(300)
    svg = drawn(place, trees, width_px=360)
    assert "(1 of" in svg
    assert len(rectangles(svg)) == 300
    assert min(float(size) for size in re.findall(r'font-size="([\d.]+)"', svg)) >= 10


def test_paths_are_drawn_and_named() -> None:
    # Intent: the free strip in a bed is marked as the path it is.
    bed = make_place(2.0, 3.0, kind=PlaceKind.GROUND)
    assert ">path</text>" in drawn(bed, [make_tree(n, 0.4, 0.4) for n in range(20)])
    assert ">path</text>" not in drawn(bed, [make_tree(n, 0.4, 0.4) for n in range(3)])


def test_an_empty_place_is_drawn() -> None:
    # Intent: no trees, no error.
    assert "0 trees of 0" in draw_bench(make_place(1, 0.5), (), {}, Display())
    assert in_one_piece(make_place(1, 0.5), (), {}, 360.0)


def test_labels_wrap_and_never_cut() -> None:
    # Intent: what does not fit is refused, and a number takes its place.
    assert wrapped("Trident maple", 30.0, 12.0) is None
    assert fitted("Fig", 40.0, 16.0, (12.0, 10.0)) is not None
    assert fitted("A very long name of a tree", 60.0, 20.0, (12.0, 10.0)) is None
    label = fitted("Shore pine of the old wall", 60.0, 60.0, (12.0, 10.0))
    assert label is not None
    assert " ".join(label.lines) == "Shore pine of the old wall"
    assert all(text_width(line, label.size) <= 60.0 for line in label.lines)


USE_FONT = "document.querySelector('svg').setAttribute('font-family', arguments[0])"
OVERLAPS = """
const out = [];
const svg = document.querySelector('svg'), all = svg.getBoundingClientRect();
const texts = [...svg.querySelectorAll('text')];
const boxes = texts.map(t => [t.textContent, t.getBoundingClientRect()]);
for (const [words, b] of boxes)
  if (b.left < all.left - 1 || b.right > all.right + 1
      || b.bottom > all.bottom + 1 || b.top < all.top - 1)
    out.push('cut off: ' + words);
for (let i = 0; i < boxes.length; i++) for (let j = i + 1; j < boxes.length; j++) {
  const [a, b] = [boxes[i][1], boxes[j][1]];
  const w = Math.min(a.right, b.right) - Math.max(a.left, b.left);
  const h = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
  if (w > 1 && h > 3) out.push('overlap: ' + boxes[i][0] + ' / ' + boxes[j][0]);
}
for (const g of svg.querySelectorAll('g.tree')) {
  const r = g.querySelector('rect').getBoundingClientRect();
  for (const t of g.querySelectorAll('text')) {
    const b = t.getBoundingClientRect();
    if (b.left < r.left || b.right > r.right || b.top < r.top - 2 || b.bottom > r.bottom + 2)
      out.push('outside its tree: ' + t.textContent);
  }
}
return out;
"""


@needs_chromium
@pytest.mark.chromium
@pytest.mark.slow
def test_no_text_overlaps_or_is_cut_off_in_a_real_browser(tmp_path: Path) -> None:
    # Intent: measured where it is shown, in the font it gets there, at page and phone width.
    with browser(tmp_path / "profile", width=800, height=1000) as driver:
        for count in (3, 12, 40, 300):
            for width_px in (720.0, 360.0):
                page = tmp_path / f"{count}-{width_px:.0f}.html"
                svg = drawn(*some_bench(count), width_px=width_px)
                page.write_text(f"<!doctype html><meta charset=utf-8><body>{svg}", "utf-8")
                for font in ("", "DejaVu Sans"):  # a wider one in place of the usual
                    driver.get(page.as_uri())
                    if font:
                        driver.execute_script(USE_FONT, font)
                    assert driver.execute_script(OVERLAPS) == [], (count, width_px, font)
