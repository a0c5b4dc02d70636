"""The printable carry sheet: black on white, big enough to read at arm's length, boxes for gloves.

In front the overview and the cautions, then the sheets of one shelter after the other, so that
each can hang at its shelter's door, and spring.
"""

from enum import StrEnum
from itertools import groupby

from overwinter.render.alike import tree_names
from overwinter.render.carry_book import CarryBook, ShelterDay
from overwinter.render.carry_calendar import TITLES
from overwinter.render.carry_order import RULES
from overwinter.render.carry_sheet_days import BEFORE_YOU_BEGIN, shelter_sheets
from overwinter.render.carry_sheet_spring import spring_sheet
from overwinter.render.carry_todos import TodoKind
from overwinter.render.carry_words import day_words
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
    if book.spring:
        sections.append(spring_sheet(book))
    title = f"Carry sheets: {book.site.name}"
    return page(title, size + template("carry_sheet.css"), "\n".join(sections))


def _front(book: CarryBook, part: str) -> str:
    invented = (
        element("p", "This grower and this collection are invented.") if book.site.invented else ""
    )
    only = element("p", text(f"Only {part}.") if part else "", "where")
    lost = element("p", text("Without a safe place: " + tree_names(book.left_out) + "."), "where")
    first = f'Read "{BEFORE_YOU_BEGIN}" below first, before a tree is lifted or a heater is set.'
    return (
        f'<section class="front"><h1>Carry sheets: {text(book.site.name)}</h1>{invented}'
        f"<p>Plan {text(book.fingerprint)}. Times are local standard time.</p>{only}"
        f"{lost if book.left_out else ''}{element('p', text(first), 'where')}"
        f"{_overview(book)}</section>"
    )


def _overview(book: CarryBook) -> str:
    """What there is on each day, a line a shelter; a day is never cut by a page."""
    groups = ""
    for day, listed in groupby(book.days, key=lambda one: one.day):
        rows = "\n".join(_overview_row(one) for one in listed)
        head = f"{day_words(day)} · sunset {book.sunsets[day]}"
        groups += f'<tbody><tr class="group"><td colspan="4">{text(head)}</td></tr>\n{rows}</tbody>'
    return (
        '<table class="overview"><colgroup><col><col class="count"><col class="count">'
        '<col class="jobs"></colgroup><thead><tr><th>Shelter</th><th>Trees</th>'
        f"<th>By two</th><th>Also</th></tr></thead>{groups}</table>"
    )


def _overview_row(day: ShelterDay) -> str:
    own = [step for step in day.steps if not step.halfway]
    two = sum(step.people > 1 for step in own)
    jobs = [
        f"heater: {day.setting}" if todo.kind is TodoKind.HEATER else TITLES[todo.kind]
        for todo in (*day.before, *day.after)
    ]
    if day.leaving:
        jobs.append(f"{count(len(day.leaving), 'tree leaves', 'trees leave')}, on other sheets")
    return (
        f"<tr><td>{text(day.shelter)}</td><td>{len(own) or ''}</td><td>{two or ''}</td>"
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
