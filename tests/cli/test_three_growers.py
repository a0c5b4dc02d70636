"""Three invented growers, from nothing to a printed carry list: what they type, how long it takes.

``python tests/cli/test_three_growers.py`` prints the table. Their sheets are invented too, with the
habits of such sheets (common practice, no source).
"""

import sys
import tempfile
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from time import process_time

import pytest
from openpyxl import Workbook, load_workbook
from typer.testing import CliRunner

from overwinter.cli.app import app
from overwinter.files.season import read_season

KEYS_A_MINUTE = 120.0
"""A slow typist with pauses to think: common practice, no source."""
FIND_KEYS = 15
"""To find a cell that is mended and to save the sheet: a judgement."""
MOST_MINUTES, MOST_SECONDS = 10.0, 20.0


@dataclass(frozen=True)
class Grower:
    """What one types into ``init``, a line an answer, and the sheet that was there before."""

    name: str
    answers: tuple[str, ...]
    sheet: bytes
    form: str
    mends: tuple[tuple[str, str], ...] = ()
    """Kinds that ``check`` asks about, and what is typed over them."""

    @property
    def folder_name(self) -> str:
        return f"{self.name}-winter"

    def typed(self, sheet: str) -> str:
        return "\n".join((*self.answers, sheet)) + "\n"

    def keys(self) -> int:
        """Of answers, four commands and mended cells."""
        commands = ("init", "check", "plan", "lists", *(("check",) if self.mends else ()))
        typed = sum(len(f"overwinter {one} {self.folder_name}\n") for one in commands)
        mended = sum(len(becomes) + FIND_KEYS for _, becomes in self.mends)
        return len(self.typed(f"trees.{self.form}")) + typed + mended


def workbook(sheets: dict[str, str]) -> bytes:
    """Sheets of lines with cells parted by |; figures alone are numbers."""
    book = Workbook()
    assert book.active is not None
    book.remove(book.active)
    for title, text in sheets.items():
        sheet = book.create_sheet(title)
        for line in text.split("\n"):
            cells = line.split("|") if line else []
            sheet.append([int(cell) if cell.isdigit() else cell or None for cell in cells])
    out = BytesIO()
    book.save(out)
    return out.getvalue()


KINDS = tuple(
    """Japanese Maple;Japanese Black Pine;Chinese Elm;Trident Maple;Shimpaku Juniper;Bald Cypress
Ficus;Boxwood;Japanese White Pine;Hinoki Cypress;American Larch;Ponderosa Pine;Hawthorn;Crabapple
Azalea (Satsuki);Olive;Jade plant;Coast Redwood;Procumbens juniper;Ginkgo;Amur Maple
Rocky Mtn Juniper;Brush cherry;Bougainvillea""".replace("\n", ";").split(";")
)


def kinds_in_inches() -> bytes:
    """Seventy rows with an id, a common name and sizes in inches; some cells are empty."""
    pots = ("3 gal", "1 gal", "14 x 10 x 4 in", '"12"""', "16x12x5", "#1", "")
    rows = [
        "ID,Common Name,Height (inches),Width (inches),Pot Size,Weight (lbs),Est. Value,Notes",
        *(
            f"T-{n + 1:03d},{KINDS[n % len(KINDS)]},{10 + 7 * n % 25},{9 + 5 * n % 20},"
            f"{pots[n % len(pots)]},{'' if n % 3 else 9 + n % 20},"
            f"{(chr(34) + '$1,200' + chr(34)) if n % 9 == 0 else '$80'},{'wired' if n % 4 else ''}"
            for n in range(70)
        ),
    ]
    return ("\n".join(rows) + "\n").encode()


SEA = Grower(
    "york",
    answers=(
        *("Mum's garden", "53°58'N 1°05'W", "cm", "20m", "-6C", "27p", "4m x 1m", "2m x 1m", ""),
        *("Greenhouse", "Greenhouse", "8 ft x 6 ft x 7", ""),
        *("2kW fan heater, frost stat 5C", "13A socket", "", "2m x 50cm", "none", ""),
        *("shed", "Shed", "6 x 8 ft x 7 ft", "", "no", "", "1.8 x 0.5 m", "1.8 x 0.6 m", "", ""),
    ),
    sheet=workbook(
        {
            "Read me": "Trees - updated March\nplease water when we are away",
            "Trees 2026": "My potted trees\n\n"
            "No|Tree|Variety|Height|Spread (cm)|Pot size|Wt|Repotted|Where kept|What I paid|About\n"
            "1|Japanese maple|Deshojo|62cm|55|30cm|11 kg|Mar 2025|patio|£180|bought at show\n"
            "2|Chinese elm||35|30|20cm|?|2026|kitchen|£45|\n"
            "3|Scots pine||70|50|40x30x12|18kg||patio|£1,300|\n"
            "4|Olive||55 cm|45|28 cm|9||greenhouse|£90|\n"
            "5|Fig (indoor)||40 cm|35|18 cm|||windowsill|£30|\n"
            "6|Larch||65 cm|40|25 cm|8||patio|£70|\n\n6 trees|||||||||£1,715|",
        }
    ),
    form="xlsx",
    mends=(("Fig (indoor)", "Ficus microcarpa"),),
)
HILL = Grower(
    "burlington",
    answers=(
        *("Backyard", "44.48, -73.21", "", "200 ft", "zone 4b", "16 cents"),
        *("40 x 4", "10 x 10", "12 x 8"),
        *("attached garage", "Garage", "22 x 20 x 8", "", "1500 W 35F", "120V 15A", ""),
        *("", "20 x 8", ""),
        *("cellar", "", "12 x 10 x 7", "", "", "", "8 x 2", "8 x 6", ""),
        *("window", "Kitchen", "60 75", "", "", "", ""),
    ),
    sheet=kinds_in_inches(),
    form="csv",
    mends=(("Ficus", "Ficus microcarpa"),),
)
LAKE = Grower(
    "garten",
    answers=(
        *("Käthes Garten", "48,14 11,58", "", "520 m", "-16", "31 ct", "5 x 1", "3 x 2 m", ""),
        *("Gewächshaus", "", "3,6 x 2,4 x 2,3 m", "", "2000 W 2 5", "", "", "3,4 x 0,7 m", "", ""),
        *("Keller", "Keller", "4 x 3 x 2 m", "", "", "", "2 x 0,5 m", "2 x 1 m", ""),
        *("Fensterbank", "Küche", "15 22", "", "2 x 0,4 m", "", ""),
    ),
    sheet=(
        "Baumliste von Käthe;;;;;;;;\n"
        "Nr;Name;Art;Sorte;Höhe (cm);Breite (cm);Topf;Gewicht (kg);Wert;Bemerkung\n"
        "1;Großer Roter;Fächerahorn;Deshojo;62,5;55;Ø 30 cm;11,5;350 €;von Jürgen\n"
        "2;Dreispitz;Dreispitzahorn;;48;50;35x25x8 cm;;220 €;\n"
        "3;Die Alte;Mädchenkiefer;;70;60;40 x 30 x 12 cm;18,2;1.200,50 €;schwer\n"
        "4;Ölbaum;Olive;;55;45;5 l;9;90 €;\n5;Ulme;Chinesische Ulme;;35;30;20 cm;;45 €;\n"
        ";Summe;;;;;;;1.905,50 €;\n"
    ).encode("cp1252"),
    form="csv",
)


@dataclass(frozen=True)
class Session:
    """One grower's way to the list."""

    folder: Path
    seconds: float
    """Of the processor."""
    carries: int


def played(grower: Grower, where: Path) -> Session:
    """Type everything; nothing may be misunderstood, and only ``check`` may ask."""
    mine, folder = where / f"trees.{grower.form}", where / grower.folder_name
    mine.write_bytes(grower.sheet)
    runner = CliRunner()
    began = process_time()
    asked = runner.invoke(app, ["init", str(folder)], input=grower.typed(str(mine)))
    assert asked.exit_code == 0, asked.output
    assert "not understood" not in asked.output
    assert asked.output.count("Caution") == (grower is HILL)  # 1500 W on a 15 A breaker
    if grower.mends:
        refused = runner.invoke(app, ["check", str(folder)])
        assert refused.exit_code == 2
        assert all(was in refused.stderr for was, _ in grower.mends)
        mend(folder / mine.name, grower)
    for command in ("check", "plan", "lists"):
        done = runner.invoke(app, [command, str(folder)])
        # 1: a plan that leaves trees out, as it must where there is too little room.
        assert done.exit_code in ({0} if command == "check" else {0, 1}), done.output
    carries = int(done.stdout.split(" ", 1)[0])
    return Session(folder, process_time() - began, carries)


def mend(path: Path, grower: Grower) -> None:
    for was, becomes in grower.mends:
        if grower.form == "csv":
            text = path.read_text(encoding="utf-8")
            path.write_text(text.replace(f",{was},", f",{becomes},"), encoding="utf-8")
            continue
        book = load_workbook(path)
        for cell in (cell for sheet in book for row in sheet for cell in row):
            if cell.value == was:
                cell.value = becomes
        book.save(path)


@pytest.mark.slow
@pytest.mark.parametrize("grower", [SEA, HILL, LAKE], ids=lambda grower: grower.name)
def test_from_nothing_to_a_printed_list(grower: Grower, tmp_path: Path) -> None:
    """Asked for: under 10 minutes of typing, under 20 s of processor time, no mistake."""
    assert grower.keys() / KEYS_A_MINUTE < MOST_MINUTES
    session = played(grower, tmp_path)
    assert session.seconds < MOST_SECONDS
    assert session.carries > 0
    sheet = (session.folder / "lists" / "carry-sheet.html").read_text(encoding="utf-8")
    for tree in read_season(session.folder).trees:
        assert tree.name.replace("'", "&#39;") in sheet or tree.name.split(" ")[0] in sheet


@pytest.mark.slow
def test_names_cultivars_and_notes_stand_on_every_list(tmp_path: Path) -> None:
    """A list by numbers and latin names is nobody's own."""
    folder = played(LAKE, tmp_path).folder
    report = CliRunner().invoke(app, ["report", str(folder)])
    assert report.exit_code == 0, report.output
    book = load_workbook(folder / "lists" / "carries.xlsx")
    cells = [str(cell.value) for sheet in book for row in sheet for cell in row if cell.value]
    texts = {
        name: (folder / name).read_text(encoding="utf-8")
        for name in ("report.html", *(f"lists/carry-{n}.html" for n in ("sheet", "phone")))
    }
    texts["csv"] = (folder / "lists" / "carries-all.csv").read_text(encoding="utf-8")
    texts["xlsx"] = "\n".join(cells)
    for name, text in texts.items():
        for word in ("Großer Roter", "Deshojo", "von Jürgen"):
            assert word in text, (name, word)


def test_options_ask_nothing(tmp_path: Path) -> None:
    """With --yes what is not given keeps its default; shelters by their answers in order."""
    options = ["--where", "51.5, 7.2", "--cold", "8a", "--shelter", "shed | Hut | 3 x 2 x 2 m"]
    options += ["--shelter", "window sill | Sill | 17 22 C | | 1.2 x 0.2 m"]
    done = CliRunner().invoke(app, ["init", str(tmp_path / "w"), "--yes", *options])
    assert done.exit_code == 0, done.output
    season = read_season(tmp_path / "w")
    assert season.site.latitude_deg == 51.5
    assert [shelter.id for shelter in season.shelters] == ["garden", "hut", "sill"]
    sill = next(one for one in season.places.values() if one.shelter_id == "sill")
    assert (sill.width_m, sill.depth_m) == (1.2, 0.2)
    assert season.winters.origin.startswith("A rough rule:")
    assert "answers. The trees are invented." in (tmp_path / "w" / "README.md").read_text()


def test_shelters_are_all_read_before_one_is_refused(tmp_path: Path) -> None:
    """Every wrong one is told at once; that there is no circuit without a heater is no mistake."""
    options = ["--where", "44.4, -72", "--cold", "4b"]
    options += ["--shelter", "shed | Hut | 3 x 2 x 2 m | | - | - | -"]
    bad = ["--shelter", "shed | A | 3 x 2 m", "--shelter", "heated room | B | 20 10 C"]
    command = ["init", str(tmp_path / "w"), "--yes", *options]
    done = CliRunner().invoke(app, [*command, *bad])
    assert done.exit_code == 2
    told = done.stderr
    assert [name in told for name in ("A': ", "B': ", "Hut")] == [True, True, False]
    assert CliRunner().invoke(app, command).exit_code == 0


def test_a_cold_frame_has_room_for_what_stands_on_its_floor(tmp_path: Path) -> None:
    """Its floor was told from its air as if it were as high as a room, and half of it too much."""
    options = ["--where", "44.4, -72", "--cold", "4b"]
    options += ["--shelter", "cold frame | Frame | 2.4 x 0.9 x 0.6 m"]
    done = CliRunner().invoke(app, ["init", str(tmp_path / "w"), "--yes", *options])
    assert done.exit_code == 0, done.output
    season = read_season(tmp_path / "w")
    assert not any("Is a unit wrong" in said for said in season.warnings)
    floor = season.places["frame/floor"]  # reached from above: all of it holds pots
    assert (floor.width_m, floor.depth_m) == (2.4, 0.9)


def test_a_tree_as_wide_as_the_bench_fits_it(tmp_path: Path) -> None:
    """16 inches are 1.3333 feet; a tree of 16 inches was too wide for a bench of 1.33 feet."""
    options = ["--where", "44.4, -72", "--cold", "4b", "--units", "us", "--shelter"]
    sill_of_inches = "window sill | Sill | 62 72 F | | 4 ft x 16 in"
    done = CliRunner().invoke(app, ["init", str(tmp_path / "w"), "--yes", *options, sill_of_inches])
    assert done.exit_code == 0, done.output
    sill = read_season(tmp_path / "w").places["sill/bench"]
    assert (sill.width_m, sill.depth_m) == pytest.approx((4 * 0.3048, 16 * 0.0254), abs=1e-9)


@pytest.mark.parametrize(
    ("option", "answer", "expected"),
    [
        ("--where", "Nowhere at all", "latitude and then longitude: 48.1"),
        ("--where", "95, 200", "latitude and then longitude"),
        ("--where", "46.8, -92.1", "cold: Expected a zone from 1a to 13b"),  # none is guessed
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
        (
            "--shelter",
            "shed | Hut | 3 x 2 x 2 m | | 5 kW wood stove",
            "Wood and coal are not reckoned",
        ),
        ("--shelter", "shed | Hut | 3 x 2 x 2 m | | | | | | | soon", "a day such as 2026-10-20"),
        (
            "--fuel",
            "pellets 0.40 kg",
            "names no fuel of natural gas, propane, heating oil or kerosene",
        ),
        ("--shelter", "heated room | Attic | 20 10 C", "two temperatures"),
        (
            "--shelter",
            "window sill | Sill | 17 22 C | | | | | 1 x 0.2 m |",
            "'1 x 0.2 m' is one answer too",
        ),
        (
            "--shelter",
            "window sill | Sill | 17 22 C | 10 x 2 ft",
            "'Sill': shelter lamps: '10 x 2 ft' is",
        ),
        ("--shelter", "garage | Cell | 2 9 C | brick", "'Cell': 'brick' answers 'made of', which"),
        ("--shelter", "shed | Hut | 3 x 2 x 2 m | | | A 16 A", "'circuit or flue', which is not"),
    ],
)
def test_answers_that_are_none(option: str, answer: str, expected: str, tmp_path: Path) -> None:
    """One sentence, exit code 2, nothing written."""
    done = CliRunner().invoke(app, ["init", str(tmp_path / "w"), "--yes", option, answer])
    assert done.exit_code == 2
    assert expected in done.stderr
    assert not (tmp_path / "w").exists()


if __name__ == "__main__":
    print("grower       trees  keys  minutes  mended  processor s  carries")
    for grower in (SEA, HILL, LAKE):
        with tempfile.TemporaryDirectory() as folder:
            session = played(grower, Path(folder))
            trees = len(read_season(session.folder).trees)
            keys, minutes = grower.keys(), grower.keys() / KEYS_A_MINUTE
            print(
                f"{grower.name:<12} {trees:5} {keys:5} {minutes:8.1f} {len(grower.mends):7}"
                f" {session.seconds:12.1f} {session.carries:8}"
            )
    sys.exit(0)
