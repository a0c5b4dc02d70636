"""history.json: every plan of a winter and every carry that was marked, in the order of writing.

Entries are only ever added. The file is written anew in one step for each addition, so that at any
moment the old or the new one is there, whole; a lock keeps two commands from losing each other's.
"""

import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import date
from functools import cached_property
from itertools import count
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import ConfigDict, Field

from overwinter.files.findings import Findings
from overwinter.files.outputs import check_writable, write
from overwinter.files.plan_file import (
    FORMAT_VERSION,
    PlanDocument,
    Strict,
    checked_document,
    plan_document_of,
)
from overwinter.files.text_files import read_json
from overwinter.model.changes import Changes, Mark
from overwinter.problems import UserError

HISTORY = "history.json"
LOCK = ".overwinter-history.lock"
FORMAT = "overwinter history"


class BrokenRow(Strict):
    """A heater that does not heat."""

    shelter: str
    heater: str
    since: date


class ChangesRow(Strict):
    """Changed facts, as JSON has them."""

    opens: Mapping[str, date] = {}
    closes: Mapping[str, date] = {}
    broken: tuple[BrokenRow, ...] = ()
    gone: Mapping[str, date] = {}
    leaves_down: Mapping[str, date] = {}

    @classmethod
    def of(cls, changes: Changes) -> Self:
        """The row of some changed facts."""
        broken = [
            BrokenRow(shelter=shelter, heater=heater, since=day)
            for (shelter, heater), day in changes.broken.items()
        ]
        return cls.model_validate({**vars(changes), "broken": broken})


class PlanEntry(Strict):
    """A plan that was put in force."""

    kind: Literal["plan"] = "plan"
    number: Annotated[int, Field(ge=1)]  # 1, 2, 3 ... in the order of making
    made: date  # day on which the computer made it
    since: date  # first day it could still decide on
    parent: int | None  # the plan it changed; None: planned afresh
    facts: ChangesRow = Field(alias="changes")  # all changed facts it reckons with
    why: str
    document: dict[str, Any]  # the plan file's content

    @cached_property
    def changes(self) -> Changes:
        """All changed facts it reckons with."""
        broken = {(one.shelter, one.heater): one.since for one in self.facts.broken}
        return Changes(**{**dict(self.facts), "broken": broken})

    def read(self) -> PlanDocument:
        """The plan itself; raises ``InputProblems`` where the history was damaged."""
        return plan_document_of(self.document, f"{HISTORY}, plan {self.number}")


class MarkEntry(Strict):
    """A carry marked as done; ``plan`` was in force."""

    model_config = ConfigDict(populate_by_name=True)
    kind: Literal["mark"] = "mark"
    number: Annotated[int, Field(ge=1)]
    plan: int
    day: date
    tree_id: Annotated[str, Field(alias="tree")]
    target: Annotated[str, Field(alias="to")]
    carry_key: Annotated[str | None, Field(alias="carry")] = None
    assumed: bool = False
    note: str = ""

    @classmethod
    def of(cls, number: int, plan: int, mark: Mark) -> Self:
        """The entry of a mark."""
        return cls.model_validate({"number": number, "plan": plan, **asdict(mark)})

    @property
    def mark(self) -> Mark:
        """The carry that was done."""
        return Mark(**self.model_dump(exclude={"kind", "number", "plan"}))


class LeavesEntry(Strict):
    """Leaves of a tree are down since a day; None: they are not, after all."""

    kind: Literal["leaves"] = "leaves"
    tree: str
    day: date | None


class UndoEntry(Strict):
    """The mark of this number is taken back."""

    kind: Literal["undo"] = "undo"
    mark: int


class BackEntry(Strict):
    """This plan is in force again."""

    kind: Literal["back"] = "back"
    plan: int


Entry = PlanEntry | MarkEntry | LeavesEntry | UndoEntry | BackEntry


class _File(Strict):
    format: Literal["overwinter history"]
    format_version: Annotated[int, Field(ge=1)]
    entries: Annotated[
        tuple[Annotated[Entry, Field(discriminator="kind")], ...], Field(min_length=1)
    ]


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
        last = [e for e in self.entries if isinstance(e, PlanEntry | BackEntry)][-1]
        return last if isinstance(last, PlanEntry) else self.plans[last.plan]

    @cached_property
    def marks(self) -> tuple[MarkEntry, ...]:
        """Marks that were not taken back, by day, then in the order of marking."""
        undone = {e.mark for e in self.entries if isinstance(e, UndoEntry)}
        kept = [e for e in self.entries if isinstance(e, MarkEntry) and e.number not in undone]
        return tuple(sorted(kept, key=lambda entry: (entry.mark.day, entry.number)))

    def until(self, number: int) -> "History":
        """As it was when this plan was put in force."""
        return History(self.entries[: self.entries.index(self.plans[number]) + 1])

    @property
    def leaves_down(self) -> Mapping[str, date]:
        """By tree, the day on which its leaves were seen to be down; the last word counts."""
        said = {e.tree: e.day for e in self.entries if isinstance(e, LeavesEntry)}
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
    """The history of a winter's folder; None where there is none yet. Raises ``InputProblems``: The
    file is damaged, or of a format this version does not know."""
    path = folder / HISTORY
    if not path.exists():
        return None
    again = "Run `overwinter plan` with --restart; it keeps this file under another name."
    content = read_json(path, "a whole history file", "Put back a copy of it.")
    entries = checked_document(_File, content, path.name, "history", again).entries
    _check_numbers(entries, path.name)
    return History(entries)


def add_entries(folder: Path, make: Callable[[History], Sequence[Entry]]) -> History:
    """Add entries, made from what the file holds at this moment; then they are on disk. Raises
    ``UserError``: There is no history, or it can't be written. ``InputProblems``: It is damaged."""
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
        write(folder / HISTORY, history_text(after.entries), overwrite=True)
        return after


def begin_history(folder: Path, first: PlanEntry, put_aside: bool = False) -> Path | None:
    """Write a history of one plan; ``put_aside`` an older one, under the name that is returned."""
    with locked(folder):
        path = folder / HISTORY
        kept = None
        if path.exists():
            if not put_aside:
                raise UserError(f"There is a {HISTORY} in {folder} already.")
            check_writable(path, overwrite=True)
            names = (folder / f"history-{number}.json" for number in count(1))
            kept = next(name for name in names if not name.exists())
            # Copied first: at no moment is the only copy under neither name.
            write(kept, path.read_bytes())
        write(path, history_text([first]), overwrite=True)
        return kept


def history_text(entries: Iterable[Entry]) -> str:
    """The text of history.json: one line an entry."""
    dumped = (entry.model_dump(mode="json", by_alias=True) for entry in entries)
    lines = (json.dumps(one, ensure_ascii=False, allow_nan=False) for one in dumped)
    head = json.dumps({"format": FORMAT, "format_version": FORMAT_VERSION})
    return f'{head[:-1]}, "entries": [\n' + ",\n".join(lines) + "\n]}\n"


def _check_numbers(rows: tuple[Entry, ...], file: str) -> None:
    """Whatever a row points to stands before it."""
    findings = Findings()
    plans: set[int] = set()
    marks: set[int] = set()
    for place, row in enumerate(rows, 1):
        found, expected = _fault(row, plans, marks)
        if place == 1 and not isinstance(row, PlanEntry):
            found, expected = row.kind, "'plan': a history begins with one"
        if expected:
            findings.at(file, f"entries.{place}", row.kind).problem(f"'{found}'", expected)
        if isinstance(row, PlanEntry):
            plans.add(row.number)
        elif isinstance(row, MarkEntry):
            marks.add(row.number)
    findings.raise_if_any()


def _fault(row: Entry, plans: set[int], marks: set[int]) -> tuple[object, str]:
    """What was found and what is expected; empty where a row follows from those before."""
    match row:
        case PlanEntry() if row.number in plans or row.parent not in {None, *plans}:
            return row.number, "a new number, and a parent that came before"
        case MarkEntry() if row.number in marks or row.plan not in plans:
            return row.number, "a new number, and a plan that came before"
        case UndoEntry() if row.mark not in marks:
            return row.mark, "a mark that came before"
        case BackEntry() if row.plan not in plans:
            return row.plan, "a plan that came before"
    return None, ""


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the folder's lock; waits for whoever holds it."""
    windows = sys.platform == "win32"  # where a folder itself can't be locked
    try:
        name, mode = (folder / LOCK, os.O_RDWR | os.O_CREAT) if windows else (folder, os.O_RDONLY)
        handle = os.open(name, mode, 0o666)
    except OSError as error:
        raise UserError(f"{folder}: cannot write there ({error.strerror}).") from error
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_LOCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)  # frees it
