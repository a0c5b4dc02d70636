"""Trees from rows: numbers, overrides, dates, and what is taken for granted."""

import csv
from datetime import date
from pathlib import Path

import pytest
from folders import good_folder, replaced
from hypothesis import given, settings
from hypothesis import strategies as st

from overwinter.files.findings import Findings
from overwinter.files.season import read_season
from overwinter.files.species_table import read_species, shipped_species
from overwinter.files.tree_list import KG_PER_LITRE, TreeList, read_trees
from overwinter.problems import InputProblems

STARTS = date(2026, 10, 1)


def listing(folder: Path, *rows: dict[str, object]) -> tuple[TreeList, Findings]:
    """Read a list of rows written to a CSV."""
    headings = list(dict.fromkeys(key for row in rows for key in row))
    with (folder / "trees.csv").open("w", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, headings)
        writer.writeheader()
        writer.writerows(rows)
    findings = Findings()
    found = read_trees(folder, read_species(folder / "none", findings).names, STARTS, findings)
    assert found is not None
    return found, findings


def row(**more: object) -> dict[str, object]:
    """A good row."""
    base: dict[str, object] = {"tree": "Maple", "species": "Acer palmatum"}
    return base | {"width_cm": 50, "height_cm": 60, "pot_l": 8} | more


LENGTHS = st.integers(30, 7000).map(lambda tenths: tenths / 10)  # mm as written in cm


@settings(max_examples=60)
@given(
    rows=st.lists(
        st.tuples(LENGTHS, LENGTHS, LENGTHS, st.floats(0.5, 900), st.floats(0.1, 900)),
        min_size=1,
        max_size=6,
    )
)
def test_what_is_written_is_read(
    tmp_path_factory: pytest.TempPathFactory,
    rows: list[tuple[float, float, float, float, float]],
) -> None:
    # Round trip through the text of a CSV: every number comes back, to the last bit in SI units.
    written = [
        row(tree=f"t{i}", width_cm=w, depth_cm=d, height_cm=h, weight_kg=kg, pot_l=litres)
        for i, (w, d, h, kg, litres) in enumerate(rows)
    ]
    found, findings = listing(tmp_path_factory.getbasetemp(), *written)
    assert findings.problems == []
    for tree, (w, d, h, kg, litres) in zip(found.trees, rows, strict=True):
        assert (tree.weight_kg, tree.pot_litres) == (kg, litres)
        sizes = (tree.width_m, tree.depth_m, tree.height_m)
        assert sizes == pytest.approx((w / 100, d / 100, h / 100), rel=1e-15)


def test_a_quantity_becomes_numbered_trees(tmp_path: Path) -> None:
    # "name 1/3" on labels and lists.
    found, _ = listing(tmp_path, row(quantity=3))
    assert [tree.id for tree in found.trees] == ["Maple 1/3", "Maple 2/3", "Maple 3/3"]
    assert len({tree.row for tree in found.trees}) == 1


def test_depth_is_as_the_width_unless_given(tmp_path: Path) -> None:
    # Round pots have one measure.
    found, _ = listing(tmp_path, row(), row(tree="b", depth_cm=20))
    assert [tree.depth_m for tree in found.trees] == [0.5, 0.2]


def test_a_weight_is_estimated_and_said(tmp_path: Path) -> None:
    # So many kg a litre is a judgement, and the line says so before anyone lifts.
    found, findings = listing(tmp_path, row(pot_l=20))
    assert found.trees[0].weight_kg == pytest.approx(20 * KG_PER_LITRE)
    assert any("no weight for 1 tree" in text for text in findings.assumed)


def test_a_missing_value_is_the_middle_of_the_others(tmp_path: Path) -> None:
    # A tree of no value would be sacrificed first by the plan.
    rows = [row(tree=str(i), value=v) for i, v in enumerate((10, 100, 1000))]
    found, findings = listing(tmp_path, *rows, row(tree="unpriced"))
    assert found.trees[-1].value == 100
    assert any("100 each" in text for text in findings.assumed)


def test_own_limits_are_laid_over_the_species(tmp_path: Path) -> None:
    # -6.7 degC is 20 degF (rounded); the rest of the limits stay the table's.
    found, findings = listing(
        tmp_path, row(root_kill_f=20, rest_ceiling_c=5, rodent_appeal=1, chill_need=0)
    )
    limits, table = found.trees[0].limits, shipped_species()["acer-palmatum"].limits
    assert findings.problems == []
    assert limits.root_kill_c == pytest.approx(-6.667, abs=0.001)
    assert (limits.rest_ceiling_c, limits.rodent_appeal, limits.chill_need) == (5, 1, 0)
    assert limits.dark_below_c == table.dark_below_c


def test_less_hardy_roots_take_young_and_unhardened_ones_along(tmp_path: Path) -> None:
    # Mature hardened roots are the hardiest (Mityga & Lanphear 1971: young roots do not harden);
    # a grower who says -4 must not be left with young roots at the table's -7.
    found, _ = listing(tmp_path, row(root_kill_c=-4))
    limits = found.trees[0].limits
    assert (limits.root_kill_c, limits.root_kill_young_c) == (-4, -4)
    assert limits.root_kill_unhardened_c == -4


def test_quarantine_yes_is_four_weeks_from_joining(tmp_path: Path) -> None:
    # 28 days: common practice, no source.
    found, _ = listing(
        tmp_path,
        row(joins="2026-11-20", quarantine_until="yes"),
        row(tree="b", quarantine_until="yes"),
        row(tree="c", quarantine_until="2026-12-24"),
        row(tree="d", quarantine_until="no"),
        row(tree="e", quarantine_until="2026-09-01"),
        row(tree="f", joins="2026-08-01", quarantine_until="yes"),
    )
    expected = [date(2026, 12, 18), date(2026, 10, 29), date(2026, 12, 24), None, None, None]
    assert [tree.quarantine_until for tree in found.trees] == expected
    assert found.trees[-1].joins is None


def test_an_assumed_species_is_said(tmp_path: Path) -> None:
    # An unknown larch stands as the tenderest of its genus, and the grower is told.
    found, _ = listing(tmp_path, row(species="Larix sibirica"))
    assert found.assumptions[0].tree == "Maple"
    assert "Larix" in found.assumptions[0].why
    key = found.assumptions[0].assumed_key
    assert found.trees[0].limits == shipped_species()[key].limits


def test_mistakes_of_a_row_for_many_are_said_once(tmp_path: Path) -> None:
    # Fifty seedlings pinned to a misspelt place are one mistake.
    folder = good_folder(tmp_path)
    replaced(folder, "trees.csv", ("mugo,2,", "mugo,50,"), ("cellar,,", "celar,,"))
    with pytest.raises(InputProblems) as raised:
        read_season(folder)
    assert len(raised.value.problems) == 1


def test_short_place_names_are_made_full(tmp_path: Path) -> None:
    # "shelf" exists once, so it need not be written cellar/shelf.
    folder = good_folder(tmp_path)
    replaced(folder, "trees.csv", ("cellar,,", "shelf,,"))
    trees = read_season(folder).tree_by_id
    assert trees["Pine 2/2"].forbidden == {"cellar/shelf"}
    assert trees["Gift"].pinned == {"greenhouse"}
