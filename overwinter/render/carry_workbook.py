"""Carry lists as CSV and as a workbook: an overview and one sheet a shelter.

Dates are dates and weights are numbers; a name that begins with "=" stays a text. The bytes depend
on the plan alone: the time of writing is left out of the file.
"""

import csv
import io
import re
import zipfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from math import ceil
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.page import PageMargins

from overwinter.render.carry_book import CarryBook, CarryStep, ShelterList
from overwinter.render.carry_sheet import Paper
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES
from overwinter.render.table import no_formula
from overwinter.render.words import range_words
from overwinter.units import Display

# UTF-8 with a byte-order mark (without it spreadsheets show "°" and umlauts as rubbish), CRLF line
# ends and quoting as in RFC 4180. A text that a spreadsheet would take for a formula gets an
# apostrophe in front.

BYTE_ORDER_MARK = "\ufeff"

Cell = str | int | float | date | None


Columns = Mapping[str, Callable[[ShelterList, CarryStep], Cell]]
"""Headings, and what stands below them."""


def columns(display: Display) -> Columns:
    """The columns of a carry list. The four after ``step`` are for the grower to fill in."""
    weight = display.weight_scale
    return {
        "stage": lambda one, step: one.head.number,
        "when": lambda one, step: one.head.when,
        "usual day": lambda one, step: one.head.day,
        "step": lambda one, step: step.number,
        "done": _empty,
        "done on": _empty,
        "stands elsewhere": _empty,
        "your note": _empty,
        "tree": lambda one, step: step.tree,
        "species": lambda one, step: step.species,
        "from": lambda one, step: step.source,
        "to": lambda one, step: step.target,
        "where on it": lambda one, step: step.position or None,
        f"weight {weight.unit}": lambda one, step: round(step.weight_kg * weight.factor, 1),
        "people": lambda one, step: step.people,
        "before dusk": lambda one, step: "yes" if step.before_dusk else None,
        "heater": lambda one, step: step.setting or None,
        "guard": lambda one, step: step.guards or None,
        "water": lambda one, step: step.water,
        "pests": lambda one, step: step.pests,
        "why now": lambda one, step: step.why,
        "note": lambda one, step: step.note or None,
        "from your list": lambda one, step: step.yours or None,
        "key": lambda one, step: step.key,
    }


def sheet_columns(display: Display) -> Columns:
    """The nine columns of a sheet to print; the three after ``from and to`` are to fill in."""
    weight = display.weight_scale
    return {
        "stage": lambda one, step: one.head.number,
        "step": lambda one, step: step.number,
        "tree": _tree,
        f"weight {weight.unit}": lambda one, step: round(step.weight_kg * weight.factor, 1),
        "from and to": lambda one, step: f"{step.source} → {step.target}",
        "done": _empty,
        "stands elsewhere": _empty,
        "your note": _empty,
        "key": lambda one, step: step.key,
    }


def _tree(one: ShelterList, step: CarryStep) -> Cell:
    words = step.tree if step.species in step.tree else f"{step.tree} ({step.species})"
    return ", ".join([words, *["two people"] * (step.people > 1), *filter(None, [step.remark])])


def _empty(one: ShelterList, step: CarryStep) -> Cell:
    return None


def list_rows(
    book: CarryBook, wanted: Columns, shelter_id: str | None = None
) -> Iterator[tuple[Cell, ...]]:
    """Rows of one shelter's list, or of all, by stage and step."""
    found = [
        (one, step)
        for one in book.lists
        if shelter_id in (None, one.shelter_id)
        for step in one.steps
    ]
    for one, step in sorted(found, key=lambda pair: (pair[0].head.number, pair[1].number)):
        yield tuple(value(one, step) for value in wanted.values())


def carry_csv(book: CarryBook, shelter_id: str | None = None) -> bytes:
    """One shelter's carry list as CSV, or, without a shelter, everybody's in one."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    wanted = columns(book.site.display)
    writer.writerow(wanted)
    for row in list_rows(book, wanted, shelter_id):
        writer.writerow([safe_text(cell) for cell in row])
    return (BYTE_ORDER_MARK + text.getvalue()).encode()


def carry_csvs(book: CarryBook) -> dict[str, bytes]:
    """The carry list of every shelter that has carries, by shelter id."""
    with_steps = dict.fromkeys(one.shelter_id for one in book.lists if one.steps)
    return {shelter_id: carry_csv(book, shelter_id) for shelter_id in with_steps}


def safe_text(cell: Cell) -> str:
    """A cell as CSV text that no spreadsheet runs as a formula."""
    if cell is None:
        return ""
    if isinstance(cell, date):
        return cell.isoformat()
    return no_formula(cell) if isinstance(cell, str) else str(cell)


PAPER_CODES = {Paper.A4: 9, Paper.LETTER: 1}
"""Numbers of the paper sizes in SpreadsheetML (ECMA-376 part 1, 18.3.1.63, paperSize)."""

DATE_FORMAT = "yyyy-mm-dd"
ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
SHELTER_WIDTHS = (6, 6, 34, 9, 40, 11, 17, 22, 15)
OVERVIEW_WIDTHS = (16, 30, 22, 22, 7, 8, 14, 9, 60)
"""Characters a column."""
FILL_IN = ("done", "stands elsewhere", "your note")
MARGINS_IN = {"left": 0.5, "right": 0.5, "top": 0.7, "bottom": 0.6, "header": 0.3, "footer": 0.3}
LINE_PT = 15
"""Height of a line of text."""

_FORBIDDEN = re.compile(r"[\[\]:*?/\\]")
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_MODIFIED = re.compile(rb"(<dcterms:modified[^>]*>)[^<]*(</dcterms:modified>)")


def carry_workbook(book: CarryBook, paper: Paper = Paper.A4) -> bytes:
    """All carry lists as an XLSX file."""
    workbook = Workbook()
    began = datetime.combine(book.site.starts, time())
    workbook.properties.creator = "overwinter"
    workbook.properties.created = began
    overview = workbook.active
    overview.title = "Overview"
    _overview(overview, book, paper)
    titles = {"overview"}
    for shelter_id, name in book.shelters.items():
        if not any(one.steps for one in book.lists if one.shelter_id == shelter_id):
            continue
        sheet = workbook.create_sheet(sheet_title(name, titles))
        _shelter(sheet, book, shelter_id, name, paper)
    stream = io.BytesIO()
    workbook.save(stream)
    return _without_times(stream.getvalue(), began)


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
    _append(sheet, [f"Carry lists: {book.site.name}"])
    if book.site.invented:
        _append(sheet, ["This grower and this collection are invented."])
    _append(sheet, ["plan", book.fingerprint])
    sheet.append([])
    head = ["stage", "when", "most years", "shelter", "trees", "two people", "heater", "sunset"]
    head += ["to do"]
    _append(sheet, head)
    _heading(sheet, sheet.max_row)
    told = None
    for one in book.lists:
        own = [step for step in one.steps if not step.halfway]
        jobs = [todo.text for todo in (*one.before, *one.after)]
        two = sum(step.people > 1 for step in own)
        begins: list[Cell] = [one.head.number, one.head.when, range_words(one.head.stage)]
        begins = [one.head.number, None, None] if one.head == told else begins
        begins, told = [*begins, one.shelter], one.head
        todo = "\n".join(jobs) or None
        _append(sheet, [*begins, len(own) or None, two or None, one.setting, one.head.sunset, todo])
    sheet.append([])
    for name in book.left_out:
        _append(sheet, ["no place", name])
    for key in book.cautions:
        _append(sheet, [CAUTIONS[key].title, CAUTIONS[key].text])
        sheet.merge_cells(
            start_row=sheet.max_row, end_row=sheet.max_row, start_column=2, end_column=9
        )
        lines = 1 + len(CAUTIONS[key].text) // 130
        sheet.row_dimensions[sheet.max_row].height = LINE_PT * lines
    _append(sheet, [LOCAL_CODES])
    _finish(sheet, OVERVIEW_WIDTHS, paper)
    _font(sheet.cell(1, 1), 16)


def _shelter(sheet: Any, book: CarryBook, shelter_id: str, name: str, paper: Paper) -> None:
    shown = sheet_columns(book.site.display)
    headings = list(shown)
    _append(sheet, headings)
    _heading(sheet, 1)
    for cells in list_rows(book, shown, shelter_id):
        _append(sheet, cells)
    grey = PatternFill("solid", fgColor="EEEEEE")
    for heading in FILL_IN:
        for row in range(2, sheet.max_row + 1):
            sheet.cell(row, headings.index(heading) + 1).fill = grey
    letter = get_column_letter(headings.index("done") + 1)
    yes = DataValidation(type="list", formula1='"x,no"', allow_blank=True, showErrorMessage=False)
    sheet.add_data_validation(yes)
    yes.add(f"{letter}2:{letter}{max(sheet.max_row, 2)}")
    sheet.auto_filter.ref = sheet.dimensions
    sheet.freeze_panes = "D2"
    sheet.print_title_rows = "1:1"
    sheet.oddHeader.center.text = _header_text(f"{book.site.name}: {name}")
    sheet.oddFooter.center.text = "&P / &N"
    _finish(sheet, SHELTER_WIDTHS, paper)


def _append(sheet: Any, cells: Iterable[Cell]) -> None:
    """Add a row in which no text can be a formula."""
    row = sheet.max_row + 1 if sheet.max_row > 1 or sheet.cell(1, 1).value is not None else 1
    for column, value in enumerate(cells, 1):
        cell = sheet.cell(row, column)
        if isinstance(value, str):
            cell.value = _CONTROL.sub("", value)
            cell.data_type = "s"
        else:
            cell.value = value
        if isinstance(value, date):
            cell.number_format = DATE_FORMAT


def _heading(sheet: Any, row: int) -> None:
    for cell in sheet[row]:
        _font(cell, 11)


def _font(cell: Any, size: int) -> None:
    cell.font = Font(bold=True, size=size)


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
            lines = [_lines(cell.value, width) for cell, width in zip(row, widths, strict=False)]
            place.height = LINE_PT * (1 if alone else max(lines))
    sheet.print_options.gridLines = True
    sheet.page_margins = PageMargins(**MARGINS_IN)
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = PAPER_CODES[paper]
    sheet.page_setup.fitToWidth = 1
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


def _lines(value: Cell, width: int) -> int:
    """How many lines a cell's text takes; letters are narrower than the digits of a width."""
    return sum(max(1, ceil(len(line) / (1.1 * width))) for line in str(value or "").split("\n"))


def _header_text(text: str) -> str:
    """A print header in which "&" is an "&" and not the start of a code."""
    return text.replace("&", "&&")[:200]


def _without_times(content: bytes, began: datetime) -> bytes:
    """The same workbook with the times of writing replaced by the season's first day."""
    stream = io.BytesIO()
    stamp = rb"\g<1>" + began.strftime("%Y-%m-%dT00:00:00Z").encode() + rb"\g<2>"
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(stream, "w") as new:
        for name in old.namelist():
            part = old.read(name)
            if name == "docProps/core.xml":
                part = _MODIFIED.sub(stamp, part)
            entry = zipfile.ZipInfo(name, ZIP_EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(entry, part)
    return stream.getvalue()
