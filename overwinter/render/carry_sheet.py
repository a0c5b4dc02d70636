"""The printable carry sheets: a front page, then stage after stage, a drawing and rows a bench.

Black on white, boxes for gloves. The step numbers stand on the drawing and in the rows.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from markupsafe import Markup

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.species import LeafHabit
from overwinter.model.tree import numbered_name
from overwinter.render.bench_drawing import draw_bench, in_one_piece
from overwinter.render.carry_book import CarryBook, CarryStep, ShelterList, StageHead
from overwinter.render.carry_order import goes_out
from overwinter.render.carry_todos import Todo, TodoKind
from overwinter.render.carry_words import layout_of
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.templates import filled
from overwinter.render.words import clip, count, runs, sentence, short_date, sign_brief, tree_names

BEFORE_YOU_BEGIN = "Before you begin"
"""Heading of the cautions, which stand in front of all sheets."""
WHOLE_PX, HALF_PX = 600.0, 360.0
"""Widths of a drawing above its rows, and beside them."""
SMALL_M = 1.5
REMARK = 40
"""Most letters of a grower's own note in a row; all of it is on the phone and in the tables."""
FEW_ROWS = 7
"""Up to so many rows stand beside the drawing; more, in two columns below it."""


class Paper(StrEnum):
    """Paper sizes."""

    A4 = "A4"
    LETTER = "Letter"


def carry_sheet(
    season: Season, plan: Plan, book: CarryBook, paper: Paper = Paper.A4, part: str = ""
) -> str:
    """Carry lists as one HTML document to print.

    ``part`` says in words what the book was narrowed to; empty for all of it.
    """
    return filled(
        "carry_sheet.html",
        paper=paper.value.lower(),
        site=book.site.name,
        invented=book.site.invented,
        fingerprint=book.fingerprint,
        part=part,
        left_out=tree_names(book.left_out),
        staying=tree_names(book.staying),
        cautions=[CAUTIONS[key] for key in book.cautions],
        local_codes=LOCAL_CODES,
        before_you_begin=BEFORE_YOU_BEGIN,
        checks=_checks(season, book.steps),
        stages=[_stage(season, plan, book, head) for head in book.heads],
    )


def _stage(season: Season, plan: Plan, book: CarryBook, head: StageHead) -> dict[str, object]:
    lists = book.of_stage(head)
    steps = [step for one in lists for step in one.steps]
    carried = [step for step in steps if not step.halfway]
    two = sum(step.people > 1 for step in carried)
    heaters = [
        f"{one.shelter}: {one.setting}"
        for one in lists
        if any(todo.kind is TodoKind.HEATER for todo in (*one.before, *one.after))
    ]
    facts = [head.facts]
    if carried:
        heavy = f", {two} of them for two people" if two else ""
        facts.append(f"{count(len(carried), 'tree')}{heavy}; {head.work}")
    dusk = [step.number for step in carried if step.before_dusk]
    if dusk:
        at_once = ", at once if the sign comes on a workday"
        when = at_once if book.site.household.weekends_only else ""
        facts.append(
            f"{'step' if len(dusk) == 1 else 'steps'} {runs(dusk)} must be done before dusk{when}"
        )
    blocks = list(_blocks(season, plan, steps))
    for before, block in zip([None, *blocks], blocks, strict=False):
        if before is None or before.on_day != block.on_day:
            block.day = head.day_words(block.on_day)
    return {
        "number": head.number,
        "when": head.when,
        "brief": sentence(sign_brief(season, head.stage)),
        "range": " to ".join(dict.fromkeys(map(short_date, (head.stage.early, head.stage.late)))),
        "trees": len(carried),
        "two": two,
        "time": f"{head.hours:.1f} h" if carried else "",
        "sunset": head.sunset,
        "heaters": "; ".join(heaters),
        "facts": ". ".join(map(sentence, facts)) + ".",
        "bring": _to_bring(lists, two),
        "first": list(_jobs(lists, lambda one: one.before)),
        "blocks": blocks,
        "last": list(_jobs(lists, lambda one: one.after)),
    }


def _jobs(
    lists: Iterable[ShelterList], which: Callable[[ShelterList], Sequence[Todo]]
) -> Iterator[dict[str, str]]:
    for one in lists:
        for todo in which(one):
            yield {"shelter": one.shelter, "text": todo.text.removeprefix(f"{one.shelter}, ")}


def _to_bring(lists: Sequence[ShelterList], two: int) -> str:
    """What the work of a stage calls for; common practice, no source."""
    kinds = {todo.kind for one in lists for todo in (*one.before, *one.after)}
    steps = [step for one in lists for step in one.steps]
    found = ["gloves", "watering can", "hand brush"] if steps else []
    if two:
        found += ["a second person", "hand truck"]
    if TodoKind.READY in kinds:
        found += ["broom", "min/max thermometer", "traps and an apple"]
    if TodoKind.COVER in kinds:
        found += ["soil, bark or leaves", "a rule to measure their depth"]
    if any(step.mesh for step in steps):
        found.append("mesh guards")
    return ", ".join(found)


@dataclass
class _Row:
    """A tree, or trees alike, in turn."""

    numbers: str
    boxes: int
    halfway: bool
    tree: str
    kind: str
    weight: str
    people: str
    note: str


@dataclass
class _Block:
    """The carries of one day into one place, or out of one into the open."""

    title: str
    on_day: int
    css: str
    svg: Markup | None
    rows: list[_Row]
    mesh: bool
    """Whether mesh guards are closed over them."""
    day: str = ""


def _blocks(season: Season, plan: Plan, steps: Iterable[CarryStep]) -> Iterator[_Block]:
    """In walking order: a bench comes a second time where something must be done between."""

    def way(step: CarryStep) -> tuple[int, bool, str]:
        out = goes_out(season, step.carry)
        return step.on_day, out, (step.carry.source if out else step.carry.target) or ""

    in_turn = sorted(steps, key=lambda step: step.number)
    for (day, _, place_id), group in groupby(in_turn, key=way):
        yield _block(season, plan, list(group), day, place_id)


def _block(
    season: Season, plan: Plan, steps: Sequence[CarryStep], day: int, place_id: str
) -> _Block:
    place, stage = season.places[place_id], steps[0].carry.stage
    out = goes_out(season, steps[0].carry)
    drawn = {} if out else layout_of(plan, place_id, stage)
    ends = {step.source if not out else step.target for step in steps if not step.halfway}
    shared = ends.pop() if len(ends) == 1 else ""
    there = next((step.target for step in steps if not step.halfway), steps[0].target)
    title = f"Out of {steps[0].source}" if out else f"Into {there}"
    if shared:
        title += f" → {_short(season, shared)}" if out else f" ← {_short(season, shared)}"
    rows = list(_rows(season, steps, shared, out))
    css, svg = "list", None
    if drawn:
        numbers = {step.carry.tree_id: step.number for step in steps if not step.halfway}
        few = len(rows) <= FEW_ROWS or place.width_m <= SMALL_M
        beside = few and in_one_piece(place, tuple(drawn.values()), numbers, HALF_PX)
        css = "beside" if beside else "under"
        pushed = {s.tree_id for s in plan.shifts if (s.stage, s.place_id) == (stage, place_id)}
        svg = draw_bench(
            place,
            tuple(drawn.values()),
            {tree_id: n for tree_id, n in numbers.items() if tree_id in drawn},
            season.site.display,
            pushed=frozenset(pushed),
            width_px=HALF_PX if beside else WHOLE_PX,
            key=f"{stage} {steps[0].number}",
        )
    return _Block(
        title=title,
        on_day=day,
        css=css,
        svg=svg,
        rows=rows,
        mesh=any(step.mesh for step in steps),
    )


def _short(season: Season, words: str) -> str:
    """A place of the summer shelter by its own name alone."""
    home = season.places[season.site.summer_place].shelter_id
    return words.removeprefix(f"{season.shelter_by_id[home].name}, ")


def _rows(season: Season, steps: Sequence[CarryStep], shared: str, out: bool) -> Iterator[_Row]:
    """A row a tree; trees of one row of the tree list that follow each other share one."""

    def alike(step: CarryStep) -> tuple[object, ...]:
        end = "" if shared else _short(season, step.target if out else step.source)
        comes = step.carry.source is None
        notes = [end if comes else f"{'to' if out else 'from'} {end}"] if end else []
        notes += [one for one in (step.note, clip(step.remark, REMARK)) if one]
        row = numbered_name(step.tree)[0]
        return row, step.species, step.weight, step.people, step.halfway, "; ".join(notes)

    for (row, kind, weight, people, halfway, note), group in groupby(steps, key=alike):
        some = list(group)
        yield _Row(
            numbers=runs([step.number for step in some]),
            boxes=len(some),
            halfway=bool(halfway),
            tree=tree_names(step.tree for step in some),
            kind="" if str(kind).casefold() in str(row).casefold() else str(kind),
            weight=f"{weight} each" if len(some) > 1 else str(weight),
            people="×2" if people == 2 else "",
            note=str(note),
        )


def _checks(season: Season, steps: Iterable[CarryStep]) -> list[str]:
    """What to look at before and after carrying, said once: of which trees, at which places."""
    trees: dict[str, set[tuple[str, str]]] = {}
    places: dict[str, dict[str, None]] = {}
    for step in (step for step in steps if not step.halfway):
        limits, place = season.tree_by_id[step.carry.tree_id].limits, step.carry.target
        leaf = "evergreens" if limits.leaf is LeafHabit.EVERGREEN else "deciduous trees"
        shelter = season.shelter_by_id[season.places[place].shelter_id]
        where = " going outdoors" if shelter.open_air else " going under cover"
        for words in (step.water, step.pests):
            trees.setdefault(words, set()).add((leaf, where))
        if step.guards:
            places.setdefault(step.guards, {})[season.places[place].name] = None
    said: dict[str, list[str]] = {}
    for words, kinds in trees.items():
        leaves, wheres = {leaf for leaf, _ in kinds}, {where for _, where in kinds}
        every = len(leaves) * len(wheres) == len(kinds)
        who = "all trees" if len(leaves) > 1 else min(leaves)
        about = who + ("" if len(wheres) > 1 else min(wheres))
        about = about if every else ", ".join(map("".join, sorted(kinds)))
        said.setdefault(about, []).append(words)
    lines = [f"{sentence(about)}: {'; '.join(words)}." for about, words in sorted(said.items())]
    return [*lines, *(f"{', '.join(at)}: {words}." for words, at in places.items())]
