"""Measured hours and days as CSV, with the gaps real records have."""

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from folders import DATA, good_folder, replaced

from overwinter.climate.generator import fresh_winters
from overwinter.files.findings import Findings
from overwinter.files.season import read_season
from overwinter.files.weather_records import read_daily, read_hourly, whole_days
from overwinter.model.season import Season


def season_with(tmp_path: Path, text: str, kind: str, more: str = "") -> Season:
    """The good folder planned on a weather file."""
    folder = good_folder(tmp_path)
    (folder / "weather.csv").write_text(text, encoding="utf-8")
    site = (folder / "site.toml").read_text(encoding="utf-8")
    start, end = site.index("[weather]"), site.index("[ground]")
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
    assert any("filled" in text for text in findings.assumed)


def test_the_coldest_hour_of_measured_hours() -> None:
    # Newark, 23 January 2013, 05:00: 10.94 degF = -11.7 degC (references, section 8, J).
    findings = Findings()
    record = read_hourly(DATA / "newark-hours.csv", findings)
    assert record is not None
    assert findings.problems == []
    at = record.days.index(date(2013, 1, 23))
    assert record.air_c[at, 5] == pytest.approx(-11.7)
    assert record.sun_w_m2 is None


@pytest.mark.parametrize("day", ["1600-01-01", "0001-01-01", "2300-07-01"])
def test_a_year_that_nobody_measured_is_refused(tmp_path: Path, day: str) -> None:
    # A slip of the century, not weather; pandas 2 knows no such day.
    (tmp_path / "days.csv").write_text(f"date,min_c,max_c\n{day},1,2\n")
    (tmp_path / "hours.csv").write_text(f"time,air_c\n{day} 00:00,1\n")
    for read, name in ((read_daily, "days.csv"), (read_hourly, "hours.csv")):
        findings = Findings()
        assert read(tmp_path / name, findings) is None
        assert findings.problems[0].row == 2
        assert findings.problems[0].expected == "a year from 1700 to 2200"


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


def test_a_long_record_is_used_as_it_is(tmp_path: Path) -> None:
    # Twenty whole winters, told apart by their nights; every night's minimum stays what it was.
    rows = [
        f"{day},{-(day.year if day.month > 6 else day.year - 1) % 100 / 10},11"
        for day in days(date(1990, 7, 1), date(2010, 6, 30))
    ]
    season = season_with(tmp_path, "date,min_c,max_c\n" + "\n".join(rows), "daily")
    winters = season.winters
    assert winters.names[0] == "1990/91"
    assert winters.count == 20
    assert winters.air_c.shape[1] == 24 * season.days
    nights = winters.air_c.reshape(20, -1, 24).min(axis=-1)
    wanted = [-(1990 + i) % 100 / 10 for i in range(20)]
    assert nights[:, 5] == pytest.approx(wanted)
    assert "20 whole winters of weather.csv" in winters.origin


def test_winters_are_drawn_from_a_short_record(tmp_path: Path) -> None:
    # One calendar year, as a grower has it; its means are kept, and it is said.
    rows = [
        f"{day},{-8 if day.month in (12, 1, 2) else 5},{2 if day.month in (12, 1, 2) else 14}"
        for day in days(date(2016, 1, 1), date(2017, 12, 31))
    ]
    text = "date,min_c,max_c\n" + "\n".join(rows)
    season = season_with(tmp_path, text, "daily", "coldest_night_mean_c = -18")
    assert season.winters.count == 30
    assert season.winters.air_c.min(axis=1).mean() == pytest.approx(-18, abs=0.3)
    january = season.day_index(date(2027, 1, 1)) * 24 + 12
    nights = season.winters.air_c[:, january : january + 31 * 24].reshape(30, 31, 24)
    assert nights.min(axis=-1).mean() == pytest.approx(-8, abs=0.3)
    assert any("holds 1 whole winter, the plan's" in text for text in season.assumed)


def test_sun_is_read_where_it_is_and_wind_is_let_be(tmp_path: Path) -> None:
    # Monthly sun of the record is that of the winters: 100 W/m2 for 4 h a day are 1.44 MJ/m2.
    rows = [
        f"{day}T{hour:02d}:00,{1 + 3 * (8 < hour < 18)},{100 if 10 <= hour < 14 else 0},10"
        for day in days(date(2020, 10, 1), date(2021, 5, 15))
        for hour in range(24)
    ]
    text = "time,air_c,sun_w_m2,wind_knots\n" + "\n".join(rows)
    season = season_with(tmp_path, text, "hourly", 'hardiness_zone = "7b"')
    assert season.recipe is not None
    assert season.recipe.sun_mj_m2_d == pytest.approx([1.44] * 12)
    assert season.winters.sun_w_m2.mean() * 0.0864 == pytest.approx(1.44, rel=0.01)


def test_without_sun_it_is_estimated_and_said(tmp_path: Path) -> None:
    # FAO-56 eq. 50; never more than the clear sky, dark at midnight.
    rows = [f"{day},-5,5" for day in days(date(2020, 10, 1), date(2021, 5, 15))]
    season = season_with(tmp_path, "date,min_c,max_c\n" + "\n".join(rows), "daily")
    sun = season.winters.sun_w_m2.reshape(30, -1, 24)
    assert sun[..., 12].max() == 0
    assert 300 < sun.max() < 1000
    assert any("holds no sun" in text for text in season.assumed)


def test_normals_keep_their_months(tmp_path: Path) -> None:
    # Means of the drawn Januaries against the normals written: -4 and 2 degC; zone 7b is -13.6.
    season = read_season(good_folder(tmp_path))
    first = 24 * season.day_index(date(2027, 1, 1)) - 12
    january = season.winters.air_c[:, first : first + 31 * 24].reshape(30, 31, 24)
    assert january.min(axis=-1).mean() == pytest.approx(-4, abs=0.3)
    assert january.max(axis=-1).mean() == pytest.approx(2, abs=0.3)
    coldest = season.winters.air_c.min(axis=1)
    assert coldest.mean() == pytest.approx(-13.6, abs=0.1)
    assert season.site.design_min_c == pytest.approx(np.quantile(coldest, 0.05))


@pytest.mark.parametrize(
    ("keys", "mean", "spread"),
    [
        ("", -14.5, 3.1),  # by rule: 3 + 0.44 x 17 below -4; 0.3 of the 10.5 K between
        ('hardiness_zone = "6b"', -19.2, 4.0),  # -5 to 0 degF; 0.3 of 15.2 K, yet at most 4
        ("hardiness_zone = 7", -15.0, 3.3),  # 0 to 10 degF
        ("coldest_night_mean_f = 5\ncoldest_night_spread_f = 9", -15.0, 5.0),
        ("coldest_night_spread_k = 2", -14.5, 2.0),
    ],
)
def test_how_cold_winters_get(keys: str, mean: float, spread: float, tmp_path: Path) -> None:
    # docs/winters.md: what is written comes before the rule.
    folder = good_folder(tmp_path)
    replaced(folder, "site.toml", ('hardiness_zone = "7b"', keys))
    season = read_season(folder)
    assert season.recipe is not None
    assert season.recipe.coldest_mean_c == pytest.approx(mean, abs=0.05)
    assert season.recipe.coldest_spread_k == pytest.approx(spread, abs=0.05)
    told = any("Nothing says how cold" in text for text in season.assumed)
    assert told == ("zone" not in keys and "mean" not in keys)


def test_fresh_winters_are_others_of_the_same_kind(tmp_path: Path) -> None:
    # For audits on winters that the plan was not made from.
    season = read_season(good_folder(tmp_path))
    fresh = fresh_winters(season, 200, 9)
    assert fresh.air_c.shape == (200, 24 * season.days)
    assert fresh.air_c.min(axis=1).mean() == pytest.approx(-13.6, abs=0.1)
    same = fresh_winters(season, season.site.winters, season.site.seed)
    assert np.array_equal(same.air_c, season.winters.air_c)


def test_the_same_folder_gives_the_same_season(tmp_path: Path) -> None:
    # Deterministic: same input, same output.
    one = read_season(good_folder(tmp_path / "a"))
    two = read_season(good_folder(tmp_path / "b"))
    assert np.array_equal(one.winters.air_c, two.winters.air_c)
    assert np.array_equal(one.winters.sun_w_m2, two.winters.sun_w_m2)
