"""CSV as spreadsheets of several countries save it."""

from pathlib import Path

import pytest

from overwinter.files.findings import Findings
from overwinter.files.measures import number_of
from overwinter.files.sheets import csv_table, read_csv
from overwinter.files.tables import Table, normal_heading

PLAIN = "tree,height_cm\nÉrable,12.5\nPin,40\n"


def read(path: Path, content: bytes) -> tuple[Table | None, Findings]:
    path.write_bytes(content)
    findings = Findings()
    return read_csv(path, findings), findings


@pytest.mark.parametrize(
    "content",
    [
        PLAIN.encode(),
        PLAIN.encode("utf-8-sig"),
        PLAIN.encode("utf-16"),
        PLAIN.replace("\n", "\r\n").encode(),
        PLAIN.replace("\n", "\r").encode(),
        PLAIN.replace(".", ",")
        .replace("tree,", "tree;")
        .replace("le,", "le;")
        .replace("Pin,", "Pin;")
        .encode(),
        PLAIN.replace(",", "\t").encode("utf-16"),
        ("sep=,\n" + PLAIN).encode(),
        ("# a comment, with a comma\n\n" + PLAIN).encode(),
        PLAIN.replace("height_cm", " Height (cm) ").encode(),
    ],
    ids=["utf8", "bom", "utf16", "crlf", "cr", "semicolon", "tab16", "sep", "comment", "heading"],
)
def test_the_same_table_however_it_was_saved(content: bytes, tmp_path: Path) -> None:
    # Encodings, separators, line ends and headings that spreadsheets write; common practice.
    table, findings = read(tmp_path / "trees.csv", content)
    assert findings.problems == []
    assert table is not None
    assert table.headings == ["tree", "height_cm"]
    cells = [(row["tree"], number_of(row["height_cm"])) for row in table.rows.values()]
    assert cells == [("Érable", 12.5), ("Pin", 40.0)]


def test_rows_are_counted_as_a_spreadsheet_counts_them() -> None:
    # A text of two lines in quotes is one row; comments and blank rows count.
    text = '# comment\ntree,note\n"two\nlines",a\n\nlast,b\n'
    table = csv_table(text, "trees.csv", Findings())
    assert table is not None
    assert table.heading_row == 2
    assert list(table.rows) == [3, 5]


def test_a_very_long_cell_is_read() -> None:
    # A whole diary in one cell; the csv module stops at 131,072 letters unless told otherwise.
    table = csv_table(f"tree,note\na,{'x' * 200_000}\n", "trees.csv", Findings())
    assert table is not None
    assert len(table.rows[2]["note"]) == 200_000


def test_short_rows_are_blank_at_the_end() -> None:
    # Text editors leave trailing commas out.
    table = csv_table("tree,height_cm,note\na,3\n", "trees.csv", Findings())
    assert table is not None
    assert table.rows == {2: {"tree": "a", "height_cm": "3"}}


def test_more_cells_than_headings_is_a_problem() -> None:
    # A text with an unquoted comma shifts all that follows.
    findings = Findings()
    csv_table("tree,height_cm\nMaple, red,30\n", "trees.csv", findings)
    assert [problem.row for problem in findings.problems] == [2]
    assert "double quotes" in findings.problems[0].fix


def test_white_space_around_cells_is_dropped() -> None:
    # Cells of white space only count as blank, no-break spaces too.
    table = csv_table("tree,note\n  a ,\u00a0 \n", "trees.csv", Findings())
    assert table is not None
    assert table.rows == {2: {"tree": "a"}}


@pytest.mark.parametrize(
    ("written", "matched"),
    [("Width (cm)", "width_cm"), ("POT_L", "pot_l"), ("never ", "never"), ("Wert €", "wert")],
)
def test_headings_are_matched_loosely(written: str, matched: str) -> None:
    # As the data dictionary says: lower case, anything else an underscore.
    assert normal_heading(written) == matched


def test_zero_bytes_are_no_text(tmp_path: Path) -> None:
    # UTF-16 without its mark looks like this.
    table, findings = read(tmp_path / "trees.csv", "tree,b\n".encode("utf-16-le"))
    assert table is None
    assert "zero bytes" in findings.problems[0].found
