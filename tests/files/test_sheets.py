"""trees.xlsx as spreadsheets save it, written here with openpyxl."""

from datetime import date, datetime
from pathlib import Path

import pytest
from folders import good_folder
from openpyxl import Workbook

from overwinter.files.season import read_season
from overwinter.problems import InputProblems

HEADINGS = ["Tree", "Species", "Quantity", "Width (in)", "Height (in)", "Pot (gal)", "Joins"]


def folder_with(tmp_path: Path, *rows: list[object]) -> Path:
    """The good folder with a workbook instead of its tree list."""
    folder = good_folder(tmp_path)
    (folder / "trees.csv").unlink()
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    book.save(folder / "trees.xlsx")
    return folder


def test_a_sheet_in_us_units(tmp_path: Path) -> None:
    # Dates are sheet dates, numbers floats; 1 in = 0.0254 m and 1 US gal = 3.785411784 l exactly.
    folder = folder_with(
        tmp_path,
        HEADINGS,
        ["Maple", "Acer palmatum", 2.0, 20, 25.5, 3, None],
        [7, "Pinus mugo", None, 10, 12, 1, datetime(2026, 11, 20)],
    )
    season = read_season(folder)
    assert [tree.id for tree in season.trees] == ["Maple 1/2", "Maple 2/2", "Pinus mugo no. 7"]
    maple, seven = season.trees[0], season.trees[2]
    assert maple.width_m == maple.depth_m == pytest.approx(0.508, abs=1e-12)
    assert maple.height_m == pytest.approx(0.6477, abs=1e-12)
    assert maple.pot_litres == pytest.approx(11.356235352, abs=1e-9)
    assert maple.joins is None
    assert seven.joins == date(2026, 11, 20)
    assert (maple.row, seven.row) == (2, 3)


def test_a_time_of_day_in_a_date_is_a_problem(tmp_path: Path) -> None:
    # Noon on a day is mostly a formula that went wrong.
    row = ["Maple", "Acer palmatum", 1, 20, 25, 3, datetime(2026, 11, 20, 12, 30)]
    with pytest.raises(InputProblems, match=r"a date without a time.*Write 2026-11-20"):
        read_season(folder_with(tmp_path, HEADINGS, row))


def test_a_day_number_is_read_back_to_the_grower(tmp_path: Path) -> None:
    # 46346 is 20 November 2026 counted from 30 December 1899, the spreadsheets' day 0.
    row = ["Maple", "Acer palmatum", 1, 20, 25, 3, 46346]
    with pytest.raises(InputProblems, match="It would be 2026-11-20"):
        read_season(folder_with(tmp_path, HEADINGS, row))


def test_a_formula_error_is_a_problem(tmp_path: Path) -> None:
    # #REF! is what is left of a formula whose cells were deleted.
    row = ["Maple", "Acer palmatum", 1, 20, "#REF!", 3, None]
    with pytest.raises(InputProblems) as raised:
        read_season(folder_with(tmp_path, HEADINGS, row))
    first = raised.value.problems[0]
    assert (first.row, first.column) == (2, "Height (in)")
    assert "#REF!" in first.found


def test_blank_rows_and_columns_around_the_table(tmp_path: Path) -> None:
    # Sheets often have a title left blank and formatted cells to the right.
    folder = folder_with(
        tmp_path,
        [None],
        [*HEADINGS, None, " "],
        [None],
        ["Maple", "Acer palmatum", 1, 20, 25, 3, None, None, " "],
    )
    assert [tree.row for tree in read_season(folder).trees] == [4]


@pytest.mark.parametrize(
    ("above", "heads"),
    [
        (["Tree", None, "Size", None, "Pot"], ["Name", "Kind", "Width (in)", "Height (in)"] * 2),
        (["Name", "Kind", "Size (in)"], ["Name", "Kind", "Width", "Height"]),
    ],
)
def test_headings_over_two_rows_are_told_once(
    above: list[object], heads: list[object], tmp_path: Path
) -> None:
    # Groups above, names below: two widths, or a unit that stands with the group alone.
    row = ["Maple", "Acer palmatum", 20, 25] * (len(heads) // 4)
    with pytest.raises(InputProblems) as told:
        read_season(folder_with(tmp_path, above, heads, row, row))
    (line,) = told.value.lines
    assert line.startswith("trees.xlsx, row 2: found headings that stand over two rows, 1 and 2")
