"""Carry lists as files for other programs: CSV, a workbook, and a calendar.

In the workbook dates are dates and weights are numbers; a name that begins with "=" stays a text.
In the calendar each stage stands from the day it may begin in most years to the latest one: nobody
knows on which day a sign comes, so an event says what to watch for. UIDs come from the sign, so
that a re-plan moves an event instead of doubling it. All bytes depend on the plan alone.
"""

import io
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from hashlib import sha256
from math import ceil
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from icalendar import Alarm, Calendar, Event, vText
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.page import PageMargins
from openpyxl.writer.excel import ExcelWriter

from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.stage import Sign, Stage
from overwinter.packaged import packaged_toml
from overwinter.render.carry_book import CarryBook, CarryStep, ShelterList, StageHead
from overwinter.render.carry_pages import Paper
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.table import Cell, Columns, Figure, Table, csv_text
from overwinter.render.words import count, is_fixed, range_words, sentence, sign_brief

BYTE_ORDER_MARK = "\ufeff"  # without it spreadsheets show "°" and umlauts as rubbish

Line = tuple[ShelterList, CarryStep]
REMIND = timedelta(hours=-15)  # before the day's first midnight: at 9:00 the day before
TITLES = packaged_toml("sentences.toml")["jobs"]
Events = Mapping[str, Event]  # by UID
STAGE = "stage"  # what a UID begins with that is a stage's


def _lines(book: CarryBook, shelter_id: str | None) -> list[Line]:
    """Every step of one shelter's list, or of all, by stage and step."""
    found = ((one, step) for one in book.lists for step in one.steps)
    mine = (line for line in found if shelter_id in (None, line[0].shelter_id))
    return sorted(mine, key=lambda line: (line[0].head.number, line[1].number))


def _weight(book: CarryBook) -> Columns[Line]:
    scale = book.site.display.weight_scale
    return {f"weight {scale.unit}": lambda line: Figure(line[1].weight_kg * scale.factor, 1)}


def _empty(line: Line) -> Cell:
    """For the grower to fill in."""
    return None


def list_table(book: CarryBook, shelter_id: str | None = None) -> Table:
    """One shelter's carry list, or, without a shelter, everybody's in one."""
    columns: Columns[Line] = {
        "stage": lambda line: line[0].head.number,
        "when": lambda line: line[0].head.when,
        "usual day": lambda line: line[0].head.stage.usual,
        "step": lambda line: line[1].number,
        "done": _empty,
        "done on": _empty,
        "stands elsewhere": _empty,
        "your note": _empty,
        "tree": lambda line: line[1].tree,
        "species": lambda line: line[1].species,
        "from": lambda line: line[1].source,
        "to": lambda line: line[1].target,
        "where on it": lambda line: line[1].position or None,
        **_weight(book),
        "people": lambda line: line[1].people,
        "before dusk": lambda line: "yes" if line[1].before_dusk else None,
        "heater": lambda line: line[0].setting or None,
        "guard": lambda line: line[1].guards or None,
        "water": lambda line: "; ".join(line[1].water),
        "pests": lambda line: line[1].pests,
        "why now": lambda line: line[1].why,
        "note": lambda line: line[1].note or None,
        "from your list": lambda line: line[1].yours or None,
        "key": lambda line: line[1].key,
    }
    return Table.of("carries", "Carries", _lines(book, shelter_id), columns)


def sheet_table(book: CarryBook, shelter_id: str) -> Table:
    """The same in the ten columns of a sheet to print."""

    def tree(line: Line) -> str:
        step = line[1]
        words = step.tree if step.species in step.tree else f"{step.tree} ({step.species})"
        two = "two people" * (step.people > 1)
        return ", ".join(filter(None, [words, two, step.note, step.remark]))

    columns: Columns[Line] = {
        "stage": lambda line: line[0].head.number,
        "when": lambda line: line[0].head.brief,
        "step": lambda line: line[1].number,
        "tree": tree,
        **_weight(book),
        "from and to": lambda line: f"{line[1].source} → {line[1].target}",
        "done": _empty,
        "stands elsewhere": _empty,
        "your note": _empty,
        "key": lambda line: line[1].key,
    }
    return Table.of("carries", "Carries", _lines(book, shelter_id), columns)


def carry_csv(book: CarryBook, shelter_id: str | None = None) -> bytes:
    """One shelter's carry list as CSV, or, without a shelter, everybody's in one."""
    return (BYTE_ORDER_MARK + csv_text(list_table(book, shelter_id))).encode()


def carry_csvs(book: CarryBook) -> dict[str, bytes]:
    """The carry list of every shelter that has carries, by shelter id."""
    with_steps = dict.fromkeys(one.shelter_id for one in book.lists if one.steps)
    return {shelter_id: carry_csv(book, shelter_id) for shelter_id in with_steps}


PAPER_CODES = {Paper.A4: 9, Paper.LETTER: 1}  # ECMA-376 part 1, 18.3.1.63, paperSize
ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
SHELTER_WIDTHS = (6, 21, 6, 34, 8, 36, 9, 16, 20, 15)
OVERVIEW = {  # headings of the overview and their widths in characters
    "stage": 16,
    "when": 30,
    "most years": 22,
    "shelter": 22,
    "trees": 7,
    "two people": 8,
    "heater": 14,
    "sunset": 9,
    "to do": 60,
}
FILL_IN = ("done", "stands elsewhere", "your note")
MARGINS_IN = {"left": 0.5, "right": 0.5, "top": 0.7, "bottom": 0.6, "header": 0.3, "footer": 0.3}
LINE_PT = 15  # height of a line of text
CAUTION_LETTERS = 130  # letters of a caution in one line of the overview

_FORBIDDEN = re.compile(r"[\[\]:*?/\\]")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


class _Timeless(ZipFile):
    """Every part of the file is as old as any other."""

    def open(self, name: Any, *rest: Any, **more: Any) -> Any:
        if isinstance(name, ZipInfo):
            name.date_time = ZIP_EPOCH
        return super().open(name, *rest, **more)


def carry_workbook(book: CarryBook, paper: Paper = Paper.A4) -> bytes:
    """All carry lists as an XLSX file."""
    workbook = Workbook()
    workbook.properties.creator = "overwinter"
    began = datetime.combine(book.site.starts, time())
    workbook.properties.created = workbook.properties.modified = began
    overview = workbook.active
    overview.title = "Overview"
    _overview(overview, book, paper)
    titles = {"overview"}
    for shelter_id, name in book.shelters.items():
        table = sheet_table(book, shelter_id)
        if table.rows:
            sheet = workbook.create_sheet(sheet_title(name, titles))
            _shelter(sheet, table, paper)
            # "&" begins a code in a header
            sheet.oddHeader.center.text = f"{book.site.name}: {name}".replace("&", "&&")[:200]
    stream = io.BytesIO()
    # Workbook.save would write its own time into the properties
    ExcelWriter(workbook, _Timeless(stream, "w", ZIP_DEFLATED)).save()
    return stream.getvalue()


def sheet_title(name: str, taken: set[str]) -> str:
    """A sheet name of at most 31 characters that is not taken yet; notes it in ``taken``."""
    base = _FORBIDDEN.sub(" ", _CONTROL.sub("", name)).strip(" '")[:31] or "Shelter"
    title, number = base, 2
    while title.casefold() in taken:
        suffix = f" {number}"
        title, number = base[: 31 - len(suffix)] + suffix, number + 1
    taken.add(title.casefold())
    return title


def _overview(sheet: Any, book: CarryBook, paper: Paper) -> None:
    _append(sheet, [f"Carry lists: {book.site.name}"], bold=16)
    if book.site.invented:
        _append(sheet, ["This grower and this collection are invented."])
    _append(sheet, ["plan", book.fingerprint])
    _append(sheet, [])
    _append(sheet, OVERVIEW, bold=11)
    for cells in _jobs(book):
        _append(sheet, cells)
    _append(sheet, [])
    for said, names in (("no place", book.left_out), ("not safe", book.unsafe)):
        for name in names:
            _append(sheet, [said, name])
    for key in book.cautions:
        title, text = CAUTIONS[key].title, CAUTIONS[key].text
        row = _append(sheet, [title, text])
        sheet.merge_cells(start_row=row, end_row=row, start_column=2, end_column=len(OVERVIEW))
        sheet.row_dimensions[row].height = LINE_PT * (1 + len(text) // CAUTION_LETTERS)
    _append(sheet, [LOCAL_CODES])
    _finish(sheet, tuple(OVERVIEW.values()), paper)


def _jobs(book: CarryBook) -> Iterator[tuple[Cell, ...]]:
    """A row for each stage and shelter; the sign is said once."""
    told = None
    for one in book.lists:
        sign = (one.head.when, range_words(one.head.stage)) if one.head != told else (None, None)
        todo = "\n".join(job.text for job in one.jobs)
        counts = (len(one.steps) or None, one.by_two or None)
        told = one.head
        yield one.head.number, *sign, one.shelter, *counts, one.setting, one.head.sunset, todo


def _shelter(sheet: Any, table: Table, paper: Paper) -> None:
    _append(sheet, table.headings, bold=11)
    for cells in table.rows:
        _append(sheet, cells)
    letters = {head: get_column_letter(n) for n, head in enumerate(table.headings, 1)}
    grey = PatternFill("solid", fgColor="EEEEEE")
    for heading in FILL_IN:
        for cell in sheet[letters[heading]][1:]:
            cell.fill = grey
    yes = DataValidation(type="list", formula1='"x,no"', allow_blank=True, showErrorMessage=False)
    sheet.add_data_validation(yes)
    yes.add(f"{letters['done']}2:{letters['done']}{sheet.max_row}")
    sheet.auto_filter.ref = sheet.dimensions
    sheet.freeze_panes = "E2"
    sheet.print_title_rows = "1:1"
    sheet.oddFooter.center.text = "&P / &N"
    _finish(sheet, SHELTER_WIDTHS, paper)


def _append(sheet: Any, cells: Iterable[Cell], bold: int = 0) -> int:
    """Add a row in which no text can be a formula, in bold of that size; its number."""
    sheet.append([_CONTROL.sub("", one) if isinstance(one, str) else one for one in cells])
    row: int = sheet._current_row
    for cell in sheet[row]:
        if isinstance(cell.value, str):
            cell.data_type = "s"
        if bold:
            cell.font = Font(name=cell.font.name, bold=True, size=bold)
    return row


def _finish(sheet: Any, widths: Sequence[int], paper: Paper) -> None:
    """Widths, wrapping and print setup: landscape, all columns on one page's width."""
    for number, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(number)].width = width
    for row in sheet.iter_rows():
        alone = all(one.value is None for one in row[1:])
        for cell in row:
            count = "center" if isinstance(cell.value, int) else None
            wrap = not (alone and cell.column == 1)
            cell.alignment = Alignment(horizontal=count, wrap_text=wrap, vertical="top")
        place = sheet.row_dimensions[row[0].row]
        if place.height is None:
            lines = [_folded(one.value, width) for one, width in zip(row, widths, strict=True)]
            place.height = LINE_PT * (1 if alone else max(lines))
    sheet.print_options.gridLines = True
    sheet.page_margins = PageMargins(**MARGINS_IN)
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = PAPER_CODES[paper]
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _folded(value: Cell, width: int) -> int:
    """How many lines a cell's text takes; letters are narrower than the digits of a width."""
    return sum(max(1, ceil(len(line) / (1.1 * width))) for line in str(value or "").split("\n"))


def carry_calendar(
    season: Season, plan: Plan, book: CarryBook, earlier: Sequence[Events] = ()
) -> str:
    """The calendar of a plan as iCalendar text (RFC 5545). ``earlier``: ``calendar_events`` of all
    other plans of the winter, oldest first. What was theirs alone and had begun when this plan was
    made stays, up to then; the rest is cancelled."""
    calendar, name = Calendar(), vText(_plain(f"Winter of {season.site.name}"))
    calendar.add("VERSION", "2.0")
    calendar.add("PRODID", "-//overwinter//carry calendar 1//EN")
    calendar.add("CALSCALE", "GREGORIAN")
    calendar.add("NAME", name)
    calendar.add("X-WR-CALNAME", name)
    events = calendar_events(season, book)
    past, first = plan.stages[: plan.fixed_stages], plan.stages[plan.fixed_stages].usual
    begun = {_uid(season, STAGE, _about(stage)) for stage in past}
    gone = {uid: event for each in earlier for uid, event in each.items() if uid not in events}
    # DTSTAMP should be the time of writing; so the same plan gives the same file.
    stamp = datetime.combine(season.site.starts, time(), UTC) + timedelta(seconds=len(earlier))
    every = {**events, **gone}
    for uid, event in every.items():
        if "RRULE" in event:  # the round goes on from when it began, on the same day of the week
            event.DTSTART = min(one[uid].start for one in (every, *earlier) if uid in one)
            event.DTEND = event.start + timedelta(days=1)
        over = uid in begun or (not uid.startswith(STAGE) and event.start < first)
        if uid in gone and over:
            _end(event, first)
        cancelled = uid in gone and not over
        event.add("DTSTAMP", stamp)
        event.add("SEQUENCE", len(earlier))
        event.add("STATUS", "CANCELLED" if cancelled else "CONFIRMED")
        if uid in gone:
            event.subcomponents.clear()
        calendar.add_component(event)
    return str(calendar.to_ical().decode())


def _end(event: Event, first: date) -> None:
    """Let an event that is no longer to come end before ``first``."""
    last = first - timedelta(days=1)
    if "RRULE" in event:
        event.pop("RRULE")
        event.add("RRULE", {"FREQ": "WEEKLY", "UNTIL": last})
    else:
        event.DTSTART, event.DTEND = min(event.start, last), min(event.end, first)


def _plain(text: str) -> str:
    return _CONTROL.sub("", text.replace("\r\n", "\n").replace("\r", "\n"))


def _uid(season: Season, kind: str, about: str) -> str:
    """Tells what an event is about from all else of this winter."""
    site = season.site
    what = f"{site.name}|{site.latitude_deg}|{site.longitude_deg}|{site.starts}|{about}"
    return f"{kind}-{sha256(what.encode()).hexdigest()[:16]}@overwinter"


def _about(stage: Stage) -> str:
    on_the_calendar = stage.sign is Sign.CALENDAR
    return f"{stage.sign} {stage.usual if on_the_calendar else stage.threshold_c}"


def _event(
    season: Season, kind: str, about: str, title: str, text: str, first: date, last: date
) -> Event:
    """An event of whole days."""
    event = Event()
    event.add("UID", _uid(season, kind, about))
    event.add("DTSTART", first)
    event.add("DTEND", last + timedelta(days=1))
    event.add("TRANSP", "TRANSPARENT")
    event.add("SUMMARY", _plain(title))
    event.add("DESCRIPTION", _plain(text))
    return event


def calendar_events(season: Season, book: CarryBook) -> Events:
    """All events, by day and UID."""
    events = [_stage_event(season, head, book) for head in book.heads]
    events += [*_quarantines(season), *_rounds(season, book)]
    events.sort(key=lambda event: (event.start, str(event["UID"])))
    return {str(event["UID"]): event for event in events}


def _stage_event(season: Season, head: StageHead, book: CarryBook) -> Event:
    lists, stage = book.of_stage(head), head.stage
    trees = sum(len(one.steps) for one in lists)
    told = []
    for one in lists:
        todo = [TITLES[job.kind].format(one.setting) for job in one.jobs]
        told.append(f"{one.shelter}: {'; '.join([one.heading] * bool(one.steps) + todo)}")
    words = [f"{head.when}.", f"{head.facts}.", *[f"{sentence(head.work)}."] * bool(trees), *told]
    words.append(f"What goes where, and the cautions: carry sheets, stage {head.number}.")
    what = f"carry {count(trees, 'tree')}" if trees else "; ".join(told)
    on_the_calendar = stage.sign is Sign.CALENDAR
    sign = sentence(sign_brief(season, stage))
    title = f"{sign}: {what}" if what and (trees or not on_the_calendar) else sign
    first, last = stage.early, max(stage.late, stage.early)
    event = _event(season, STAGE, _about(stage), title, "\n".join(words), first, last)
    fixed = is_fixed(stage)
    watch = "This begins tomorrow" if fixed else "From tomorrow watch the forecast for the sign"
    before = "" if fixed else " the day before"
    two = any(one.by_two for one in lists)
    under = any(not season.shelter_of(s.carry.target).open_air for one in lists for s in one.steps)
    asks = ["ask the second person"] * two
    asks += [f"water{before} what goes under cover, unless frozen"] * under
    reminder = f"{': '.join(filter(None, [watch, ', '.join(asks)]))}."
    alarm = Alarm()
    alarm.add("ACTION", "DISPLAY")
    alarm.add("TRIGGER", REMIND)
    alarm.add("DESCRIPTION", reminder)
    event.add_component(alarm)
    return event


def _rounds(season: Season, book: CarryBook) -> Iterator[Event]:
    """One event that comes again every week while anything stands under cover."""
    days = [one.head.stage.usual for one in book.lists if one.steps]
    if days:
        text = (
            "Read and reset each min/max thermometer; water what is dry; look for gnawing, "
            "scale and mould; see that heaters run."
        )
        title, first = "Weekly round of the shelters", days[0]
        event = _event(season, "rounds", "weekly", title, text, first, first)
        until = days[-1] if days[-1] > first else season.site.ends
        event.add("RRULE", {"FREQ": "WEEKLY", "UNTIL": until})
        yield event


def _quarantines(season: Season) -> Iterator[Event]:
    for tree in season.trees:
        until = tree.quarantine_until
        if until is not None and season.site.starts <= until <= season.site.ends:
            title = f"Quarantine of {tree.name} ends"
            text = "Look it over once more before it joins the others."
            yield _event(season, "quarantine", tree.id, title, text, until, until)
