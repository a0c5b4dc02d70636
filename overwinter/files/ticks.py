"""Reads a carry list that was ticked: a phone's export, or the CSV or XLSX list filled in. A carry
is known by its key, the same in every plan that has this carry on this day, so a list made before a
re-plan still counts for what both plans share. What is not in the plan given is reported."""

from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel, ValidationError

from overwinter.files import schema
from overwinter.files.findings import Findings, Where, did_you_mean
from overwinter.files.measures import day_of
from overwinter.files.pydantic_problems import document_problems
from overwinter.files.sheets import csv_table, read_sheets
from overwinter.files.tables import Table, normal_heading, table_of
from overwinter.files.text_files import read_json, read_text
from overwinter.model.changes import Mark
from overwinter.model.plan import Plan, carry_key, plan_fingerprint
from overwinter.model.season import Season

YES = schema.YES | {"xx", "done", "ok", "✓", "✔", "☑", "☒", "√"}
NO = schema.NO | {"", "not", "–", "☐"}


class _Export(BaseModel):
    """What the phone page saves."""

    format: Literal["overwinter ticks"]
    version: Literal[1]
    plan: str
    ticks: list[dict[str, Any]]


def read_ticks(path: Path, plan: Plan, season: Season) -> tuple[list[Mark], list[str]]:
    """Read a ticked list against the plan in force: marks in the order of the plan, and warnings.
    ``path`` is ``.json`` (phone page), or ``.csv`` or ``.xlsx`` (list with the column ``done``
    filled in). A row that is not ticked marks nothing."""
    findings = Findings()
    reader = _Reader(path, plan, season, findings)
    suffix = path.suffix.lower()
    if suffix == ".json":
        reader.read_json()
    elif suffix in (".xlsx", ".xlsm"):
        reader.read_workbook()
    elif suffix in (".html", ".ics"):
        handed_back = "the .json that the phone page saves, a .csv or an .xlsx"
        findings.at(path.name).problem("a list that keeps no ticks", handed_back)
    elif (text := read_text(path, findings)) is not None:
        reader.read_table(csv_table(text, path.name, findings))
    reader.check_order()
    findings.raise_if_any()
    marks = [reader.found[key][1] for key in reader.carries if key in reader.found]
    return marks, findings.warnings


class _Reader:
    """Gathers the ticks of one file."""

    def __init__(self, path: Path, plan: Plan, season: Season, findings: Findings) -> None:
        self.path, self.plan, self.season, self.findings = path, plan, season, findings
        self.carries = {carry_key(carry): carry for carry in plan.carries}
        self.places = {name.casefold(): found for name, found in season.place_ids.items()}
        self.found: dict[str, tuple[int | str | None, Mark]] = {}
        """By key of the carry, the row that says it, and what it says."""

    def read_json(self) -> None:
        given = read_json(self.path, "the phone page's .json file", "Export it again.")
        try:
            export = _Export.model_validate(given if isinstance(given, dict) else {})
        except ValidationError as error:
            raise document_problems(error, self.path.name, "Export it again.") from None
        if export.plan != plan_fingerprint(self.plan):
            self.findings.warn(
                f"{self.path.name} was made from another plan ({export.plan}); what both plans have"
                " in common was taken."
            )
        for number, row in enumerate(export.ticks, 1):
            self.take(row, self.findings.at(self.path.name, f"ticks.{number}"))

    def read_workbook(self) -> None:
        sheets = read_sheets(self.path, self.findings)
        lists = {
            title: grid
            for title, grid in sheets.items()
            for head in (grid.iloc[0].tolist() if len(grid) else [],)
            if {"key", "done"} <= {normal_heading(str(cell or "")) for cell in head}
        }
        for title, grid in lists.items():
            self.read_table(table_of(f"{self.path.name} [{title}]", grid, self.findings))
        if not lists and not self.findings.problems:
            self.findings.at(self.path.name, 1, "key").problem(
                "no sheet with the columns key and done", "a carry list's sheet"
            )

    def read_table(self, table: Table | None) -> None:
        if table is None:
            return
        for name in [name for name in ("key", "done") if name not in table.headings][:1]:
            expected = f"the column '{name}' of the carry list"
            at = self.findings.at(table.file, table.heading_row, name)
            at.problem("no such column", expected, "Use the list as it was written.")
            return
        for number, cells in table.rows.items():
            self.take(cells, self.findings.at(table.file, number))

    def take(self, cells: Mapping[str, Any], where: Where) -> None:
        """Read one row."""
        key = str(cells.get("key") or "").strip()
        before = len(self.findings.problems)
        done, on_by_tick = self._done(cells.get("done"), where.of("done"))
        done_on = self._date(cells.get("done_on"), where.of("done on")) or on_by_tick
        elsewhere = self._elsewhere(cells.get("stands_elsewhere", cells.get("elsewhere")), where)
        note = str(cells.get("your_note", cells.get("note")) or "").strip().removeprefix("'")
        if done_on is not None and not done:
            where.of("done").problem("a day but no tick", "x where it was done", "Tick it too.")
        if len(self.findings.problems) > before or not done or not self._known(key, cells, where):
            return
        carry = self.carries[key]
        target = elsewhere or carry.target
        mark = Mark(done_on or carry.day, carry.tree_id, target, key, note=note)
        first, said = self.found.setdefault(key, (where.row, mark))
        if said != mark:
            where.of("key").problem(
                f"{key} a second time, not as in row {first}", "each carry once"
            )

    def _known(self, key: str, cells: Mapping[str, Any], where: Where) -> bool:
        if key in self.carries:
            return True
        tree, day = cells.get("tree", ""), cells.get("usual_day", cells.get("day", ""))
        about = f" ({tree}, {str(day)[:10]})" if tree else ""
        where.of("key").problem(
            f"{key or 'nothing'}{about}, which is no carry of the plan in force",
            "a key of this plan's carry lists",
            "Is it a list of an earlier plan? Mark this tree by hand, or leave the row out.",
        )
        return False

    def _done(self, cell: Any, where: Where) -> tuple[bool, date | None]:
        """Whether it is ticked, and the day where a day was written instead of a tick."""
        if isinstance(cell, bool) or cell is None:
            return bool(cell), None
        word = f"{cell:g}" if isinstance(cell, float) else str(cell)
        word = word.strip().removeprefix("'").casefold()
        if word in YES | NO:
            return word in YES, None
        if isinstance(cell, date) or day_of(cell) is not None:
            return True, self._date(cell, where.of("done on"))
        where.problem(f"'{cell}'", "x or a day where it was done, else nothing")
        return False, None

    def _date(self, cell: Any, where: Where) -> date | None:
        if cell is None or cell == "":
            return None
        day = cell.date() if isinstance(cell, datetime) else day_of(cell)
        site = self.season.site
        if day is None:
            where.problem(f"'{cell}'", "a day as 2025-11-30")
        elif not site.starts <= day <= site.ends:
            where.problem(day.isoformat(), f"{site.starts} to {site.ends}")
            return None
        return day

    def _elsewhere(self, cell: Any, where: Where) -> str | None:
        written = str(cell or "").strip().removeprefix("'")
        found = self.places.get(written.casefold())
        if written and found is None:
            where.of("stands elsewhere").problem(
                f"'{written}'", "a place of this winter", did_you_mean(written, self.places)
            )
        return found

    def check_order(self) -> None:
        """Warn where a later carry of a tree is ticked and an earlier one is not. Only a warning:
        the earlier one may have been marked before, from another list."""
        done = {self.carries[key] for key in self.found}
        first_open: dict[str, date] = {}
        for carry in self.plan.carries:
            if carry not in done and carry.stage >= self.plan.fixed_stages:
                day = first_open.get(carry.tree_id, carry.day)
                first_open[carry.tree_id] = min(day, carry.day)
        for carry in sorted(done, key=lambda carry: (carry.day, carry.tree_id)):
            skipped = first_open.get(carry.tree_id)
            if skipped is not None and skipped < carry.day:
                self.findings.warn(
                    f"{self.path.name}: {carry.tree_id} is ticked on {carry.day} but not on"
                    f" {skipped}; mark that one too if it was done."
                )
