"""Carry lists as CSV: one row a carry, to be opened in a spreadsheet, filled in and handed back.

UTF-8 with a byte-order mark (without it spreadsheets show "°" and umlauts as rubbish), CRLF line
ends and quoting as in RFC 4180. A text that a spreadsheet would take for a formula gets an
apostrophe in front.
"""

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from overwinter.render.carry_book import CarryBook, CarryStep, ShelterList
from overwinter.render.table import no_formula
from overwinter.units import Display

BYTE_ORDER_MARK = "\ufeff"

Cell = str | int | float | date | None


@dataclass(frozen=True, slots=True)
class ListColumn:
    """A column of the list: its heading, its width in characters, and what stands in it."""

    heading: str
    width: int
    value: Callable[[ShelterList, CarryStep], Cell]


def columns(display: Display) -> tuple[ListColumn, ...]:
    """The columns of a carry list. The four after ``step`` are for the grower to fill in."""
    weight = display.weight_scale
    return (
        ListColumn("stage", 7, lambda one, step: one.head.number),
        ListColumn("when", 30, lambda one, step: one.head.when),
        ListColumn("usual day", 12, lambda one, step: one.head.day),
        ListColumn("step", 6, lambda one, step: step.number),
        ListColumn("done", 7, _empty),
        ListColumn("done on", 12, _empty),
        ListColumn("stands elsewhere", 18, _empty),
        ListColumn("your note", 22, _empty),
        ListColumn("tree", 28, lambda one, step: step.tree),
        ListColumn("species", 20, lambda one, step: step.species),
        ListColumn("from", 24, lambda one, step: step.source),
        ListColumn("to", 24, lambda one, step: step.target),
        ListColumn("where on it", 30, lambda one, step: step.position or None),
        ListColumn(
            f"weight {weight.unit}", 10, lambda one, step: round(step.weight_kg * weight.factor, 1)
        ),
        ListColumn("people", 8, lambda one, step: step.people),
        ListColumn("before dusk", 8, lambda one, step: "yes" if step.before_dusk else None),
        ListColumn("heater", 16, lambda one, step: step.setting or None),
        ListColumn("guard", 34, lambda one, step: step.guards or None),
        ListColumn("water", 34, lambda one, step: step.water),
        ListColumn("pests", 34, lambda one, step: step.pests),
        ListColumn("why now", 26, lambda one, step: step.why),
        ListColumn("note", 34, lambda one, step: step.note or None),
        ListColumn("key", 15, lambda one, step: step.key),
    )


def sheet_columns(display: Display) -> tuple[ListColumn, ...]:
    """The nine columns of a sheet to print; the three after ``from and to`` are to fill in."""
    weight = display.weight_scale
    return (
        ListColumn("stage", 6, lambda one, step: one.head.number),
        ListColumn("step", 6, lambda one, step: step.number),
        ListColumn("tree", 34, _tree),
        ListColumn(
            f"weight {weight.unit}", 9, lambda one, step: round(step.weight_kg * weight.factor, 1)
        ),
        ListColumn("from and to", 40, lambda one, step: f"{step.source} → {step.target}"),
        ListColumn("done", 11, _empty),
        ListColumn("stands elsewhere", 17, _empty),
        ListColumn("your note", 22, _empty),
        ListColumn("key", 15, lambda one, step: step.key),
    )


def _tree(one: ShelterList, step: CarryStep) -> Cell:
    words = step.tree if step.species in step.tree else f"{step.tree} ({step.species})"
    return ", ".join([words, "two people"] if step.people > 1 else [words])


def _empty(one: ShelterList, step: CarryStep) -> Cell:
    return None


def list_rows(
    book: CarryBook, wanted: Sequence[ListColumn], shelter_id: str | None = None
) -> Iterator[tuple[Cell, ...]]:
    """Rows of one shelter's list, or of all, by stage and step."""
    found = [
        (one, step)
        for one in book.lists
        if shelter_id in (None, one.shelter_id)
        for step in one.steps
    ]
    for one, step in sorted(found, key=lambda pair: (pair[0].head.number, pair[1].number)):
        yield tuple(column.value(one, step) for column in wanted)


def carry_csv(book: CarryBook, shelter_id: str | None = None) -> bytes:
    """One shelter's carry list as CSV, or, without a shelter, everybody's in one."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([column.heading for column in columns(book.site.display)])
    for row in list_rows(book, columns(book.site.display), shelter_id):
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
