"""The printable sheet: printed by a real Chromium on A4 and Letter."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from carry_browser import browser, needs_chromium, needs_poppler, pdf_pages, pdf_size_mm, print_pdf
from carry_winters import big_winter, renamed, small_winter

from overwinter.reports.carry_book import CarryBook, carry_book
from overwinter.reports.carry_sheet import Paper, carry_sheet
from overwinter.reports.carry_words import day_words
from overwinter.reports.cautions import CAUTIONS, LOCAL_CODES
from overwinter.reports.templates import text

PX_PER_MM = 96.0 / 25.4
"""CSS pixels in a millimetre (CSS Values 4: 1in = 96px = 2.54cm)."""
PX_PER_PT = 96.0 / 72.0


def test_the_sheet_refers_to_nothing_outside_and_escapes_names() -> None:
    """Self-contained; a name with markup is text."""
    season, plan = small_winter()
    sheet = carry_sheet(carry_book(renamed(season, "t0", "<b>&'\""), plan))
    assert not re.search(r"https?:|@import|url\(|<link|<img|<script|\bsrc=", sheet)
    assert "&lt;b&gt;&amp;" in sheet


def test_every_carry_and_every_caution_is_on_it() -> None:
    """Nothing of the book is left out, and the cautions defer to codes and licensed people."""
    book = carry_book(*small_winter())
    sheet = carry_sheet(book)
    for step in book.steps:
        assert f'<td class="number">{step.number}</td>' in sheet
        assert text(step.tree) in sheet
        assert text(step.position) in sheet
    for key in book.cautions:
        assert text(CAUTIONS[key].text) in sheet
    assert text(LOCAL_CODES) in sheet
    for one in book.days:
        for todo in (*one.before, *one.after):
            assert text(todo.text) in sheet


def test_the_same_plan_gives_the_same_sheet() -> None:
    """Deterministic."""
    book = carry_book(*small_winter())
    assert carry_sheet(book) == carry_sheet(carry_book(*small_winter()))


@pytest.fixture(scope="module")
def printer(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    with browser(tmp_path_factory.mktemp("print"), width=900, height=1200) as driver:
        yield driver


def shown(driver: Any, folder: Path, book: CarryBook, paper: Paper) -> Path:
    path = folder / f"{paper.value}.html"
    path.write_text(carry_sheet(book, paper), encoding="utf-8")
    driver.get(path.as_uri())
    return path


@pytest.mark.chromium
@needs_chromium
@needs_poppler
@pytest.mark.parametrize(
    ("paper", "size_mm"), [(Paper.A4, (210.0, 297.0)), (Paper.LETTER, (215.9, 279.4))]
)
def test_no_row_is_cut_by_a_page_and_shelters_begin_new_ones(
    printer: Any, tmp_path: Path, paper: Paper, size_mm: tuple[float, float]
) -> None:
    """ISO 216 A4 and ANSI Letter; 60 long-named trees twice: each row lies on one page, with its
    heading, and no page holds two shelters."""
    season, plan = big_winter()
    # One word a tree, so that a page's text tells which rows begin and end on it.
    for number, one in enumerate(season.trees):
        season = renamed(season, one.id, f"BEGIN{number:02d} {one.name} END{number:02d}")
    book = carry_book(season, plan)
    shown(printer, tmp_path, book, paper)
    pdf = tmp_path / "sheet.pdf"
    print_pdf(printer, pdf)
    assert pdf_size_mm(pdf) == pytest.approx(size_mm, abs=0.5)
    pages = pdf_pages(pdf)
    begun = [set(re.findall(r"BEGIN(\d\d)", page)) for page in pages]
    ended = [set(re.findall(r"END(\d\d)", page)) for page in pages]
    assert begun == ended
    assert sum(len(re.findall(r"BEGIN\d\d", page)) for page in pages) == 60 * 3  # in, out, spring
    rows = [page for page in pages if "Done" in page and "Step" in page]
    for page in rows:
        # The ticks of a row print below its name: as many "pests" boxes as names.
        assert len(re.findall(r"\bpests\b", page)) == len(re.findall(r"BEGIN", page))
    heads = [f"{one.shelter} · {day_words(one.day)}" for one in book.days if one.steps]
    assert all(sum(head in page for head in heads) == 1 for page in rows)


@pytest.mark.chromium
@needs_chromium
@pytest.mark.parametrize("paper", list(Paper))
@pytest.mark.parametrize("us", [False, True])
def test_it_can_be_read_at_arms_length_and_ticked_in_gloves(
    printer: Any, tmp_path: Path, paper: Paper, us: bool
) -> None:
    """Rows 14 pt or more, boxes 8 mm or more (our own rule), nothing wider than the paper."""
    shown(printer, tmp_path, carry_book(*big_winter(us=us)), paper)
    printer.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    sizes, boxes, wide, clipped = printer.execute_script("""
      const size = e => parseFloat(getComputedStyle(e).fontSize);
      const sizes = [...document.querySelectorAll('.steps td *, .todo *, .overview td')].map(size);
      const boxes = [...document.querySelectorAll('.box')].map(e => e.getBoundingClientRect())
        .map(b => Math.min(b.width, b.height));
      const body = document.body;
      const clipped = [...body.querySelectorAll('*')]
        .filter(e => e.clientWidth > 0 && e.scrollWidth > e.clientWidth + 1)
        .map(e => e.outerHTML.slice(0, 99));
      return [Math.min(...sizes), Math.min(...boxes), body.scrollWidth - body.clientWidth, clipped];
    """)
    printer.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert sizes >= 14.0 * PX_PER_PT - 0.01
    assert boxes >= 8.0 * PX_PER_MM - 0.01
    assert wide <= 0
    assert clipped == []


@pytest.mark.chromium
@needs_chromium
def test_it_is_black_on_white(printer: Any, tmp_path: Path) -> None:
    """No colour at all, also where the device prefers the dark."""
    media = {"features": [{"name": "prefers-color-scheme", "value": "dark"}]}
    printer.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    shown(printer, tmp_path, carry_book(*small_winter()), Paper.A4)
    colours = printer.execute_script("""
      return [...new Set([...document.querySelectorAll('body, body *')].flatMap(e => {
        const s = getComputedStyle(e);
        return [s.color, s.backgroundColor, s.borderTopColor, s.borderBottomColor];
      }))];
    """)
    assert set(colours) <= {"rgb(0, 0, 0)", "rgb(255, 255, 255)", "rgba(0, 0, 0, 0)"}
