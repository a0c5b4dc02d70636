"""The workbook, opened again."""

import io
import zipfile

import pytest
from carry_winters import big_winter, renamed, small_winter
from openpyxl import load_workbook

from overwinter.render.carry_book import carry_book
from overwinter.render.carry_files import carry_workbook, sheet_title
from overwinter.render.carry_pages import Paper


def opened(content: bytes) -> object:
    return load_workbook(io.BytesIO(content))


def test_a_sheet_a_shelter_and_an_overview() -> None:
    """At most ten columns, a filter, heights for what wraps; weights are numbers."""
    book = opened(carry_workbook(carry_book(*small_winter())))
    assert book.sheetnames == ["Overview", "Glasshouse", "Cellar"]
    sheet = book["Cellar"]
    head = [cell.value for cell in sheet[1]]
    row = dict(zip(head, sheet[2], strict=True))
    assert row["weight kg"].value == 34.0
    assert row["done"].value is None
    assert sheet.freeze_panes == "E2"
    assert sheet.auto_filter.ref == sheet.dimensions
    for one in book.worksheets:
        assert one.max_column <= 10
        assert all(one.row_dimensions[r].height >= 15 for r in range(1, one.max_row + 1))


@pytest.mark.parametrize("name", ['=HYPERLINK("http://x";"y")', "=1+1", "+1", "@x", "\x07bell"])
def test_no_name_is_a_formula(name: str) -> None:
    """A name with "=" in front is stored as text; control characters are left out."""
    season, plan = small_winter()
    content = carry_workbook(carry_book(renamed(season, "t0", name), plan))
    cells = [cell for row in opened(content)["Cellar"].iter_rows() for cell in row]
    shown = name.replace("\x07", "")
    found = [cell for cell in cells if str(cell.value).startswith(shown)]
    assert found
    assert all(cell.data_type == "s" for cell in found)
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        sheets = [n for n in parts.namelist() if n.startswith("xl/worksheets/")]
        assert not any(b"<f>" in parts.read(n) for n in sheets)


def test_the_same_plan_gives_the_same_bytes() -> None:
    """No time of writing in the file."""
    book = carry_book(*small_winter())
    assert carry_workbook(book) == carry_workbook(book)


@pytest.mark.parametrize(("paper", "code"), [(Paper.A4, 9), (Paper.LETTER, 1)])
def test_prints_landscape_on_its_paper_with_the_heading_on_each_page(
    paper: Paper, code: int
) -> None:
    """Paper codes 9 (A4) and 1 (Letter) of SpreadsheetML, ECMA-376 part 1, 18.3.1.63 (memory)."""
    for sheet in opened(carry_workbook(carry_book(*small_winter()), paper)).worksheets:
        assert sheet.page_setup.paperSize == code
        assert sheet.page_setup.orientation == "landscape"
        assert (sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight) == (1, 0)
        assert sheet.sheet_properties.pageSetUpPr.fitToPage
        if sheet.title not in ("Overview",):
            assert sheet.print_title_rows == "$1:$1"


def test_sheet_names_are_legal_and_differ() -> None:
    """At most 31 characters, none of []:*?/\\, no two alike whatever their case."""
    taken: set[str] = set()
    long = "A shelter with a very long name indeed, by the wall"
    titles = [sheet_title(name, taken) for name in (long, long.upper(), "a/b:c*?[x]", "''", "")]
    assert all(0 < len(title) <= 31 for title in titles)
    assert not any(set("[]:*?/\\") & set(title) for title in titles)
    assert len({title.casefold() for title in titles}) == len(titles)


def test_a_crowd_fits() -> None:
    """120 carries: every one is a row of its shelter's sheet."""
    carry = carry_book(*big_winter())
    book = opened(carry_workbook(carry))
    rows = sum(book[name].max_row - 1 for name in ("Glasshouse", "Cellar"))
    assert rows == len(carry.steps) == 120
