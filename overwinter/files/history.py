"""history.json: every plan of a winter and every carry that was marked, in the order of writing.

Entries are only ever added. The file is written anew in one step for each addition, so that at any
moment the old or the new one is there, whole; a lock keeps two commands from losing each other's.
"""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import Any

from overwinter.files.atomic import write_text
from overwinter.files.csv_text import read_text
from overwinter.files.findings import Findings
from overwinter.files.history_lock import locked
from overwinter.files.history_schema import (
    FORMAT,
    FORMAT_VERSION,
    AnyRow,
    LeavesRow,
    MarkRow,
    PlanRow,
    UndoRow,
    changes_of,
    changes_row,
    check_history,
)
from overwinter.files.plan_file import PlanDocument, plan_document_of
from overwinter.model.changes import Changes, Mark
from overwinter.problems import UserError

HISTORY = "history.json"


@dataclass(frozen=True)
class PlanEntry:
    """A plan that was put in force."""

    number: int
    """1, 2, 3 ... in the order of making."""
    made: date
    """Day on which the computer made it."""
    since: date
    """First day it could still decide on."""
    parent: int | None
    """The plan it changed; None: planned afresh."""
    changes: Changes
    """All changed facts it reckons with."""
    why: str
    document: Mapping[str, Any]
    """The plan file's content."""

    def read(self) -> PlanDocument:
        """The plan itself; raises ``InputProblems`` where the history was damaged."""
        return plan_document_of(self.document, f"{HISTORY}, plan {self.number}")


@dataclass(frozen=True, slots=True)
class MarkEntry:
    """A carry marked as done; ``plan`` was in force."""

    number: int
    plan: int
    mark: Mark


@dataclass(frozen=True, slots=True)
class LeavesEntry:
    """Leaves of a tree are down since a day; None: they are not, after all."""

    tree_id: str
    day: date | None


@dataclass(frozen=True, slots=True)
class UndoEntry:
    """The mark of this number is taken back."""

    mark: int


@dataclass(frozen=True, slots=True)
class BackEntry:
    """This plan is in force again."""

    plan: int


Entry = PlanEntry | MarkEntry | LeavesEntry | UndoEntry | BackEntry


@dataclass(frozen=True)
class History:
    """What is in the file; entries in the order of writing."""

    entries: tuple[Entry, ...]

    @cached_property
    def plans(self) -> Mapping[int, PlanEntry]:
        """Every plan by number."""
        return {e.number: e for e in self.entries if isinstance(e, PlanEntry)}

    @cached_property
    def in_force(self) -> PlanEntry:
        """The plan that holds now: the last one made or gone back to."""
        for entry in reversed(self.entries):
            if isinstance(entry, PlanEntry):
                return entry
            if isinstance(entry, BackEntry):
                return self.plans[entry.plan]
        raise AssertionError("a history begins with a plan")

    @cached_property
    def marks(self) -> tuple[MarkEntry, ...]:
        """Marks that were not taken back, by day, then in the order of marking."""
        undone = {e.mark for e in self.entries if isinstance(e, UndoEntry)}
        kept = [e for e in self.entries if isinstance(e, MarkEntry) and e.number not in undone]
        return tuple(sorted(kept, key=lambda entry: (entry.mark.day, entry.number)))

    @property
    def leaves_down(self) -> Mapping[str, date]:
        """By tree, the day on which its leaves were seen to be down; the last word counts."""
        said = {e.tree_id: e.day for e in self.entries if isinstance(e, LeavesEntry)}
        return {tree_id: day for tree_id, day in said.items() if day is not None}

    @property
    def next_plan(self) -> int:
        """Number of the next plan."""
        return max(self.plans, default=0) + 1

    @property
    def next_mark(self) -> int:
        """Number of the next mark."""
        return 1 + max((e.number for e in self.entries if isinstance(e, MarkEntry)), default=0)


def read_history(folder: Path) -> History | None:
    """The history of a winter's folder; None where there is none yet.

    Raises
    ------
    InputProblems
        The file is damaged, or of a format this version does not know.
    """
    path = folder / HISTORY
    if not path.exists():
        return None
    findings = Findings()
    text = read_text(path, findings)
    findings.raise_if_any()
    try:
        content = json.loads(text or "")
    except json.JSONDecodeError as error:
        findings.problem(
            path.name,
            error.lineno,
            None,
            f"text that is not JSON ({error.msg})",
            "a whole history file",
            "Was it edited by hand? Put back a copy of it.",
        )
        findings.raise_if_any()
    rows = check_history(content, path.name, findings)
    findings.raise_if_any()
    return History(tuple(_entry(row) for row in rows))


def add_entries(folder: Path, make: Callable[[History], Sequence[Entry]]) -> History:
    """Add entries, made from what the file holds at this moment.

    When this returns, they are on disk.

    Raises
    ------
    UserError
        There is no history, or it can't be written.
    InputProblems
        The file is damaged.
    """
    with locked(folder):
        history = read_history(folder)
        if history is None:
            raise UserError(
                f"There is no {HISTORY} in {folder}; it begins with `overwinter plan {folder}`."
            )
        new = make(history)
        if not new:
            return history
        after = History((*history.entries, *new))
        write_text(folder / HISTORY, history_text(after.entries), overwrite=True)
        return after


def begin_history(folder: Path, first: PlanEntry, put_aside: bool = False) -> Path | None:
    """Write a history of one plan. With ``put_aside`` the one that is there keeps its content
    under another name, which is returned.

    Raises
    ------
    UserError
        There is a history and it must not be put aside, or nothing can be written.
    """
    with locked(folder):
        path = folder / HISTORY
        kept = None
        if path.exists():
            if not put_aside:
                raise UserError(f"There is a {HISTORY} in {folder} already.")
            kept = _free_name(folder)
            # Copied first: at no moment is the only copy under neither name.
            write_text(kept, path.read_text(encoding="utf-8"))
        write_text(path, history_text([first]), overwrite=True)
        return kept


def _free_name(folder: Path) -> Path:
    number = 1
    while (folder / f"history-{number}.json").exists():
        number += 1
    return folder / f"history-{number}.json"


def history_text(entries: Iterable[Entry]) -> str:
    """The text of history.json: one line an entry."""
    lines = [
        json.dumps(_row(entry), ensure_ascii=False, allow_nan=False, separators=(", ", ": "))
        for entry in entries
    ]
    head = json.dumps({"format": FORMAT, "format_version": FORMAT_VERSION})
    return f'{head[:-1]}, "entries": [\n' + ",\n".join(lines) + "\n]}\n"


def _row(entry: Entry) -> Mapping[str, Any]:
    if isinstance(entry, PlanEntry):
        return {
            "kind": "plan",
            "number": entry.number,
            "made": entry.made.isoformat(),
            "since": entry.since.isoformat(),
            "parent": entry.parent,
            "changes": changes_row(entry.changes),
            "why": entry.why,
            "document": entry.document,
        }
    if isinstance(entry, MarkEntry):
        mark = entry.mark
        return {
            "kind": "mark",
            "number": entry.number,
            "plan": entry.plan,
            "day": mark.day.isoformat(),
            "tree": mark.tree_id,
            "to": mark.target,
            "carry": mark.carry_key,
            "assumed": mark.assumed,
            "note": mark.note,
        }
    if isinstance(entry, LeavesEntry):
        day = None if entry.day is None else entry.day.isoformat()
        return {"kind": "leaves", "tree": entry.tree_id, "day": day}
    if isinstance(entry, UndoEntry):
        return {"kind": "undo", "mark": entry.mark}
    return {"kind": "back", "plan": entry.plan}


def _entry(row: AnyRow) -> Entry:
    if isinstance(row, PlanRow):
        return PlanEntry(
            row.number,
            row.made,
            row.since,
            row.parent,
            changes_of(row.changes),
            row.why,
            row.document,
        )
    if isinstance(row, MarkRow):
        mark = Mark(row.day, row.tree, row.to, row.carry, row.assumed, row.note)
        return MarkEntry(row.number, row.plan, mark)
    if isinstance(row, LeavesRow):
        return LeavesEntry(row.tree, row.day)
    if isinstance(row, UndoRow):
        return UndoEntry(row.mark)
    return BackEntry(row.plan)
