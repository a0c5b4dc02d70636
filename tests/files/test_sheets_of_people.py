"""Tree lists as people keep them; every one invented, the habits are common practice, no source."""

from datetime import date
from pathlib import Path

import pytest
from folders import good_folder, replaced
from openpyxl import Workbook

from overwinter.files.findings import Findings
from overwinter.files.season import read_season
from overwinter.files.species_table import read_species
from overwinter.files.tree_columns import TRADE_GALLON_L
from overwinter.files.tree_list import KG_PER_LITRE, TreeList, read_trees
from overwinter.model.tree import Tree
from overwinter.problems import InputProblems

STARTS = date(2026, 9, 20)


def listing(folder: Path) -> tuple[TreeList, Findings]:
    findings = Findings()
    found = read_trees(folder, read_species(folder / "none", findings).names, STARTS, findings)
    assert findings.problems == []
    assert found is not None
    return found, findings


def of_csv(folder: Path, text: str) -> tuple[tuple[Tree, ...], Findings]:
    (folder / "trees.csv").write_text(text, encoding="utf-8")
    found, findings = listing(folder)
    return found.trees, findings


def test_a_sheet_in_inches_with_a_title_and_a_total(tmp_path: Path) -> None:
    # 1 in = 0.0254 m, 1 lb = 0.45359237 kg by definition.
    trees, findings = of_csv(
        tmp_path,
        "My trees;spring 2026\n\n"
        "Name;Botanical name;Cultivar;Ht.;Width (in);Weight (lbs);Pot;Worth;Bought from\n"
        'Big Red;Acer palmatum;Deshojo;26";24;12 lb 8 oz;3 gal;$1,200;the fair\n'
        "Old;Pinus mugo;;1 ft 4;20;;12 in;$300.50;\n"
        "Total;;;;;;;$1500.50;\n",
    )
    red, old = trees
    assert red.height_m == pytest.approx(26 * 0.0254)
    assert old.height_m == pytest.approx(16 * 0.0254)
    assert red.weight_kg == pytest.approx(12.5 * 0.45359237)
    assert red.pot_litres == pytest.approx(3 * 3.785411784)
    assert old.pot_litres == pytest.approx(0.5 * (12 * 0.0254) ** 3 * 1000)
    assert (red.value, old.value) == (1200, 300.5)
    assert red.written == "Acer palmatum 'Deshojo'"
    assert red.own == (("Cultivar", "Deshojo"), ("Bought from", "the fair")) or red.own == (
        ("Bought from", "the fair"),
    )
    said = " ".join(findings.assumed)
    assert "row 1" in said
    assert "row 6" in said
    assert "no weight for 1 tree" in said


@pytest.mark.parametrize(
    ("cell", "sides"),
    [
        ("60 x 45 x 50 cm", (0.6, 0.45, 0.5)),
        ("60cm x 45cm x 50cm", (0.6, 0.45, 0.5)),
        ('24" x 18" x 20"', (0.6096, 0.4572, 0.508)),
        ("60×45×50 cm", (0.6, 0.45, 0.5)),
    ],
)
def test_one_column_size(cell: str, sides: tuple[float, ...], tmp_path: Path) -> None:
    # Width x depth x height, as carriers give them; 1 in = 0.0254 m.
    quoted = cell.replace('"', '""')
    trees, _ = of_csv(tmp_path, f'tree,species,size\na,Acer palmatum,"{quoted}"\n')
    assert (trees[0].width_m, trees[0].depth_m, trees[0].height_m) == pytest.approx(sides)


def test_german_sizes_have_depth_last(tmp_path: Path) -> None:
    # Breite x Höhe x Tiefe: T is no "tall".
    trees, _ = of_csv(tmp_path, "Name;Art;Maße (B x H x T) cm\na;Fächerahorn;50 x 60 x 40\n")
    assert (trees[0].width_m, trees[0].height_m, trees[0].depth_m) == pytest.approx((0.5, 0.6, 0.4))


def test_two_numbers_are_told_by_the_heading(tmp_path: Path) -> None:
    # The letters say which is which; without them they are asked about.
    trees, _ = of_csv(tmp_path, "tree,species,Size (h x w) cm\na,Acer palmatum,60 x 50\n")
    assert (trees[0].width_m, trees[0].height_m) == pytest.approx((0.5, 0.6))


@pytest.mark.parametrize(
    ("cell", "litres"),
    [("#3", 3 * TRADE_GALLON_L), ("P9", 0.6), ("C5", 5.0), ("5 l", 5.0), ("20 cm", 4.0)],
)
def test_sizes_of_pots_by_name(cell: str, litres: float, tmp_path: Path) -> None:
    # A number 1 container holds 2.8 l (HortScience 59(10)); litres of C sizes by the trade's use.
    trees, _ = of_csv(
        tmp_path, f"tree,species,width_cm,height_cm,pot\na,Acer palmatum,30,40,{cell}\n"
    )
    assert trees[0].pot_litres == pytest.approx(litres, rel=1e-3)


def test_numbers_of_a_file_follow_its_clear_ones(tmp_path: Path) -> None:
    # "7,5" shows that commas are decimal signs in this file, so points part thousands.
    trees, _ = of_csv(
        tmp_path,
        "tree;species;width_cm;height_cm;pot_l\na;Acer palmatum;40;30,5;7,5\n"
        "b;Acer palmatum;4;1.200;1\n",
    )
    assert [tree.height_m for tree in trees] == pytest.approx([0.305, 12.0])


@pytest.mark.parametrize("written", ["$1,200", "1.200 €", "1.200,00", "£ 1,200.00"])
def test_money_has_no_thousandths(written: str, tmp_path: Path) -> None:
    # Prices end with two decimals at most.
    row = f"a;Acer palmatum;40;60;{written}\n"
    trees, _ = of_csv(tmp_path, f"tree;species;width_cm;height_cm;value\n{row}")
    assert trees[0].value == 1200


@pytest.mark.parametrize("heading", ["Value USD", "Value ($)", "worth in euros", "Price, GBP"])
def test_a_heading_may_name_the_money(heading: str, tmp_path: Path) -> None:
    trees, _ = of_csv(tmp_path, f'tree,species,width_cm,height_cm,"{heading}"\na,olive,40,60,250\n')
    assert trees[0].value == 250


def test_german_headings(tmp_path: Path) -> None:
    # Words of an invented list; a table of words behind them, saved as Windows text.
    text = (
        "Baumliste;;;;;;;\nNr;Name;Art;Sorte;Höhe (cm);Breite (cm);Topf;Umgetopft\n"
        "1;Großer;Fächerahorn;Deshojo;62,5;55;Ø 30 cm;April 2026\n;Summe;;;;;;\n"
    )
    (tmp_path / "trees.csv").write_bytes(text.encode("cp1252"))
    found, findings = listing(tmp_path)
    (tree,) = found.trees
    assert (tree.name, tree.height_m, tree.young_roots) == ("Großer", 0.625, True)
    assert tree.written == "Fächerahorn 'Deshojo'"
    assert tree.pot_litres == pytest.approx(13.5)  # half the cube of 3 dm
    assert any("Windows text" in said and "Großer" in said for said in findings.assumed)


@pytest.mark.parametrize(
    "heads",
    ["Nom,Espèce,Hauteur cm,Largeur cm,Poids kg", "Nombre,Especie,Altura cm,Ancho cm,Peso kg"],
)
def test_french_and_spanish_headings(heads: str, tmp_path: Path) -> None:
    trees, _ = of_csv(tmp_path, f"{heads}\nuno,Acer palmatum,60,50,8\n")
    tree = trees[0]
    assert (tree.name, tree.height_m, tree.width_m, tree.weight_kg) == ("uno", 0.6, 0.5, 8)


def test_kinds_under_tree_beside_a_column_of_varieties(tmp_path: Path) -> None:
    # A column "Tree" without a species column holds kinds; a unit left out is the column's.
    trees, findings = of_csv(
        tmp_path,
        "Tree,Variety,Height,Spread (cm),Pot size,Location\n"
        "Japanese maple,Deshojo,62cm,55,30cm,patio\nScots pine,,70,60,40x30x12,patio\n",
    )
    maple, pine = trees
    assert (maple.written, maple.name) == ("Japanese maple 'Deshojo'",) * 2
    assert (pine.written, pine.height_m) == ("Scots pine", 0.7)
    assert pine.pot_litres == pytest.approx(0.8 * 4 * 3 * 1.2)
    assert ("Location", "patio") in pine.own
    assert sum("says no unit in row 3: taken as cm" in said for said in findings.assumed) == 2


def test_a_pots_diameter_has_the_unit_of_its_column(tmp_path: Path) -> None:
    # As for other measures: one cell says it for all.
    trees, _ = of_csv(
        tmp_path,
        "Name;Art;Höhe;Breite;Topf Ø\nAhorn;Acer palmatum;65 cm;50 cm;38\n"
        "Kiefer;Pinus sylvestris;70;60;50 cm\n",
    )
    ratio = trees[1].pot_litres / trees[0].pot_litres
    assert ratio == pytest.approx((50 / 38) ** 3)


def test_boxes_under_a_diameter_of_a_pot(tmp_path: Path) -> None:
    # 0.8 of the box outside (docs/files.md); what is no box is a diameter, and told as one.
    head = "Tree,Kind,Width in,Height in,Pot (in)\n"
    boxes = "A,larch,14,20,14x11x4\nB,larch,10,20,oval 10 x 8 x 3 in\nC,larch,9,20,7\n"
    trees, _ = of_csv(tmp_path, head + boxes)
    inch_l = 0.254**3
    litres = [tree.pot_litres for tree in trees]
    assert litres == pytest.approx(
        [0.8 * 616 * inch_l, 0.8 * 240 * inch_l, 0.5 * 343 * inch_l], rel=1e-3
    )


def test_days_in_the_order_of_the_column(tmp_path: Path) -> None:
    # 25/11 can only be the 25th of November, so 05/11 is the 5th in the same column.
    trees, _ = of_csv(
        tmp_path,
        "tree,species,width_cm,height_cm,joins\na,Acer palmatum,30,40,25/11/2026\n"
        "b,Acer palmatum,30,40,05/11/2026\nc,Acer palmatum,30,40,1 Dec 2026\n",
    )
    assert [t.joins for t in trees] == [date(2026, 11, 25), date(2026, 11, 5), date(2026, 12, 1)]


def test_trees_without_names_are_named_as_their_kind(tmp_path: Path) -> None:
    # Genus and species in columns of their own, no names: common in printed inventories.
    trees, findings = of_csv(
        tmp_path,
        "Genus,Species,Qty,Width cm,Height cm\nAcer,palmatum,1,30,40\nAcer,palmatum,1,30,50\n"
        "Pinus,mugo,2,30,40\n",
    )
    assert [tree.name for tree in trees] == [
        "Acer palmatum no. 1",
        "Acer palmatum no. 2",
        "Pinus mugo 1/2",
        "Pinus mugo 2/2",
    ]
    assert any("no name" in text for text in findings.assumed)


@pytest.mark.parametrize("head", ["No. of", "How many", "Number of trees", "pcs"])
def test_how_many_is_asked_in_many_words(head: str, tmp_path: Path) -> None:
    """Three larches were planned as one; a heading that is not read is told (nobody's standard)."""
    text = f"What,{head},how tall (cm),spread cm,Bought\nOlive,3,40,30,2024\n"
    trees, findings = of_csv(tmp_path, text)
    assert [(tree.name, tree.height_m) for tree in trees] == [
        (f"Olive {i}/3", pytest.approx(0.4)) for i in (1, 2, 3)
    ]
    assert "trees.csv: listed as yours and not used: Bought." in findings.assumed


def test_a_name_that_is_only_a_number_carries_its_kind(tmp_path: Path) -> None:
    # Running numbers as names: "dearest risk: 12" says nothing beside the benches.
    trees, findings = of_csv(
        tmp_path,
        "No.,Common name,Qty,Width cm,Height cm\n1,Japanese maple,1,30,40\n"
        "2,Mugo pine,2,30,40\nOld man,Olive,1,30,40\n",
    )
    assert [tree.name for tree in trees] == [
        "Japanese maple no. 1",
        "Mugo pine no. 2 1/2",
        "Mugo pine no. 2 2/2",
        "Old man",
    ]
    said = [text for text in findings.assumed if "'No.' holds only numbers" in text]
    assert "rows 2, 3" in said[0]
    assert "'Japanese maple no. 1'" in said[0]


def test_what_cannot_be_seen_makes_no_second_tree(tmp_path: Path) -> None:
    # Composed and decomposed letters (Unicode NFC and NFD) and zero-width space are one name.
    (tmp_path / "trees.csv").write_text(
        "tree,species,width_cm,height_cm\n\u00c9rable,Acer palmatum,30,40\n"
        "E\u0301rable,Acer palmatum,30,40\n\u200b,Acer palmatum,30,40\n",
        encoding="utf-8",
    )
    findings = Findings()
    found = read_trees(tmp_path, read_species(tmp_path / "x", findings).names, STARTS, findings)
    assert found is not None
    assert [problem.row for problem in findings.problems] == [3]
    assert found.trees[2].name == "Acer palmatum"


def test_an_unquoted_decimal_comma_is_asked_about(tmp_path: Path) -> None:
    # 30,5 moves everything that follows by one cell.
    (tmp_path / "trees.csv").write_text(
        "tree,species,width_cm,height_cm,weight_kg,pot_l,note\n"
        "a,Acer palmatum,30,40,5,3,\nb,Acer palmatum,30,40,5,3,\nd,Acer palmatum,30,40,5,3,\n"
        "e,Acer palmatum,30,40,5,3,\nf,Acer palmatum,30,40,5,3,\nc,Acer palmatum,30,5,40,5,3,\n"
    )
    findings = Findings()
    read_trees(tmp_path, read_species(tmp_path / "x", findings).names, STARTS, findings)
    assert any(p.row == 7 and "30.5" in p.fix for p in findings.problems)


def test_a_deep_root_limit_is_odd(tmp_path: Path) -> None:
    # Roots of Acer palmatum stand some -10 °C; -40 is the whole tree's, or °F.
    _, findings = of_csv(
        tmp_path, "tree,species,width_cm,height_cm,root_kill_c\na,Acer palmatum,30,40,-40\n"
    )
    assert any("-40" in text for text in findings.warnings)


def test_estimates_follow_their_rules(tmp_path: Path) -> None:
    # 50 x 40 cm covers 0.2 m2: 6.4 l at 32 l a m2, and 1.65 kg a litre.
    trees, findings = of_csv(
        tmp_path, "tree,species,width_cm,depth_cm,height_cm\na,Acer palmatum,50,40,60\n"
    )
    assert trees[0].pot_litres == pytest.approx(6.4)
    assert trees[0].weight_kg == pytest.approx(6.4 * KG_PER_LITRE)
    assert len(findings.assumed) == 3  # pot, weight, value


def workbook(folder: Path, sheets: dict[str, list[list[object]]], merge: str = "") -> Path:
    book = Workbook()
    assert book.active is not None
    book.remove(book.active)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append(row)
        if merge and title != "Cover":
            sheet.merge_cells(merge)
    book.save(folder / "trees.xlsx")
    return folder


HEAD: list[object] = ["Species", "Name", "Width cm", "Height cm", "Pot l", "Joins"]


def test_cover_sheet_title_row_and_merged_kind(tmp_path: Path) -> None:
    # A kind merged over its trees belongs to each of them.
    rows: list[list[object]] = [
        ["Trees of an invented grower"],
        HEAD,
        ["Acer palmatum", "one", 30, 40, 3, None],
        [None, "two", 30, 50, 3, None],
    ]
    folder = workbook(tmp_path, {"Cover": [["Read me"]], "2026": rows}, merge="A3:A4")
    found, findings = listing(folder)
    assert [(t.name, t.written) for t in found.trees] == [
        ("one", "Acer palmatum"),
        ("two", "Acer palmatum"),
    ]
    assert any("Cover" in text for text in findings.assumed)


def test_two_sheets_of_trees_are_asked_about(tmp_path: Path) -> None:
    # Half of a collection would stay behind unseen.
    row: list[object] = ["Acer palmatum", "one", 30, 40, 3, None]
    folder = good_folder(tmp_path)
    (folder / "trees.csv").unlink()
    workbook(folder, {"Indoors": [HEAD, row], "Outdoors": [HEAD, row]})
    with pytest.raises(InputProblems, match=r"'Indoors' and 'Outdoors'"):
        read_season(folder)


def test_a_formula_without_its_value_is_asked_about(tmp_path: Path) -> None:
    # Files of programs that do not compute hold the formula alone.
    row: list[object] = ["Acer palmatum", "one", "=10+20", 40, 3, None]
    folder = good_folder(tmp_path)
    (folder / "trees.csv").unlink()
    workbook(folder, {"trees": [HEAD, row]})
    with pytest.raises(InputProblems, match=r"a formula without its value \(=10\+20\)"):
        read_season(folder)


@pytest.mark.parametrize("cut", [40, 400, 1500])
def test_a_damaged_workbook_is_told(cut: int, tmp_path: Path) -> None:
    # Bytes in the middle are overwritten; archives fail in many ways.
    folder = good_folder(tmp_path)
    (folder / "trees.csv").unlink()
    workbook(folder, {"trees": [HEAD, ["Acer palmatum", "one", 10, 40, 3, None]]})
    raw = bytearray((folder / "trees.xlsx").read_bytes())
    raw[cut : cut + 300] = b"\xff" * 300
    (folder / "trees.xlsx").write_bytes(bytes(raw))
    with pytest.raises(InputProblems, match=r"trees\.xlsx"):
        read_season(folder)


def test_a_very_large_list_is_refused_at_once(tmp_path: Path) -> None:
    # 200,000 rows used to run for minutes.
    row = "a,Acer palmatum,30,40\n"
    (tmp_path / "trees.csv").write_text("tree,species,width_cm,height_cm\n" + row * 200_000)
    findings = Findings()
    names = read_species(tmp_path / "x", findings).names
    assert read_trees(tmp_path, names, STARTS, findings) is None
    assert "200,000 rows" in findings.problems[0].found


@pytest.mark.parametrize("odd", ["?", "#REF!", "90 zentimeter"])
def test_a_tail_that_is_no_unit_is_told(tmp_path: Path, odd: str) -> None:
    # It tells the other cells nothing, and gets its own message.
    head, oak, elm = "tree,species,width_cm,height", "a,Acer palmatum,30,60", "b,Acer palmatum,30"
    (tmp_path / "trees.csv").write_text(f"{head}\n{oak}\n{elm},{odd}\n", encoding="utf-8")
    findings = Findings()
    names = read_species(tmp_path / "none", findings).names
    read_trees(tmp_path, names, STARTS, findings)
    assert [(one.row, one.column) for one in findings.problems] == [(3, "height")]


@pytest.mark.parametrize("heading", ["weight", "weight_kg", "Weight (lb)"])
def test_a_question_mark_is_a_blank_under_any_heading(tmp_path: Path, heading: str) -> None:
    # 1.65 kg a litre of pot (docs/files.md), as in a blank cell.
    head = f"tree,species,width_cm,height_cm,pot_l,{heading}"
    (tmp_path / "trees.csv").write_text(f"{head}\na,Acer palmatum,30,40,10,?\n", encoding="utf-8")
    trees = read_trees(tmp_path, read_species(tmp_path / "x", Findings()).names, STARTS, Findings())
    assert trees is not None
    assert trees.trees[0].weight_kg == pytest.approx(16.5)


def test_roots_of_the_last_spring_are_young(tmp_path: Path) -> None:
    # South of the equator a winter that starts in March follows the spring of the year before.
    head = "tree,species,width_cm,height_cm,repotted"
    rows = [f"of {year},Acer palmatum,30,40,{year}" for year in (2024, 2025, 2026)]
    (tmp_path / "trees.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    names = read_species(tmp_path / "none", Findings()).names
    for starts, young in (
        (STARTS, ["of 2026"]),
        (date(2026, 3, 15), ["of 2025", "of 2026"]),
    ):
        found = read_trees(tmp_path, names, starts, Findings())
        assert found is not None
        assert [tree.name for tree in found.trees if tree.young_roots] == young


TOLD = {
    # lists as people write them: the rows, columns and parts of the messages
    "tree,species,Size (in)\nA,Acer palmatum,12 x -10 x 20\n": (
        (2, "Size (in)", "'-10 in'; expected at least 0.787 inches. Is the minus sign a slip?"),
    ),
    "tree,species,Width,Height\nA,Acer palmatum,-12 in,20 in\n": (
        (2, "Width", "'-12 in'; expected at least 0.787 inches. Is the minus sign a slip?"),
    ),
    "tree,species,Sise (in)\nA,Acer palmatum,12 x 10 x 20\n": (
        (1, "Sise (in)", "Did you mean 'size'?"),
    ),
    "tree,species,Dimentions\nA,Acer palmatum,12 x 10 x 20 in\n": (
        (1, "Dimentions", "Did you mean 'dimensions'?"),
    ),
    "tree,Botanicle name,Width,Height\nA,Acer palmatum,12 in,20 in\n": (
        (1, "Botanicle name", "Did you mean 'botanical name'?"),
    ),
    "tree,species,Width,Height,Weight\nA,Acer palmatum,12 in,20 in,48 cm\n": (
        (2, "Weight", "a number in kg or lb. 'cm' measures something else"),
    ),
    "Name,Kind,Width (in),Height (in)\nA,White pine,12,20\n": (
        (2, "Kind", "Write 'Pinus flexilis' or 'Pinus parviflora' or 'Pinus strobus'."),
    ),
    "%PDF-1.7\n1 0 obj\n": (
        (1, None, "'%PDF-1.7', no heading among them; expected a row of headings: species, width"),
    ),
    "A,Acer palmatum,40,50\n": ((1, None, "Put one above the rows."),),
    "tree;species;width_cm;height_cm\nA;Acer palmatum;40;50;7\n": (
        (2, None, "in a CSV file put a cell that holds its separator in double quotes"),
    ),
}


@pytest.mark.parametrize("text", TOLD)
def test_each_mistake_is_told_in_the_growers_words(text: str, tmp_path: Path) -> None:
    # In the units and under the headings of the file, each once; ours.
    (tmp_path / "trees.csv").write_text(text, encoding="utf-8")
    findings = Findings()
    read_trees(tmp_path, read_species(tmp_path / "x", findings).names, STARTS, findings)
    for problem, (row, column, words) in zip(findings.problems, TOLD[text], strict=True):
        assert (problem.row, problem.column) == (row, column)
        assert words in str(problem)


def test_a_name_that_is_offered_says_what_it_needs(tmp_path: Path) -> None:
    """'fuchsia' was offered for 'Fuchia', and then refused: its limits are in no row."""
    (tmp_path / "trees.csv").write_text("Kind,Width cm,Height cm\nFuchia,30,40\n", "utf-8")
    findings = Findings()
    read_trees(tmp_path, read_species(tmp_path / "x", findings).names, STARTS, findings)
    (problem,) = findings.problems
    words = "Did you mean 'fuchsia'? Either way write a group in the column group; for it tender-"
    assert words in problem.fix


def test_a_total_may_stand_where_the_kind_does(tmp_path: Path) -> None:
    """As in a list that begins with the kind; how many there are is beside it (no standard)."""
    trees, findings = of_csv(tmp_path, "Kind,Qty,Width cm,Height cm\nOlive,2,30,40\nTotal,2,,\n")
    assert len(trees) == 2
    assert any("is a total, not a tree" in text for text in findings.assumed)


def test_a_total_may_stand_beside_a_number(tmp_path: Path) -> None:
    # "Total,1": the number stands where kinds do.
    head = "tree,species,width_cm,height_cm"
    trees, findings = of_csv(tmp_path, f"{head}\nA,Acer palmatum,40,50\nTotal,1,,\n")
    assert [tree.name for tree in trees] == ["A"]
    assert findings.problems == []


def test_a_workbook_of_an_old_kind_is_found(tmp_path: Path) -> None:
    # Nothing reads .xls here; the file is named, with what to do.
    for name in ("trees.xls", "trees.numbers"):
        (tmp_path / name).write_bytes(b"\xd0\xcf\x11\xe0")
        findings = Findings()
        read_trees(tmp_path, read_species(tmp_path / "x", findings).names, STARTS, findings)
        assert findings.problems[0].fix == f"Is it {name}? Save it as CSV or .xlsx."
        (tmp_path / name).unlink()


def test_a_day_in_place_of_a_size(tmp_path: Path) -> None:
    # "4-5" typed into a spreadsheet is the 4th of May.
    rows = [
        ["Tree", "Species", "Width cm", "Height cm"],
        ["A", "Acer palmatum", date(2026, 5, 4), 9],
    ]
    findings = Findings()
    read_trees(
        workbook(tmp_path, {"Trees": rows}),
        read_species(tmp_path / "x", findings).names,
        STARTS,
        findings,
    )
    told = "'2026-05-04'; expected a number. Did the spreadsheet make a day of it?"
    assert told in str(findings.problems[0])


JANUARY = "mean_min_c = -4, mean_max_c = 2"
PLACE, SWAPPED = "latitude = 47.5\nlongitude = 9.5", "latitude = 9.5\nlongitude = 47.5"


@pytest.mark.parametrize(
    ("file", "was", "becomes", "said"),
    [
        ("shelters.toml", "2026-10-20", "2025-10-20", "Is it the year before?"),
        ("shelters.toml", "width_m = 2.5", "width_m = 250", "a floor of at most 50.00 m²."),
        ("site.toml", PLACE, SWAPPED, "Are latitude and longitude swapped?"),
        ("site.toml", JANUARY, "mean_min_c = 25, mean_max_c = 36", "Is it in another unit?"),
    ],
)
def test_what_is_odd_is_said(file: str, was: str, becomes: str, said: str, tmp_path: Path) -> None:
    # A year before; cm under metres; zone 7b in the tropics; a month in °F. Each reads well
    # and is a slip.
    folder = good_folder(tmp_path)
    replaced(folder, file, (was, becomes))
    assert any(said in warning for warning in read_season(folder).warnings)


@pytest.mark.parametrize(
    ("written", "degrees"), [("93.2 W", -93.2), ("93° 12' W", -93.2), ("-93,2", -93.2)]
)
def test_degrees_as_people_write_them(written: str, degrees: float, tmp_path: Path) -> None:
    # 12 minutes are a fifth of a degree.
    folder = good_folder(tmp_path)
    replaced(folder, "site.toml", ("longitude = 9.5", f'longitude = "{written}"'))
    assert read_season(folder).site.longitude_deg == pytest.approx(degrees)
