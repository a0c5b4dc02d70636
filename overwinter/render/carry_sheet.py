"""The printable carry sheet: black on white, big enough to read at arm's length, boxes for gloves.

In front the overview and the cautions, then the sheets of one shelter after the other, so that
each can hang at its shelter's door.
"""

from enum import StrEnum

from overwinter.render.alike import tree_names
from overwinter.render.carry_book import CarryBook, ShelterList
from overwinter.render.carry_calendar import TITLES
from overwinter.render.carry_order import RULES
from overwinter.render.carry_sheet_stages import BEFORE_YOU_BEGIN, shelter_sheets
from overwinter.render.carry_todos import TodoKind
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.templates import element, page, template, text
from overwinter.render.words import count


class Paper(StrEnum):
    """Paper sizes."""

    A4 = "A4"
    LETTER = "Letter"


def carry_sheet(book: CarryBook, paper: Paper = Paper.A4, part: str = "") -> str:
    """Carry lists as one HTML document to print.

    ``part`` says in words what the book was narrowed to; empty for all of it.
    """
    size = f"@page {{ size: {paper.value.lower()} portrait; margin: 9mm 8mm; }}\n"
    sections = [_front(book, part), _cautions(book)]
    if not part:
        sections.append(_order(book))
    sections += [shelter_sheets(book, shelter_id) for shelter_id in book.shelters]
    title = f"Carry sheets: {book.site.name}"
    return page(title, size + template("carry_sheet.css"), "\n".join(sections))


def _front(book: CarryBook, part: str) -> str:
    invented = (
        element("p", "This grower and this collection are invented.") if book.site.invented else ""
    )
    only = element("p", text(f"Only {part}.") if part else "", "where")
    lost = element("p", text("Without a place: " + tree_names(book.left_out) + "."), "where")
    first = f'Read "{BEFORE_YOU_BEGIN}" below first, before a tree is lifted or a heater is set.'
    return (
        f'<section class="front"><h1>Carry sheets: {text(book.site.name)}</h1>{invented}'
        f"<p>Plan {text(book.fingerprint)}. Times are local standard time.</p>{only}"
        f"{lost if book.left_out else ''}{element('p', text(first), 'where')}"
        f"{_overview(book)}</section>"
    )


def _overview(book: CarryBook) -> str:
    """What there is in each stage, a line a shelter; a stage is never cut by a page."""
    groups = ""
    for stage in book.heads:
        rows = "\n".join(_overview_row(one) for one in book.of_stage(stage))
        head = f"{stage.number}. {stage.when} · {stage.facts}"
        groups += f'<tbody><tr class="group"><td colspan="4">{text(head)}</td></tr>\n{rows}</tbody>'
    return (
        '<table class="overview"><colgroup><col><col class="count"><col class="count">'
        '<col class="jobs"></colgroup><thead><tr><th>Shelter</th><th>Trees</th>'
        f"<th>By two</th><th>Also</th></tr></thead>{groups}</table>"
    )


def _overview_row(one: ShelterList) -> str:
    own = [step for step in one.steps if not step.halfway]
    two = sum(step.people > 1 for step in own)
    jobs = [
        f"heater: {one.setting}" if todo.kind is TodoKind.HEATER else TITLES[todo.kind]
        for todo in (*one.before, *one.after)
    ]
    if one.leaving:
        jobs.append(f"{count(len(one.leaving), 'tree leaves', 'trees leave')}, on other sheets")
    return (
        f"<tr><td>{text(one.shelter)}</td><td>{len(own) or ''}</td><td>{two or ''}</td>"
        f"<td>{text('; '.join(jobs))}</td></tr>"
    )


def _cautions(book: CarryBook) -> str:
    boxes = "".join(
        f'<div class="caution"><b>{text(CAUTIONS[key].title)}.</b> {text(CAUTIONS[key].text)}</div>'
        for key in book.cautions
    )
    return (
        f'<section class="front"><h2>{BEFORE_YOU_BEGIN}</h2>{boxes}'
        f"<p>{text(LOCAL_CODES)}</p></section>"
    )


def _order(book: CarryBook) -> str:
    """The rules used; a part of the sheets goes without, nobody needs them to carry."""
    used = dict.fromkeys(step.rule for step in book.steps)
    rules = "".join(
        f"<p><b>{text(rule.value)}:</b> {text(why)}</p>"
        for rule, why in RULES.items()
        if rule in used
    )
    return f'<section class="order"><h3>Why this order</h3>{rules}</section>' if rules else ""
