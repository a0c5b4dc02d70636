"""Mistakes that people make in their files, one change to a good folder each, and their messages.

The table is ``data/mistakes.csv``: what is changed (⏎ is a line end), and the file, the row or
table, the column and a part of the message, mostly the likely fix. Ours, each read by a person.
"""

import csv
from pathlib import Path

import pytest
from folders import DATA, good_folder, replaced

from overwinter.files.season import read_season
from overwinter.problems import InputProblems, Problem

with (DATA / "mistakes.csv").open(encoding="utf-8", newline="") as file:
    MISTAKES = list(csv.DictReader(file))


def test_there_are_many() -> None:
    # Asked for: sixty. A table that came out empty would pass every test below.
    assert len({one["mistake"] for one in MISTAKES}) == len(MISTAKES) == 102


def make(folder: Path, one: dict[str, str]) -> None:
    was, becomes = (one[name].replace("⏎", "\n") for name in ("was", "becomes"))
    replaced(folder, one["file"], (was, becomes))


@pytest.mark.parametrize("one", MISTAKES, ids=lambda one: one["mistake"])
def test_each_mistake_gets_its_message(one: dict[str, str], tmp_path: Path) -> None:
    # One message, at its place; nothing is written.
    folder = good_folder(tmp_path)
    make(folder, one)
    before = {path: path.read_bytes() for path in folder.iterdir()}
    with pytest.raises(InputProblems) as raised:
        read_season(folder)
    (problem,) = raised.value.problems
    assert (problem.file, str(problem.row or "")) == (one["told of"], one["row"])
    assert (problem.column or "") == one["column"]
    assert one["told"] in str(problem)
    assert {path: path.read_bytes() for path in folder.iterdir()} == before


def test_mistakes_of_all_files_come_out_together(tmp_path: Path) -> None:
    # A grower should not mend one file to be told about the next.
    folder = good_folder(tmp_path)
    for one in MISTAKES:
        if one["mistake"] in ("tree-condition", "shelter-unknown-kind", "site-latitude"):
            make(folder, one)
    (folder / "species.csv").write_text("key,hardiest\nmine,very\n", encoding="utf-8")
    with pytest.raises(InputProblems) as raised:
        read_season(folder)
    files = [problem.file for problem in raised.value.problems]
    assert list(dict.fromkeys(files)) == ["shelters.toml", "site.toml", "species.csv", "trees.csv"]


def test_a_mistake_in_thousands_of_rows_is_told_in_a_page() -> None:
    # A daily file whose columns are swapped has one mistake a day; rows are told in order.
    many = [Problem("w.csv", n, "min_c", f"'{n % 700}'", "less", "Swap.") for n in range(2, 3002)]
    raised = InputProblems([*many, Problem("site.toml", None, "ends", "'x'", "a day")])
    assert len(raised.problems) == 3001
    assert len(raised.lines) == 1 + 20 + 1
    assert raised.lines[0].startswith("site.toml, ends")
    assert raised.lines[1].endswith("The same in rows 702, 1402, 2102, 2802.")
    assert "(expected less) in 2900 more rows: 22, 23, 24," in raised.lines[-1]
