"""The carry lists as one page for a phone: ticks that stay, no network, handed back as a file."""

from collections.abc import Mapping, Sequence

from overwinter.model.changes import Mark
from overwinter.model.stage import Sign
from overwinter.render.alike import tree_names
from overwinter.render.carry_book import CarryBook, CarryStep, ShelterList, StageHead
from overwinter.render.carry_todos import Todo
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.templates import element, json_for_script, page, template, text
from overwinter.render.words import count, sentence


def carry_phone(
    book: CarryBook,
    marked: Mapping[str, Mark] | None = None,
    drawings: Mapping[str, str] | None = None,
) -> str:
    """One self-contained HTML page: what is next today in large type, and the whole list behind it.

    Ticks are kept in the browser under the plan's fingerprint, so that two plans never mix. The
    page's content security policy forbids every fetch.

    Parameters
    ----------
    marked : by carry key, what the history has already; it is shown as done and cannot be unticked
        there.
    drawings : by place, its SVG through the winter (``report_benches``).
    """
    options = "".join(
        f'<option value="stage-{head.number}">{head.number}. {text(head.when)}</option>'
        for head in book.heads
    )
    benches = "".join(
        f'<template data-place="{text(place_id)}">{svg}</template>'
        for place_id, svg in (drawings or {}).items()
    )
    sections = "".join(_stage(head, book.of_stage(head)) for head in book.heads)
    body = (
        f"<header><h1>{text(book.site.name)}</h1>"
        f'<p id="progress" role="status"></p></header><main>{NOW}'
        '<details id="all"><summary>The whole list</summary><div class="bar">'
        '<label class="hidden" for="stage">Go to stage</label>'
        f'<select id="stage">{options}</select>'
        '<label class="hide"><input type="checkbox" id="openOnly">hide done</label></div>'
        f"{sections}</details>{_about(book)}</main>{_hand_back()}{benches}"
        f'<script type="application/json" id="book">{_data(book, marked or {})}</script>'
    )
    css, script = template("carry_phone.css"), template("carry_phone.js")
    return page(f"Carry lists: {book.site.name}", css, body, script)


AFTER_ALL = 100_000
"""Turn of what is done after every carry of a stage."""

NOW = (
    '<section id="now" aria-label="Now" hidden><p id="sign"></p><div id="card" role="status">'
    '<p id="count"></p><p id="what"></p><p id="where"></p><p id="spot"></p><p id="tags"></p>'
    '<div id="bench"></div><p id="note"></p></div>'
    '<button type="button" id="done"></button><div class="two">'
    '<button type="button" id="later">Later</button>'
    '<button type="button" id="undo">Undo</button></div></section>'
)


def _data(book: CarryBook, marked: Mapping[str, Mark]) -> str:
    steps = [step for step in book.steps if not step.halfway]
    carries = [
        {
            "key": step.key,
            "day": step.carry.day.isoformat(),
            "stage": step.carry.stage + 1,
            "tree": step.tree,
            "tree_id": step.carry.tree_id,
        }
        for step in steps
    ]
    known = {
        step.key: {
            "done": True,
            "done_on": mark.day.isoformat(),
            "elsewhere": None if mark.target == step.carry.target else mark.target,
            "note": mark.note,
        }
        for step in steps
        if (mark := marked.get(step.key)) is not None
    }
    stages = {
        f"stage-{head.number}": {
            "when": f"{head.number}. {head.when}",
            "facts": f"{head.facts}. {sentence(head.work)}" if head.hours else head.facts,
            "waits": head.stage.sign in (Sign.COLD_NIGHT, Sign.MILD_WEEK),
            "early": head.stage.early.isoformat(),
            "late": head.stage.late.isoformat(),
        }
        for head in book.heads
    }
    return json_for_script(
        {
            "plan": book.fingerprint,
            "site": book.site.name,
            "places": dict(book.places),
            "stages": stages,
            "carries": carries,
            "marked": known,
        }
    )


def _about(book: CarryBook) -> str:
    invented = "<p>This grower and this collection are invented.</p>" if book.site.invented else ""
    lost = f"<p>Without a place: {text(tree_names(book.left_out))}.</p>"
    cautions = "".join(
        f"<dt>{text(CAUTIONS[key].title)}</dt><dd>{text(CAUTIONS[key].text)}</dd>"
        for key in book.cautions
    )
    return (
        '<noscript><p class="tag">Ticks need JavaScript; without it this is a list to read.</p>'
        f'</noscript>{invented}<p id="kept"></p>{lost if book.left_out else ""}'
        '<details class="caution"><summary>Read first: lifting, heaters, mice</summary>'
        f"<dl>{cautions}</dl><p>{text(LOCAL_CODES)}</p></details>"
    )


def _stage(head: StageHead, lists: Sequence[ShelterList]) -> str:
    body = "".join(_shelter(one) for one in lists)
    carries = sum(not step.halfway for one in lists for step in one.steps)
    return (
        f'<details class="stage" id="stage-{head.number}" data-stage="{head.stage.index}">'
        f"<summary><h2>{head.number}. {text(head.when)}</h2>"
        f"<span>{text(head.facts)}; {count(carries, 'carry', 'carries')}</span></summary>{body}"
        "</details>"
    )


def _shelter(one: ShelterList) -> str:
    facts = one.heading + (f" · heater: {one.setting}" if one.setting else "")
    steps = "".join(_step(step, one.head) for step in one.steps)
    leaving = "".join(f"<li>{text(tree.words)}</li>" for tree in one.leaving)
    return (
        f"<h3>{text(one.shelter)}</h3><p>{text(facts)}</p>"
        + _jobs("First", one.shelter, one.before, 0)
        + element("ol", steps)
        + (f'<h4>Also leaving</h4><ul class="leaving">{leaving}</ul>' if leaving else "")
        + _jobs("Last", one.shelter, one.after, AFTER_ALL)
    )


def _jobs(title: str, shelter: str, jobs: Sequence[Todo], turn: int) -> str:
    if not jobs:
        return ""
    items = "".join(
        f'<li class="item" data-kind="job" data-key="{text(job.key)}" data-turn="{turn}" '
        f'data-shelter="{text(shelter)}"><label class="check">'
        f'<input type="checkbox"><span class="body"><span class="job">{text(job.text)}</span> '
        '<span class="state"></span></span></label></li>'
        for job in jobs
    )
    return f"<h4>{title}</h4><ul>{items}</ul>"


def _step(step: CarryStep, head: StageHead) -> str:
    tags = [step.weight]
    tags += ["2 people"] * (step.people > 1) + ["before dusk"] * step.before_dusk
    lines = [
        f'<span class="name">{step.number}. {text(step.tree)}</span>',
        f'to <span class="where">{text(step.target)}</span>',
        element("span", text(step.position), "spot"),
        element("span", "".join(element("span", text(tag), "tag") for tag in tags), "tags"),
        element("span", text(sentence(step.note)), "note"),
        '<span class="state"></span>',
    ]
    body = "".join(element("span", line, "line") for line in lines)
    kind, css = ("setdown", "item halfway") if step.halfway else ("carry", "item")
    return (
        f'<li class="{css}" data-kind="{kind}" data-key="{text(step.key)}" '
        f'data-turn="{step.number}" data-day="{text(head.day_words(step.on_day))}" '
        f'data-tree="{text(step.carry.tree_id)}" data-to="{text(step.carry.target)}" '
        f'data-from="{text(step.carry.source or "")}">'
        f'<label class="check"><input type="checkbox"><span class="body">{body}</span></label>'
        f"{'' if step.halfway else _more(step)}</li>"
    )


def _more(step: CarryStep) -> str:
    facts = {
        "Kind": step.species,
        "From": step.source,
        "Water": step.water,
        "Pests": step.pests,
        "Mice": step.guards,
        "Heater": step.setting,
        "Why now": step.why,
    }
    rows = "".join(f"<dt>{name}</dt><dd>{text(said)}</dd>" for name, said in facts.items() if said)
    return (
        f'<details><summary>Checks and notes<span class="hidden"> for {text(step.tree)}</span>'
        f'</summary><dl>{rows}</dl><label class="field">Stands elsewhere'
        '<select></select></label><label class="field">Your note'
        '<input type="text" maxlength="500"></label></details>'
    )


def _hand_back() -> str:
    return (
        '<footer><h2>Hand the ticks back</h2><p id="said" role="status"></p>'
        '<button type="button" id="saveJson">Save as a file (.json)</button>'
        '<button type="button" id="saveCsv">Save as a table (.csv)</button>'
        '<button type="button" id="copyText">Copy as text</button>'
        '<label class="field" for="asText">The table as text</label>'
        '<textarea id="asText" readonly hidden></textarea>'
        '<label class="field">Take ticks from another device (.json)'
        '<input type="file" id="back" accept=".json,application/json"></label>'
        '<button type="button" id="clear">Take away every tick</button></footer>'
    )
