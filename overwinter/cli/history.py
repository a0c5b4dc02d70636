"""``overwinter history``: every plan and every mark of a winter; compare plans, go back to one."""

from collections.abc import Sequence
from functools import partial
from itertools import groupby
from textwrap import TextWrapper
from typing import Annotated

import typer

from overwinter.api.folder import OUTPUTS, Winter, audited, older_words, open_winter, write_plan
from overwinter.cli.guard import Folder, Force, Json, tell
from overwinter.files.history import (
    BackEntry,
    Entry,
    History,
    LeavesEntry,
    MarkEntry,
    PlanEntry,
    add_entries,
)
from overwinter.files.outputs import check_free
from overwinter.problems import UserError
from overwinter.render.replan_report import ReplanAnswer, change_words, replan_json, replan_report
from overwinter.render.table import WIDTH
from overwinter.render.words import count, long_date, sentence, tree_names
from overwinter.replan.going_on import compare
from overwinter.replan.past import open_carries


def command(
    folder: Folder,
    compare: Annotated[
        tuple[int, int] | None, typer.Option(metavar="A B", help="Show plan B beside plan A.")
    ] = None,
    back: Annotated[int | None, typer.Option(metavar="N", help="Put plan N in force anew.")] = None,
    force: Force = False,
    as_json: Json = False,
) -> None:
    """List the plans and marks of a winter, compare two plans, or go back to one."""
    if compare is not None and back is not None:
        raise UserError("--compare and --back do not go together.")
    winter = open_winter(folder)
    if compare is not None:
        answer = beside(winter, *compare)
        tell(as_json, lambda: replan_json(answer), lambda: replan_report(answer))
    elif back is not None:
        _go_back(winter, back, force, as_json)
    else:
        text = partial("\n".join, history_lines(winter))
        tell(as_json, lambda: history_json(winter.history), text)


def beside(winter: Winter, one: int, other: int) -> ReplanAnswer:
    """Two plans from the first day that both could still decide on, by what was marked then."""
    entries = [winter.entry(one), winter.entry(other)]
    before, after = (entry.read().plan for entry in entries)
    season = winter.season_of(entries[1], after)
    marks = [one.mark for one in winter.history.until(max(one, other)).marks]
    first = max(entry.since for entry in entries)
    return ReplanAnswer(
        season=season,
        names=(f"plan {one}", f"plan {other}"),
        plans=(before, after),
        comparison=compare(season, before, after, first, marks),
        because=change_words(winter.season, entries[1].changes, entries[0].changes, before),
    )


def _go_back(winter: Winter, number: int, force: bool, as_json: bool) -> None:
    outcome = audited(winter, number)
    check_free(winter.folder, OUTPUTS, force)

    def make(history: History) -> list[Entry]:
        return [] if history.in_force.number == number else [BackEntry(plan=number)]

    history = add_entries(winter.folder, make)
    write_plan(outcome, winter.folder, force)
    marks = [one.mark for one in history.marks]
    still = open_carries(outcome.season, outcome.plan, marks)
    lines = [f"Plan {number} is in force again; its files are written."]
    last = max((mark.day for mark in marks), default=None)
    due = [carry for carry in still if last is not None and carry.day < last]
    if due:
        words = count(len(due), "of its carries was", "of its carries were")
        lines.append(f"{words} due before the last mark and not marked: plan anew from here.")
    lines += filter(None, [older_words(winter.folder)])
    values = {"in_force": number, "open_carries": len(still)}
    tell(as_json, lambda: values, partial("\n".join, lines))


def history_lines(winter: Winter) -> list[str]:
    """Every plan and the marks made while it was in force, for a grower."""
    history = winter.history
    kept = {one.number for one in history.marks}

    def words(one: MarkEntry) -> str:
        mark = one.mark
        known = mark.target in winter.season.places
        where = winter.season.place_name(mark.target) if known else mark.target
        state = "" if one.number in kept else " (taken back)"
        state += " (taken as done)" if mark.assumed else ""
        note = f" - {mark.note}" if mark.note else ""
        return f"  {long_date(mark.day)}  now at {where}{state}{note}"

    lines = []
    for marks, group in groupby(history.entries, key=lambda one: isinstance(one, MarkEntry)):
        entries = list(group)
        if not marks:
            lines += _other_lines(winter, entries)
        rows: dict[str, list[str]] = {}
        for one in entries:
            if isinstance(one, MarkEntry):
                rows.setdefault(words(one), []).append(one.mark.tree_id)
        lines += [f"{where}: {tree_names(trees)}" for where, trees in rows.items()]
    folded = TextWrapper(WIDTH, subsequent_indent="    ", break_on_hyphens=False)
    return [one for line in lines for one in folded.wrap(line)]


def _other_lines(winter: Winter, entries: Sequence[Entry]) -> list[str]:
    history = winter.history
    lines = []
    for entry in entries:
        if isinstance(entry, PlanEntry):
            star = ", in force" if entry is history.in_force else ""
            origin = "" if entry.parent is None else f", after plan {entry.parent}"
            figures = entry.document["plan"]["costs"]
            total = sum(round(float(part), 2) for part in figures.values())
            carries = count(len(entry.document["plan"]["carries"]), "carry", "carries")
            lines.append(
                f"Plan {entry.number}{star}: made {long_date(entry.made)}, decides from "
                f"{long_date(entry.since)}{origin}. {sentence(entry.why)}. "
                f"{total:.2f} {winter.season.site.currency}, {carries}."
            )
        elif isinstance(entry, LeavesEntry):
            since = "not down yet" if entry.day is None else f"down {long_date(entry.day)}"
            lines.append(f"  {entry.tree}: leaves {since}")
        elif isinstance(entry, BackEntry):
            lines.append(f"Back to plan {entry.plan}.")
    return lines


def history_json(history: History) -> dict[str, object]:
    """Every plan and mark, for a script; the plans themselves are in history.json."""
    return {
        "in_force": history.in_force.number,
        "plans": [
            {
                **entry.model_dump(mode="json", exclude={"kind", "document"}, by_alias=True),
                "carries": len(entry.document["plan"]["carries"]),
            }
            for entry in history.plans.values()
        ],
        "marks": [
            one.model_dump(mode="json", by_alias=True, exclude={"kind"}) for one in history.marks
        ],
    }
