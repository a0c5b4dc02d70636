"""EPW files: a public typical year, and what is wrong with broken ones."""

from datetime import date
from pathlib import Path

import numpy as np
import pytest
from folders import DATA, good_folder, replaced

from overwinter.files.findings import Findings
from overwinter.files.season import read_season
from overwinter.files.weather_epw import read_epw

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
        (1, "13", "a day and hour"),
        (3, "25", "an hour of 1 to 24"),
        (6, "-95", "air between"),
        (6, "cold", "numbers"),
        (13, "-5", "sun between"),
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


def made_up_year(path: Path) -> None:
    """A year in EPW form whose air tells its month, day and hour: invented."""
    lines = ["LOCATION,Nowhere,-,-,-,0,47.5,9.5,1,450", *["X"] * 7]
    for ordinal in range(date(2001, 1, 1).toordinal(), date(2002, 1, 1).toordinal()):
        day = date.fromordinal(ordinal)
        for hour in range(1, 25):
            air = day.month + day.day / 100 + hour / 10000
            cells = [str(1980 + day.month), str(day.month), str(day.day), str(hour), "0", "?"]
            cells += [f"{air:.4f}", *["0"] * 6, "100", *["0"] * 7, "3.0", *["0"] * 13]
            lines.append(",".join(cells))
    path.write_text("\n".join(lines), encoding="latin-1")


def test_a_year_is_laid_onto_the_winter_by_month_and_day(tmp_path: Path) -> None:
    # Years differ by month in a typical year; 29 February of a leap winter takes the 28th.
    folder = good_folder(tmp_path)
    site = (folder / "site.toml").read_text(encoding="utf-8")
    start, end = site.index("[weather]"), site.index("[heating]")
    text = site[:start] + '[weather]\nfile = "year.epw"\n\n' + site[end:]
    text = text.replace("2026-10-01", "2027-10-01").replace("2027-05-15", "2028-05-15")
    (folder / "site.toml").write_text(text, encoding="utf-8")
    replaced(folder, "trees.csv", ("2026-11-20", "2027-11-20"))
    replaced(folder, "shelters.toml", ("2026-10-20", "2027-10-20"))
    made_up_year(folder / "year.epw")
    season = read_season(folder)
    assert season.weather.air_c.shape == (season.hours,)
    air = season.weather.air_c.reshape(-1, 24)
    for day in (date(2027, 10, 1), date(2027, 12, 31), date(2028, 1, 1), date(2028, 5, 15)):
        assert air[season.day_index(day), 0] == pytest.approx(day.month + day.day / 100 + 0.0001)
    leap, before = season.day_index(date(2028, 2, 29)), season.day_index(date(2028, 2, 28))
    assert np.array_equal(air[leap], air[before])
    assert season.weather.wind_m_s is not None
    assert "typical year" in season.weather.origin
