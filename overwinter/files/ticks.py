"""Reads a carry list that was ticked: a phone's export, or the CSV or XLSX list filled in.

A carry is known by its key, the same in every plan that has this carry on this day, so a list made
before a re-plan still counts for what both plans share. What is not in the plan given is reported.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from overwinter.files.csv_text import csv_table, read_json, read_text
from overwinter.files.findings import Findings, did_you_mean
from overwinter.files.tables import Table, normal_heading, table_of
from overwinter.files.workbook import read_sheets
from overwinter.model.plan import Carry, Plan, carry_key, plan_fingerprint
from overwinter.model.season import Season

FORMAT, VERSION = "overwinter ticks", 1

YES = frozenset({"x", "xx", "y", "yes", "true", "1", "done", "ok", "✓", "✔", "☑", "☒", "√"})
NO = frozenset({"", "n", "no", "not", "false", "0", "-", "–", "☐"})

HALFWAY = "w"
"""Last letter of the key of a line that only sets a tree down."""

_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")


@dataclass(frozen=True, slots=True)
class Tick:
    """What a list says about one carry of the plan."""

    carry: Carry
    done: bool
    done_on: date | None = None
    """When; the day of the carry where the list does not say. None: not done."""
    elsewhere: str | None = None
    """Id of the place it was really put; None: as planned."""
    note: str = ""


@dataclass(frozen=True)
class Ticks:
    """A ticked list."""

    file: str
    plan: str | None
    """Fingerprint of the plan the list was made from; None where the list does not say."""
    ticks: tuple[Tick, ...]
    """Marked carries only, by day, in the order of the plan."""
    warnings: tuple[str, ...] = ()

    @property
    def done(self) -> tuple[Carry, ...]:
        """Carries really done, each with the day and the place where it really ended."""
        return tuple(
            Carry(
                tick.carry.stage,
                tick.done_on or tick.carry.day,
                tick.carry.tree_id,
                tick.carry.source,
                tick.elsewhere or tick.carry.target,
            )
            for tick in self.ticks
            if tick.done
        )


def read_ticks(path: Path, plan: Plan, season: Season | None = None) -> Ticks:
    """Read a ticked list against the plan it belongs to.

    Parameters
    ----------
    path : ``.json`` (phone page), ``.csv`` or ``.xlsx`` (list with the column ``done`` filled in).
    plan : The plan in force.
    season : With it, places may be written by name, and dates outside the winter are found.

    Raises ``InputProblems``: With every problem of the file.
    """
    findings = Findings()
    reader = _Reader(path.name, plan, season, findings)
    made_for: str | None = None
    if path.suffix.lower() == ".json":
        made_for = reader.read_json(path)
    elif path.suffix.lower() in (".xlsx", ".xlsm"):
        reader.read_workbook(path)
    else:
        text = read_text(path, findings)
        table = csv_table(text, path.name, findings) if text is not None else None
        if table is not None:
            reader.read_table(table)
    reader.check_order()
    findings.raise_if_any()
    return Ticks(path.name, made_for, reader.sorted_ticks(), tuple(findings.warnings))


class _Reader:
    """Gathers the ticks of one file."""

    def __init__(self, file: str, plan: Plan, season: Season | None, findings: Findings) -> None:
        self.file = file
        self.where = file
        """File as a problem names it; with the sheet, in a workbook."""
        self.plan = plan
        self.season = season
        self.findings = findings
        self.carries = {carry_key(carry): carry for carry in plan.carries}
        self.places = _places(plan, season)
        self.found: dict[str, tuple[int | str, Tick]] = {}

    def sorted_ticks(self) -> tuple[Tick, ...]:
        order = {carry: number for number, carry in enumerate(self.plan.carries)}
        ticks = [tick for _, tick in self.found.values()]
        return tuple(sorted(ticks, key=lambda tick: (tick.carry.day, order[tick.carry])))

    def read_json(self, path: Path) -> str | None:
        given = read_json(path, self.findings, "the phone page's .json file", "Export it again.")
        if self.findings.problems:
            return None
        if not isinstance(given, dict) or given.get("format") != FORMAT:
            self._bad(None, "format", "another kind of JSON", f'"format": "{FORMAT}"')
            return None
        if given.get("version") != VERSION:
            self._bad(None, "version", repr(given.get("version")), str(VERSION))
            return None
        made_for = given.get("plan")
        if made_for != plan_fingerprint(self.plan):
            self.findings.warn(
                f"{self.file} was made from another plan ({made_for}); what both plans have in "
                "common was taken."
            )
        ticks = given.get("ticks")
        if not isinstance(ticks, list):
            self._bad(None, "ticks", "no list", "a list of marked carries")
            return None
        for number, row in enumerate(ticks, 1):
            if isinstance(row, dict):
                self.take(f"ticks.{number}", {str(name): cell for name, cell in row.items()})
            else:
                self._bad(f"ticks.{number}", None, repr(row), "an object with a key")
        return str(made_for) if made_for else None

    def read_workbook(self, path: Path) -> None:
        before = len(self.findings.problems)
        sheets = 0
        for title, grid in read_sheets(path, self.findings).items():
            head = grid.iloc[0].tolist() if len(grid) else []
            if not {"key", "done"} <= {normal_heading(str(cell or "")) for cell in head}:
                continue
            sheets += 1
            table = table_of(f"{self.file} [{title}]", grid, self.findings)
            if table is not None:
                self.read_table(table)
        if not sheets and len(self.findings.problems) == before:
            self._bad(1, "key", "no sheet with the columns key and done", "a carry list's sheet")

    def read_table(self, table: Table) -> None:
        for name in ("key", "done"):
            if name not in table.headings:
                self.findings.at(table.file, table.heading_row, name).problem(
                    "no such column",
                    f"the column '{name}' of the carry list",
                    "Use the list as it was written.",
                )
                return
        for number, cells in table.rows:
            self.take(number, cells, table.file)

    def take(self, row: int | str, cells: Mapping[str, Any], file: str | None = None) -> None:
        """Read one row; a row that marks nothing, or a line that only sets down, is passed over."""
        self.where = file or self.file
        key = str(cells.get("key") or "").strip()
        before = len(self.findings.problems)
        done, on_by_tick = self._done(row, cells.get("done"))
        done_on = self._date(row, cells.get("done_on")) or on_by_tick
        elsewhere = self._elsewhere(row, cells.get("stands_elsewhere", cells.get("elsewhere")))
        note = str(cells.get("your_note", cells.get("note")) or "").strip().removeprefix("'")
        if not (done or done_on or elsewhere or note) or key.endswith(HALFWAY):
            return
        if len(self.findings.problems) > before or not self._known(row, key, cells):
            return
        carry = self.carries[key]
        if done_on is not None and not done:
            self._bad(row, "done", "a day but no tick", "x where it was done", "Tick it too.")
            return
        tick = Tick(carry, done, done_on or (carry.day if done else None), elsewhere, note)
        self._add(row, key, tick)

    def _add(self, row: int | str, key: str, tick: Tick) -> None:
        if key in self.found and self.found[key][1] != tick:
            first = self.found[key][0]
            self._bad(row, "key", f"{key} a second time, not as in row {first}", "each carry once")
        self.found.setdefault(key, (row, tick))

    def _known(self, row: int | str, key: str, cells: Mapping[str, Any]) -> bool:
        if key in self.carries:
            return True
        tree, day = cells.get("tree", ""), cells.get("usual_day", cells.get("day", ""))
        about = f" ({tree}, {str(day)[:10]})" if tree else ""
        self._bad(
            row,
            "key",
            f"{key or 'nothing'}{about}, which is no carry of the plan in force",
            "a key of this plan's carry lists",
            "Is it a list of an earlier plan? Mark this tree by hand, or leave the row out.",
        )
        return False

    def _done(self, row: int | str, cell: Any) -> tuple[bool, date | None]:
        """Whether it is ticked, and the day where a day was written instead of a tick."""
        if isinstance(cell, bool) or cell is None:
            return bool(cell), None
        if isinstance(cell, (datetime, date)):
            return True, self._date(row, cell)
        word = str(cell).strip().removeprefix("'").casefold()
        if isinstance(cell, float) and cell.is_integer():
            word = str(int(cell))
        if word in NO:
            return False, None
        if word in YES:
            return True, None
        if _ISO_DATE.fullmatch(word):
            return True, self._date(row, word)
        self._bad(row, "done", f"'{cell}'", "x or a day where it was done, else nothing")
        return False, None

    def _date(self, row: int | str, cell: Any) -> date | None:
        if cell is None or cell == "":
            return None
        if isinstance(cell, datetime):
            day: date | None = cell.date()
        elif isinstance(cell, date):
            day = cell
        else:
            day = _iso(str(cell).strip())
        if day is None:
            self._bad(row, "done on", f"'{cell}'", "a day as 2025-11-30")
        elif self.season and not self.season.site.starts <= day <= self.season.site.ends:
            site = self.season.site
            self._bad(row, "done on", day.isoformat(), f"{site.starts} to {site.ends}")
            return None
        return day

    def _elsewhere(self, row: int | str, cell: Any) -> str | None:
        written = str(cell or "").strip().removeprefix("'")
        if not written:
            return None
        found = self.places.get(written.casefold())
        if found is None:
            close = did_you_mean(written, list(self.places))
            self._bad(row, "stands elsewhere", f"'{written}'", "a place of this winter", close)
        return found

    def check_order(self) -> None:
        """Warn where a later carry of a tree is ticked and an earlier one is not.

        Only a warning: the earlier one may have been marked before, from another list.
        """
        done = {tick.carry for _, tick in self.found.values() if tick.done}
        first_open: dict[str, date] = {}
        for carry in self.plan.carries:
            if carry not in done and carry.stage >= self.plan.fixed_stages:
                day = first_open.get(carry.tree_id, carry.day)
                first_open[carry.tree_id] = min(day, carry.day)
        for carry in sorted(done, key=lambda carry: (carry.day, carry.tree_id)):
            skipped = first_open.get(carry.tree_id)
            if skipped is not None and skipped < carry.day:
                self.findings.warn(
                    f"{self.file}: {carry.tree_id} is ticked on {carry.day} but not on {skipped}; "
                    "mark that one too if it was done."
                )

    def _bad(
        self, row: int | str | None, column: str | None, found: str, expected: str, fix: str = ""
    ) -> None:
        self.findings.at(self.where, row, column).problem(found, expected, fix)


def _places(plan: Plan, season: Season | None) -> Mapping[str, str]:
    """Ids of places by what may be written for them, in lower case."""
    if season is None:
        used = {place for stays in plan.stays.values() for place in stays if place is not None}
        return {place.casefold(): place for place in sorted(used)}
    known = {place_id.casefold(): place_id for place_id in season.places}
    for place_id, place in season.places.items():
        shelter = season.shelter_by_id[place.shelter_id].name
        known.setdefault(f"{shelter}, {place.name}".casefold(), place_id)
    return known


def _iso(word: str) -> date | None:
    try:
        return date.fromisoformat(word[:10]) if _ISO_DATE.match(word) else None
    except ValueError:
        return None
