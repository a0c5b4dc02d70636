"""The phone page in a real Chromium, at phone width."""

import json
import re
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from carry_browser import browser, contrasts, needs_chromium
from carry_winters import big_winter, renamed, small_winter

from overwinter.files.ticks import read_ticks
from overwinter.model.changes import Mark
from overwinter.model.plan import carry_key, plan_fingerprint
from overwinter.render.carry_book import carry_book
from overwinter.render.carry_pages import carry_phone
from overwinter.render.report_benches import benches

chromium = [pytest.mark.chromium, needs_chromium]


def test_the_page_refers_to_nothing_outside() -> None:
    """No address, no import, no url(); and its own policy forbids every fetch."""
    page = carry_phone(carry_book(*big_winter()))
    assert not re.search(r"https?:|//[a-z]|@import|url\(|<link|<img|<iframe|\bsrc=", page)
    assert "default-src 'none'" in page
    assert "fetch(" not in page
    assert "XMLHttpRequest" not in page


def test_names_cannot_break_the_page() -> None:
    """A name with markup in it is text, in the page and in its data."""
    season, plan = small_winter()
    evil = '</script><script>alert("x")</script><b>&'
    page = carry_phone(carry_book(renamed(season, "t0", evil), plan))
    assert page.count("<script") == 2
    assert 'alert("x")</script>' not in page


def test_the_same_plan_gives_the_same_page() -> None:
    """Deterministic."""
    assert carry_phone(carry_book(*small_winter())) == carry_phone(carry_book(*small_winter()))


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("phone") / "carry.html"
    path.write_text(carry_phone(carry_book(*small_winter())), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def crowded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("crowd") / "carry.html"
    path.write_text(carry_phone(carry_book(*big_winter())), encoding="utf-8")
    return path


@pytest.fixture
def downloads(tmp_path: Path) -> Path:
    folder = tmp_path / "downloads"
    folder.mkdir()
    return folder


def unfolded(driver: Any, page: Path) -> None:
    """Open the page, and on it the whole list with all stages."""
    driver.get(page.as_uri())
    driver.execute_script(
        "document.querySelectorAll('#all, .stage').forEach(d => { d.open = true; })"
    )


def row_of(driver: Any, words: str) -> Any:
    rows = driver.find_elements("css selector", "li.item")
    return next(row for row in rows if words in row.text)


def press(element: Any) -> None:
    """Click where a thumb would: in the middle of the screen, not under the sticky head."""
    element.parent.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
    element.click()


def saved(folder: Path, suffix: str) -> Path:
    """The downloaded file, once it is there."""
    for _ in range(100):
        found = [path for path in folder.iterdir() if path.name.endswith(suffix)]
        if found and found[0].stat().st_size:
            return found[0]
        time.sleep(0.1)
    raise AssertionError(f"no {suffix} came into {list(folder.iterdir())}")


def said_with(driver: Any, words: str) -> str:
    """What the page answers, once it holds ``words``."""
    answer = ""
    for _ in range(100):
        answer = driver.find_element("id", "said").text
        if words in answer:
            break
        time.sleep(0.1)
    return str(answer)


def severe(driver: Any) -> list[dict[str, Any]]:
    return [entry for entry in driver.get_log("browser") if entry["level"] == "SEVERE"]


@pytest.mark.chromium
@needs_chromium
def test_ticks_survive_closing_and_come_back_into_the_tool(
    page: Path, tmp_path: Path, downloads: Path
) -> None:
    """Tick, note and place; close the browser; open it again; hand back; read in the tool."""
    season, plan = small_winter()
    profile = tmp_path / "profile"
    with browser(profile) as driver:
        unfolded(driver, page)
        assert "kept in this browser" in driver.find_element("id", "kept").text
        row = row_of(driver, "Old maple")
        press(row.find_element("css selector", "input[type=checkbox]"))
        press(row.find_element("css selector", "summary"))
        row.find_element("css selector", "input[type=text]").send_keys("=branch, tied")
        from selenium.webdriver.support.ui import Select

        Select(row.find_element("css selector", "select")).select_by_visible_text(
            "Glasshouse, bench 2"
        )
        press(row_of(driver, "Hang a min/max").find_element("css selector", "input[type=checkbox]"))
        today = driver.execute_script(
            "const d = new Date(); return [d.getFullYear(), d.getMonth() + 1, d.getDate()]"
        )
    with browser(profile, downloads=downloads) as driver:
        unfolded(driver, page)
        row = row_of(driver, "Old maple")
        assert row.find_element("css selector", "input[type=checkbox]").is_selected()
        assert "✓ done on" in row.text
        assert driver.find_element("id", "progress").text == "1 of 9 carries done"
        # The next stage with something to carry is ready to jump to: the fig is still outside.
        assert driver.find_element("id", "stage").get_attribute("value") == "stage-2"
        job = row_of(driver, "Hang a min/max")
        assert job.find_element("css selector", "input").is_selected()
        press(driver.find_element("id", "saveJson"))
        exported = saved(downloads, ".json")
        press(driver.find_element("id", "saveCsv"))
        table = saved(downloads, ".csv")
        assert severe(driver) == []
    # The machine's date lies outside the invented winter; it is set right before reading.
    content = json.loads(exported.read_text(encoding="utf-8"))
    assert content["plan"] == plan_fingerprint(plan)
    assert content["ticks"][0]["done_on"] == date(*today).isoformat()
    for path in (exported, table):
        text = path.read_text(encoding="utf-8-sig").replace(date(*today).isoformat(), "2025-11-01")
        path.write_text(text, encoding="utf-8")
        (mark,), _ = read_ticks(path, plan, season)
        assert (mark.tree_id, mark.target, mark.note) == ("t0", "glass/bench 2", "=branch, tied")


@pytest.mark.chromium
@needs_chromium
def test_ticks_of_another_device_are_taken_and_two_plans_do_not_mix(
    page: Path, crowded: Path, tmp_path: Path, downloads: Path
) -> None:
    """Import adds to what is ticked; a page of another plan starts empty; rubbish is refused."""
    with browser(tmp_path / "one", downloads=downloads) as driver:
        unfolded(driver, page)
        press(row_of(driver, "Old maple").find_element("css selector", "input[type=checkbox]"))
        press(driver.find_element("id", "saveJson"))
        exported = saved(downloads, ".json")
    with browser(tmp_path / "two") as driver:
        unfolded(driver, page)
        press(row_of(driver, "Little maple").find_element("css selector", "input[type=checkbox]"))
        driver.find_element("id", "back").send_keys(str(exported))
        assert said_with(driver, "taken from") == f"1 carry taken from {exported.name}."
        assert driver.find_element("id", "progress").text == "2 of 9 carries done"
        bad = tmp_path / "bad.json"
        bad.write_text('{"format": "something else"}')
        driver.find_element("id", "back").send_keys(str(bad))
        assert said_with(driver, "is not a ticks file").startswith("bad.json")
        assert driver.find_element("id", "progress").text == "2 of 9 carries done"
        unfolded(driver, crowded)
        assert driver.find_element("id", "progress").text == "0 of 120 carries done"


@pytest.mark.chromium
@needs_chromium
def test_what_is_marked_already_is_shown_and_stays(tmp_path: Path, downloads: Path) -> None:
    """A mark is counted, told with its day and place, and can be corrected but not unticked; what
    is handed back holds only what was ticked or corrected here."""
    season, plan = small_winter()
    old, little = (
        next(carry for carry in plan.carries if carry.tree_id == tree_id)
        for tree_id in ("t0", "t1")
    )
    marked = {
        carry_key(old): Mark(date(2025, 11, 2), "t0", "glass/bench 2", carry_key(old)),
        "c0": Mark(date(2025, 11, 2), "t9", "glass/bench 2"),  # of no carry of this plan
    }
    path = tmp_path / "marked.html"
    path.write_text(carry_phone(carry_book(season, plan), marked), encoding="utf-8")
    with browser(tmp_path / "profile", downloads=downloads) as driver:
        unfolded(driver, path)
        assert driver.find_element("id", "progress").text == "1 of 9 carries done"
        row = row_of(driver, "Old maple")
        box = row.find_element("css selector", "input[type=checkbox]")
        assert (box.is_selected(), box.is_enabled()) == (True, False)
        assert "✓ marked as done on 2025-11-02, stands at Glasshouse, bench 2" in row.text
        assert row.find_element("css selector", "select").get_attribute("value") == "glass/bench 2"
        lines = driver.find_element("id", "asText").get_attribute("value").splitlines()
        assert len(lines) == 1
        press(row_of(driver, "Little maple").find_element("css selector", "input[type=checkbox]"))
        press(row.find_element("css selector", "summary"))
        row.find_element("css selector", "input[type=text]").send_keys("tag lost")
        assert driver.find_element("id", "progress").text == "2 of 9 carries done"
        today = driver.execute_script(
            "const d = new Date(); return [d.getFullYear(), d.getMonth() + 1, d.getDate()]"
        )
        press(driver.find_element("id", "saveJson"))
        text = saved(downloads, ".json").read_text(encoding="utf-8")
        assert severe(driver) == []
    back = tmp_path / "back.json"
    back.write_text(text.replace(date(*today).isoformat(), "2025-11-01"), encoding="utf-8")
    marks = {mark.carry_key: mark for mark in read_ticks(back, plan, season)[0]}
    assert set(marks) == {carry_key(old), carry_key(little)}
    mark = marks[carry_key(old)]
    assert (mark.day, mark.target, mark.note) == (date(2025, 11, 2), "glass/bench 2", "tag lost")


@pytest.fixture(scope="module")
def looker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    with browser(tmp_path_factory.mktemp("look")) as driver:
        yield driver


@pytest.mark.chromium
@needs_chromium
def test_it_asks_the_network_for_nothing(looker: Any, page: Path) -> None:
    """Chromium's own log of requests while the page is opened and used: the file, nothing else."""
    looker.get_log("performance")
    unfolded(looker, page)
    press(row_of(looker, "Old maple").find_element("css selector", "input[type=checkbox]"))
    asked = []
    for entry in looker.get_log("performance"):
        message = json.loads(entry["message"])["message"]
        if message["method"] == "Network.requestWillBeSent":
            asked.append(message["params"]["request"]["url"])
    assert asked
    # Addresses beginning with chrome (its own new tab) or data: ask no network.
    assert [url for url in asked if not url.startswith(("file:", "data:", "chrome"))] == []


@pytest.mark.chromium
@needs_chromium
@pytest.mark.parametrize("width", [320, 390, 844])
def test_nothing_is_cut_off_or_overlaps_at_phone_width(
    looker: Any, crowded: Path, width: int
) -> None:
    """60 trees with long names: no sideways scrolling, no text outside its box, no two cards on
    one another."""
    unfolded(looker, crowded)
    # After opening: chromedriver sets its own size again on every navigation.
    looker.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": 844, "deviceScaleFactor": 1, "mobile": True},
    )
    looker.execute_script("document.querySelectorAll('details').forEach(d => d.open = true)")
    inner, wide, clipped, overlaps = looker.execute_script("""
      const wide = document.documentElement.scrollWidth - innerWidth;
      const clipped = [...document.querySelectorAll('main *, footer *')].filter(e =>
        !e.closest('.hidden') && !['SELECT', 'OPTION', 'TEXTAREA', 'INPUT'].includes(e.tagName)
        && e.scrollWidth > e.clientWidth + 1 && e.clientWidth > 0)
        .map(e => e.outerHTML.slice(0, 99));
      const boxes = [...document.querySelectorAll('li.item')].map(e => e.getBoundingClientRect());
      let overlaps = 0;
      for (let i = 1; i < boxes.length; i++)
        if (boxes[i].top < boxes[i - 1].bottom - 0.5) overlaps += 1;
      return [innerWidth, wide, clipped, overlaps];
    """)
    assert inner == width
    assert wide <= 0
    assert clipped == []
    assert overlaps == 0


@pytest.mark.chromium
@needs_chromium
def test_everything_touched_is_big_enough(looker: Any, page: Path) -> None:
    """44 CSS px each way for every control or its label (WCAG 2.2, 2.5.5 target size, enhanced)."""
    unfolded(looker, page)
    looker.execute_script("document.querySelectorAll('details').forEach(d => d.open = true)")
    small = looker.execute_script("""
      return [...document.querySelectorAll('button, select, textarea, input, summary')]
        .map(e => (e.type === 'checkbox' && e.closest('label')) || e)
        .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
        .filter(([_, box]) => box.width < 44 || box.height < 44)
        .map(([html, box]) => html + ' ' + box.width + 'x' + box.height);
    """)
    assert small == []


@pytest.mark.chromium
@needs_chromium
def test_it_can_be_used_from_the_keyboard_and_by_ear(looker: Any, page: Path) -> None:
    """Tab reaches a tick, Space sets it, it stays visible under the sticky head; every control
    has a name; progress and answers are live regions."""
    from selenium.webdriver.common.action_chains import ActionChains
    from selenium.webdriver.common.keys import Keys

    unfolded(looker, page)
    for control in looker.find_elements("css selector", "button, select, textarea, input, summary"):
        if control.is_displayed():
            assert control.accessible_name.strip(), control.get_attribute("outerHTML")
    box = looker.find_element("css selector", "li.item[data-kind=carry] input[type=checkbox]")
    assert "Fig" in box.accessible_name
    for _ in range(30):
        ActionChains(looker).send_keys(Keys.TAB).perform()
        if looker.switch_to.active_element == box:
            break
    assert looker.switch_to.active_element == box
    before = box.is_selected()
    ActionChains(looker).send_keys(Keys.SPACE).perform()
    assert box.is_selected() is not before
    head = looker.find_element("css selector", "header").rect
    shown = looker.execute_script("return arguments[0].getBoundingClientRect().top", box)
    assert shown >= head["height"] - 1
    style = looker.execute_script("return getComputedStyle(arguments[0]).outlineWidth", box)
    assert float(style.removesuffix("px")) >= 2.0
    for live in ("progress", "said"):
        assert looker.find_element("id", live).aria_role == "status"


@pytest.mark.chromium
@needs_chromium
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_reads_in_the_light_and_in_the_dark(looker: Any, page: Path, scheme: str) -> None:
    """Contrast of text 7:1 or more (WCAG 2.2, 1.4.6) whatever the device prefers; done is said in
    words and struck through, not by colour."""
    media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    looker.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    unfolded(looker, page)
    ink, paper = looker.execute_script("""
      const style = getComputedStyle(document.body);
      return [style.color, style.backgroundColor];
    """)
    assert contrast(ink, paper) >= 7.0
    assert (luminance(paper) < 0.2) is (scheme == "dark")
    row = row_of(looker, "Little maple")
    tick = row.find_element("css selector", "input")
    if not tick.is_selected():
        press(tick)
    assert "✓ done" in row.text
    name = row.find_element("css selector", ".name")
    assert "line-through" in name.value_of_css_property("text-decoration")


@pytest.mark.chromium
@needs_chromium
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_text_is_large_enough_and_stands_out(looker: Any, crowded: Path, scheme: str) -> None:
    """4.5:1 for all text (WCAG 2.2, 1.4.3); at least 12 px."""
    media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    looker.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    unfolded(looker, crowded)
    worst, smallest, texts, _ = contrasts(looker)
    assert texts > 200
    assert worst[0] >= 4.5, worst
    assert smallest[0] >= 12.0, smallest


def plain(driver: Any, key: str) -> str:
    """Text of one element of the page's top."""
    return str(driver.find_element("id", key).text)


@pytest.mark.chromium
@needs_chromium
def test_the_next_tree_comes_first(tmp_path: Path, downloads: Path) -> None:
    """It waits for the sign; then one button goes through the stage in the order of the list, with
    spot and bench, until the next sign; later, undo and what is handed back hold with it."""
    season, plan = small_winter()
    book = carry_book(season, plan)
    drawings = {b.place_id: b.svg for b in benches(season, plan) if b.svg is not None}
    path = tmp_path / "now.html"
    path.write_text(carry_phone(book, None, drawings), encoding="utf-8")
    with browser(tmp_path / "profile", downloads=downloads) as driver:
        driver.get(path.as_uri())
        assert not driver.find_element("id", "stage").is_displayed()  # the list is behind
        button = driver.find_element("id", "done")
        assert button.rect["width"] >= 0.9 * driver.execute_script("return innerWidth") - 24
        size = driver.find_element("id", "what").value_of_css_property("font-size")
        steps: list[str] = []
        waited = 0
        for _ in range(60):
            words = button.text
            if words.startswith("The sign"):  # which stands first, then its days
                assert plain(driver, "sign") == ""
                assert plain(driver, "note").startswith("Most years")
                waited += 1
            if words == "It stands there":
                steps.append(plain(driver, "what").replace("\n", " "))
                size = driver.find_element("id", "what").value_of_css_property("font-size")
                assert float(size.removesuffix("px")) >= 36.0
            if not button.is_displayed():
                break
            button.click()
        assert plain(driver, "what") == "All is carried."
        assert waited
        walked = sorted(book.steps, key=lambda step: (step.carry.stage, step.number))
        told = [f"{step.number}. {step.tree}" for step in walked]
        assert steps == told
        assert plain(driver, "progress") == f"{len(told)} of {len(told)} carries done"
        while button.text != "It stands there":  # what is done last is no carry
            driver.find_element("id", "undo").click()
        assert plain(driver, "progress") == f"{len(told) - 1} of {len(told)} carries done"
        press(driver.find_element("id", "saveJson"))
        content = json.loads(saved(downloads, ".json").read_text(encoding="utf-8"))
        assert sum(tick["done"] for tick in content["ticks"]) == len(told) - 1
        assert severe(driver) == []


@pytest.mark.chromium
@needs_chromium
def test_the_spot_is_shown_on_its_bench(tmp_path: Path) -> None:
    """The rectangle that is filled is the tree's own, on the place it goes to or comes from."""
    season, plan = big_winter(12)
    drawings = {b.place_id: b.svg for b in benches(season, plan) if b.svg is not None}
    path = tmp_path / "spot.html"
    path.write_text(carry_phone(carry_book(season, plan), None, drawings), encoding="utf-8")
    shown = 0
    with browser(tmp_path / "profile") as driver:
        driver.get(path.as_uri())
        button = driver.find_element("id", "done")
        for _ in range(80):
            mine = driver.find_elements("css selector", "#bench .mine")
            if mine:
                shown += 1
                tree = season.tree_by_id[mine[0].get_attribute("data-tree")]
                assert plain(driver, "what").endswith(tree.name)
                assert len(mine) == 1
                assert len(driver.find_elements("css selector", "#bench .part")) == 1
            if not button.is_displayed():
                break
            button.click()
    assert shown > 4


@pytest.mark.chromium
@needs_chromium
def test_later_puts_a_tree_off(looker: Any, page: Path) -> None:
    """The next one is shown; after the last, the first comes again."""
    looker.get(page.as_uri())
    looker.execute_script("localStorage.clear()")
    looker.get(page.as_uri())
    button = looker.find_element("id", "done")
    if button.text != "It stands there":
        button.click()
    first = plain(looker, "what")
    looker.find_element("id", "later").click()
    assert plain(looker, "what") != first
    for _ in range(20):
        looker.find_element("id", "later").click()
        if plain(looker, "what") == first:
            break
    assert plain(looker, "what") == first


def luminance(colour: str) -> float:
    """Relative luminance of "rgb(r, g, b)" (WCAG 2.2 definition)."""
    parts = [float(part) / 255.0 for part in re.findall(r"[\d.]+", colour)[:3]]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2 definition)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.chromium
@needs_chromium
def test_without_storage_it_says_so_and_can_still_hand_back(looker: Any, page: Path) -> None:
    """Some file viewers keep nothing: the page must warn, not lose ticks silently."""
    script = {"source": "Storage.prototype.setItem = () => { throw new Error('no room'); };"}
    added = looker.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", script)
    try:
        unfolded(looker, page)
        assert "does not keep ticks" in looker.find_element("id", "kept").text
        row = row_of(looker, "Olive")
        if not row.find_element("css selector", "input").is_selected():
            press(row.find_element("css selector", "input[type=checkbox]"))
        assert "Olive" in looker.find_element("id", "asText").get_attribute("value")
    finally:
        looker.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", added)


@pytest.mark.chromium
@needs_chromium
def test_hide_done_and_jump_to_a_stage(looker: Any, page: Path) -> None:
    """What is done can be put out of sight; the list of stages goes to its stage."""
    from selenium.webdriver.support.ui import Select

    unfolded(looker, page)
    row = row_of(looker, "Olive")
    tick = row.find_element("css selector", "input")
    if not tick.is_selected():
        press(tick)
    press(looker.find_element("id", "openOnly"))
    assert not row.is_displayed()
    Select(looker.find_element("id", "stage")).select_by_value("stage-6")
    summary = looker.switch_to.active_element
    assert summary.find_element("xpath", "..").get_attribute("id") == "stage-6"
    assert summary.is_displayed()
