"""The printable carry sheet: black on white, big enough to read at arm's length, boxes for gloves.

One page or more for each shelter and day, so that a sheet can hang at the shelter's door.
"""

from collections.abc import Iterable, Mapping, Sequence
from enum import StrEnum
from itertools import groupby

from overwinter.reports.alike import tree_names
from overwinter.reports.carry_book import CarryBook, CarryStep, ShelterDay
from overwinter.reports.carry_order import RULES
from overwinter.reports.carry_spring import SPARE_MEANS, safe_words, spare_words
from overwinter.reports.carry_todos import Todo
from overwinter.reports.carry_words import day_words
from overwinter.reports.cautions import CAUTIONS, LOCAL_CODES
from overwinter.reports.templates import element, page, template, text
from overwinter.reports.words import sentence

LETTERS = "abcdefghijklmnopqrstuvwxyz"


class Paper(StrEnum):
    """Paper sizes."""

    A4 = "A4"
    LETTER = "Letter"


def carry_sheet(book: CarryBook, paper: Paper = Paper.A4) -> str:
    """All carry lists as one HTML document to print."""
    size = f"@page {{ size: {paper.value.lower()} portrait; margin: 11mm 10mm; }}\n"
    sections = [_front(book)]
    sections += [_section(book, day) for day in book.days if day.steps]
    if book.spring:
        sections.append(_spring(book))
    sections.append(_cautions(book))
    title = f"Carry sheets: {book.site.name}"
    return page(title, size + template("carry_sheet.css"), "\n".join(sections))


def _front(book: CarryBook) -> str:
    rows = "\n".join(_overview_row(book, day) for day in book.days)
    table = (
        '<table class="overview"><thead><tr><th>Day</th><th>Shelter</th>'
        '<th class="count">Trees</th>'
        '<th class="count">Two-person</th><th>Heater</th><th>Sunset</th></tr></thead>'
        f"<tbody>\n{rows}\n</tbody></table>"
    )
    invented = (
        element("p", "This grower and this collection are invented.") if book.site.invented else ""
    )
    lost = element("p", text("Without a safe place: " + tree_names(book.left_out) + "."), "where")
    return (
        f'<section class="front"><h1>Carry sheets: {text(book.site.name)}</h1>{invented}'
        f"<p>Plan {text(book.fingerprint)}. Times are local standard time.</p>"
        f"{lost if book.left_out else ''}{table}</section>"
    )


def _overview_row(book: CarryBook, day: ShelterDay) -> str:
    """One line of the front page; days without a sheet of their own have their boxes here."""
    own = [step for step in day.steps if not step.halfway]
    two = sum(step.people > 1 for step in own)
    jobs = "" if day.steps else _todo_items((*day.before, *day.after))
    jobs += "" if day.steps else "".join(f"<li>leaves: {text(line)}</li>" for line in day.leaving)
    css = ' class="open"' if jobs else ""
    row = (
        f'<tr{css}><td class="day">{text(day_words(day.day))}</td><td>{text(day.shelter)}</td>'
        f'<td class="count">{len(own) or ""}</td><td class="count">{two or ""}</td>'
        f"<td>{text(day.setting)}</td><td>{text(book.sunsets[day.day])}</td></tr>"
    )
    if jobs:
        row += f'<tr class="jobs"><td></td><td colspan="5"><ul>{jobs}</ul></td></tr>'
    return row


def _section(book: CarryBook, day: ShelterDay) -> str:
    facts = [day_words(day.day), day.heading]
    if day.setting:
        facts.append(f"heater: {day.setting}")
    facts.append(f"sunset {book.sunsets[day.day]}")
    parts = [
        f"<h2>{text(day.shelter)}</h2><p>{text(' · '.join(facts))}</p>",
        _todo_list("First", day.before),
        _steps(day),
    ]
    if day.leaving:
        gone = "".join(f"<li>{text(line)}</li>" for line in day.leaving)
        parts.append(
            f'<div class="keep"><h3>Also leaving, on other sheets</h3><ul>{gone}</ul></div>'
        )
    parts.append(_todo_list("Last", day.after))
    if day.steps:
        parts.append(
            '<div class="keep"><h3>Put somewhere else? Anything seen?</h3>'
            '<div class="write"></div><div class="write"></div></div>'
        )
    titles = "; ".join(CAUTIONS[key].title for key in day.cautions)
    if titles:
        parts.append(element("p", text(f"Read first, on the last page: {titles}."), "legend"))
    return f"<section>{''.join(parts)}</section>"


def _todo_list(title: str, jobs: Sequence[Todo]) -> str:
    return f"<h3>{title}</h3><ul>{_todo_items(jobs)}</ul>" if jobs else ""


def _todo_items(jobs: Sequence[Todo]) -> str:
    return "".join(
        f'<li class="todo"><span class="box"></span><span>{text(job.text)}</span></li>'
        for job in jobs
    )


def _steps(day: ShelterDay) -> str:
    water = _lettered(step.water for step in day.steps)
    pests = _lettered(step.pests for step in day.steps)
    guards = _lettered(step.guards for step in day.steps if step.guards)
    rows = "\n".join(_row(step, water, pests, guards) for step in day.steps)
    again = text(f"{day.shelter} · {day_words(day.day)}")
    legend = "".join(
        element("p", text(f"{word}{' ' + letter if letter else ''}: {said}."))
        for word, known in (("Water", water), ("Pests", pests), ("Mice", guards))
        for said, letter in known.items()
    )
    return (
        f'<div class="legend">{legend}</div>'
        f'<table class="steps"><thead><tr class="again"><th colspan="3">{again}</th></tr>'
        '<tr><th class="tick">Done</th><th class="number">Step</th><th>Tree, from, to</th></tr>'
        f"</thead><tbody>\n{rows}\n</tbody></table>"
    )


def _lettered(said: Iterable[str]) -> Mapping[str, str]:
    """Each different sentence with a letter; no letters where all say the same."""
    different = list(dict.fromkeys(said))
    if len(different) == 1:
        return {different[0]: ""}
    return {sentence: LETTERS[i % 26] for i, sentence in enumerate(different)}


def _row(
    step: CarryStep,
    water: Mapping[str, str],
    pests: Mapping[str, str],
    guards: Mapping[str, str],
) -> str:
    tags = ["2 people"] * (step.people > 1) + ["before dusk"] * step.before_dusk
    load = text(step.weight) + "".join(element("span", tag, "tag") for tag in tags)
    way = f"{text(step.source)} → {element('span', text(step.target), 'where')}"
    if step.position:
        way += f": {element('span', text(step.position), 'where')}"
    checks = [("water", water[step.water]), ("pests", pests[step.pests])]
    if step.guards:
        checks.append(("mice", guards[step.guards]))
    boxes = "" if step.halfway else "".join(_check(*check) for check in checks)
    lines = [
        element("div", text(step.tree), "name"),
        element("div", way),
        element("div", text(sentence(step.note)), "note"),
        f'<div class="foot"><div class="checks">{boxes}</div><div class="load">{load}</div></div>',
    ]
    css = ' class="halfway"' if step.halfway else ""
    return (
        f'<tr{css}><td class="tick"><span class="box"></span></td>'
        f'<td class="number">{step.number}</td><td>{"".join(lines)}</td></tr>'
    )


def _check(word: str, letter: str) -> str:
    label = f"{word} {letter}" if letter else word
    return f'<div class="check"><span class="box small"></span>{text(label)}</div>'


def _spring(book: CarryBook) -> str:
    display = book.site.display
    rows = []
    for (stays, day), group in groupby(book.spring, key=lambda row: (row.stays, row.day)):
        same = list(group)
        coldest = display.temperature(same[0].coldest_after_c)
        head = f"{day_words(day)}: down to {coldest} from then on in the weather used"
        if stays:
            head = f"Still under cover when the plan ends ({day_words(day)})"
        rows.append(f'<tr class="group"><td colspan="3">{text(head)}</td></tr>')
        rows += [
            f"<tr><td>{text(row.tree)}</td>"
            f'<td class="figure">{text(spare_words(row, display))}</td>'
            f"<td>{text(safe_words(row))}</td></tr>"
            for row in same
        ]
    body = "\n".join(rows)
    return (
        f"<section><h2>Spring: on the way out</h2><p>{text(book.spring_words)}</p>"
        f"<p>{text(SPARE_MEANS)}</p>"
        '<table class="overview"><thead><tr><th>Tree</th><th class="figure">To spare</th>'
        '<th class="risk">Frost risk</th></tr></thead>'
        f"<tbody>\n{body}\n</tbody></table></section>"
    )


def _cautions(book: CarryBook) -> str:
    boxes = "".join(
        f'<div class="caution"><b>{text(CAUTIONS[key].title)}.</b> {text(CAUTIONS[key].text)}</div>'
        for key in book.cautions
    )
    used = dict.fromkeys(step.rule for step in book.steps)
    rules = "".join(
        f"<p><b>{text(rule.value)}:</b> {text(why)}</p>"
        for rule, why in RULES.items()
        if rule in used
    )
    order = f'<div class="legend"><h3>Why this order</h3>{rules}</div>' if rules else ""
    return f"<section><h2>Before you begin</h2>{boxes}<p>{text(LOCAL_CODES)}</p>{order}</section>"
