"""The rows of history.json, checked at the door."""

from collections.abc import Mapping
from datetime import date
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from overwinter.files.findings import Findings
from overwinter.files.pydantic_problems import report_document_errors
from overwinter.model.changes import Changes

FORMAT = "overwinter history"
FORMAT_VERSION = 2
FIRST_EDITION = 1
"""Format of the edition that planned for dates instead of stages; nothing of it can be used."""


class _Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class BrokenRow(_Row):
    """A heater that does not heat."""

    shelter: str
    heater: str
    since: date


class ChangesRow(_Row):
    """Changed facts."""

    opens: dict[str, date] = {}
    closes: dict[str, date] = {}
    broken: tuple[BrokenRow, ...] = ()
    gone: dict[str, date] = {}
    leaves_down: dict[str, date] = {}
    most_chance: Annotated[float, Field(ge=0, le=1)] | None = None


class PlanRow(_Row):
    """A plan."""

    kind: Literal["plan"]
    number: Annotated[int, Field(ge=1)]
    made: date
    since: date
    parent: int | None
    changes: ChangesRow
    why: str
    document: dict[str, Any]


class MarkRow(_Row):
    """A mark."""

    kind: Literal["mark"]
    number: Annotated[int, Field(ge=1)]
    plan: int
    day: date
    tree: str
    to: str
    carry: str | None = None
    assumed: bool = False
    note: str = ""


class LeavesRow(_Row):
    """A tree whose leaves are down; no day: they are not, after all."""

    kind: Literal["leaves"]
    tree: str
    day: date | None


class UndoRow(_Row):
    """A mark taken back."""

    kind: Literal["undo"]
    mark: int


class BackRow(_Row):
    """A plan gone back to."""

    kind: Literal["back"]
    plan: int


AnyRow = PlanRow | MarkRow | LeavesRow | UndoRow | BackRow
Row = Annotated[AnyRow, Field(discriminator="kind")]


class _File(_Row):
    format: Literal["overwinter history"]
    format_version: Annotated[int, Field(ge=1)]
    entries: Annotated[tuple[Row, ...], Field(min_length=1)]


def check_history(content: object, file: str, findings: Findings) -> tuple[AnyRow, ...]:
    """The rows of the parsed JSON ``content``; problems go to ``findings``."""
    version = content.get("format_version") if isinstance(content, dict) else None
    if not isinstance(content, dict) or content.get("format") != FORMAT:
        findings.problem(file, None, "format", "another kind of file", f"'{FORMAT}'")
        return ()
    if version == FIRST_EDITION:
        findings.problem(
            file,
            None,
            "format_version",
            "a history of the first edition",
            "a history of this edition",
            "Run `overwinter plan` with --restart; it keeps this file under another name.",
        )
        return ()
    if isinstance(version, int) and version > FORMAT_VERSION:
        findings.problem(
            file,
            None,
            "format_version",
            f"'{version}', of a newer overwinter",
            f"at most {FORMAT_VERSION}",
            "Use the newer version.",
        )
        return ()
    try:
        rows = TypeAdapter(_File).validate_python(content).entries
    except ValidationError as error:
        report_document_errors(error, file, "", findings)
        return ()
    _check_numbers(rows, file, findings)
    return rows


def _check_numbers(rows: tuple[AnyRow, ...], file: str, findings: Findings) -> None:
    """Whatever a row points to stands before it."""
    plans: set[int] = set()
    marks: set[int] = set()
    for place, row in enumerate(rows, 1):
        fault = _fault(row, plans, marks, first=place == 1)
        if fault:
            findings.problem(file, f"entries.{place}", row.kind, *fault)
        if isinstance(row, PlanRow):
            plans.add(row.number)
        elif isinstance(row, MarkRow):
            marks.add(row.number)


def _fault(row: AnyRow, plans: set[int], marks: set[int], first: bool) -> tuple[str, str] | None:
    """What was found and what is expected, where a row does not follow from those before."""
    if isinstance(row, PlanRow):
        if row.number in plans or (row.parent is not None and row.parent not in plans):
            return f"'{row.number}'", "a new number, and a parent that came before"
        return None
    if first:
        return f"'{row.kind}'", "'plan': a history begins with one"
    if isinstance(row, MarkRow):
        good = row.number not in marks and row.plan in plans
        return None if good else (f"'{row.number}'", "a new number, and a plan that came before")
    if isinstance(row, LeavesRow):
        return None
    if isinstance(row, UndoRow):
        return None if row.mark in marks else (f"'{row.mark}'", "a mark that came before")
    return None if row.plan in plans else (f"'{row.plan}'", "a plan that came before")


def changes_of(row: ChangesRow) -> Changes:
    """The changed facts of a row."""
    return Changes(
        opens=row.opens,
        closes=row.closes,
        broken={(one.shelter, one.heater): one.since for one in row.broken},
        gone=row.gone,
        leaves_down=row.leaves_down,
        most_chance=row.most_chance,
    )


def changes_row(changes: Changes) -> Mapping[str, Any]:
    """Changed facts as JSON has them."""
    return {
        "opens": {key: day.isoformat() for key, day in changes.opens.items()},
        "closes": {key: day.isoformat() for key, day in changes.closes.items()},
        "broken": [
            {"shelter": shelter, "heater": heater, "since": day.isoformat()}
            for (shelter, heater), day in changes.broken.items()
        ],
        "gone": {key: day.isoformat() for key, day in changes.gone.items()},
        "leaves_down": {key: day.isoformat() for key, day in changes.leaves_down.items()},
        "most_chance": changes.most_chance,
    }
