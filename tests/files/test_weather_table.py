"""Measured hours and days as CSV, with the gaps real records have."""

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from folders import DATA, good_folder

from overwinter.model.season import Season
from overwinter.files.findings import Findings
from overwinter.files.season import read_season
from overwinter.files.weather_record import whole_days
from overwinter.files.weather_table import read_daily, read_hourly


def season_with(tmp_path: Path, text: str, kind: str, more: str = "") -> Season:
    """The good folder planned on a weather file."""
    folder = good_folder(tmp_path)
    (folder / "weather.csv").write_text(text, encoding="utf-8")
    site = (folder / "site.toml").read_text(encoding="utf-8")
    start, end = site.index("[weather]"), site.index("[heating]")
    weather = f'[weather]\nfile = "weather.csv"\nkind = "{kind}"\n{more}\n'
    (folder / "site.toml").write_text(site[:start] + weather + site[end:], encoding="utf-8")
    return read_season(folder)


def days(first: date, last: date) -> list[date]:
    return [first + timedelta(days=i) for i in range((last - first).days + 1)]


def test_the_coldest_day_of_a_public_record() -> None:
    # Lincoln, Nebraska, 18 December 2016: -13 degF = -25.0 degC (references, section 8, G).
    findings = Findings()
    record = read_daily(DATA / "lincoln-days.csv", findings)
    assert record is not None
    assert findings.problems == []
    coldest = int(np.nanargmin(record.air_c[:, 0]))
    assert record.days[coldest] == date(2016, 12, 18)
    assert record.air_c[coldest] == pytest.approx([-25.0, -100 / 9])  # 12 degF


def test_a_blank_day_is_filled_between_its_neighbours() -> None:
    # 17 June 2016 is blank in the source; one day is a short gap, July to November is not.
    findings = Findings()
    record = read_daily(DATA / "lincoln-days.csv", findings)
    assert record is not None
    whole = whole_days(record, findings)
    assert whole is not None
    assert len(whole.days) == 30 + 31
    june = dict(zip(whole.days, whole.air_c, strict=True))
    neighbours = (june[date(2016, 6, 16)] + june[date(2016, 6, 18)]) / 2
    assert june[date(2016, 6, 17)] == pytest.approx(neighbours)
    assert any("filled" in text for text in findings.warnings)


def test_the_coldest_hour_of_measured_hours() -> None:
    # Newark, 23 January 2013, 05:00: 10.94 degF = -11.7 degC (references, section 8, J).
    findings = Findings()
    record = read_hourly(DATA / "newark-hours.csv", findings)
    assert record is not None
    assert findings.problems == []
    at = record.days.index(date(2013, 1, 23))
    assert record.air_c[at, 5] == pytest.approx(-11.7)
    assert record.sun_w_m2 is None


def test_a_missing_hour_is_filled() -> None:
    # 23:00 of 17 February 2013 is missing in the source; days without any rows stay missing.
    findings = Findings()
    record = read_hourly(DATA / "newark-hours.csv", findings)
    assert record is not None
    gap = record.days.index(date(2013, 2, 17))
    assert np.isnan(record.air_c[gap, 23])
    whole = whole_days(record, findings)
    assert whole is not None
    assert [day.day for day in whole.days] == [22, 23, 17, 18]
    filled = whole.air_c[2, 23]
    assert filled == pytest.approx((whole.air_c[2, 22] + whole.air_c[3, 0]) / 2)


def test_daily_extremes_are_kept_hour_by_hour(tmp_path: Path) -> None:
    # Every day's minimum and maximum must be in the hours made from them.
    rows = [
        f"{day},{-day.day % 7 - 5},{day.day % 5 + 1}"
        for day in days(date(2020, 10, 1), date(2021, 5, 15))
    ]
    season = season_with(tmp_path, "date,min_c,max_c\n" + "\n".join(rows), "daily")
    by_day = season.weather.air_c.reshape(-1, 24)
    wanted = [tuple(map(float, row.split(",")[1:])) for row in rows]
    assert by_day.min(axis=1) == pytest.approx([low for low, _ in wanted])
    assert by_day.max(axis=1) == pytest.approx([high for _, high in wanted])
    assert "2020-10-01 to 2021-05-15" in season.weather.origin


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (date(2016, 1, 1), date(2016, 12, 31), "by month and day from 2016."),
        (date(2015, 6, 1), date(2016, 4, 30), "by month and day from 2015 to 2016."),
    ],
)
def test_years_patched_together_are_named(
    first: date, last: date, words: str, tmp_path: Path
) -> None:
    # One calendar year holds no whole winter, nor does one that lacks May 2016: May is of 2015.
    spring = days(date(2015, 5, 1), date(2015, 5, 31)) if first.year == 2015 else []
    rows = [f"{day},-5,5" for day in [*spring, *days(first, last)]]
    season = season_with(tmp_path, "date,min_c,max_c\n" + "\n".join(rows), "daily")
    assert season.weather.origin.endswith(words)


def test_the_winter_asked_for_is_used(tmp_path: Path) -> None:
    # Three winters in one file, told apart by their temperature; the last one unless asked.
    rows = [
        f"{day},{-(day.year if day.month > 6 else day.year - 1) + 2000},9"
        for day in days(date(2010, 10, 1), date(2013, 5, 15))
    ]
    text = "date,min_c,max_c\n" + "\n".join(rows)
    latest = season_with(tmp_path / "a", text, "daily")
    asked = season_with(tmp_path / "b", text, "daily", "winter = 2010")
    assert latest.weather.air_c.min() == -12
    assert asked.weather.air_c.min() == asked.weather.air_c.reshape(-1, 24).min(axis=1).max() == -10


def test_sun_and_wind_are_read_where_they_are(tmp_path: Path) -> None:
    # Ten knots are 5.1444 m/s (1852 m an hour each).
    rows = [
        f"{day}T{hour:02d}:00,1.0,{100 if 10 <= hour < 14 else 0},10"
        for day in days(date(2020, 10, 1), date(2021, 5, 15))
        for hour in range(24)
    ]
    text = "time,air_c,sun_w_m2,wind_knots\n" + "\n".join(rows)
    weather = season_with(tmp_path, text, "hourly").weather
    assert weather.sun_w_m2.reshape(-1, 24)[5, 9:15].tolist() == [0, 100, 100, 100, 100, 0]
    assert weather.wind_m_s is not None
    assert weather.wind_m_s[0] == pytest.approx(5.1444, abs=1e-4)


def test_without_sun_it_is_estimated_and_said(tmp_path: Path) -> None:
    # FAO-56 eq. 50; never more than the clear sky, dark at midnight.
    rows = [f"{day},-5,5" for day in days(date(2020, 10, 1), date(2021, 5, 15))]
    season = season_with(tmp_path, "date,min_c,max_c\n" + "\n".join(rows), "daily")
    sun = season.weather.sun_w_m2.reshape(-1, 24)
    assert sun[:, 0].max() == 0
    assert 300 < sun.max() < 1000
    assert any("holds no sun" in text for text in season.warnings)


def test_normals_keep_their_months(tmp_path: Path) -> None:
    # Means of the made-up January against the normals written: -4 and 2 degC; coldest hour -16.
    season = read_season(good_folder(tmp_path))
    first = season.day_index(date(2027, 1, 1))
    january = season.weather.air_c.reshape(-1, 24)[first : first + 31]
    assert january.min(axis=1).mean() == pytest.approx(-4, abs=0.05)
    assert january.max(axis=1).mean() == pytest.approx(2, abs=0.05)
    assert season.weather.air_c.min() == pytest.approx(-16)


def test_the_same_folder_gives_the_same_season(tmp_path: Path) -> None:
    # Deterministic: same input, same output.
    one = read_season(good_folder(tmp_path / "a"))
    two = read_season(good_folder(tmp_path / "b"))
    assert np.array_equal(one.weather.air_c, two.weather.air_c)
    assert np.array_equal(one.weather.sun_w_m2, two.weather.sun_w_m2)
