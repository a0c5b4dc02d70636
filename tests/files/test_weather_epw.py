"""EPW files: a public typical year, and what is wrong with broken ones."""

from datetime import date
from pathlib import Path

import numpy as np
import pytest
from folders import DATA, good_folder

from overwinter.climate.coldest_night import ColdestNight
from overwinter.files.findings import Findings
from overwinter.files.season import read_season
from overwinter.files.weather_records import read_epw

CHICAGO = DATA / "chicago-two-days.epw"


def two_days(tmp_path: Path, *changes: tuple[str, str]) -> tuple[object, Findings]:
    """The excerpt with pieces of it replaced."""
    text = CHICAGO.read_text(encoding="latin-1")
    for before, after in changes:
        assert before in text
        text = text.replace(before, after, 1)
    path = tmp_path / "excerpt.epw"
    path.write_text(text, encoding="latin-1")
    findings = Findings()
    return read_epw(path, findings), findings


def test_the_coldest_hour_of_a_public_file() -> None:
    # Chicago O'Hare TMY3: -22.8 degC on 7 January in hour 7, which covers 06:00 to 07:00 (the
    # references read it from the file; pvlib and ladybug-core read the same minimum).
    findings = Findings()
    record = read_epw(CHICAGO, findings)
    assert record is not None
    assert findings.problems == []
    assert [(day.month, day.day) for day in record.days] == [(1, 6), (1, 7)]
    assert record.air_c.min() == -22.8
    assert np.unravel_index(record.air_c.argmin(), record.air_c.shape) == (1, 6)
    assert (record.latitude_deg, record.longitude_deg) == (41.98, -87.92)
    assert record.station == "Chicago Ohare Intl Ap, IL, USA, TMY3, 725300"
    assert record.sun_w_m2 is not None
    assert record.sun_w_m2[:, :7].max() == 0  # no sun before 07:00 in January at 42 north
    assert record.sun_w_m2[:, 10:14].min() > 0


def test_markers_of_missing_values_are_gaps(tmp_path: Path) -> None:
    # 99.9 for the dry bulb (official dictionary, from memory): no air is that hot.
    line = CHICAGO.read_text(encoding="latin-1").splitlines()[10]
    cells = line.split(",")
    cells[6] = "99.9"
    record, findings = two_days(tmp_path, (line, ",".join(cells)))
    assert findings.problems == []
    assert int(np.isnan(record.air_c).sum()) == 1


@pytest.mark.parametrize(
    ("column", "value", "expected"),
    [
        (1, "13", "from 1 to 12"),
        (2, "31.5", "from 1 to 31"),
        (3, "25", "from 1 to 24"),
        (6, "-95", "-80 to 60"),
        (6, "cold", "a number"),
        (13, "-5", "0 to 1500"),
    ],
)
def test_rows_that_cannot_be(column: int, value: str, expected: str, tmp_path: Path) -> None:
    # Each names the row as an editor counts it.
    line = CHICAGO.read_text(encoding="latin-1").splitlines()[20]
    cells = line.split(",")
    cells[column] = value
    record, findings = two_days(tmp_path, (line, ",".join(cells)))
    assert record is None
    assert [problem.row for problem in findings.problems] == [21]
    assert expected in findings.problems[0].expected


def test_an_hour_twice_is_a_problem(tmp_path: Path) -> None:
    # A file of several years would overwrite itself.
    line = CHICAGO.read_text(encoding="latin-1").splitlines()[20]
    record, findings = two_days(tmp_path, (line, f"{line}\n{line}"))
    assert record is None
    assert "twice" in findings.problems[0].found


def test_the_head_tells_how_cold_winters_get(tmp_path: Path) -> None:
    # Chicago's head: mean of the yearly lowest temperatures -23.7 degC, standard deviation 4.5 K.
    record, _ = two_days(tmp_path)
    assert record.coldest == ColdestNight(-23.7, 4.5)
    line = CHICAGO.read_text(encoding="latin-1").splitlines()[1]
    record, findings = two_days(tmp_path, (line, "DESIGN CONDITIONS,0"))
    assert record.coldest is None
    assert findings.problems == []


def test_winters_are_drawn_from_a_typical_year(tmp_path: Path) -> None:
    # A typical year leaves the coldest winters out; its months are kept and its head is believed.
    folder = good_folder(tmp_path)
    site = (folder / "site.toml").read_text(encoding="utf-8")
    start, end = site.index("[weather]"), site.index("[ground]")
    weather = '[weather]\nfile = "year.epw"\n\n'
    (folder / "site.toml").write_text(site[:start] + weather + site[end:], encoding="utf-8")
    made_up_year(folder / "year.epw")
    season = read_season(folder)
    recipe = season.recipe
    assert recipe is not None
    assert (recipe.coldest_mean_c, recipe.coldest_spread_k) == (-17.2, 4.6)
    assert recipe.mean_min_c[0] == pytest.approx(-4)
    assert recipe.mean_max_c[6] == pytest.approx(24)
    assert season.winters.count == 30
    assert season.winters.air_c.min(axis=1).mean() == pytest.approx(-17.2, abs=0.2)


def made_up_year(path: Path) -> None:
    """A year in EPW form, each month as its middle day and Dulles's coldest nights: invented."""
    extremes = "DESIGN CONDITIONS,1,-,,Heating,1,-11.8,Extremes,9.2,8.2,7.3,28.9,-17.2,36.2,4.6,1.9"
    lines = ["LOCATION,Nowhere,-,-,-,0,47.5,9.5,1,450", extremes, *["X"] * 6]
    for ordinal in range(date(2001, 1, 1).toordinal(), date(2002, 1, 1).toordinal()):
        day = date.fromordinal(ordinal)
        low = 17 - abs(7 - day.month) * 3.5
        for hour in range(1, 25):
            air = low + (7 if 10 < hour < 20 else 0)
            cells = [str(1980 + day.month), str(day.month), str(day.day), str(hour), "0", "?"]
            cells += [f"{air:.4f}", *["0"] * 6, "100", *["0"] * 7, "3.0", *["0"] * 13]
            lines.append(",".join(cells))
    path.write_text("\n".join(lines), encoding="latin-1")
