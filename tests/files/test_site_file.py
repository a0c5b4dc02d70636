"""site.toml: prices, breakers, weights, defaults."""

from pathlib import Path

import pytest
from folders import good_folder, replaced

from overwinter.files.measures import UNITS_KWH
from overwinter.files.season import read_season
from overwinter.files.site_file import WeightsTable
from overwinter.model.shelter import Carrier
from overwinter.model.site import Household, Weights


def with_site(tmp_path: Path, more: str):
    folder = good_folder(tmp_path)
    (folder / "site.toml").open("a", encoding="utf-8").write(more)
    return read_season(folder).site


@pytest.mark.parametrize(
    ("carrier", "unit", "units_per_million_btu"),
    [
        # erpud.com prints, per million Btu: 293 kWh, 10 therms, 7.4 gal kerosene, 11 gal propane.
        (Carrier.ELECTRICITY, "kwh", 293),
        (Carrier.NATURAL_GAS, "therm", 10.0),
        (Carrier.KEROSENE, "us gallon kerosene", 7.4),
        (Carrier.PROPANE, "us gallon propane", 11),
    ],
)
def test_energy_of_fuels_against_a_printed_table(
    carrier: Carrier, unit: str, units_per_million_btu: float
) -> None:
    # 1e6 Btu = 293.071 kWh; agreement to the rounding of the print.
    bought = 293.071 / UNITS_KWH[carrier][unit]
    assert bought == pytest.approx(units_per_million_btu, rel=0.01)


def test_a_price_per_litre_becomes_a_price_per_kwh(tmp_path: Path) -> None:
    # 7.08 kWh in a litre of propane (references: 91,452 Btu/gal, read second-hand).
    more = '\n[prices.propane]\nper_unit = 1.0\nunit = "Litre Propane"\n'
    site = with_site(tmp_path, more + "[prices.natural_gas]\nper_kwh = 0.11\n")
    assert site.money_per_kwh[Carrier.PROPANE] == pytest.approx(1 / 7.080, rel=1e-3)
    assert site.money_per_kwh[Carrier.NATURAL_GAS] == 0.11


def test_breakers_carry_four_fifths_or_what_is_said(tmp_path: Path) -> None:
    # 80 % for continuous load: common practice; local code decides.
    folder = good_folder(tmp_path)
    replaced(
        folder, "site.toml", ("amps = 16 }", "amps = 16 }\nshed = { watts = 1000 }\nattic = 900")
    )
    assert read_season(folder).site.breakers_w == {"garden": 2944.0, "shed": 1000, "attic": 900}


def test_weights_follow_the_model() -> None:
    # Every weight can be set in the file, under its own name.
    assert set(WeightsTable.model_fields) == set(Weights.__dataclass_fields__)


def test_weights_in_us_units(tmp_path: Path) -> None:
    # 50 lb = 22.68 kg.
    site = with_site(tmp_path, "\n[weights]\ntwo_person_lb = 50\ncarry = 2\nmost_chance = 0.02\n")
    assert site.weights.two_person_kg == pytest.approx(22.679619)
    assert site.weights.carry == 2
    assert site.weights.most_chance == 0.02
    assert site.weights.caution == Weights().caution


def test_winters_seed_and_thermostat_changes(tmp_path: Path) -> None:
    # Keys of the site and the household, with the defaults of the model.
    site = read_season(good_folder(tmp_path / "a")).site
    assert (site.winters, site.seed, site.thermostat_changes) == (30, 1, 2)
    folder = good_folder(tmp_path / "b")
    replaced(
        folder,
        "site.toml",
        ("[weather]", "winters = 12\nseed = 5\n\n[weather]"),
        ("hours_a_day = 4", "people = 3\nthermostat_changes = 4"),
    )
    season = read_season(folder)
    assert (season.site.winters, season.site.seed) == (12, 5)
    assert season.site.thermostat_changes == 4
    assert season.site.household == Household(people=3)
    assert season.winters.count == 12


def warnings_of(tmp_path: Path, more: str) -> list[str]:
    folder = good_folder(tmp_path)
    (folder / "site.toml").open("a", encoding="utf-8").write(more)
    return [told for told in read_season(folder).warnings if "[weights]" in told]


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ("", 13.5),  # 1.5 x (4 + 5)
        ("two_person_carry = 10\n", 22.5),  # 1.5 x (10 + 5)
        ("carry = 6\nextra_carry = 1\n", 10.5),  # 1.5 x (6 + 1)
        ("extra_carry = 100\nnot_home = 7\n", 7.0),
        ("not_home = 0\n", 0.0),
    ],
)
def test_not_home_follows_the_other_prices(tmp_path: Path, more: str, expected: float) -> None:
    # docs/files.md: the dearest way home and half as much again, unless it is said.
    assert with_site(tmp_path, "\n[weights]\n" + more).weights.not_home == expected


def test_the_defaults_of_the_model_are_those_without_a_file() -> None:
    # A Weights() made in code, as in many tests, has the price that the file gives.
    assert Weights() == Weights().with_own_not_home()
    assert Weights().not_home > Weights().two_person_carry


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("", []),
        ("two_person_kg = 23\n", []),
        ("two_person_kg = 23.5\n", ["two_person_kg is 23.5 kg (52 lb)"]),
        ("two_person_lb = 60\n", ["two_person_kg is 27.2 kg (60 lb)"]),
        ("not_home = 9.1\n", []),
        ("not_home = 9\n", ["not_home is 9, no more than"]),
        ("not_home = 0\n", []),
        (
            "two_person_kg = 30\nnot_home = 2\n",
            ["two_person_kg is 30.0 kg (66 lb)", "not_home is 2, no more than"],
        ),
    ],
)
def test_weights_against_caution_are_warned_of(tmp_path: Path, more: str, told: list[str]) -> None:
    # 23 kg (51 lb): see overwinter.model.site.ONE_PERSON_KG; 9 = 4 + 5 is the way home.
    found = warnings_of(tmp_path, "\n[weights]\n" + more)
    assert len(found) == len(told)
    assert all(words in one for words, one in zip(told, found, strict=True))


def test_standard_time_from_the_longitude(tmp_path: Path) -> None:
    # 15 degrees an hour; 9.5 degrees east keeps UTC+1.
    assert read_season(good_folder(tmp_path)).site.utc_offset_h == 1.0


def test_display_units_do_not_touch_the_numbers(tmp_path: Path) -> None:
    # units says how numbers are shown; headings say how they are written.
    folder = good_folder(tmp_path)
    replaced(folder, "site.toml", ('currency = "EUR"', 'currency = "USD"\nunits = "US"'))
    site = read_season(folder).site
    assert site.display.us
    assert site.house_c == 19.0
