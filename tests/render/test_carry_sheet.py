"""The printable sheet: printed by a real Chromium on A4 and Letter."""

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
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
    renamed,
    season_of,
    small_winter,
    tree,
)

from overwinter.model.tree import Condition
from overwinter.render.carry_book import CarryBook, ShelterList, carry_book
from overwinter.render.carry_part import Part, part_of
from overwinter.render.carry_sheet import Paper, carry_sheet
from overwinter.render.carry_sheet_stages import BEFORE_YOU_BEGIN
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.templates import text

PX_PER_MM = 96.0 / 25.4
"""CSS pixels in a millimetre (CSS Values 4: 1in = 96px = 2.54cm)."""
PX_PER_PT = 96.0 / 72.0


def _title(one: ShelterList) -> str:
    return f"{one.shelter} · {one.head.number}. {one.head.when}"


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
        assert f'<span class="number">{step.number}</span>' in sheet
        assert text(step.tree) in sheet
        assert text(step.position) in sheet
    for key in book.cautions:
        assert text(CAUTIONS[key].text) in sheet
    assert text(LOCAL_CODES) in sheet
    for one in book.lists:
        for todo in (*one.before, *one.after):
            assert text(todo.text) in sheet


def test_the_cautions_come_before_any_sheet_and_every_heading_points_to_them() -> None:
    """Whoever lifts or heats has been told; heater days without carries included."""
    season, plan = small_winter()
    maker = PlanMaker(season, [(c.day, c.tree_id, c.source, c.target) for c in plan.carries])
    maker.heat("glass", date(2026, 1, 10), 8.0)
    book = carry_book(season, maker.make())
    sheet = carry_sheet(book)
    front, *tables = sheet.split('<table class="stage')
    overview, cautions = front.split(f"<h2>{BEFORE_YOU_BEGIN}</h2>")
    assert f"Read &quot;{BEFORE_YOU_BEGIN}&quot; below first" in overview
    assert all(text(CAUTIONS[key].text) in cautions for key in book.cautions)
    told = {}
    for table in tables:
        heading = table.split("</thead>")[0]
        name = re.search(r'class="again">([^<]+)<', heading)
        pointer = re.search(rf"read first, in &quot;{BEFORE_YOU_BEGIN}&quot; .*: ([^<]+)<", heading)
        assert name is not None
        told[name.group(1)] = pointer.group(1).split("; ") if pointer else []
    assert told == {
        text(_title(one)): [CAUTIONS[key].title for key in one.cautions] for one in book.lists
    }
    assert any(one.cautions and not one.steps for one in book.lists), "no such list"


def test_what_all_lines_of_a_list_share_stands_in_its_heading_and_the_rest_on_the_line() -> None:
    """From and to can always be read: names of other shelters are never left out."""
    season = season_of([tree("a"), tree("b"), tree("c")])
    maker = PlanMaker(season)
    for one, target in (("a", "glass/bench 1"), ("b", "glass/bench 2"), ("c", "cellar/floor")):
        maker.carry(NOV, one, GARDEN, target)
    maker.carry(DEC, "a", "glass/bench 1", "cellar/floor")
    maker.carry(DEC, "c", "cellar/floor", "glass/bench 1")
    sheet = carry_sheet(carry_book(season, maker.make()))
    glass = sheet.split("Glasshouse · 2. 1 November")[1].split("</table>")[0]
    assert "Tree, all from Garden, terrace</th>" in glass
    assert '<div><span class="where">bench 1</span></div>' in glass
    assert "terrace →" not in glass
    back = sheet.split("Glasshouse · 3. 6 December")[1].split("</table>")[0]
    assert 'Cellar, floor → <span class="where">bench 1</span>' in back
    assert "Leaving here, on the sheet of Cellar: a (step " in back


def test_a_part_holds_what_it_was_asked_for_and_nothing_else() -> None:
    """One shelter, some stages: their carries, their cautions."""
    book = carry_book(*small_winter())
    part = Part(["cellar"], [4, 5])
    some = part_of(book, part)
    assert [(one.shelter_id, one.head.number) for one in some.lists] == [
        ("cellar", 4),
        ("cellar", 5),
    ]
    assert "cords" not in some.cautions
    assert {"lifting", "fuel"} <= set(some.cautions)
    assert part.words(book) == "Cellar, stages 4 and 5"
    assert f"Only {part.words(book)}." in carry_sheet(some, part=part.words(book))
    assert Part(stages=[4]).words(book) == "stage 4"
    assert part_of(book, Part(["glass"], [5])).lists == ()


def test_the_overview_says_sign_days_and_sunset() -> None:
    """What a grower waits for, and when it comes in most years (eight of ten in the test)."""
    sheet = carry_sheet(carry_book(*small_winter()))
    assert "3. When the first night of -1 °C or colder is forecast · Most years" in sheet
    assert "22 October to 11 November, usually 1 November; sunset then" in sheet


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
    weak = tuple(replace(one, condition=Condition.WEAK) for one in season.trees)
    book = carry_book(replace(season, trees=weak), plan)
    shown(printer, tmp_path, book, paper)
    pdf = tmp_path / "sheet.pdf"
    print_pdf(printer, pdf)
    assert pdf_size_mm(pdf) == pytest.approx(size_mm, abs=0.5)
    pages = pdf_pages(pdf)
    begun = [set(re.findall(r"BEGIN(\d\d)", page)) for page in pages]
    ended = [set(re.findall(r"END(\d\d)", page)) for page in pages]
    assert begun == ended
    assert sum(len(re.findall(r"BEGIN\d\d", page)) for page in pages) == 60 * 2  # in, out
    rows = [page for page in pages if "Done" in page and "Step" in page]
    for page in rows:
        # The note of a row prints below its name: as many of them as names.
        assert len(re.findall(r"look at it twice", page)) == len(re.findall(r"BEGIN", page))
    for page in rows:
        on_it = [one for one in book.lists if f"{one.shelter} · {one.head.number}." in page]
        assert len({one.shelter_id for one in on_it}) == 1
    days = re.findall(r"(?m)^\s*(?:Done\s+)?Step\s+Tree", "\n".join(rows))
    assert len(days) >= len(rows)  # each page says again what its columns are


@pytest.mark.chromium
@needs_chromium
@needs_poppler
@pytest.mark.parametrize("paper", list(Paper))
def test_it_takes_few_pages(printer: Any, tmp_path: Path, paper: Paper) -> None:
    """60 trees with names of usual length in and out, then a shelter with six short lists: at
    least ten trees a full page, and short lists of one shelter together (our own rule)."""
    trees = [tree(f"t{n:02d}", name=f"Windswept juniper {n}", width_m=0.2) for n in range(60)]
    maker = PlanMaker(season_of(trees))
    for n, one in enumerate(trees):
        target = "glass/floor" if n < 54 else "cellar/floor"
        day = NOV if n < 54 else NOV + timedelta(days=n)
        maker.carry(day, one.id, GARDEN, target).carry(MAY, one.id, target, GARDEN)
    book = carry_book(maker.season, maker.make())
    shown(printer, tmp_path, book, paper)
    pdf = tmp_path / "sheet.pdf"
    print_pdf(printer, pdf)
    pages = pdf_pages(pdf)
    glass = [page for page in pages if "Glasshouse ·" in page]
    assert len(glass) <= 1 + 2 * 54 // 10
    cellar = [page for page in pages if "Cellar ·" in page]
    assert sum(one.shelter_id == "cellar" for one in book.lists) >= 7
    assert len(cellar) <= 3
    assert all("Juniper" in page.title() for page in glass), "a page without a tree"


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
      const sizes = [...document.querySelectorAll(
        '.stage tr:not(.legend) td, .stage tr:not(.legend) td *, .overview td')].map(size);
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
