"""Alike trees on one line for people, one by one for scripts."""

import csv
import io

import pytest

from overwinter.model.tree import numbered_name
from overwinter.render.table import Figure, Table, alike_joined, csv_text, render
from overwinter.render.words import tree_names


@pytest.mark.parametrize(
    ("names", "told"),
    [
        ([], ""),
        (["Yew"], "Yew"),
        (["Elms 2/5"], "Elms 2/5"),
        (["Elms 1/2", "Elms 2/2"], "Elms (all 2)"),
        # by number, not by letter: 10 comes after 9
        ([f"Elms {n}/12" for n in (10, 9, 1, 2, 3, 12)], "Elms (6 of 12: 1-3, 9-10, 12)"),
        (["Elms 1/3", "Yew", "Elms 3/3"], "Elms (2 of 3: 1, 3), Yew"),
        (["Elm, broom", "Yew"], "Elm, broom; Yew"),
        (["Half 1/2 dead"], "Half 1/2 dead"),
    ],
)
def test_names(names: list[str], told: str) -> None:
    """Trees of one row of the list together, with how many of how many and which."""
    assert tree_names(names) == told


@pytest.mark.parametrize(
    ("name", "parts"),
    [
        ("Elms 2/5", ("Elms", 2, 5)),
        ("Elm 3 1/12", ("Elm 3", 1, 12)),
        ("2/5", ("2/5", 1, 1)),
        ("Elm a/b", ("Elm a/b", 1, 1)),
        ("Elm", ("Elm", 1, 1)),
    ],
)
def test_numbered_names(name: str, parts: tuple[str, int, int]) -> None:
    """Only what the tree list numbers by itself is taken for numbered."""
    assert numbered_name(name) == parts


TABLE = Table(
    "stays",
    "Stays",
    ("day", "tree", "spare, K"),
    (
        ("1 Oct", "Elms 1/3", Figure(1.04, 1)),
        ("1 Oct", "Yew", Figure(1.0, 1)),
        ("1 Oct", "Elms 2/3", Figure(1.0, 1)),
        ("2 Oct", "Elms 1/3", Figure(1.0, 1)),
        ("1 Oct", "Elms 3/3", Figure(1.2, 1)),
    ),
)


def test_rows_that_show_the_same_are_one() -> None:
    """Elms 1 and 2 both show 1.0 K on 1 October; another day, another figure or another kind is
    another row."""
    assert alike_joined(TABLE).rows == (
        ("1 Oct", "Elms (2 of 3: 1-2)", 1.04),
        ("1 Oct", "Yew", 1.0),
        ("2 Oct", "Elms 1/3", 1.0),
        ("1 Oct", "Elms 3/3", 1.2),
    )
    assert "Elms (2 of 3: 1-2)" in render(alike_joined(TABLE))
    without = Table("heat", "Heat", ("shelter",), (("Shed",), ("Shed",)))
    assert alike_joined(without) == without


def test_scripts_get_one_row_a_tree() -> None:
    """CSV and records are those of the table as it is."""
    rows = list(csv.reader(io.StringIO(csv_text(TABLE))))
    assert [row[1] for row in rows[1:]] == ["Elms 1/3", "Yew", "Elms 2/3", "Elms 1/3", "Elms 3/3"]
    assert len(TABLE.records()) == 5
