"""``overwinter mark``: write down what has really been carried."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from overwinter.api.changed_facts import Names
from overwinter.api.folder import Winter, open_winter
from overwinter.cli.guard import Folder, Json, tell
from overwinter.files.history import Entry, History, LeavesEntry, MarkEntry, UndoEntry, add_entries
from overwinter.files.ticks import read_ticks
from overwinter.model.changes import Mark
from overwinter.model.plan import Carry, Cure, carry_key
from overwinter.model.season import Season
from overwinter.model.species import LeafHabit
from overwinter.problems import Problem, UserError
from overwinter.render.words import amount_words, count, long_date
from overwinter.replan.past import due_on, mark_tree, marks_by_carry, open_carries
from overwinter.rules import misfits
from overwinter.rules.places import LOAD

AN_OPTION = "Name trees, or say --all --day DATE, or --ticks FILE."
TOO_SMALL = "It stays marked there; correct the sizes if they are wrong."
TOO_WEAK = (
    "Caution: an overloaded shelf falls. It stays marked there, and `overwinter replan` moves it; "
    "correct the weights if they are wrong."
)


def command(
    folder: Folder,
    trees: Annotated[
        list[str] | None,
        typer.Argument(metavar="[TREE]...", help="Trees that were carried; each its next carry."),
    ] = None,
    everything: Annotated[
        bool,
        typer.Option(
            "--all", help="All trees of the last carry day up to --day; with --leaves-down, all."
        ),
    ] = False,
    day: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="When; else on the plan's day, at the latest today."),
    ] = None,
    ticks: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A ticked list: the phone's .json, a .csv or .xlsx."),
    ] = None,
    to: Annotated[str | None, typer.Option(metavar="PLACE", help="Where it really went.")] = None,
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
        if bool(trees) == everything or to is not None or ticks is not None:
            raise UserError("--leaves-down takes tree names or --all, and --day DATE or --undo.")
        bare, text = _leaves_down(winter, names, trees or [], day, undo)
        tell(as_json, lambda: {"day": day, "tree_ids": bare}, lambda: text)
        return
    _refuse(bool(trees), everything, day is not None, ticks is not None, to is not None, undo)
    ids = dict.fromkeys(tree for written in trees or [] for tree in names.trees("TREE", written))
    on = None if day is None else names.day("--day", day)
    target = None if to is None else names.place("--to", to)
    names.raise_if_any()
    done = Done()

    def make(history: History) -> list[Entry]:
        nonlocal done
        done = Done()
        if undo:
            return _undo(history, names, list(ids), on, done)
        if ticks is not None:
            return _from_ticks(winter, history, ticks, done)
        found = _due(winter, history, names, on, done) if everything and on else []
        plan, marks = history.in_force.read().plan, [one.mark for one in history.marks]
        found += [
            mark_tree(winter.season, plan, marks, one, on, target, date.today()) for one in ids
        ]
        return _marked(history, names, found, done)

    history = add_entries(folder, make)
    done.warnings += _doubts(winter.season, done.marked)
    total, number = len(history.marks), history.in_force.number
    values = {"plan": number, **vars(done), "marks_in_all": total}
    lines = [*done.lines(winter.season), f"{count(total, 'mark')} in all, plan {number}."]
    tell(as_json, lambda: values, partial("\n".join, lines))


def _refuse(named: bool, everything: bool, day: bool, ticks: bool, to: bool, undo: bool) -> None:
    """Refuse what does not go together; each says whether it is given."""
    if named + everything + ticks != 1:
        raise UserError(f"What was carried? {AN_OPTION}")
    if everything and not day:
        raise UserError("--all needs --day DATE: the day on which they were carried.")
    if to and (not named or undo):
        raise UserError("--to PLACE goes with named trees that are marked.")
    if ticks and undo:
        raise UserError("--undo takes tree names, or --all --day DATE.")


@dataclass
class Done:
    """What was written down."""

    marked: list[Mark] = field(default_factory=list)
    undone: list[Mark] = field(default_factory=list)
    already_marked: int = 0
    due_earlier: list[Carry] = field(default_factory=list)  # than what `--all` marked
    warnings: list[str] = field(default_factory=list)

    def lines(self, season: Season) -> list[str]:
        """For a grower."""

        def told(word: str, marks: list[Mark]) -> list[str]:
            rows = (
                f"  {long_date(one.day)}  {one.tree_id}: now at {season.place_name(one.target)}"
                for one in marks
            )
            return [f"{word}: {count(len(marks), 'carry', 'carries')}.", *rows]

        lines = [f"Note: {warning}" for warning in self.warnings]
        lines += told("Taken back", self.undone) if self.undone else []
        lines += told("Marked", self.marked) if self.marked or not self.undone else []
        lines += [f"{self.already_marked} marked already."] if self.already_marked else []
        if self.due_earlier:
            days = ", ".join(dict.fromkeys(long_date(carry.day) for carry in self.due_earlier))
            earlier = count(len(self.due_earlier), "earlier carry", "earlier carries")
            lines.append(f"Not marked yet: {earlier}, due {days}.")
        return lines


def _leaves_down(
    winter: Winter, names: Names, trees: list[str], day: str | None, undo: bool
) -> tuple[list[str], str]:
    """Write down that leaves of trees (none: of all that drop them) are down, or not; in words."""
    if (day is None) != undo:
        raise UserError("Say since which --day DATE leaves are down; or --undo.")
    since, known = names.day_of_winter("--day", day), winter.season.tree_by_id
    bare = {one for one, tree in known.items() if tree.limits.leaf is not LeafHabit.EVERGREEN}
    ids = dict.fromkeys(tree for written in trees for tree in names.trees("TREE", written))
    ids = ids or dict.fromkeys(one for one in known if one in bare)
    for tree_id in ids:
        if tree_id not in bare:
            names.problem("TREE", tree_id, "a tree that drops its leaves", "It is evergreen.")
    names.raise_if_any()
    add_entries(winter.folder, lambda _: [LeavesEntry(tree=tree_id, day=since) for tree_id in ids])
    state = "not down, after all" if since is None else f"down since {long_date(since)}"
    fresh = "The next `overwinter replan` uses it."
    lines = [f"Leaves of {count(len(ids), 'tree')} {state}.", *(f"  {one}" for one in ids), fresh]
    return list(ids), "\n".join(lines)


def _undo(
    history: History, names: Names, trees: list[str], day: date | None, done: Done
) -> list[Entry]:
    """Marks of a day taken back, all of them or the last of each tree named."""
    taken = [one for one in history.marks if day in (None, one.mark.day)]
    if trees:
        last = {one.mark.tree_id: one for one in taken}
        for tree_id in (one for one in trees if one not in last):
            names.problem("TREE", tree_id, "a tree with a mark", "Nothing is marked for it.")
        taken = [last[tree_id] for tree_id in trees if tree_id in last]
    elif not taken:
        names.problem("--day", str(day), "a day on which something is marked", "")
    names.raise_if_any()
    done.undone = [one.mark for one in taken]
    return [UndoEntry(mark=one.number) for one in taken]


def _due(
    winter: Winter, history: History, names: Names, day: date, done: Done
) -> list[Mark | Problem]:
    """Marks of all carries that are due by a day; earlier ones are told."""
    plan, marks = history.in_force.read().plan, [one.mark for one in history.marks]
    due = due_on(winter.season, plan, marks, day)
    if not due:
        names.problem("--day", str(day), "a day by which open carries are due", "")
    first_due = min((c.day for c in due), default=day)
    still = open_carries(winter.season, plan, marks)
    done.due_earlier = [c for c in still if c.day < first_due]
    return [Mark(day, c.tree_id, c.target, carry_key(c)) for c in due]


def _doubts(season: Season, marks: list[Mark]) -> Iterator[str]:
    """Days that are still to come, and trees too tall, wide or heavy for where they stand."""
    ahead = sorted({mark.day for mark in marks if mark.day > date.today()})
    if ahead:
        days = ", ".join(map(long_date, ahead))
        yield f"{days} is still to come; if that is a slip, take it back with --undo."
    for mark in marks:
        tree, place = season.tree_by_id[mark.tree_id], season.places[mark.target]
        for rule, by in misfits(season, tree, place):
            if rule.cure is Cure.SIZE:
                amount = amount_words(by, rule.unit, season.site.display)
                yield (
                    f"by your files {tree.name} is {rule.lacks} by {amount} for "
                    f"{season.place_name(place.id)}. {TOO_WEAK if rule is LOAD else TOO_SMALL}"
                )


def _marked(history: History, names: Names, found: list[Mark | Problem], done: Done) -> list[Entry]:
    for one in found:
        if isinstance(one, Problem):
            names.problems.append(one)
        else:
            done.marked.append(one)
    names.raise_if_any()
    first, number = history.next_mark, history.in_force.number
    return [MarkEntry.of(first + n, number, mark) for n, mark in enumerate(done.marked)]


def _from_ticks(winter: Winter, history: History, file: Path, done: Done) -> list[Entry]:
    """New ticks become marks; a tick that says otherwise than a mark before replaces it."""
    ticked, done.warnings = read_ticks(file, history.in_force.read().plan, winter.season)
    if not ticked:
        done.warnings.append(f"{file.name}: nothing is ticked; x in the column done marks a row.")
    known = {one.mark.carry_key: one for one in history.marks if one.mark.carry_key}
    settled = marks_by_carry(winter.season, [one.mark for one in history.marks])
    entries: list[Entry] = []
    number, plan = history.next_mark, history.in_force.number
    for mark in ticked:
        before = known.get(str(mark.carry_key))
        same = before and (before.mark.day, before.mark.target) == (mark.day, mark.target)
        if same or (before is None and mark.carry_key in settled):
            done.already_marked += 1
            continue
        if before is not None:
            entries.append(UndoEntry(mark=before.number))
            done.undone.append(before.mark)
        entries.append(MarkEntry.of(number + len(done.marked), plan, mark))
        done.marked.append(mark)
    return entries
