"""``overwinter lists``: the carry lists of the plan in force, in every form."""

from pathlib import Path
from typing import Annotated

import typer

from overwinter.api.changed_facts import Names
from overwinter.api.folder import LISTS, Winter, audited, drips, open_winter, read_back
from overwinter.cli.guard import ExitCode, Folder, Json, print_json, say
from overwinter.files.findings import did_you_mean
from overwinter.files.history import HISTORY
from overwinter.files.outputs import own_names, write_outputs
from overwinter.model.changes import Mark
from overwinter.problems import UserError
from overwinter.render.carry_book import CarryBook, Part, carry_book, part_of
from overwinter.render.carry_calendar import CalendarEvent, calendar_events, carry_calendar
from overwinter.render.carry_phone import carry_phone
from overwinter.render.carry_sheet import Paper, carry_sheet
from overwinter.render.carry_workbook import carry_csv, carry_csvs, carry_workbook
from overwinter.render.report_benches import benches
from overwinter.render.words import count
from overwinter.replan.past import marks_by_carry
from overwinter.search.plan_winter import Outcome

FORMATS = ("csv", "xlsx", "sheet", "phone", "calendar")
CSV_START = "carries-"
PART_SHEET = "carry-sheet-part.html"


def command(
    folder: Folder,
    form: Annotated[
        list[str] | None,
        typer.Option("--format", metavar="FORM", help=f"{', '.join(FORMATS)} or all."),
    ] = None,
    paper: Annotated[
        str, typer.Option(metavar="A4|Letter", help="Paper of sheet and xlsx.")
    ] = "A4",
    shelter: Annotated[
        list[str] | None, typer.Option(metavar="SHELTER", help="Print only this one's sheets.")
    ] = None,
    stage: Annotated[
        list[int] | None, typer.Option(metavar="NUMBER", help="Print only this stage's sheets.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help=f"Write there instead of DIR/{LISTS}.")
    ] = None,
    force: Annotated[
        bool, typer.Option(help="Replace outputs that were edited or made by something else.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Write carry lists to work from: what goes where at which sign, in which order.

    After a re-plan they hold only what still lies ahead. Hand ticked lists back with `mark`.
    With --shelter or --stage a part of the printable sheet is written, in a file of its own.
    """
    narrowed = bool(shelter or stage)
    forms, size = _forms(form or ["sheet" if narrowed else "all"]), _paper(paper)
    if narrowed and forms != ("sheet",):
        raise UserError("--shelter and --stage are for --format sheet alone.")
    winter, outcome = _in_force(folder)
    book = carry_book(outcome.season, outcome.plan, drips(outcome))
    texts: dict[str, str | bytes] = {}
    if narrowed:
        part = _part(outcome, shelter or [], stage or [])
        book, texts = _part_sheet(outcome, book, part, size)
    else:
        for one in forms:
            texts |= _written(one, winter, outcome, book, size)
    target = folder / LISTS if out is None else out
    stale = [
        name
        for name in own_names(target)
        if ("csv" in forms and name.startswith(CSV_START) and name.endswith(".csv"))
        or ("sheet" in forms and name == PART_SHEET)
    ]
    write_outputs(target, texts, force, instead_of=stale)
    carries = sum(not step.halfway for step in book.steps)
    if as_json:
        print_json({"folder": str(target), "files": sorted(texts), "carries": carries})
    else:
        print(f"{count(carries, 'carry', 'carries')} in {target}: {', '.join(sorted(texts))}.")
    if outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)


def _forms(asked: list[str]) -> tuple[str, ...]:
    if "all" in asked:
        return FORMATS
    for one in asked:
        if one not in FORMATS:
            near = did_you_mean(one, FORMATS)
            raise UserError(f"--format is {', '.join(FORMATS)} or all, not '{one}'. {near}".strip())
    return tuple(dict.fromkeys(asked))


def _paper(written: str) -> Paper:
    for paper in Paper:
        if paper.value.casefold() == written.casefold():
            return paper
    raise UserError(f"--paper is A4 or Letter, not '{written}'.")


def _part(outcome: Outcome, shelters: list[str], stages: list[int]) -> Part:
    """The part asked for, all mistakes in it told at once."""
    names = Names(outcome.season)
    ids = [names.shelter("--shelter", one) for one in shelters]
    last = len(outcome.plan.stages)
    for number in stages:
        if not 1 <= number <= last:
            names.problem("--stage", str(number), f"a stage from 1 to {last}", "")
    names.raise_if_any()
    return Part([one for one in ids if one is not None], stages)


def _part_sheet(
    outcome: Outcome, book: CarryBook, part: Part, paper: Paper
) -> tuple[CarryBook, dict[str, str | bytes]]:
    """The book narrowed, and its sheet by name."""
    some = part_of(book, part)
    if not some.lists:
        listed = [f"{name} ({key})" for key, name in book.shelters.items()]
        raise UserError(
            "There is nothing to do at those shelters in those stages; nothing was written. "
            f"On the lists are: {', '.join(listed) or 'no shelters'}."
        )
    words = part.words(book)
    sheet = carry_sheet(outcome.season, outcome.plan, some, paper, words)
    return some, {PART_SHEET: sheet}


def _in_force(folder: Path) -> tuple[Winter | None, Outcome]:
    """The plan in force, audited; without a history the plan file of the folder."""
    if not (folder / HISTORY).exists():
        return None, read_back(folder, say)
    winter = open_winter(folder)
    return winter, audited(winter)


def _written(
    form: str, winter: Winter | None, outcome: Outcome, book: CarryBook, paper: Paper
) -> dict[str, str | bytes]:
    """Files of one form, by name."""
    if form == "csv":
        each = {f"{CSV_START}{key}.csv": text for key, text in carry_csvs(book).items()}
        return {f"{CSV_START}all.csv": carry_csv(book), **each}
    if form == "xlsx":
        return {"carries.xlsx": carry_workbook(book, paper)}
    if form == "sheet":
        sheet = carry_sheet(outcome.season, outcome.plan, book, paper)
        return {"carry-sheet.html": sheet}
    if form == "phone":
        drawings = {
            bench.place_id: bench.svg
            for bench in benches(outcome.season, outcome.plan)
            if bench.svg is not None
        }
        return {"carry-phone.html": carry_phone(book, _marked(winter, outcome), drawings)}
    return {"carry-days.ics": _calendar(winter, outcome, book)}


def _marked(winter: Winter | None, outcome: Outcome) -> dict[str, Mark]:
    """What is marked as carried already, by the carry's key."""
    if winter is None:
        return {}
    return marks_by_carry(outcome.season, [one.mark for one in winter.history.marks])


def _calendar(winter: Winter | None, outcome: Outcome, book: CarryBook) -> str:
    """The calendar; what earlier plans had and this one has not is cancelled."""
    dropped: list[CalendarEvent] = []
    revision = 0
    if winter is not None:
        in_force = winter.history.in_force.number
        others = [number for number in winter.history.plans if number != in_force]
        revision = len(others)
        dropped = [event for number in others for event in _events(winter, number)]
    unique = {event.uid: event for event in dropped}
    return carry_calendar(outcome.season, book, revision=revision, dropped=unique.values())


def _events(winter: Winter, number: int) -> tuple[CalendarEvent, ...]:
    """Events of another plan of the history; none where it no longer fits the inputs."""
    entry = winter.entry(number)
    plan = entry.read().plan
    season = winter.season_of(entry, plan)
    known = {place for path in plan.stays.values() for place in path if place is not None}
    if not known <= set(season.places) or not set(plan.stays) <= set(season.tree_by_id):
        return ()
    return calendar_events(season, carry_book(season, plan))
