"""The printable sheet: printed by a real Chromium on A4 and Letter."""

import re
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from carry_browser import browser, needs_chromium, needs_poppler, pdf_pages, pdf_size_mm, print_pdf
from carry_winters import (
    DEC,
    GARDEN,
    MAY,
    NOV,
    PlanMaker,
    big_winter,
    place,
    renamed,
    season_of,
    small_winter,
    tree,
)
from markupsafe import escape

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.stage import Sign
from overwinter.render.carry_book import carry_book, part_of
from overwinter.render.carry_pages import Paper, carry_sheet
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES

PX_PER_MM = 96.0 / 25.4
"""CSS pixels in a millimetre (CSS Values 4: 1in = 96px = 2.54cm)."""
PX_PER_PT = 96.0 / 72.0


def sheet_of(season: Season, plan: Plan, paper: Paper = Paper.A4) -> str:
    return carry_sheet(season, plan, carry_book(season, plan), paper)


def test_the_sheet_refers_to_nothing_outside_and_escapes_names() -> None:
    """Self-contained; a name with markup is text."""
    season, plan = small_winter()
    sheet = sheet_of(renamed(season, "t0", "<b>&'\""), plan)
    outside = re.sub(r'xmlns="[^"]*"', "", sheet)
    assert not re.search(r"https?:|@import|url\(|<link|<img|<script|\bsrc=", outside)
    assert "&lt;b&gt;&amp;" in sheet


def test_every_carry_and_every_caution_is_on_it() -> None:
    """Nothing of the book is left out, and the cautions defer to codes and licensed people."""
    season, plan = small_winter()
    book = carry_book(season, plan)
    sheet = sheet_of(season, plan)
    for step in book.steps:
        assert f'<b class="number">{step.number}</b>' in sheet
        assert f"<b>{escape(step.tree)}</b>" in sheet
    front = sheet.split('<section class="stage">')[0]
    assert season.winters.origin.rstrip(".") in front  # what the days are worth
    for key in book.cautions:
        assert str(escape(CAUTIONS[key].text)) in front
    assert str(escape(LOCAL_CODES)) in front
    for one in book.lists:
        for todo in one.jobs:
            assert str(escape(todo.text)) in sheet


def test_each_drawn_bench_has_its_drawing_with_the_step_numbers_of_its_rows() -> None:
    """The numbers on the drawing are those of the rows beside it, and no others."""
    season, plan = small_winter()
    sheet = sheet_of(season, plan)
    blocks = [b for b in sheet.split('<div class="bench')[1:] if "<svg" in b]
    assert blocks
    for block in blocks:
        svg, rows = block.split("</svg>", 1)
        drawn = re.findall(r'font-weight="bold">(\d+)</text>', svg)
        assert sorted(drawn) == sorted(re.findall(r'<b class="number">(\d+)</b>', rows))


def test_what_comes_to_a_bench_and_what_leaves_it_are_two_blocks() -> None:
    """A tree that goes out of the place another comes to is not sent into it."""
    season = season_of([tree("old"), tree("new")])
    maker = PlanMaker(season).carry(NOV, "old", GARDEN, "glass/bench 1")
    maker.carry(DEC, "old", "glass/bench 1", GARDEN).carry(DEC, "new", GARDEN, "glass/bench 1")
    plan = maker.make()
    blocks = sheet_of(season, plan).split('<div class="bench')[2:]
    said = {re.findall(r"<b>(old|new)</b>", block)[0]: block.split("</h3>")[0] for block in blocks}
    assert "Out of Glasshouse, bench 1" in said["old"]
    assert "Into Glasshouse, bench 1" in said["new"]


def test_rows_follow_the_walking_order_and_trees_alike_share_one() -> None:
    """Two of five alike carried one after the other: one row, a box each; numbers only rise."""
    alike = [tree(f"s{n}", name=f"Seedling {n}/5") for n in (1, 2)]
    season = season_of([*alike, tree("old")])
    maker = PlanMaker(season)
    for one in season.trees:
        maker.carry(NOV, one.id, GARDEN, "cellar/floor")
    sheet = sheet_of(season, maker.make())
    (row,) = [row for row in sheet.split('<p class="row')[1:] if "Seedling" in row]
    assert "Seedling (2 of 5: 1-2)" in row
    assert row.split("</p>")[0].count('class="box"') == 2
    for season, plan in (small_winter(), big_winter()):
        for stage in sheet_of(season, plan).split('<section class="stage">')[1:]:
            numbers = re.findall(r'<b class="number">(\d+)', stage)
            assert numbers == sorted(numbers, key=int)


def test_one_step_before_dusk_is_one_and_nobody_heavy_is_not_told() -> None:
    """A night of 2 °C is under the fig's 10 °C and above the larch's -15 °C."""
    for fig_kg, heavy in ((5.0, ""), (60.0, ", 1 of them for two people")):
        maker = PlanMaker(season_of([tree("fig", "fig", kg=fig_kg), tree("larch", "larch")]))
        for one in ("fig", "larch"):
            maker.carry(NOV, one, GARDEN, "glass/bench 1")
        maker.sign(NOV, Sign.COLD_NIGHT, 2.0)
        sheet = sheet_of(maker.season, maker.make())
        assert f"2 trees{heavy}; " in sheet
        assert re.search(r"Step \d must be done before dusk", sheet)


def test_what_to_check_is_said_once() -> None:
    """Pots that go out to a bench and pots that go out to the ground are watered alike."""
    found = season_of([tree("old"), tree("new")])
    garden, *others = found.shelters
    hedge = place("garden/hedge")
    garden = replace(garden, places=(*garden.places, hedge))
    found = replace(found, shelters=(garden, *others))
    maker = PlanMaker(found)
    for one, target in (("old", GARDEN), ("new", hedge.id)):
        maker.carry(NOV, one, GARDEN, "glass/bench 1").carry(MAY, one, "glass/bench 1", target)
    checks = sheet_of(found, maker.make()).partition("What to check")[2].partition("<h2>")[0]
    assert checks.count("water once it stands") == 1


def test_a_part_holds_what_it_was_asked_for_and_nothing_else() -> None:
    """One shelter, some stages: their carries, and every caution."""
    season, plan = small_winter()
    book = carry_book(season, plan)
    some, words = part_of(book, ["cellar"], [4, 5])
    assert [(one.shelter_id, one.head.number) for one in some.lists] == [
        ("cellar", 4),
        ("cellar", 5),
    ]
    assert some.cautions == book.cautions
    assert words == "Cellar, stages 4 and 5"
    words = words
    assert f"Only {words}." in carry_sheet(season, plan, some, part=words)
    assert part_of(book, stages=[4])[1] == "stage 4"
    assert part_of(book, ["glass"], [5])[0].lists == ()


def test_the_front_page_and_the_stage_say_sign_days_and_sunset() -> None:
    """What a grower waits for, and when it comes in most years (eight of ten in the test)."""
    sheet = sheet_of(*small_winter())
    assert "3. When the first night of -1 °C or colder is forecast</h2>" in sheet
    assert "22 Oct to 11 Nov, usually 1 Nov; sunset then" in sheet
    assert "First night of -1 °C or colder" in sheet.split('<section class="stage">')[0]


def test_the_same_plan_gives_the_same_sheet() -> None:
    """Deterministic."""
    assert sheet_of(*small_winter()) == sheet_of(*small_winter())


@pytest.fixture(scope="module")
def printer(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    with browser(tmp_path_factory.mktemp("print"), width=900, height=1200) as driver:
        yield driver


def shown(driver: Any, folder: Path, winter: tuple[Season, Plan], paper: Paper) -> Path:
    path = folder / f"{paper.value}.html"
    path.write_text(sheet_of(*winter, paper), encoding="utf-8")
    driver.get(path.as_uri())
    return path


@pytest.mark.chromium
@needs_chromium
@needs_poppler
@pytest.mark.parametrize(
    ("paper", "size_mm"), [(Paper.A4, (210.0, 297.0)), (Paper.LETTER, (215.9, 279.4))]
)
def test_no_row_is_cut_by_a_page_and_pages_are_few(
    printer: Any, tmp_path: Path, paper: Paper, size_mm: tuple[float, float]
) -> None:
    """ISO 216 A4 and ANSI Letter; 60 long-named trees in and out: each row lies on one page, and
    there are a front page and at most one page for each twelve carries (our own rule)."""
    season, plan = big_winter()
    # One word a tree, so that a page's text tells which rows begin and end on it.
    for number, one in enumerate(season.trees):
        season = renamed(season, one.id, f"BEGIN{number:02d} {one.name} END{number:02d}")
    shown(printer, tmp_path, (season, plan), paper)
    pdf = tmp_path / "sheet.pdf"
    print_pdf(printer, pdf)
    assert pdf_size_mm(pdf) == pytest.approx(size_mm, abs=0.5)
    pages = pdf_pages(pdf)
    begun = [sorted(re.findall(r"BEGIN(\d\d)", page)) for page in pages]
    assert begun == [sorted(re.findall(r"END(\d\d)", page)) for page in pages]
    assert sum(map(len, begun)) == 60 * 2  # in, out
    assert len(pages) <= 2 + 120 // 12


@pytest.mark.chromium
@needs_chromium
@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("us", [False, True])
def test_it_can_be_read_at_arms_length_and_ticked_in_gloves(
    printer: Any, tmp_path: Path, paper: Paper, us: bool
) -> None:
    """Text 9 pt or more, boxes for trees 5.5 mm or more (our own rule), nothing too wide."""
    shown(printer, tmp_path, big_winter(us=us), paper)
    printer.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    sizes, boxes, wide, clipped = printer.execute_script("""
      const size = e => parseFloat(getComputedStyle(e).fontSize);
      const sizes = [...document.querySelectorAll('.stage p, .stage p *, .front td')].map(size);
      const boxes = [...document.querySelectorAll('.row .box')]
        .map(e => e.getBoundingClientRect()).map(b => Math.min(b.width, b.height));
      const body = document.body;
      const clipped = [...body.querySelectorAll('*')]
        .filter(e => e.clientWidth > 0 && e.scrollWidth > e.clientWidth + 1)
        .map(e => e.outerHTML.slice(0, 99));
      return [Math.min(...sizes), Math.min(...boxes), body.scrollWidth - body.clientWidth, clipped];
    """)
    printer.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert sizes >= 9.0 * PX_PER_PT - 0.01
    assert boxes >= 5.5 * PX_PER_MM - 0.01
    assert wide <= 0
    assert clipped == []


@pytest.mark.chromium
@needs_chromium
def test_a_narrow_screen_shows_all_of_it(tmp_path: Path) -> None:
    """On a telephone nothing is cut off, and names are not broken into letters."""
    with browser(tmp_path / "profile", width=390) as driver:
        shown(driver, tmp_path, big_winter(us=True), Paper.LETTER)
        inner, wide, narrowest = driver.execute_script("""
          const names = [...document.querySelectorAll('.row .name')].map(e => e.clientWidth);
          return [innerWidth, document.documentElement.scrollWidth, Math.min(...names)];
        """)
    assert wide <= inner == 390
    assert narrowest > 150


@pytest.mark.chromium
@needs_chromium
def test_it_is_black_on_white(printer: Any, tmp_path: Path) -> None:
    """No colour at all, also where the device prefers the dark."""
    media = {"features": [{"name": "prefers-color-scheme", "value": "dark"}]}
    printer.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    shown(printer, tmp_path, small_winter(), Paper.A4)
    colours = printer.execute_script("""
      return [...new Set([...document.querySelectorAll('body, body :not(svg, svg *)')]
        .flatMap(e => {
        const s = getComputedStyle(e);
        return [s.color, s.backgroundColor, s.borderTopColor, s.borderBottomColor];
      }))];
    """)
    assert set(colours) <= {"rgb(0, 0, 0)", "rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}
