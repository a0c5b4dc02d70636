"""Ticked lists handed back: written by the lists, filled in as people do, read again."""

import csv
import io
import json
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import pytest
from carry_winters import DEC, GARDEN, NOV, PlanMaker, season_of, small_winter, tree
from openpyxl import load_workbook

from overwinter.files.ticks import read_ticks
from overwinter.model.changes import Mark
from overwinter.model.plan import Carry, Plan, carry_key, plan_fingerprint
from overwinter.model.season import Season
from overwinter.problems import InputProblems
from overwinter.render.carry_book import carry_book
from overwinter.render.carry_files import carry_csv, carry_workbook

Fill = Callable[[dict[str, str]], None]


def filled_csv(
    tmp_path: Path, season: Season, plan: Plan, fill: Fill, delimiter: str = ","
) -> Path:
    """The list as a spreadsheet would save it again, filled in by ``fill``."""
    text = carry_csv(carry_book(season, plan)).decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    for row in rows:
        fill(row)
    out = io.StringIO()
    writer = csv.DictWriter(out, list(rows[0]), delimiter=delimiter)
    writer.writeheader()
    writer.writerows(rows)
    path = tmp_path / "list.csv"
    path.write_text(out.getvalue(), encoding="utf-8", newline="")
    return path


def export(plan: Plan, *ticks: dict[str, object], **more: object) -> dict[str, object]:
    head = {"format": "overwinter ticks", "version": 1, "plan": plan_fingerprint(plan)}
    return {**head, "ticks": list(ticks), **more}


def written(tmp_path: Path, content: object) -> Path:
    path = tmp_path / "ticks.json"
    path.write_text(json.dumps(content), encoding="utf-8")
    return path


def carry_of(plan: Plan, tree_id: str, day: date) -> Carry:
    return next(c for c in plan.carries if (c.tree_id, c.day) == (tree_id, day))


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_csv_list_comes_back(tmp_path: Path, delimiter: str) -> None:
    """x, a day, a place by name and a note; the separator is whatever the spreadsheet uses."""
    season, plan = small_winter()

    def fill(row: dict[str, str]) -> None:
        if row["tree"] == "Old maple" and row["usual day"] == "2025-11-01":
            row["done"] = "X"
            row["done on"] = "2025-11-02"
            row["stands elsewhere"] = "glasshouse, Bench 2"
            row["your note"] = "branch snapped, tied"
        elif row["tree"] == "Fig" and row["usual day"] == "2025-10-20":
            row["done"] = "2025-10-21"
        elif row["tree"] == "Olive":
            row["done"] = "no"

    marks, _ = read_ticks(filled_csv(tmp_path, season, plan, fill, delimiter), plan, season)
    fig, maple = carry_of(plan, "t4", date(2025, 10, 20)), carry_of(plan, "t0", NOV)
    assert [(m.carry_key, m.day, m.target, m.note) for m in marks] == [
        (carry_key(fig), date(2025, 10, 21), fig.target, ""),
        (carry_key(maple), date(2025, 11, 2), "glass/bench 2", "branch snapped, tied"),
    ]


@pytest.mark.parametrize(
    ("word", "done"),
    [
        ("x", True),
        ("✓", True),
        ("TRUE", True),
        ("1", True),
        ("Yes", True),
        ("", False),
        ("FALSE", False),
        ("0", False),
        ("no", False),
        ("-", False),
    ],
)
def test_ticks_as_people_write_them(tmp_path: Path, word: str, done: bool) -> None:
    """Common practice, no source: what counts as ticked and what as not."""
    season, plan = small_winter()

    def fill(row: dict[str, str]) -> None:
        row["done"] = word if row["usual day"] == "2025-10-20" else ""

    marks, _ = read_ticks(filled_csv(tmp_path, season, plan, fill), plan, season)
    assert [mark.day for mark in marks] == [date(2025, 10, 20)] * done


def test_a_workbook_comes_back_with_real_dates(tmp_path: Path) -> None:
    """Ticks on two sheets: a day as a date cell, and 1 as a tick."""
    season, plan = small_winter()
    book = load_workbook(io.BytesIO(carry_workbook(carry_book(season, plan))))
    head = [cell.value for cell in book["Cellar"][1]]
    cellar, glass = book["Cellar"], book["Glasshouse"]
    cellar.cell(2, head.index("done") + 1).value = datetime(2025, 11, 3)
    glass.cell(2, head.index("done") + 1).value = 1
    path = tmp_path / "lists.xlsx"
    book.save(path)
    assert [(mark.tree_id, mark.day) for mark in read_ticks(path, plan, season)[0]] == [
        ("t4", date(2025, 10, 20)),
        ("t0", date(2025, 11, 3)),
    ]


def test_an_unticked_list_marks_nothing(tmp_path: Path) -> None:
    """Handing back an empty list changes nothing."""
    season, plan = small_winter()
    path = filled_csv(tmp_path, season, plan, lambda row: None)
    assert read_ticks(path, plan, season) == ([], [])


def test_every_problem_comes_out_at_once(tmp_path: Path) -> None:
    """Rows, columns, what was found, what is expected; a close place is suggested."""
    season, plan = small_winter()

    def fill(row: dict[str, str]) -> None:
        if row["tree"] == "Fig":
            row["done"] = "maybe"
        if row["tree"] == "Olive":
            row["done"], row["stands elsewhere"] = "x", "glas/bench 2"
        if row["tree"] == "Old maple":
            row["done"], row["done on"] = "x", "11/2/2025"
        if row["tree"] == "Little maple":
            row["done"], row["key"] = "x", "c00000000000"

    with pytest.raises(InputProblems) as caught:
        read_ticks(filled_csv(tmp_path, season, plan, fill), plan, season)
    text = str(caught.value)
    assert "row 2, done: found 'maybe'" in text
    assert "Did you mean 'glass/bench 2'?" in text
    assert "done on: found '11/2/2025'; expected a day as 2025-11-30" in text
    assert "c00000000000 (Little maple, 2025-11-01), which is no carry of the plan" in text


def test_a_day_outside_the_winter_or_without_a_tick_is_a_problem(tmp_path: Path) -> None:
    """Slips of the year are caught."""
    season, plan = small_winter()
    key = carry_key(carry_of(plan, "t0", NOV))
    for row, said in (
        ({"key": key, "done": True, "done_on": "2024-11-01"}, "2025-10-01 to 2026-05-15"),
        ({"key": key, "done": False, "done_on": "2025-11-01"}, "a day but no tick"),
    ):
        with pytest.raises(InputProblems, match=said):
            read_ticks(written(tmp_path, export(plan, row)), plan, season)


def test_the_phones_export_comes_back(tmp_path: Path) -> None:
    """As the page writes it; a note alone marks nothing."""
    season, plan = small_winter()
    maple, larch = carry_of(plan, "t0", NOV), carry_of(plan, "t1", NOV)
    content = export(
        plan,
        {
            "key": carry_key(maple),
            "day": "2025-11-01",
            "tree": "Old maple",
            "done": True,
            "done_on": "2025-11-01",
            "elsewhere": None,
            "note": "",
        },
        {
            "key": carry_key(larch),
            "done": False,
            "done_on": None,
            "elsewhere": None,
            "note": "too wet",
        },
        jobs={"2025-11-01 cellar ready": True},
    )
    marks, warnings = read_ticks(written(tmp_path, content), plan, season)
    assert marks == [Mark(NOV, "t0", maple.target, carry_key(maple))]
    assert warnings == []


def test_a_list_of_an_earlier_plan_counts_for_what_both_share(tmp_path: Path) -> None:
    """The key is the carry's, not the plan's; that the plan is another is said."""
    season = season_of([tree("a"), tree("b")])
    old = PlanMaker(season).carry(NOV, "a", GARDEN, "cellar/floor")
    old.carry(NOV, "b", GARDEN, "cellar/floor")
    new = PlanMaker(season).carry(NOV, "a", GARDEN, "cellar/floor")
    new.carry(DEC, "b", GARDEN, "glass/bench 1")
    old_plan, new_plan = old.make(), new.make()
    a, b = old_plan.carries
    marks, warnings = read_ticks(
        written(tmp_path, export(old_plan, {"key": carry_key(a), "done": True})), new_plan, season
    )
    assert [mark.carry_key for mark in marks] == [carry_key(a)]
    assert "made from another plan" in warnings[0]
    with pytest.raises(InputProblems, match="no carry of the plan in force"):
        read_ticks(
            written(tmp_path, export(old_plan, {"key": carry_key(b), "done": True})),
            new_plan,
            season,
        )


def test_a_later_carry_without_the_earlier_is_warned_of(tmp_path: Path) -> None:
    """The olive cannot leave the glasshouse before it came in, unless that was marked before."""
    season, plan = small_winter()
    second = carry_of(plan, "t3", DEC)
    content = export(plan, {"key": carry_key(second), "done": True})
    _, warnings = read_ticks(written(tmp_path, content), plan, season)
    assert "t3 is ticked on 2025-12-06 but not on 2025-11-01" in warnings[0]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ("{", "not JSON"),
        ("[]", "format: found nothing"),
        ('{"format": "overwinter ticks", "version": 9}', "version"),
        ('{"format": "overwinter ticks", "version": 1, "ticks": {}}', "a list"),
        ('{"format": "overwinter ticks", "version": 1, "ticks": [3]}', "ticks"),
        ("", "an empty file"),
    ],
)
def test_broken_exports_are_problems(tmp_path: Path, content: str, said: str) -> None:
    """Never a traceback."""
    season, plan = small_winter()
    path = tmp_path / "ticks.json"
    path.write_text(content)
    with pytest.raises(InputProblems, match=said):
        read_ticks(path, plan, season)


def test_files_that_are_no_lists_are_problems(tmp_path: Path) -> None:
    """A missing file, a list without its columns, a workbook that is none."""
    season, plan = small_winter()
    (tmp_path / "a.csv").write_text("tree,when\nfig,today\n")
    (tmp_path / "b.xlsx").write_bytes(b"no zip")
    for name, said in (
        ("a.csv", "no such column"),
        ("b.xlsx", "cannot be opened"),
        ("c.csv", "no such file"),
    ):
        with pytest.raises(InputProblems, match=said):
            read_ticks(tmp_path / name, plan, season)


def test_one_carry_marked_two_ways_is_a_problem(tmp_path: Path) -> None:
    """Two people handed in different days for the same tree."""
    season, plan = small_winter()
    key = carry_key(carry_of(plan, "t0", NOV))
    rows = (
        {"key": key, "done": True, "done_on": "2025-11-01"},
        {"key": key, "done": True, "done_on": "2025-11-02"},
    )
    with pytest.raises(InputProblems, match="a second time"):
        read_ticks(written(tmp_path, export(plan, *rows)), plan, season)
