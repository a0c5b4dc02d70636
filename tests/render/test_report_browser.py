"""The report in a real Chromium: 60 trees on a phone, a laptop, A4 and Letter, light and dark."""

import json
import re
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from carry_browser import browser, contrasts, needs_chromium, pdf_pages, print_pdf
from carry_winters import reported_winter

from overwinter.render.report_page import Told, report_page
from overwinter.render.words import short_date

pytestmark = [pytest.mark.chromium, needs_chromium]

TRIES = 30
"""On a busy machine the size is taken late."""
PAPERS_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""ISO 216 and ANSI."""
CHECK = """
const out = [], shown = e => e.getClientRects().length > 0;
const root = document.documentElement;
if (root.scrollWidth > root.clientWidth) out.push('page wider than the screen');
for (const e of document.querySelectorAll('body *'))
  if (!e.closest('svg, .skip, .cell, .drawing, .tools') && shown(e) && e.clientWidth > 0
      && getComputedStyle(e).display !== 'inline' && e.scrollWidth > e.clientWidth + 1)
    out.push('clipped: ' + e.outerHTML.slice(0, 90));
let svgs = 0, trees = 0;
for (const svg of document.querySelectorAll('svg')) {
  if (!shown(svg)) continue;
  svgs += 1;
  for (const g of svg.querySelectorAll('g.tree')) {
    if (!shown(g)) continue;
    trees += 1;
    const r = g.querySelector('rect').getBoundingClientRect();
    for (const t of g.querySelectorAll('text')) {
      const b = t.getBoundingClientRect();
      if (t.textContent.length > 2 && (b.left < r.left - 1 || b.right > r.right + 1))
        out.push('outside its tree: ' + t.textContent);
    }
  }
}
return [svgs, trees, out.slice(0, 20)];
"""


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    html = report_page(*reported_winter(), Told(notices=["A notice."]))
    path.write_text(html, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def looker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    with browser(tmp_path_factory.mktemp("look"), width=1366, height=900) as driver:
        yield driver


def opened(driver: Any, page: Path, width: float) -> None:
    """Open a page on a screen of that many CSS px."""
    driver.get(page.as_uri())
    # After opening: chromedriver sets its own size again on every navigation.
    size = {"width": round(width), "height": 900, "deviceScaleFactor": 1, "mobile": True}
    for _ in range(TRIES):
        driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        if driver.execute_script("return innerWidth") == round(width):
            return
        time.sleep(0.1)
    pytest.fail(f"the screen does not take {width:.0f} px")


def chosen(driver: Any, stage: int) -> None:
    """Move the slider."""
    driver.execute_script(
        "const s = document.getElementById('stage'); s.value = arguments[0];"
        "s.dispatchEvent(new Event('input'))",
        stage,
    )


@pytest.mark.parametrize("width", [360, 390, 758, 760, 1280])
def test_nothing_is_cut_off_in_any_stage(looker: Any, page: Path, width: int) -> None:
    # Intent: 60 trees, each stage, at phone, laptop and in-between widths.
    opened(looker, page, width)
    _, plan, _ = reported_winter()
    for stage in range(len(plan.stages)):
        chosen(looker, stage)
        _, trees, wrong = looker.execute_script(CHECK)
        assert wrong == []
        laid_out = sum(len(by_stage.get(stage, ())) for by_stage in plan.layouts.values())
        assert trees == laid_out


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_stands_out_and_is_large_enough(looker: Any, page: Path, scheme: str) -> None:
    # Source: WCAG 2.2, 1.4.3 (AA), 4.5:1; the least size of 12 px is our own.
    media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    opened(looker, page, 1280)
    looker.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    worst, smallest, texts, dark = contrasts(looker)
    assert texts > 200
    assert dark is (scheme == "dark")
    assert worst[0] >= 4.5, worst
    assert smallest[0] >= 12.0, smallest


@pytest.mark.parametrize("paper", PAPERS_MM)
def test_the_whole_winter_prints_on_one_landscape_sheet(
    looker: Any, tmp_path: Path, paper: str
) -> None:
    # Intent: 60 trees on as many ways as they have, every row on the one sheet, which lies across.
    html = report_page(*reported_winter())
    (tmp_path / "page.html").write_text(html, "utf-8")
    opened(looker, tmp_path / "page.html", 1280)
    looker.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    width_mm, height_mm = PAPERS_MM[paper]
    print_pdf(
        looker, tmp_path / "report.pdf", paperWidth=width_mm / 25.4, paperHeight=height_mm / 25.4
    )
    pages = pdf_pages(tmp_path / "report.pdf")
    sheet = [text for text in pages if "The whole winter" in text]
    assert len(sheet) == 1
    names = re.findall(r'<div class="row" role="row" data-name="([^"]*)"', html)
    words = "".join(sheet[0].split())
    assert all("".join(name.split())[:12] in words for name in names)
    assert len(pages) <= 9


def test_it_asks_the_network_for_nothing(looker: Any, page: Path) -> None:
    # Intent: Chromium's own log of requests while the page is opened and used.
    opened(looker, page, 1366)
    chosen(looker, 2)
    asked = [
        message["params"]["request"]["url"]
        for message in (json.loads(e["message"])["message"] for e in looker.get_log("performance"))
        if message["method"] == "Network.requestWillBeSent"
    ]
    assert asked
    assert [url for url in asked if not url.startswith(("file:", "data:", "chrome"))] == []
    assert [e for e in looker.get_log("browser") if e["level"] == "SEVERE"] == []


def test_a_tree_is_found_and_told_where_it_is(looker: Any, page: Path) -> None:
    # Intent: part of a name lights up its row and its spot, and says where it stands in the stage.
    season, plan, _ = reported_winter()
    opened(looker, page, 1280)
    tree_id = next(
        t
        for t, stays in plan.stays.items()
        if any(t == one.tree_id for one in plan.layouts.get(stays[1] or "", {}).get(1, ()))
    )
    name = season.tree_by_id[tree_id].name
    looker.find_element("id", "find").send_keys(name[:12].upper())
    chosen(looker, 1)
    place = season.places[str(plan.stays[tree_id][1])]
    said = looker.find_element("id", "said").text
    assert place.name in said
    assert looker.find_elements("css selector", ".row.hit")
    assert looker.find_elements("css selector", "svg .tree.hit")
    looker.find_element("id", "find").send_keys("zzz")
    assert "No tree is called that" in looker.find_element("id", "said").text


def test_it_can_be_used_from_the_keyboard(looker: Any, page: Path) -> None:
    # Intent: Tab shows the skip link first, then the name box, then the slider, which arrows move.
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    opened(looker, page, 1366)

    def press(key: str) -> Any:
        ActionChains(looker).send_keys(key).perform()
        return looker.switch_to.active_element

    skip = press(Keys.TAB)
    assert skip.text == "Skip to the report"
    assert skip.rect["x"] >= 0
    assert press(Keys.TAB).get_attribute("id") == "find"
    slider = press(Keys.TAB)
    assert slider.get_attribute("id") == "stage"
    before = looker.find_element("id", "main").get_attribute("data-stage")
    press(Keys.ARROW_LEFT)
    assert looker.find_element("id", "main").get_attribute("data-stage") != before
    outline = looker.execute_script("return getComputedStyle(arguments[0]).outlineWidth", slider)
    assert float(outline.removesuffix("px")) >= 2.0


def test_a_phone_has_heads_over_the_chart_and_whole_words(looker: Any, page: Path) -> None:
    # Intent: a column is told by its number and day; the slider says its sign too, in words apart.
    opened(looker, page, 390)
    chosen(looker, 2)
    heads = "return [...document.querySelectorAll('.sheet .head')].map(e => e.innerText)"
    _, plan, _ = reported_winter()
    told = [one.split() for one in looker.execute_script(heads)]
    assert [one[0] for one in told] == [str(stage.index + 1) for stage in plan.stages]
    assert told[2][1:] == short_date(plan.stages[2].usual).split()
    assert looker.find_element("id", "said").text.endswith(f" {short_date(plan.stages[2].usual)}")
    lines = (
        "const text = document.createRange(), heads = [...document.querySelectorAll('th')];"
        "text.selectNodeContents(heads.find(e => e.innerText.startsWith('Chance')));"
        "return new Set([...text.getClientRects()].map(line => line.bottom)).size"
    )
    assert looker.execute_script(lines) == 2  # "Chance" and "lost"


def test_days_over_many_columns_do_not_touch(looker: Any, tmp_path: Path) -> None:
    # Intent: from 14 stages on a phone shows their numbers alone, and places below the bars.
    season, plan, report = reported_winter()
    last = plan.stages[-1]
    more = [replace(last, index=k) for k in range(len(plan.stages), 14)]
    longer = replace(
        plan,
        stages=(*plan.stages, *more),
        stays={t: (*path, *path[-1:] * len(more)) for t, path in plan.stays.items()},
        settings={h: (*some, *some[-1:] * len(more)) for h, some in plan.settings.items()},
    )
    (tmp_path / "many.html").write_text(report_page(season, longer, report), "utf-8")
    opened(looker, tmp_path / "many.html", 390)
    heads = "return [...document.querySelectorAll('.sheet .head')].map(e => e.innerText.trim())"
    assert looker.execute_script(heads) == [str(k + 1) for k in range(14)]
    cut = "return [...document.querySelectorAll('.sheet .row:not(.cold) .cell')].filter(e =>"
    assert looker.execute_script(f"{cut} e.scrollWidth > e.clientWidth + 1).length") == 0
    whole = "return [...document.querySelectorAll('.sheet .row:not(.cold)')].every(row =>"
    whole += "[...row.querySelectorAll('.cell')].every(e => row.innerText.includes(e.textContent)))"
    assert looker.execute_script(whole)
