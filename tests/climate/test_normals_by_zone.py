"""Normals by the rule of latitude, elevation and zone, beside five public typical years."""

import numpy as np
import pytest
from tmy3 import typical_year, weather_file

from overwinter.climate.coldest_night import law_by_rule
from overwinter.climate.records import normals_by_zone, normals_of_record

WINTER = [10, 11, 0, 1, 2]


@pytest.mark.energyplus
@pytest.mark.parametrize("name", ["Chicago", "Golden", "Dulles", "Tampa", "San Francisco"])
def test_winters_of_five_typical_years(name: str) -> None:
    """TMY3 files that EnergyPlus carries; the rule was not fitted to them. Figures in
    docs/winters.md."""
    record = typical_year(name)
    assert record.coldest is not None
    where = weather_file(name).read_text("latin-1").split("\n")[0].split(",")[6:10]
    latitude, longitude, _, elevation = map(float, where)
    found = normals_by_zone(latitude, longitude, elevation, record.coldest.mean_c)
    known = normals_of_record(record)
    low, high = found.mean_min_c - known.mean_min_c, found.mean_max_c - known.mean_max_c
    assert abs(low[WINTER].mean()) < 2.05
    assert np.abs(low[WINTER]).max() < 5.0
    assert abs(high[WINTER].mean()) < 6.0
    assert np.abs(high[WINTER]).max() < 8.5


def test_its_coldest_night_is_the_one_given() -> None:
    """The rule for the coldest night, the other way round, gives it back."""
    normals = normals_by_zone(45.0, -75.0, 200.0, -22.0)
    assert law_by_rule(normals.mean_min_c).mean_c == pytest.approx(-22.0, abs=0.4)
    assert int(normals.mean_min_c.argmin()) == 0
    assert int(normals_by_zone(-45.0, 170.0, 200.0, -8.0).mean_min_c.argmin()) == 6


@pytest.mark.parametrize(
    ("latitude", "longitude", "elevation", "coldest_c", "january_c", "july_c"),
    [
        (52.5, 13.4, 40.0, -13.5, 0.5, 19.5),
        (50.9, 11.6, 150.0, -15.5, 0.5, 19.0),
        (52.2, 21.0, 110.0, -18.5, -2.0, 19.5),
        (49.2, -123.1, 5.0, -8.0, 4.0, 18.0),
    ],
    ids=["Berlin", "Jena", "Warsaw", "Vancouver"],
)
def test_lee_of_an_ocean_is_milder(
    latitude: float,
    longitude: float,
    elevation: float,
    coldest_c: float,
    january_c: float,
    july_c: float,
) -> None:
    """Means of January and July as known of these towns, from memory; the rule is rough."""
    found = normals_by_zone(latitude, longitude, elevation, coldest_c)
    mean = (found.mean_min_c + found.mean_max_c) / 2
    assert mean[0] == pytest.approx(january_c, abs=2.5)
    assert mean[6] == pytest.approx(july_c, abs=3.5)
