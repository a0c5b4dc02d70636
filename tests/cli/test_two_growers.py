"""Two invented growers, from nothing to a printed carry list: what they type, how long it takes."""

from dataclasses import dataclass
from pathlib import Path
from time import process_time

import pytest
from openpyxl import Workbook
from typer.testing import CliRunner

from overwinter.cli.app import app
from overwinter.files.season import read_season

KEYS_A_MINUTE = 120.0
"""A slow typist with pauses to think: common practice, no source."""
MOST_MINUTES, MOST_SECONDS = 10.0, 20.0


@dataclass(frozen=True)
class Grower:
    """What one types into ``init``, a line an answer, and the sheet that was there before."""

    answers: tuple[str, ...]
    sheet: tuple[tuple[object, ...], ...]
    form: str


HILL = Grower(
    answers=(
        *("Hill garden", "42.1, -87.9", "us", "650 ft", "5b", "16 cents", "20 x 4"),
        *("", "10 ft x 4 ft"),
        *(
            "hoop tunnel",
            "Long tunnel",
            "20 x 10 x 7 ft",
            "double film",
            "2 kW 38 45 F",
            "yard 240 V 15 A",
            "",
        ),
        *("18 x 2.5 ft", "18 x 3 ft"),
        *("attached garage", "", "22 x 20 x 8 ft", "", "", "", "8 x 2 ft", "10 x 3 ft"),
        *("window sill", "Kitchen", "60 75 F", "40 W 12 h", "4 x 1.5 ft", "", ""),
    ),
    sheet=(
        ("Trees of spring (invented)",),
        ("Name", "Botanical name", "Cultivar", "Ht.", "Width (in)", "Pot", "Worth", "From whom"),
        ("Old red", "Acer palmatum", "Deshojo", '26"', 24, "3 gal", "$400", "a neighbour"),
        ("Twins", "Ulmus parvifolia", None, "1 ft 4", 14, "#1", "$90", None),
        ("Bog larch", "Larix laricina", None, "2 ft", 18, "12 in", "$250", None),
        ("Fig", "Ficus microcarpa", None, "18 in", 16, "1 gal", "$120", "the fair"),
        ("Total", None, None, None, None, None, "$860", None),
    ),
    form="xlsx",
)
LAKE = Grower(
    answers=(
        *(
            "Am See",
            "47.6 N, 9.4 E",
            "metric",
            "420 m",
            "-14 °C",
            "31 ct",
            "5 x 1 m",
            "3 x 2 m",
            "",
        ),
        *(
            "glasshouse",
            "Glashaus",
            "3,6 x 2,4 x 2,3 m",
            "",
            "2000 W 2 5",
            "",
            "",
            "3,4 x 0,7 m",
            "",
        ),
        *("cellar", "Keller", "4 x 3 x 2 m", "", "", "", "2 x 0,5 m", "2 x 1 m"),
        "",
    ),
    sheet=(
        ("Name", "Species", "Anzahl Äste", "Breite cm", "Width cm", "Height cm", "Value"),
        ("Ahorn", "Acer palmatum", 3, None, "40,5", 55, "300"),
        ("Kiefer", "Pinus mugo", 5, None, "38", 40, "260"),
        ("Ölbaum", "Olea europaea", None, None, "45", 60, "180"),
    ),
    form="csv",
)


def write_sheet(grower: Grower, folder: Path) -> Path:
    path = folder / f"mine.{grower.form}"
    if grower.form == "csv":
        rows = [";".join("" if cell is None else str(cell) for cell in row) for row in grower.sheet]
        path.write_text("\n".join(rows) + "\n", encoding="utf-8")
        return path
    book = Workbook()
    assert book.active is not None
    for row in grower.sheet:
        book.active.append(row)
    book.save(path)
    return path


@pytest.mark.slow
@pytest.mark.parametrize("grower", [HILL, LAKE], ids=["hill", "lake"])
def test_from_nothing_to_a_printed_list(grower: Grower, tmp_path: Path) -> None:
    """Issue by hand: under 10 minutes of typing, under 20 s of processor time, no mistake."""
    folder = tmp_path / "winter"
    typed = "\n".join((*grower.answers, str(write_sheet(grower, tmp_path)))) + "\n"
    commands = f"overwinter init {folder}\noverwinter plan {folder}\noverwinter lists {folder}\n"
    assert (len(typed) + len(commands)) / KEYS_A_MINUTE < MOST_MINUTES
    runner = CliRunner()
    began = process_time()
    asked = runner.invoke(app, ["init", str(folder)], input=typed)
    assert asked.exit_code == 0, asked.output
    assert "not understood" not in asked.output
    checked = runner.invoke(app, ["check", str(folder)])
    assert checked.exit_code == 0, checked.output
    planned = runner.invoke(app, ["plan", str(folder), "--time-limit", "8"])
    assert planned.exit_code == 0, planned.output
    listed = runner.invoke(app, ["lists", str(folder)])
    assert listed.exit_code == 0, listed.output
    assert process_time() - began < MOST_SECONDS
    sheet = (folder / "lists" / "carry-sheet.html").read_text(encoding="utf-8")
    for tree in read_season(folder).trees:
        assert tree.name in sheet or tree.name.split(" ")[0] in sheet


def test_options_ask_nothing(tmp_path: Path) -> None:
    """With --yes what is not given keeps its default; shelters by their answers in order."""
    options = ["--where", "51.5, 7.2", "--cold", "8a", "--shelter", "shed | Hut | 3 x 2 x 2 m"]
    done = CliRunner().invoke(app, ["init", str(tmp_path / "w"), "--yes", *options])
    assert done.exit_code == 0, done.output
    season = read_season(tmp_path / "w")
    assert season.site.latitude_deg == 51.5
    assert [shelter.id for shelter in season.shelters] == ["garden", "hut"]


@pytest.mark.parametrize(
    ("option", "answer", "expected"),
    [
        ("--where", "Nowhere at all", "a town that is known, or two numbers"),
        ("--where", "95, 200", "two numbers"),
        ("--cold", "15c", "a zone from 1a to 13b"),
        ("--cold", "-200", "a temperature with its unit"),
        ("--cold", "none.epw", "name of a file"),
        ("--elevation", "high", "such as 450 m"),
        ("--units", "imperial", "metric (cm, kg, °C) or us"),
        ("--price", "cheap", "such as 0.32 EUR"),
        ("--trees", "none.xlsx", "a .csv or .xlsx file that is there"),
        ("--bench", "6 m", "length x depth"),
        ("--shelter", "igloo", "hoop tunnel"),
        ("--shelter", "shed | Hut | 3 x 2", "three lengths"),
        ("--shelter", "shed | Hut | 3 x 2 x 2 m | ice", "timber board 20 mm"),
        ("--shelter", "shed | Hut | 3 x 2 x 2 m | | hot", "such as 2000 W"),
        ("--shelter", "heated room | Attic | 20 10 C", "two temperatures"),
    ],
)
def test_answers_that_are_none(option: str, answer: str, expected: str, tmp_path: Path) -> None:
    """One sentence, exit code 2, nothing written."""
    done = CliRunner().invoke(app, ["init", str(tmp_path / "w"), "--yes", option, answer])
    assert done.exit_code == 2
    assert expected in done.stderr
    assert not (tmp_path / "w").exists()
