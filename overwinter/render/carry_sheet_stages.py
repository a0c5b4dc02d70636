"""The sheets of one shelter, stage after stage: what to do first, every carry, what to do last."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from overwinter.render.carry_book import CarryBook, CarryStep, Leaving, ShelterList
from overwinter.render.carry_todos import Todo
from overwinter.render.cautions import CAUTIONS
from overwinter.render.templates import element, text
from overwinter.render.words import sentence

BEFORE_YOU_BEGIN = "Before you begin"
"""Heading of the cautions, which stand in front of all sheets."""
LETTERS = "abcdefghijklmnopqrstuvwxyz"
SHORT_STEPS = 3
"""A list of up to so many lines is kept on one page."""
BOX = '<span class="box"></span>'


@dataclass(frozen=True)
class _Way:
    """From where and to where, said once above a list's lines where all of them share it."""

    shelter: str
    source: str
    target: str

    @property
    def heading(self) -> str:
        """What all lines share; empty where they share nothing."""
        ends = (("from", self.source), ("to", self.target))
        parts = [f"{word} {self.short(place)}" for word, place in ends if place]
        return f"Tree, all {' '.join(parts)}" if parts else "Tree, from, to"

    def short(self, place: str) -> str:
        """A place without the name of the shelter whose sheet this is."""
        return place.removeprefix(f"{self.shelter}, ")


@dataclass(frozen=True)
class _Check:
    """A column of boxes: its heading, what a line asks, and a letter for each different thing."""

    word: str
    said: Callable[[CarryStep], str]
    letters: Mapping[str, str]

    @property
    def css(self) -> str:
        """How wide it is: letters need room beside the box."""
        return "check lettered" if any(self.letters.values()) else "check"

    def box(self, step: CarryStep) -> str:
        """A line's box; none where it asks nothing, or is done by a later line."""
        said = self.said(step)
        if step.halfway or not said:
            return ""
        return f'<span class="box small"></span>{text(self.letters[said])}'


def shelter_sheets(book: CarryBook, shelter_id: str) -> str:
    """All lists of a shelter; they follow each other, and no other shelter is on their pages."""
    lists = [one for one in book.lists if one.shelter_id == shelter_id]
    return f'<section class="shelter">{"".join(map(_stage, lists))}</section>'


def _stage(one: ShelterList) -> str:
    """One table, so that shelter, sign and cautions stand again on top of every page it takes."""
    way = _shared_way(one)
    checks = _checks(one.steps)
    wide = 2 + len(checks)
    rows = [_job("first", job, wide) for job in one.before]
    rows += _legend(checks, wide)
    rows += [_row(step, way, checks) for step in one.steps]
    rows += [_job("last", job, wide) for job in one.after]
    rows += _leaving(one.leaving, wide)
    if one.steps:
        rows.append(_spanning("write", "Put somewhere else? Anything seen?", wide))
    css = "stage short" if len(one.steps) <= SHORT_STEPS else "stage"
    columns = "".join(f'<col class="{check.css}">' for check in checks)
    body = "\n".join(rows)
    return (
        f'<table class="{css}"><colgroup><col class="tick"><col>'
        f"{columns}</colgroup>"
        f"<thead>{_heading(one, way, checks)}</thead>"
        f"<tbody>\n{body}\n</tbody></table>"
    )


def _checks(steps: Sequence[CarryStep]) -> list[_Check]:
    """The checks that any of the lines asks for."""
    words: dict[str, Callable[[CarryStep], str]] = {
        "Water": lambda step: step.water,
        "Pests": lambda step: step.pests,
        "Mice": lambda step: step.guards,
    }
    checks = [_Check(word, said, _lettered(map(said, steps))) for word, said in words.items()]
    return [check for check in checks if check.letters]


def _heading(one: ShelterList, way: _Way, checks: Sequence[_Check]) -> str:
    only_leaving = bool(one.leaving) and not one.steps
    facts = ["carries on other sheets only" if only_leaving else one.heading]
    if one.setting:
        facts.append(f"heater: {one.setting}")
    facts.append(one.head.facts)
    if one.cautions:
        titles = "; ".join(CAUTIONS[key].title for key in one.cautions)
        facts.append(f'read first, in "{BEFORE_YOU_BEGIN}" after the overview: {titles}')
    lines = element("div", text(f"{one.shelter} · {one.head.number}. {one.head.when}"), "again")
    lines += element("div", text(" · ".join(facts)))
    head = f'<tr><th colspan="{2 + len(checks)}">{lines}</th></tr>'
    if one.steps:
        step = f'<th><span class="number">Step</span>{text(way.heading)}</th>'
        boxes = "".join(f"<th>{check.word}</th>" for check in checks)
        head += f'<tr class="names"><th>Done</th>{step}{boxes}</tr>'
    return head


def _shared_way(one: ShelterList) -> _Way:
    steps = [step for step in one.steps if not step.halfway]
    sources, targets = {step.source for step in steps}, {step.target for step in steps}
    several = len(steps) > 1
    return _Way(
        one.shelter,
        sources.pop() if several and len(sources) == 1 else "",
        targets.pop() if several and len(targets) == 1 else "",
    )


def _spanning(css: str, html: str, wide: int) -> str:
    """A row over all ``wide`` columns."""
    return f'<tr class="{css}"><td colspan="{wide}">{html}</td></tr>'


def _job(when: str, job: Todo, wide: int) -> str:
    said = f"<b>{sentence(when)}:</b> {text(job.text)}"
    return (
        f'<tr class="{when}"><td class="tick">{BOX}</td><td colspan="{wide - 1}">{said}</td></tr>'
    )


def _legend(checks: Sequence[_Check], wide: int) -> list[str]:
    """What the boxes beside the trees mean."""
    lines = "".join(
        element("div", text(f"{check.word}{' ' + letter if letter else ''}: {said}."))
        for check in checks
        for said, letter in check.letters.items()
    )
    return [_spanning("legend", lines, wide)] if lines else []


def _leaving(leaving: Sequence[Leaving], wide: int) -> list[str]:
    """What other sheets carry away from here, a sentence for each of those."""
    lines = ""
    for listed, some in groupby(leaving, key=lambda one: one.listed):
        trees = "; ".join(f"{one.tree} (step {one.step})" for one in some)
        lines += element("div", text(f"Leaving here, on the sheet of {listed}: {trees}."))
    return [_spanning("leaving", lines, wide)] if lines else []


def _lettered(said: Iterable[str]) -> Mapping[str, str]:
    """Each different sentence with a letter; no letters where all say the same."""
    different = list(dict.fromkeys(one for one in said if one))
    if len(different) == 1:
        return {different[0]: ""}
    return {sentence: LETTERS[i % 26] for i, sentence in enumerate(different)}


def _row(step: CarryStep, way: _Way, checks: Sequence[_Check]) -> str:
    """The boxes stand beside the name; what follows has the whole width below them."""
    tags = ["2 people"] * (step.people > 1) + ["before dusk"] * step.before_dusk
    name = element("span", text(step.tree), "name")
    name += "".join(f" {element('span', tag, 'tag')}" for tag in tags)
    boxes = "".join(f'<span class="{check.css}">{check.box(step)}</span>' for check in checks)
    number = f'<span class="number">{step.number}</span>'
    weight = element("b", text(step.weight))
    lines = element("div", f"{number}<span>{name}</span>{weight}{boxes}", "line")
    lines += element("div", _way_html(step, way))
    lines += element("div", text(sentence(step.note)), "note")
    css = ' class="halfway"' if step.halfway else ""
    return f'<tr{css}><td class="tick">{BOX}</td><td colspan="{1 + len(checks)}">{lines}</td></tr>'


def _way_html(step: CarryStep, way: _Way) -> str:
    """From, to and where on it, without what the heading says of all."""
    source, target = way.short(step.source), way.short(step.target)
    parts = [] if step.source == way.source else [f"{text(source)} →"]
    if step.target != way.target:
        parts.append(element("span", text(target), "where") + (":" if step.position else ""))
    return " ".join([*parts, text(step.position)]).strip()
