"""The report as a document: whole, self-contained, readable by ear and without colour."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest
from carry_winters import renamed, reported_winter

from overwinter.audit.report import AuditReport, Finding, Rule
from overwinter.climate.stages import QUIET_NIGHTS_AHEAD, QUIET_NIGHTS_BEHIND
from overwinter.model.plan import Proof
from overwinter.render.bench_canvas import FAINT
from overwinter.render.bench_canvas import INK as BENCH_INK
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.pictures import palette
from overwinter.render.report_page import report_page
from overwinter.render.report_parts.benches import fit_words
from overwinter.render.report_parts.risks import SHOWN
from overwinter.render.templates import text
from overwinter.render.words import place_name

COUNT = 40


class Elements(HTMLParser):
    """Every element's name and attributes, and the text of headings."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.all: list[tuple[str, dict[str, str | None]]] = []
        self.stack: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.all.append((tag, dict(attrs)))

    def named(self, tag: str) -> list[dict[str, str | None]]:
        """Attributes of every element of that name."""
        return [attrs for name, attrs in self.all if name == tag]


def page_of(*parts: Any, **more: Any) -> str:
    """The page with ordinary blanks: those that tie a number to its unit make no difference."""
    return report_page(*parts, **more).replace("\u00a0", " ")


@pytest.fixture(scope="module")
def page() -> str:
    return page_of(*reported_winter(COUNT))


def test_it_refers_to_nothing_outside(page: str) -> None:
    # Intent: one file, no network. The name of the SVG namespace is no address to fetch from.
    bare = page.replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?:|//[a-z]|@import|<link|<img|<iframe|\bsrc=|fetch\(", bare)
    assert all(target.startswith("#") for target in re.findall(r"url\(([^)]*)\)", bare))
    assert "default-src 'none'" in page


def test_the_same_plan_gives_the_same_page(page: str) -> None:
    # Intent: deterministic.
    assert page_of(*reported_winter(COUNT)) == page


def test_names_cannot_break_the_page() -> None:
    # Intent: markup in a name is text, in pictures and tables.
    evil = "<b>&\"'</script><script>alert(1)</script>"
    season, plan, report = reported_winter(COUNT)
    page = page_of(renamed(season, "t00", evil), plan, report)
    assert page.count("<script") == 1
    assert text(evil) in page


def test_headings_are_in_order_and_there_is_one_first(page: str) -> None:
    # Intent: one h1; no level is skipped on the way down (WCAG 2.2, 1.3.1; technique G141).
    levels = [int(tag[1]) for tag, _ in Elements(page).all if re.fullmatch("h[1-6]", tag)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(below - above <= 1 for above, below in pairwise(levels))


def test_ids_are_unique_and_everything_pointed_at_exists(page: str) -> None:
    # Intent: links, labels, clips and patterns find what they name.
    elements = Elements(page).all
    ids = [attrs["id"] for _, attrs in elements if "id" in attrs]
    assert len(ids) == len(set(ids))
    pointed = [str(a["href"])[1:] for t, a in elements if t == "a"]
    for _, attrs in elements:
        pointed += (attrs.get("aria-labelledby") or "").split()
    pointed += [target[1:] for target in re.findall(r"url\(([^)]*)\)", page)]
    assert set(pointed) <= set(ids)
    assert len(pointed) > 20


def test_every_picture_is_said_in_words(page: str) -> None:
    # Intent: each SVG is an image with a title and a description that says something.
    svgs = re.findall(r"<svg .*?</svg>", page, re.S)
    assert len(svgs) > 10
    for svg in svgs:
        assert 'role="img"' in svg[:400]
        assert re.search(r"<title id=[^>]+>[^<]{8,}</title>", svg)
        assert re.search(r"<desc id=[^>]+>[^<]{8,}</desc>", svg), svg[:300]


def test_language_skip_link_and_tables(page: str) -> None:
    # Intent: lang, a first link to the content, captions, and headers with a scope.
    assert '<html lang="en">' in page
    elements = Elements(page)
    assert elements.named("a")[0]["href"] == "#main"
    assert page.count("<table") == page.count("<caption>") > 5
    assert all(cell.get("scope") in ("col", "row") for cell in elements.named("th"))


def linear(channel: int) -> float:
    value = channel / 255.0
    return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4


def luminance(colour: str) -> float:
    """Relative luminance of a #rrggbb colour (WCAG 2.2 definition)."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:])
    red, green, blue = (linear(int(digits[i : i + 2], 16)) for i in (0, 2, 4))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio (WCAG 2.2 definition)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_computed_right() -> None:
    # Source: WCAG 2.2, "contrast ratio": 21 for black on white; #767676 on white is the well-known
    # lightest grey to reach 4.5 (from memory).
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("name", ["INK", "QUIET", "LINK", "ALARM"])
@pytest.mark.parametrize("ground", ["PAPER", "TINT"])
def test_text_stands_out(name: str, ground: str) -> None:
    # Source: WCAG 2.2, 1.4.3 (AA): 4.5:1 for text.
    assert contrast(getattr(palette, name), getattr(palette, ground)) >= 4.5


def test_bars_and_benches_stand_out() -> None:
    # Source: WCAG 2.2, 1.4.11 (AA): 3:1 for what is needed to understand a picture.
    for colour in (palette.BAR, BENCH_INK, FAINT):
        assert contrast(colour, palette.PAPER) >= 3.0


def test_only_colours_of_the_palette_are_used(page: str) -> None:
    # Intent: the contrasts above are those of the page; greys of the benches are known too.
    colours = {getattr(palette, n) for n in dir(palette) if n.isupper()}
    used = set(re.findall(r"(?<![&\w])#[0-9a-f]{3,6}\b(?=[\";])", page))
    assert used <= colours | {"#fff", BENCH_INK, FAINT, "#eceae4", "#e3e0d6"}


def test_the_top_says_what_came_of_it(page: str) -> None:
    # Intent: invented, trees, bill, carries, proof and audit, as audited.
    season, plan, report = reported_winter(COUNT)
    top = page[: page.index("<nav")]
    assert "INVENTED" in top
    assert f"{len(plan.stays)} of {COUNT} trees have a place; 3 have none" in top
    assert f"Heat {report.bill.mean:.2f} EUR in a mean winter" in top
    assert f"in one of ten more than {report.bill.high:.2f} EUR" in top
    assert f"expected loss {report.expected_loss:.2f} EUR a winter" in top
    assert f"{len(plan.carries)} carries at 2 signs, 2.0 a tree." in top
    assert "Within 0.40 % of the best, as a share of the whole" in top
    assert f"Passed: all {len(Rule)} rules hold" in top
    assert season.winters.origin in top


def test_a_refused_audit_no_bound_and_a_real_grower() -> None:
    # Intent: nothing is claimed that is not so, either way.
    season, plan, report = reported_winter(COUNT)
    real = replace(season, site=replace(season.site, invented=False, name="A real yard"))
    broken = replace(report, findings=(Finding(Rule.AREA, None, None, 1, 0.1, "m²", "full"),))
    unproven = replace(plan, proof=Proof("x", "time limit", 9.0, None, None, 1.0, 1))
    page = page_of(real, unproven, broken)
    top = page[: page.index("<nav")]
    assert "INVENTED" not in top
    assert "REFUSED: 1 finding" in top
    assert "nothing is proven about how good this plan is" in top.lower()


def test_notices_stand_at_the_top() -> None:
    # Intent: what the command warns of is in the page, as text.
    page = page_of(*reported_winter(COUNT), notices=["Inputs <changed>."])
    assert '<p class="notice">Inputs &lt;changed&gt;.</p>' in page[: page.index("<nav")]


def test_every_tree_place_and_caution_is_on_it(page: str) -> None:
    # Intent: nothing is left out: trees (placed or not), carries, assumptions, warnings, cautions.
    season, plan, _ = reported_winter(COUNT)
    for tree in season.trees:
        assert text(tree.name) in page
    for place_id in season.places:
        assert text(place_name(season, place_id)) in page
    for assumed in season.assumptions:
        assert text(f"{assumed.tree} ({assumed.written}): {assumed.why}") in page
    for said in (*season.warnings, LOCAL_CODES, CAUTIONS["fuel"].text, CAUTIONS["lifting"].text):
        assert text(said) in page
    assert page.count("<tr") > len(plan.carries)


def test_left_out_trees_say_what_every_place_lacks(page: str) -> None:
    # Intent: what would help, then each place with reason and amount in the site's units.
    season, plan, _ = reported_winter(COUNT)
    start = page.index('<h2 id="left-out"')
    part = page[start : page.index("<h2", start + 1)]
    for left in plan.left_out:
        assert text(season.tree_by_id[left.tree_id].name) in part
    assert "What would help: more room (it would stand at Glasshouse, shelf)." in part
    assert "too likely to be lost there, 12 %" in part
    assert "too tall, 30 cm" in part
    assert "too heavy, 12.0 kg" in part


def test_us_units_are_used_throughout() -> None:
    # Intent: no Celsius, centimetre or kilogram is left where the site wants the others; but a
    # caution gives both, and a setting's key may stand in what is no number of ours.
    page = page_of(*reported_winter(COUNT, us=True))
    body = page[page.index("<main") : page.index('<h2 id="knowledge"')]
    shown = re.sub(r"<[^>]+>", " ", body)
    assert not re.findall(r"\d\s?(?:°C|K\b|cm\b|kg\b)", shown)
    assert re.search(r"\d °F", shown)
    assert re.search(r"\d in\b", shown)
    assert re.search(r"\d lb\b", shown)


def test_how_often_the_first_plan_did_not_fit() -> None:
    # Intent: rounds and ruled-out sets in words, and nothing claimed without layouts.
    proof = Proof("x", "y", 1.0, 1.0, 0.0, 1.0, 1)
    assert "could be laid out as it was" in fit_words(proof, True)
    many = fit_words(replace(proof, rounds=4, misfits=7), True)
    assert "placed 4 times" in many
    assert "7 sets of trees were ruled out" in many
    assert "1 set of trees was" in fit_words(replace(proof, rounds=2, misfits=1), True)
    assert "without laying" in fit_words(proof, False)


def test_a_plan_without_layouts_lists_its_trees() -> None:
    # Intent: nothing to draw, but who stands where is still said.
    season, plan, report = reported_winter(COUNT)
    page = page_of(season, replace(plan, layouts={}), report)
    assert "not laid out:" in page
    assert "to scale, part" not in page


def test_an_empty_plan_is_a_page_too() -> None:
    # Intent: a folder all of whose trees were left out still gets a page that says so.
    season, plan, report = reported_winter(COUNT)
    empty = replace(plan, stays={}, carries=(), layouts={})
    nothing = AuditReport((), replace(report.costs, heat=0.0), rules_checked=tuple(Rule))
    page = page_of(season, empty, nothing)
    assert "Nothing is carried." in page
    assert "No tree is placed." in page


def test_risk_is_one_bar_a_tree_with_money_chance_harm_and_place(page: str) -> None:
    # Intent: the dearest first, with what is behind it; trees that risk nothing have no bar.
    _, _, report = reported_winter(COUNT)
    section = page.split('<h2 id="risks"')[1].split("<h2 ")[0]
    assert f"Expected loss: {report.expected_loss:.2f} EUR in a mean winter" in section
    described = re.findall(r"<desc[^>]*>([^<]+)</desc>", section)[0]
    first = described.split("; ")[0]
    assert "4.00 EUR at 4.0 %: mostly young roots frozen, " in first
    assert len(described.split("; ")) == SHOWN


def test_stages_say_sign_usual_day_and_days_of_most_years(page: str) -> None:
    # Intent: what the grower acts on is in the first table.
    section = page.split('<h2 id="stages"')[1].split("<h2 ")[0]
    assert "first night of -1 °C or colder is forecast" in section
    assert "22 October to 11 November" in section
    words = "no night of 2 °C or colder for three nights, and none forecast for a week"
    assert words in section
    assert (QUIET_NIGHTS_BEHIND, QUIET_NIGHTS_AHEAD) == (3, 7)
