"""history.json: nothing marked is lost, whatever happens to the program."""

import json
import random
import signal
import subprocess
import sys
import threading
import time
from datetime import date
from pathlib import Path

import pytest
from folders import GOOD
from plans import small_plan

from overwinter.files.history import (
    HISTORY,
    BackEntry,
    ChangesRow,
    Entry,
    History,
    MarkEntry,
    PlanEntry,
    UndoEntry,
    add_entries,
    begin_history,
    read_history,
)
from overwinter.files.plan_file import plan_text
from overwinter.files.season import read_season
from overwinter.model.changes import Changes, Mark
from overwinter.problems import InputProblems, UserError

DAY = date(2026, 11, 20)
CHANGES = Changes(
    opens={"shed": date(2026, 11, 28)},
    closes={"cellar": date(2027, 1, 5)},
    broken={("shed", "fan, 2 kW"): date(2026, 12, 1)},
    gone={"Pine 1/2": date(2026, 11, 3)},
)


def plan_entry(number: int, parent: int | None = None, changes: Changes | None = None) -> PlanEntry:
    """The small plan as an entry."""
    document = json.loads(plan_text(read_season(GOOD), small_plan()))
    return PlanEntry(
        number=number,
        made=DAY,
        since=DAY,
        parent=parent,
        changes=ChangesRow.of(changes or Changes()),
        why="a reason",
        document=document,
    )


def mark(number: int, tree: str = "Fig", day: date = DAY) -> MarkEntry:
    """A mark made while plan 1 was in force."""
    return MarkEntry.of(number, 1, Mark(day, tree, "shed/bench", "c0123", note="heavy, ü"))


def begun(folder: Path) -> Path:
    """A folder whose history has one plan."""
    begin_history(folder, plan_entry(1))
    return folder


def in_file(folder: Path) -> History:
    """The history of a folder that must have one."""
    history = read_history(folder)
    assert history is not None
    return history


def test_everything_written_reads_back(tmp_path: Path) -> None:
    # Equal objects after a round trip: nothing is rounded, dropped or reordered.
    entries: list[Entry] = [
        mark(1),
        plan_entry(2, 1, CHANGES),
        mark(2, "Elm"),
        UndoEntry(mark=1),
        BackEntry(plan=1),
    ]
    add_entries(begun(tmp_path), lambda _: entries)
    assert in_file(tmp_path).entries == (plan_entry(1), *entries)
    assert in_file(tmp_path).plans[2].read().plan == small_plan()


def test_no_history(tmp_path: Path) -> None:
    # A winter that was never planned has none; nothing can be added to it.
    assert read_history(tmp_path) is None
    with pytest.raises(UserError, match=f"There is no {HISTORY}"):
        add_entries(tmp_path, lambda _: [mark(1)])
    assert list(tmp_path.iterdir()) == []


def test_in_force_and_marks(tmp_path: Path) -> None:
    # The last plan made or gone back to is in force; a mark taken back no longer counts.
    folder = begun(tmp_path)
    assert in_file(folder).in_force.number == 1
    add_entries(folder, lambda _: [mark(1), mark(2, "Elm", date(2026, 11, 5)), plan_entry(2, 1)])
    assert in_file(folder).in_force.number == 2
    assert [one.number for one in in_file(folder).marks] == [2, 1]  # by day
    add_entries(folder, lambda _: [UndoEntry(mark=2), BackEntry(plan=1)])
    assert in_file(folder).in_force.number == 1
    assert [one.number for one in in_file(folder).marks] == [1]
    assert (in_file(folder).next_plan, in_file(folder).next_mark) == (3, 3)


def test_a_second_history_puts_the_first_aside(tmp_path: Path) -> None:
    # Nothing is deleted: the old file is there word for word under another name.
    folder = begun(tmp_path)
    with pytest.raises(UserError, match="already"):
        begin_history(folder, plan_entry(1))
    old = (folder / HISTORY).read_bytes()
    assert begin_history(folder, plan_entry(1, changes=CHANGES), put_aside=True) == (
        folder / "history-1.json"
    )
    assert (folder / "history-1.json").read_bytes() == old
    assert begin_history(folder, plan_entry(1), put_aside=True) == folder / "history-2.json"
    assert in_file(folder).entries == (plan_entry(1),)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('"format": "overwinter history"', '"format": "another"', "another kind of file"),
        ('"format_version": 2, "entries"', '"format_version": 9, "entries"', "newer overwinter"),
        ('"kind": "undo"', '"kind": "undone"', "entries"),
        ('"day": "2026-11-20"', '"day": "2026-13-20"', "day"),
        ('"mark": 1', '"mark": 4', "a mark that came before"),
        ('"plan": 1, "day"', '"plan": 5, "day"', "a plan that came before"),
        ("]}", "]", "not JSON"),
    ],
)
def test_a_damaged_history_is_told_and_left_alone(
    tmp_path: Path, old: str, new: str, says: str
) -> None:
    # A file edited by hand is refused with the place, not mended and not overwritten.
    folder = begun(tmp_path)
    add_entries(folder, lambda _: [mark(1), UndoEntry(mark=1)])
    path = folder / HISTORY
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(new.join(text.rsplit(old, 1)), encoding="utf-8")
    damaged = path.read_bytes()
    with pytest.raises(InputProblems, match=says):
        read_history(folder)
    with pytest.raises(InputProblems):
        add_entries(folder, lambda _: [mark(2)])
    assert path.read_bytes() == damaged


def test_two_writers_lose_nothing(tmp_path: Path) -> None:
    # Eight threads mark at once, each through its own lock: every mark is there, each number once.
    folder = begun(tmp_path)

    def work(who: int) -> None:
        for turn in range(5):
            add_entries(folder, lambda h, t=turn: [mark(h.next_mark, f"tree {who} {t}")])

    threads = [threading.Thread(target=work, args=(who,)) for who in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    marks = in_file(folder).marks
    assert {one.mark.tree_id for one in marks} == {
        f"tree {w} {t}" for w in range(8) for t in range(5)
    }
    assert sorted(one.number for one in marks) == list(range(1, 41))


CHILD = """
import sys
from datetime import date
from pathlib import Path
from overwinter.model.changes import Mark
from overwinter.files.history import MarkEntry, add_entries

folder = Path(sys.argv[1])
for turn in range(100000):
    def make(history):
        number = history.next_mark
        return [MarkEntry.of(number, 1, Mark(date(2026, 11, 20), f"tree {number}", "shed/bench"))]
    history = add_entries(folder, make)
    print(history.next_mark - 1, flush=True)
"""


def test_killing_the_program_loses_nothing_that_was_marked(tmp_path: Path) -> None:
    # Killed at arbitrary moments of writing (SIGKILL, no clean-up): the file is whole, and every
    # mark that the program had reported as done is in it.
    folder = begun(tmp_path)
    chance = random.Random(20261120)
    told = 0
    for _ in range(8):
        child = subprocess.Popen(
            [sys.executable, "-c", CHILD, str(folder)], stdout=subprocess.PIPE, text=True
        )
        assert child.stdout is not None
        first = child.stdout.readline()
        assert first, "the child died by itself"
        time.sleep(chance.uniform(0.0, 0.05))
        child.send_signal(signal.SIGKILL)
        rest = child.stdout.read().split("\n")
        child.wait()
        reported = [int(line) for line in (first, *rest[:-1]) if line.strip()]
        told = max([told, *reported])
        numbers = [one.number for one in in_file(folder).marks]
        assert numbers[:told] == list(range(1, told + 1))
        assert len(numbers) <= told + 1  # one more may have been written and not yet told
        told = len(numbers)
    assert told > 8
