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
    APR,
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
from overwinter.render.carry_book import CarryBook, carry_book
from overwinter.render.carry_part import Part, part_of
from overwinter.render.carry_sheet import Paper, carry_sheet
from overwinter.render.carry_sheet_days import BEFORE_YOU_BEGIN
from overwinter.render.carry_sheet_spring import MOST_LETTERS
from overwinter.render.carry_words import day_words
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.templates import text

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
        assert f'<span class="number">{step.number}</span>' in sheet
        assert text(step.tree) in sheet
        assert text(step.position) in sheet
    for key in book.cautions:
        assert text(CAUTIONS[key].text) in sheet
    assert text(LOCAL_CODES) in sheet
    for one in book.days:
        for todo in (*one.before, *one.after):
            assert text(todo.text) in sheet


def test_the_cautions_come_before_any_sheet_and_every_heading_points_to_them() -> None:
    """Whoever lifts or heats has been told; heater days without carries included."""
    season, plan = small_winter()
    maker = PlanMaker(season, list(plan.carries))
    maker.heat("glass", date(2026, 1, 10), "hold 8 °C")
    book = carry_book(season, maker.make())
    sheet = carry_sheet(book)
    front, *tables = sheet.split('<table class="day')
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
        f"{one.shelter} · {day_words(one.day)}": [CAUTIONS[key].title for key in one.cautions]
        for one in book.days
    }
    assert any(one.cautions and not one.steps for one in book.days), "no heater day in the test"


def test_what_all_lines_of_a_day_share_stands_in_its_heading_and_the_rest_on_the_line() -> None:
    """From and to can always be read: names of other shelters are never left out."""
    season = season_of([tree("a"), tree("b"), tree("c")])
    maker = PlanMaker(season)
    for one, target in (("a", "glass/bench 1"), ("b", "glass/bench 2"), ("c", "cellar/floor")):
        maker.carry(NOV, one, GARDEN, target)
    maker.carry(DEC, "a", "glass/bench 1", "cellar/floor")
    maker.carry(DEC, "c", "cellar/floor", "glass/bench 1")
    sheet = carry_sheet(carry_book(season, maker.make()))
    glass = sheet.split(f"Glasshouse · {day_words(NOV)}")[1].split("</table>")[0]
    assert "Tree, all from Garden, terrace</th>" in glass
    assert '<div><span class="where">bench 1</span></div>' in glass
    assert "terrace →" not in glass
    back = sheet.split(f"Glasshouse · {day_words(DEC)}")[1].split("</table>")[0]
    assert 'Cellar, floor → <span class="where">bench 1</span>' in back
    assert "Leaving here, on the sheet of Cellar: a (step " in back


def test_spring_names_alike_trees_on_one_line() -> None:
    """Eight of a row that are carried and stand alike: one line, not eight; nobody is lost."""
    trees = [tree(f"m/{n}", name=f"Maple {n}/8") for n in range(1, 9)] + [tree("fig", "fig")]
    maker = PlanMaker(season_of(trees))
    for one in trees:
        maker.carry(NOV, one.id, GARDEN, "glass/bench 1")
        maker.carry(MAY, one.id, "glass/bench 1", GARDEN)
    spring = carry_sheet(carry_book(maker.season, maker.make())).split("Spring: on the way out")[1]
    rows = re.findall(r"<tr><td>([^<]+)</td>", spring)
    assert sorted(rows) == ["Maple (all 8)", "fig"]


def test_a_spring_line_never_grows_taller_than_a_page() -> None:
    """60 different long names of which the same is said: several lines, each name on one."""
    season, plan = big_winter()
    spring = carry_sheet(carry_book(season, plan)).split("Spring: on the way out")[1]
    rows = re.findall(r"<tr><td>([^<]+)</td>", spring)
    longest = max(len(text(one.name)) for one in season.trees)
    assert max(map(len, rows)) <= max(MOST_LETTERS, longest) + 6 * 8  # &#x27; is six letters
    assert all(sum(text(one.name) in row for row in rows) == 1 for one in season.trees)


def test_a_part_holds_what_it_was_asked_for_and_nothing_else() -> None:
    """One shelter, some days: their carries, their cautions, their trees in spring."""
    book = carry_book(*small_winter())
    some = part_of(book, Part(["cellar"], DEC, MAY))
    listed = {(one.shelter_id, one.day) for one in some.days}
    assert listed == {("cellar", day) for day in (DEC, APR, MAY)}
    assert ("cellar", date(2026, 5, 10)) in {(one.shelter_id, one.day) for one in book.days}
    assert [row.tree for row in some.spring] == ["Olive", "Old maple", "Little maple"]
    assert "cords" not in some.cautions
    assert {"lifting", "fuel"} <= set(some.cautions)
    words = Part(["cellar"], DEC, MAY).words(book)
    assert words == "Cellar, from Sat 6 Dec 2025 to Sat 9 May 2026"
    assert f"Only {words}." in carry_sheet(some, part=words)
    assert Part(first=DEC, last=DEC).words(book) == "Sat 6 Dec 2025"
    assert part_of(book, Part(["cellar"], date(2026, 2, 1), date(2026, 2, 2))).days == ()


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
    assert sum(len(re.findall(r"BEGIN\d\d", page)) for page in pages) == 60 * 3  # in, out, spring
    rows = [page for page in pages if "Done" in page and "Step" in page]
    for page in rows:
        # The note of a row prints below its name: as many of them as names.
        assert len(re.findall(r"look at it twice", page)) == len(re.findall(r"BEGIN", page))
    for page in rows:
        on_it = [one for one in book.days if f"{one.shelter} · {day_words(one.day)}" in page]
        assert len({one.shelter_id for one in on_it}) == 1
    days = re.findall(r"(?m)^\s*(?:Done\s+)?Step\s+Tree", "\n".join(rows))
    assert len(days) >= len(rows)  # each page says again what its columns are


@pytest.mark.chromium
@needs_chromium
@needs_poppler
@pytest.mark.parametrize("paper", list(Paper))
def test_it_takes_few_pages(printer: Any, tmp_path: Path, paper: Paper) -> None:
    """60 trees with names of usual length in and out, then a shelter with six short days: at
    least ten trees a full page, and short days of one shelter together (our own rule)."""
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
    assert sum(one.shelter_id == "cellar" for one in book.days) == 8
    assert len(cellar) <= 3
    assert all("Juniper" in page.title() for page in glass), "a page without a tree"


@pytest.mark.chromium
@needs_chromium
@needs_poppler
def test_no_day_of_the_overview_and_no_heading_is_cut_from_what_it_heads(
    printer: Any, tmp_path: Path
) -> None:
    """A winter of many days: each day of the overview is on one page, no heading ends a page."""
    trees = [tree(f"t{n:02d}", name=f"Tree {n}") for n in range(45)]
    maker = PlanMaker(season_of(trees))
    for n, one in enumerate(trees):
        target = ("glass/floor", "cellar/floor", "glass/bench 1")[n % 3]
        maker.carry(NOV + timedelta(days=n // 3), one.id, GARDEN, target)
    book = carry_book(maker.season, maker.make())
    shown(printer, tmp_path, book, Paper.A4)
    pdf = tmp_path / "sheet.pdf"
    print_pdf(printer, pdf)
    pages = pdf_pages(pdf)
    day = r"^(?:Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d+ \w+ \d{4} · sunset"
    fronts = [page for page in pages if "By two" in page or re.search(r"By\s.*two", page, re.S)]
    assert len([page for page in fronts if re.search(day, page, re.M)]) > 1, "one page is no test"
    for page in pages:
        lines = [line.strip() for line in page.splitlines() if line.strip()]
        assert not re.match(day, lines[-1])
        assert not re.match(r"Done|Put somewhere|(?:Glasshouse|Cellar) ·", lines[-1]) or (
            lines[-1].startswith("Put somewhere")
        )
        assert not lines[0].startswith("Put somewhere")
    for one in {one.day for one in book.days}:
        head = f"{day_words(one)} · sunset {book.sunsets[one]}"
        (page,) = [page for page in pages if re.search(rf"(?m)^\s*{head}", page)]
        after = page.split(head)[1].split("sunset")[0]
        shelters = [day.shelter for day in book.days if day.day == one]
        assert all(name in after for name in shelters)


@pytest.mark.chromium
@needs_chromium
@needs_poppler
def test_wherever_a_page_ends_nothing_is_left_alone(printer: Any, tmp_path: Path) -> None:
    """The sheets pushed down by a little more each time: what leads up to the first tree of a day
    stays with it, what follows the last one too, and a day of spring with its first tree."""
    trees = [tree(f"t{n:02d}", kind, name=f"Tree {n}") for n, kind in enumerate(["olive"] * 16)]
    maker = PlanMaker(season_of(trees))
    for n, one in enumerate(trees):
        maker.carry(NOV + timedelta(days=n // 4), one.id, GARDEN, "glass/bench 1")
        maker.carry(MAY - timedelta(days=n), one.id, "glass/bench 1", GARDEN)
    for n in range(4):
        maker.heat("glass", NOV + timedelta(days=n), f"hold {5 + n % 2 * 3} °C")
    book = carry_book(maker.season, maker.make())
    path = shown(printer, tmp_path, book, Paper.A4)
    pdf = tmp_path / "sheet.pdf"
    ends = set()
    for push_mm in range(0, 260, 9):
        printer.get(path.as_uri())
        printer.execute_script(
            "for (const first of document.querySelectorAll('table.day, table.spring'))"
            "  if (first === first.parentElement.querySelector('table'))"
            "    first.insertAdjacentHTML('beforebegin', `<div style='height:${arguments[0]}mm'>`)",
            push_mm,
        )
        print_pdf(printer, pdf)
        for page in pdf_pages(pdf):
            lines = [line.strip() for line in page.splitlines() if line.strip()]
            if not lines:
                continue
            last, columns = lines[-1], [n for n, one in enumerate(lines) if "Tree, all" in one]
            ends.add(last.split()[0])
            wrong = r"First:|Water|Pests|Mice|Done|Glasshouse ·|.*frost hurts|.*weather used"
            assert not re.match(wrong, last), (push_mm, last)
            if columns and columns[0] < 4:  # the day began on the page before
                after = lines[columns[0] + 1 :]
                assert not re.match(r"Last:|Leaving here|Put somewhere", after[0]), push_mm
    assert len(ends) > 4, "pages must end in different places"


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
        '.day tr:not(.legend) td, .day tr:not(.legend) td *, .overview td, .spring td')].map(size);
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
