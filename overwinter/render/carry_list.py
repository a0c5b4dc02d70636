"""Carry lists as CSV: one row a carry, to be opened in a spreadsheet, filled in and handed back.

UTF-8 with a byte-order mark (without it spreadsheets show "°" and umlauts as rubbish), CRLF line
ends and quoting as in RFC 4180. A text that a spreadsheet would take for a formula gets an
apostrophe in front.
"""

import csv
import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date

from overwinter.render.carry_book import CarryBook, CarryStep, ShelterDay
from overwinter.units import Display

BYTE_ORDER_MARK = "\ufeff"
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")

Cell = str | int | float | date | None


@dataclass(frozen=True, slots=True)
class ListColumn:
    """A column of the list: its heading, its width in characters, and what stands in it."""

    heading: str
    width: int
    value: Callable[[ShelterDay, CarryStep], Cell]


def columns(display: Display) -> tuple[ListColumn, ...]:
    """The columns of a carry list. The four after ``step`` are for the grower to fill in."""
    weight = display.weight_scale
    return (
        ListColumn("date", 12, lambda day, step: day.day),
        ListColumn("step", 6, lambda day, step: step.number),
        ListColumn("done", 7, _empty),
        ListColumn("done on", 12, _empty),
        ListColumn("stands elsewhere", 18, _empty),
        ListColumn("your note", 22, _empty),
        ListColumn("tree", 28, lambda day, step: step.tree),
        ListColumn("species", 20, lambda day, step: step.species),
        ListColumn("from", 24, lambda day, step: step.source),
        ListColumn("to", 24, lambda day, step: step.target),
        ListColumn("where on it", 30, lambda day, step: step.position or None),
        ListColumn(
            f"weight {weight.unit}", 10, lambda day, step: round(step.weight_kg * weight.factor, 1)
        ),
        ListColumn("people", 8, lambda day, step: step.people),
        ListColumn("before dusk", 8, lambda day, step: "yes" if step.before_dusk else None),
        ListColumn("heater", 16, lambda day, step: step.setting or None),
        ListColumn("guard", 34, lambda day, step: step.guards or None),
        ListColumn("water", 34, lambda day, step: step.water),
        ListColumn("pests", 34, lambda day, step: step.pests),
        ListColumn("why now", 26, lambda day, step: step.why),
        ListColumn("note", 34, lambda day, step: step.note or None),
        ListColumn("key", 15, lambda day, step: step.key),
    )


def _empty(day: ShelterDay, step: CarryStep) -> Cell:
    return None


def list_rows(book: CarryBook, shelter_id: str | None = None) -> Iterator[tuple[Cell, ...]]:
    """Rows of one shelter's list, or of all, by day and step."""
    wanted = columns(book.site.display)
    days = [day for day in book.days if shelter_id in (None, day.shelter_id)]
    found = [(day, step) for day in days for step in day.steps]
    for day, step in sorted(found, key=lambda pair: (pair[0].day, pair[1].number)):
        yield tuple(column.value(day, step) for column in wanted)


def carry_csv(book: CarryBook, shelter_id: str | None = None) -> bytes:
    """One shelter's carry list as CSV, or, without a shelter, everybody's in one."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([column.heading for column in columns(book.site.display)])
    for row in list_rows(book, shelter_id):
        writer.writerow([safe_text(cell) for cell in row])
    return (BYTE_ORDER_MARK + text.getvalue()).encode()


def carry_csvs(book: CarryBook) -> dict[str, bytes]:
    """The carry list of every shelter that has carries, by shelter id."""
    with_steps = dict.fromkeys(day.shelter_id for day in book.days if day.steps)
    return {shelter_id: carry_csv(book, shelter_id) for shelter_id in with_steps}


def safe_text(cell: Cell) -> str:
    """A cell as CSV text that no spreadsheet runs as a formula."""
    if cell is None:
        return ""
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, str) and cell.startswith(FORMULA_STARTS):
        return f"'{cell}"
    return str(cell)
