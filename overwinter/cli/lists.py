"""``overwinter lists``: the carry lists of the plan in force, in every form."""

from pathlib import Path
from typing import Annotated

import typer

from overwinter.api.changed_facts import Names
from overwinter.api.folder import LISTS, Winter, audited, drips, open_winter
from overwinter.cli.guard import ExitCode, Folder, Force, Json, chosen, say, tell
from overwinter.files.outputs import own_names, write_outputs
from overwinter.problems import UserError
from overwinter.render import carry_files
from overwinter.render.carry_book import CarryBook, carry_book, part_of
from overwinter.render.carry_files import Events
from overwinter.render.carry_pages import Paper, carry_phone, carry_sheet
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
        Paper | None,
        typer.Option(case_sensitive=False, help="Of sheet and xlsx; else Letter for US units."),
    ] = None,
    shelter: Annotated[
        list[str] | None, typer.Option(metavar="SHELTER", help="Print only this one's sheets.")
    ] = None,
    stage: Annotated[
        list[int] | None, typer.Option(metavar="NUMBER", help="Print only this stage's sheets.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help=f"Write there instead of DIR/{LISTS}.")
    ] = None,
    force: Force = False,
    as_json: Json = False,
) -> None:
    """Write carry lists to work from: what goes where at which sign, in which order.

    After a re-plan they hold only what still lies ahead. Hand ticked lists back with `mark`.
    With --shelter or --stage a part of the printable sheet is written, in a file of its own.
    """
    narrowed = bool(shelter or stage)
    forms = chosen("--format", form or ["sheet" if narrowed else "all"], FORMATS)
    if narrowed and forms != ["sheet"]:
        raise UserError("--shelter and --stage are for --format sheet alone.")
    winter = open_winter(folder)
    paper = paper or (Paper.LETTER if winter.season.site.display.us else Paper.A4)
    outcome = audited(winter, say=say)
    book = carry_book(outcome.season, outcome.plan, drips(outcome))
    texts: dict[str, str | bytes] = {}
    if narrowed:
        book, texts = _part_sheet(outcome, book, shelter or [], stage or [], paper)
    else:
        for one in forms:
            texts |= _written(one, winter, outcome, book, paper)
    target = folder / LISTS if out is None else out
    stale = [
        name
        for name in own_names(target)
        if ("csv" in forms and name.startswith(CSV_START) and name.endswith(".csv"))
        or ("sheet" in forms and name == PART_SHEET)
    ]
    write_outputs(target, texts, force, instead_of=stale)
    carries = sum(len(one.steps) for one in book.lists)
    values = {"folder": str(target), "files": sorted(texts), "carries": carries}
    text = f"{count(carries, 'carry', 'carries')} in {target}: {', '.join(sorted(texts))}."
    tell(as_json, lambda: values, lambda: text)
    if outcome.plan.left_out:
        raise typer.Exit(ExitCode.TREES_LEFT_OUT)


def _part_sheet(
    outcome: Outcome, book: CarryBook, shelters: list[str], stages: list[int], paper: Paper
) -> tuple[CarryBook, dict[str, str | bytes]]:
    """The book narrowed, and its sheet by name; all mistakes in what is asked told at once."""
    names = Names(outcome.season)
    ids = [found for one in shelters if (found := names.shelter("--shelter", one)) is not None]
    last = len(outcome.plan.stages)
    for number in stages:
        if not 1 <= number <= last:
            names.problem("--stage", str(number), f"a stage from 1 to {last}", "")
    names.raise_if_any()
    some, words = part_of(book, ids, stages)
    if not some.lists:
        listed = [f"{name} ({key})" for key, name in book.shelters.items()]
        raise UserError(
            "There is nothing to do at those shelters in those stages; nothing was written. "
            f"On the lists are: {', '.join(listed) or 'no shelters'}."
        )
    return some, {PART_SHEET: carry_sheet(outcome.season, outcome.plan, some, paper, words)}


def _written(
    form: str, winter: Winter, outcome: Outcome, book: CarryBook, paper: Paper
) -> dict[str, str | bytes]:
    """Files of one form, by name."""
    season, plan = outcome.season, outcome.plan
    if form == "csv":
        each = {f"{CSV_START}{key}.csv": text for key, text in carry_files.carry_csvs(book).items()}
        return {f"{CSV_START}all.csv": carry_files.carry_csv(book), **each}
    if form == "xlsx":
        return {"carries.xlsx": carry_files.carry_workbook(book, paper)}
    if form == "sheet":
        return {"carry-sheet.html": carry_sheet(season, plan, book, paper)}
    if form == "phone":
        drawn = benches(season, plan)
        drawings = {bench.place_id: bench.svg for bench in drawn if bench.svg is not None}
        marks = [one.mark for one in winter.history.marks]
        return {"carry-phone.html": carry_phone(book, marks_by_carry(season, marks), drawings)}
    history = winter.history
    others = [number for number in history.plans if number != history.in_force.number]
    earlier = [_events(winter, number) for number in sorted(others)]
    return {"carry-days.ics": carry_files.carry_calendar(season, plan, book, earlier)}


def _events(winter: Winter, number: int) -> Events:
    """Events of another plan of the history; none where it no longer fits the inputs."""
    entry = winter.entry(number)
    plan = entry.read().plan
    season = winter.season_of(entry, plan)
    known = {place for path in plan.stays.values() for place in path if place is not None}
    if not known <= set(season.places) or not set(plan.stays) <= set(season.tree_by_id):
        return {}
    return carry_files.calendar_events(season, carry_book(season, plan))
