"""Slips that are no mistakes: each is said once, and nothing is said of sound folders."""

import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "shelters"))

from season_maker import make_season

from overwinter.files.oddities import oddities
from overwinter.files.season import read_season
from overwinter.model.season import Season
from overwinter.model.shelter import Carrier, Heater

SCENARIOS = Path(__file__).parents[2] / "scenarios"


def with_place(season: Season, **change: float) -> Season:
    glass = season.shelters[1]
    places = (replace(glass.places[0], **change), *glass.places[1:])
    return replace(season, shelters=(replace(glass, places=places),))


def with_tree(season: Season, kg: float, litres: float) -> Season:
    return replace(season, trees=(replace(season.trees[0], weight_kg=kg, pot_litres=litres),))


def with_site(season: Season, **change: object) -> Season:
    return replace(season, site=replace(season.site, **change))


BAR = Heater("bar", Carrier.ELECTRICITY, 1.0, 300, steps_w=(300,))


@pytest.mark.parametrize(
    ("slip", "said"),
    [
        (lambda s: with_site(s, utc_offset_h=6.0), "Is a sign wrong?"),
        (lambda s: with_site(s, money_per_kwh={Carrier.ELECTRICITY: 14.5}), "Are these cents"),
        # 480 lb in 4 US gallons: 218 kg in 15 litres.
        (lambda s: with_tree(s, 217.7, 15.1), "14.4 kg a litre"),
        (lambda s: with_place(s, width_m=20.0), "2000 cm long"),
        (
            lambda s: replace(s, shelters=(replace(s.shelters[1], heaters=(BAR,)),)),
            "with all of its 300 W on",
        ),
    ],
)
def test_a_slip_is_said(slip: Callable[[Season], Season], said: str) -> None:
    """One sentence, with the figure."""
    season = make_season()
    told = [text for text in oddities(slip(season)) if text not in oddities(season)]
    assert any(said in text for text in told), told


@pytest.mark.parametrize("name", ["cottonwood-yard", "tidewater-rowhouse", "balcony-and-cellar"])
def test_sound_folders_have_none(name: str) -> None:
    """But for the two heaters without a thermostat, which are as weak as is said of them."""
    told = oddities(read_season(SCENARIOS / name))
    assert [text for text in told if not text.startswith("Heater:")] == []
