"""``overwinter mark``: write down what has really been carried."""

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from overwinter.api.changed_facts import Names
from overwinter.api.folder import Winter, open_winter
from overwinter.cli.guard import Folder, Json, print_json
from overwinter.files.history import Entry, History, LeavesEntry, MarkEntry, UndoEntry, add_entries
from overwinter.files.ticks import read_ticks
from overwinter.model.changes import Mark
from overwinter.model.plan import Carry, carry_key
from overwinter.model.season import Season
from overwinter.model.species import LeafHabit
from overwinter.problems import UserError
from overwinter.render.words import count, long_date, place_name
from overwinter.replan.past import Fault, due_on, mark_tree, marks_by_carry, open_carries

AN_OPTION = "Name trees, or say --all --day DATE, or --ticks FILE."


def command(
    folder: Folder,
    trees: Annotated[
        list[str] | None,
        typer.Argument(metavar="[TREE]...", help="Trees that were carried; each its next carry."),
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="All trees of the last carry day up to --day.")
    ] = False,
    day: Annotated[
        str | None, typer.Option(metavar="DATE", help="When; else on the day of the plan.")
    ] = None,
    ticks: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A ticked list: the phone's .json, a .csv or .xlsx."),
    ] = None,
    to: Annotated[
        str | None, typer.Option(metavar="PLACE", help="Where it was really put.")
    ] = None,
    leaves_down: Annotated[
        bool, typer.Option("--leaves-down", help="Leaves of the trees are down since --day DATE.")
    ] = False,
    undo: Annotated[
        bool, typer.Option(help="Take back the last mark of each tree, or with --all of --day.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Mark carries that were really done; the next plan starts from them."""
    winter = open_winter(folder)
    names = Names(winter.season)
    if leaves_down:
        if everything or to is not None or ticks is not None:
            raise UserError("--leaves-down takes tree names and --day DATE, or --undo.")
        print("\n".join(_leaves_down(winter, names, trees or [], day, undo)))
        return
    asked = _asked(names, trees or [], everything, day, ticks, to, undo)
    done = Done()

    def make(history: History) -> list[Entry]:
        nonlocal done
        done = Done()
        return _entries(winter, history, names, asked, done)

    history = add_entries(folder, make)
    if as_json:
        print_json(done.as_json(history))
    else:
        print("\n".join(done.lines(winter.season, history)))


@dataclass(frozen=True)
class Asked:
    """What is to be marked, names looked up."""

    trees: tuple[str, ...]
    everything: bool
    day: date | None
    ticks: Path | None
    to: str | None
    undo: bool


@dataclass
class Done:
    """What was written down."""

    marked: list[Mark] = field(default_factory=list)
    undone: list[Mark] = field(default_factory=list)
    already: int = 0
    waiting: list[Carry] = field(default_factory=list)
    """Due before what ``--all`` marked, and still not marked."""
    warnings: list[str] = field(default_factory=list)

    def as_json(self, history: History) -> dict[str, object]:
        """For a script."""

        def row(mark: Mark) -> dict[str, object]:
            return {
                "day": mark.day.isoformat(),
                "tree": mark.tree_id,
                "to": mark.target,
                "carry": mark.carry_key,
            }

        return {
            "plan": history.in_force.number,
            "marked": [row(mark) for mark in self.marked],
            "undone": [row(mark) for mark in self.undone],
            "already_marked": self.already,
            "due_earlier": [
                {"day": carry.day.isoformat(), "tree": carry.tree_id, "to": carry.target}
                for carry in self.waiting
            ],
            "marks_in_all": len(history.marks),
            "warnings": self.warnings,
        }

    def lines(self, season: Season, history: History) -> list[str]:
        """For a grower."""

        def row(mark: Mark) -> str:
            return (
                f"  {long_date(mark.day)}  {mark.tree_id}: now at {place_name(season, mark.target)}"
            )

        lines = [f"Note: {warning}" for warning in self.warnings]
        if self.undone:
            lines.append(f"Taken back: {count(len(self.undone), 'carry', 'carries')}.")
            lines += map(row, self.undone)
        if self.marked or not self.undone:
            lines.append(f"Marked: {count(len(self.marked), 'carry', 'carries')}.")
            lines += map(row, self.marked)
        if self.already:
            lines.append(f"{self.already} marked already.")
        if self.waiting:
            days = ", ".join(dict.fromkeys(long_date(carry.day) for carry in self.waiting))
            waiting = count(len(self.waiting), "earlier carry", "earlier carries")
            lines.append(f"Not marked yet: {waiting}, due {days}.")
        lines.append(f"{count(len(history.marks), 'mark')} in all, plan {history.in_force.number}.")
        return lines


def _asked(
    names: Names,
    trees: list[str],
    everything: bool,
    day: str | None,
    ticks: Path | None,
    to: str | None,
    undo: bool,
) -> Asked:
    if (bool(trees) + everything + (ticks is not None)) != 1:
        raise UserError(f"What was carried? {AN_OPTION}")
    if everything and day is None:
        raise UserError("--all needs --day DATE: the day on which they were carried.")
    if to is not None and (not trees or undo):
        raise UserError("--to PLACE goes with named trees that are marked.")
    if ticks is not None and undo:
        raise UserError("--undo takes tree names, or --all --day DATE.")
    ids = [tree for written in trees for tree in names.trees("TREE", written)]
    asked = Asked(
        trees=tuple(dict.fromkeys(ids)),
        everything=everything,
        day=None if day is None else names.day("--day", day),
        ticks=ticks,
        to=None if to is None else names.place("--to", to),
        undo=undo,
    )
    names.raise_if_any()
    return asked


def _entries(
    winter: Winter, history: History, names: Names, asked: Asked, done: Done
) -> list[Entry]:
    if asked.undo:
        return _undo(history, names, asked, done)
    if asked.ticks is not None:
        return _from_ticks(winter, history, asked.ticks, done)
    return _from_names(winter, history, names, asked, done)


def _leaves_down(
    winter: Winter, names: Names, trees: list[str], day: str | None, undo: bool
) -> list[str]:
    """Write down that leaves are down, or, undone, that they are not; in words."""
    if not trees or (day is None) != undo:
        raise UserError("Say which trees are bare, and since which --day DATE; or --undo.")
    ids = dict.fromkeys(tree for written in trees for tree in names.trees("TREE", written))
    since = None if day is None else names.day("--day", day)
    site = winter.season.site
    if since is not None and not site.starts <= since <= site.ends:
        expected = f"a day of this winter, {site.starts} to {site.ends}"
        names.problem("--day", str(since), expected, "")
    for tree_id in ids:
        if winter.season.tree_by_id[tree_id].limits.leaf is LeafHabit.EVERGREEN:
            names.problem("TREE", tree_id, "a tree that drops its leaves", "It is evergreen.")
    names.raise_if_any()
    add_entries(winter.folder, lambda _: [LeavesEntry(tree=tree_id, day=since) for tree_id in ids])
    state = "not down, after all" if since is None else f"down since {long_date(since)}"
    fresh = "The next `overwinter replan` uses it."
    return [f"Leaves of {count(len(ids), 'tree')} {state}.", *(f"  {one}" for one in ids), fresh]


def _undo(history: History, names: Names, asked: Asked, done: Done) -> list[Entry]:
    that_day = [one for one in history.marks if asked.day in (None, one.mark.day)]
    if asked.everything:
        taken = that_day
        if not taken:
            names.problem("--day", str(asked.day), "a day on which something is marked", "")
    else:
        taken = []
        for tree_id in asked.trees:
            mine = [one for one in that_day if one.mark.tree_id == tree_id]
            if mine:
                taken.append(mine[-1])
            else:
                names.problem("TREE", tree_id, "a tree with a mark", "Nothing is marked for it.")
    names.raise_if_any()
    done.undone = [one.mark for one in taken]
    return [UndoEntry(mark=one.number) for one in taken]


def _from_names(
    winter: Winter, history: History, names: Names, asked: Asked, done: Done
) -> list[Entry]:
    plan = history.in_force.read().plan
    marks = [one.mark for one in history.marks]
    found: list[Mark | Fault]
    if asked.everything and asked.day is not None:
        due = due_on(winter.season, plan, marks, asked.day)
        if not due:
            names.problem("--day", str(asked.day), "a day by which open carries are due", "")
        found = [Mark(asked.day, c.tree_id, c.target, carry_key(c)) for c in due]
        first_due = min((c.day for c in due), default=asked.day)
        done.waiting = [c for c in open_carries(winter.season, plan, marks) if c.day < first_due]
    else:
        found = [
            mark_tree(winter.season, plan, marks, tree_id, asked.day, asked.to)
            for tree_id in asked.trees
        ]
    for one in found:
        if isinstance(one, Fault):
            names.problem(one.tree_id, one.found, one.expected, one.fix)
        else:
            done.marked.append(one)
    names.raise_if_any()
    first, number = history.next_mark, history.in_force.number
    return [MarkEntry.of(first + n, number, mark) for n, mark in enumerate(done.marked)]


def _from_ticks(winter: Winter, history: History, file: Path, done: Done) -> list[Entry]:
    """New ticks become marks; a tick that says otherwise than a mark before replaces it."""
    ticked = read_ticks(file, history.in_force.read().plan, winter.season)
    done.warnings = list(ticked.warnings)
    known = {one.mark.carry_key: one for one in history.marks if one.mark.carry_key}
    settled = marks_by_carry(winter.season, [one.mark for one in history.marks])
    entries: list[Entry] = []
    number, plan = history.next_mark, history.in_force.number
    for tick in ticked.ticks:
        if not tick.done or tick.done_on is None:
            continue
        key = carry_key(tick.carry)
        target = tick.elsewhere or tick.carry.target
        mark = Mark(tick.done_on, tick.carry.tree_id, target, key, note=tick.note)
        before = known.get(key)
        if before is None and key in settled:
            done.already += 1
            continue
        if before is not None:
            if (before.mark.day, before.mark.target) == (mark.day, mark.target):
                done.already += 1
                continue
            entries.append(UndoEntry(mark=before.number))
            done.undone.append(before.mark)
        entries.append(MarkEntry.of(number, plan, mark))
        done.marked.append(mark)
        number += 1
    return entries
