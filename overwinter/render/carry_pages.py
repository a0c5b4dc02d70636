"""The carry lists as pages: one for a phone, and sheets to print, black on white, boxes for gloves:
a front page, then for each stage and bench a drawing and rows with the same step numbers."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from itertools import groupby

from markupsafe import Markup

from overwinter.model.changes import Mark
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import PlaceKind
from overwinter.model.species import LeafHabit
from overwinter.model.stage import Sign
from overwinter.model.tree import numbered_name
from overwinter.render.bench_drawing import draw_bench, in_one_piece
from overwinter.render.carry_book import CarryBook, CarryStep, ShelterList, StageHead
from overwinter.render.carry_order import goes_out
from overwinter.render.carry_words import TodoKind, layout_of
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.templates import filled
from overwinter.render.words import clip, count, range_words, runs, sentence, tree_names

BEFORE_YOU_BEGIN = "Before you begin"  # heading of the cautions, which stand in front of all sheets
WHOLE_PX, HALF_PX = 600.0, 360.0  # widths of a drawing above its rows, and beside them
SMALL_M = 1.5
REMARK = 40  # most letters of a grower's note in a row; all is on the phone and in tables
FEW_ROWS = 7  # up to so many rows stand beside the drawing; more, in two columns below it
AFTER_ALL = 100_000  # turn of what is done after every carry of a stage


class Paper(StrEnum):
    """Paper sizes."""

    A4 = "A4"
    LETTER = "Letter"


def carry_sheet(
    season: Season, plan: Plan, book: CarryBook, paper: Paper = Paper.A4, part: str = ""
) -> str:
    """Carry lists as one HTML document to print; ``part`` of the book, in words."""
    return _page(
        "carry_sheet.html",
        book,
        paper=paper.value.lower(),
        part=part,
        weather=season.winters.origin,
        before_you_begin=BEFORE_YOU_BEGIN,
        checks=_checks(season, book.steps),
        stages=[_stage(season, plan, book, head) for head in book.heads],
    )


def _page(template: str, book: CarryBook, **values: object) -> str:
    return filled(
        template,
        book=book,
        left_out=tree_names(book.left_out),
        unsafe=tree_names(book.unsafe),
        staying=tree_names(book.staying),
        cautions=[CAUTIONS[key] for key in book.cautions],
        local_codes=LOCAL_CODES,
        sentence=sentence,
        **values,
    )


def _stage(season: Season, plan: Plan, book: CarryBook, head: StageHead) -> dict[str, object]:
    lists = book.of_stage(head)
    steps = [step for one in lists for step in one.steps]
    two = sum(one.by_two for one in lists)
    heaters = [
        f"{one.shelter}: {one.setting}"
        for one in lists
        if any(todo.kind is TodoKind.HEATER for todo in one.jobs)
    ]
    facts = [head.facts]
    if steps:
        heavy = f", {two} of them for two people" if two else ""
        facts.append(f"{count(len(steps), 'tree')}{heavy}; {head.work}")
    dusk = [step.number for step in steps if step.before_dusk]
    if dusk:
        at_once = ", at once if the sign comes on a workday"
        when = at_once if book.site.household.weekends_only else ""
        facts.append(f"step{'s' * (len(dusk) > 1)} {runs(dusk)} must be done before dusk{when}")
    return {
        "head": head,
        "lists": lists,
        "range": range_words(head.stage),
        "trees": len(steps),
        "two": two,
        "time": f"{head.hours:.1f}\N{NO-BREAK SPACE}h" if steps else "",
        "heaters": "; ".join(heaters),
        "facts": ". ".join(map(sentence, facts)) + ".",
        "bring": _to_bring(season, lists, two),
        "blocks": list(_blocks(season, plan, head, lists)),
    }


def _to_bring(season: Season, lists: Sequence[ShelterList], two: int) -> str:
    """What the work of a stage calls for; common practice, no source."""
    kinds = {todo.kind for one in lists for todo in one.jobs}
    steps = [step for one in lists for step in one.steps]
    ends = {end for step in steps for end in (step.carry.source, step.carry.target) if end}
    due = {
        "gloves, watering can, hand brush": bool(steps),
        "a second person, hand truck": two > 0,
        "broom, min/max thermometer": TodoKind.READY in kinds,
        "traps and an apple": TodoKind.MICE in kinds,
        "spade": any(season.places[end].kind is PlaceKind.SUNK for end in ends),
        "soil, bark or leaves, a rule to measure their depth": TodoKind.COVER in kinds,
        "mesh guards": any(step.mesh for step in steps),
    }
    return ", ".join(what for what, is_due in due.items() if is_due)


def _blocks(
    season: Season, plan: Plan, head: StageHead, lists: Iterable[ShelterList]
) -> Iterator[dict[str, object]]:
    """The carries of one day into one place, or out of one into the open, in walking order: a
    bench comes a second time where something must be done between."""

    def way(step: CarryStep) -> tuple[int, bool, str]:
        out = goes_out(season, step.carry)
        return step.on_day, out, step.source if out else step.target

    in_turn = sorted((step for one in lists for step in one.steps), key=lambda step: step.number)
    told = 0
    for (day, out, end), group in groupby(in_turn, key=way):
        words = head.day_words(day) if day != told else ""
        told = day
        yield {"day": words, **_block(season, plan, list(group), out, end)}


def _block(
    season: Season, plan: Plan, steps: Sequence[CarryStep], out: bool, end: str
) -> dict[str, object]:
    """``end``: where they all come from, if they go out, else where they all go."""
    stage = steps[0].carry.stage
    ends = {step.target if out else step.source for step in steps}
    shared = ends.pop() if len(ends) == 1 else ""
    title = f"{'Out of' if out else 'Into'} {end}"
    if shared:
        title += f" {'→' if out else '←'} {_short(season, shared)}"
    rows = list(_rows(season, steps, shared, out))
    css, svg = "list", None
    place = season.places[steps[0].carry.target]
    drawn = {} if out else layout_of(plan, place.id, stage)
    if drawn:
        layouts = tuple(drawn.values())
        numbers = {step.carry.tree_id: step.number for step in steps}
        few = len(rows) <= FEW_ROWS or place.width_m <= SMALL_M
        beside = few and in_one_piece(place, layouts, numbers, HALF_PX)
        css = "beside" if beside else "under"
        svg = draw_bench(
            place,
            layouts,
            {tree_id: number for tree_id, number in numbers.items() if tree_id in drawn},
            season.site.display,
            pushed={s.tree_id for s in plan.shifts if (s.stage, s.place_id) == (stage, place.id)},
            width_px=HALF_PX if beside else WHOLE_PX,
            key=f"{stage} {steps[0].number}",
        )
    mesh = any(step.mesh for step in steps)
    return {"title": title, "css": css, "svg": svg, "rows": rows, "mesh": mesh}


def _short(season: Season, words: str) -> str:
    """A place of the summer shelter by its own name alone."""
    home = season.places[season.site.summer_place].shelter_id
    return words.removeprefix(f"{season.shelter_by_id[home].name}, ")


def _rows(
    season: Season, steps: Sequence[CarryStep], shared: str, out: bool
) -> Iterator[dict[str, object]]:
    """A row a tree; trees of one row of the tree list that follow each other share one."""

    def note(step: CarryStep) -> str:
        end = "" if shared else _short(season, step.target if out else step.source)
        way = "" if step.carry.source is None else "to " if out else "from "
        remark = clip(step.remark, REMARK)
        return "; ".join(filter(None, (end and f"{way}{end}", step.note, remark)))

    def alike(step: CarryStep) -> tuple[object, ...]:
        row = numbered_name(step.tree)[0]
        return row, step.species, step.weight, step.people, note(step)

    for _, group in groupby(steps, key=alike):
        some = list(group)
        one, row = some[0], numbered_name(some[0].tree)[0]
        yield {
            "numbers": runs([step.number for step in some]),
            "boxes": len(some),
            "tree": tree_names(step.tree for step in some),
            "kind": "" if one.species.casefold() in row.casefold() else one.species,
            "weight": f"{one.weight} each" if len(some) > 1 else one.weight,
            "people": "×2" if one.people == 2 else "",
            "note": note(one),
        }


def _checks(season: Season, steps: Iterable[CarryStep]) -> list[str]:
    """What to look at before and after carrying, said once: of which trees, at which places."""
    trees: dict[str, set[tuple[str, str]]] = {}
    places: dict[str, dict[str, None]] = {}
    for step in steps:
        limits, place = season.tree_by_id[step.carry.tree_id].limits, step.carry.target
        leaf = "evergreens" if limits.leaf is LeafHabit.EVERGREEN else "deciduous trees"
        outdoors = season.shelter_of(place).open_air
        where = " going outdoors" if outdoors else " going under cover"
        for words in (*step.water, step.pests):
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
    return [*lines, *(f"{tree_names(at)}: {words}." for words, at in places.items())]


def carry_phone(
    book: CarryBook,
    marked: Mapping[str, Mark] | None = None,
    drawings: Mapping[str, Markup] | None = None,
) -> str:
    """One self-contained HTML page: what is next today in large type, and the whole list behind it.

    Ticks are kept in the browser under the plan's fingerprint, so that two plans never mix. The
    page's content security policy forbids every fetch.

    marked : by carry key, what the history has already; it is shown as done and cannot be unticked
        there.
    drawings : by place, its SVG through the winter (``report_benches``).
    """

    def carries(head: StageHead) -> str:
        return count(sum(len(one.steps) for one in book.of_stage(head)), "carry", "carries")

    return _page(
        "carry_phone.html",
        book,
        carries=carries,
        after_all=AFTER_ALL,
        drawings=drawings or {},
        data=_data(book, marked or {}),
    )


def _data(book: CarryBook, marked: Mapping[str, Mark]) -> dict[str, object]:
    carries = [
        {
            "key": step.key,
            "day": step.carry.day.isoformat(),
            "stage": step.carry.stage + 1,
            "tree": step.tree,
            "tree_id": step.carry.tree_id,
        }
        for step in book.steps
    ]
    known = {
        step.key: {
            "done": True,
            "done_on": mark.day.isoformat(),
            "elsewhere": None if mark.target == step.carry.target else mark.target,
            "note": mark.note,
        }
        for step in book.steps
        if (mark := marked.get(step.key)) is not None
    }
    stages = {
        f"stage-{head.number}": {
            "when": f"{head.number}. {head.when}",
            "facts": f"{head.facts}. {sentence(head.work)}" if head.hours else head.facts,
            "sunset": head.sunset,
            "waits": head.stage.sign in (Sign.COLD_NIGHT, Sign.MILD_WEEK),
            "early": head.stage.early.isoformat(),
            "late": head.stage.late.isoformat(),
        }
        for head in book.heads
    }
    return {
        "plan": book.fingerprint,
        "site": book.site.name,
        "places": dict(book.places),
        "stages": stages,
        "carries": carries,
        "marked": known,
    }
