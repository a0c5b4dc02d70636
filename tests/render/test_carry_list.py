"""The CSV lists, read back by other readers than the writer's."""

import csv
import io

import pandas as pd
import pytest
from carry_winters import NOV, renamed, small_winter

from overwinter.render.carry_book import carry_book
from overwinter.render.carry_files import carry_csv, carry_csvs, list_table
from overwinter.render.table import Table, csv_text


def test_csv_is_what_spreadsheets_expect() -> None:
    """UTF-8 byte-order mark EF BB BF; CRLF and quoting as RFC 4180, read by pandas and csv."""
    content = carry_csv(carry_book(*small_winter()))
    assert content.startswith(b"\xef\xbb\xbf")
    assert content.count(b"\r\n") == content.count(b"\n") == 1 + 9
    frame = pd.read_csv(io.BytesIO(content))
    assert list(frame["tree"])[:2] == ["Fig", "Olive"]
    assert set(frame.loc[frame["tree"] == "Old maple", "weight kg"]) == {34.0}
    assert frame["usual day"].iloc[1] == "2025-11-01"
    assert frame["when"].iloc[1] == "When the first night of -1 °C or colder is forecast"
    rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))
    assert {len(row) for row in rows} == {len(list_table(carry_book(*small_winter())).headings)}


def test_one_list_a_shelter_and_every_carry_on_exactly_one() -> None:
    """The lists together hold every carry once."""
    book = carry_book(*small_winter())
    lists = carry_csvs(book)
    assert set(lists) == {"glass", "cellar"}
    keys = [key for content in lists.values() for key in pd.read_csv(io.BytesIO(content))["key"]]
    assert sorted(keys) == sorted(step.key for step in book.steps)


@pytest.mark.parametrize(
    "name", ["=1+1", "+cmd", "-2", "@SUM(A1)", "\tx", '=HYPERLINK("http://x")']
)
def test_no_name_is_a_formula(name: str) -> None:
    """Text that a spreadsheet would run gets an apostrophe and stays readable behind it."""
    season, plan = small_winter()
    content = carry_csv(carry_book(renamed(season, "t0", name), plan))
    rows = list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))
    assert f"'{name}" in [row["tree"] for row in rows]


def test_numbers_may_be_negative_and_dates_are_iso() -> None:
    """Only text is guarded."""
    table = Table("x", "X", ("a", "b", "c"), ((-2.5, NOV, None),))
    assert csv_text(table) == "a,b,c\r\n-2.5,2025-11-01,\r\n"


def test_keys_are_never_numbers_to_a_spreadsheet() -> None:
    """A key that looked like 12e45678 would come back as a number."""
    for step in carry_book(*small_winter()).steps:
        assert step.key[0] == "c"
        with pytest.raises(ValueError, match="could not convert"):
            float(step.key)


def test_weight_is_in_pounds_for_us_sites() -> None:
    """34 kg / 0.45359237 = 74.957 lb (exact definition of the pound)."""
    frame = pd.read_csv(io.BytesIO(carry_csv(carry_book(*small_winter(us=True)))))
    assert 75.0 in list(frame["weight lb"])
