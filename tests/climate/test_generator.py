"""Drawn winters: what they keep, and how they look beside measured ones."""

import time
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from drawn import CLEMSON, COLD, DAYS, STARTS, calendar_days, correlation, draw, months, spells

from overwinter.climate.coldest_night import ColdestNight, quantile
from overwinter.climate.sun import clear_sky_mj_m2_d, extraterrestrial_mj_m2_d
from overwinter.model.season import SnowLies, WinterRecipe, Winters

JULY, YEAR = date(2026, 7, 1), 365


@pytest.fixture(scope="module")
def clemson() -> Winters:
    """2,000 years from 1 July, for counting."""
    return draw(CLEMSON, 2000, starts=JULY, days=YEAR, latitude_deg=34.7)


@pytest.mark.parametrize("recipe", [CLEMSON, COLD], ids=["mild", "cold"])
@pytest.mark.parametrize("seed", [1, 2, 9])
def test_thirty_winters_keep_the_normals(recipe: WinterRecipe, seed: int) -> None:
    """Mean daily minimum and maximum of each month within 0.3 K."""
    # The property promised.
    days, month = calendar_days(draw(recipe, 30, seed)), months(STARTS, DAYS)
    for one in (10, 11, 12, 1, 2, 3, 4):
        there = days[:, month == one]
        assert there.min(axis=-1).mean() == pytest.approx(recipe.mean_min_c[one - 1], abs=0.3)
        assert there.max(axis=-1).mean() == pytest.approx(recipe.mean_max_c[one - 1], abs=0.3)


def test_coldest_nights_follow_their_law(clemson: Winters) -> None:
    """2- to 50-year minima over 2,000 winters, in the coldest hour of a night."""
    # The law itself is held to published return values in test_coldest_night.
    years = np.array([2.0, 5, 10, 20, 50])
    law = quantile(ColdestNight(-11.59, 2.93), 1 / years)
    assert np.quantile(clemson.air_c.min(axis=1), 1 / years) == pytest.approx(law, abs=0.3)


def test_first_and_last_frosts_beside_a_long_record(clemson: Winters) -> None:
    """Days on which nights first and last fall below 0, -5, -10 degC: 10th, 50th, 90th winter."""
    # Counted in 88 whole winters of the Clemson record (see drawn.CLEMSON), days from 1 July. Its
    # frosts tuned nothing here.
    measured = {0.0: (110, 126.5, 138), -5.0: (139, 158.5, 186), -10.0: (167, 188, 223)}
    measured_last = {0.0: (254, 272, 290), -5.0: (208, 236, 258)}
    low = calendar_days(clemson).min(axis=-1)
    for threshold, days in measured.items():
        cold = low < threshold
        first = 1 + cold.argmax(axis=1)[cold.any(axis=1)]
        assert np.quantile(first, [0.1, 0.5, 0.9]) == pytest.approx(days, abs=16)
        assert np.median(first) == pytest.approx(days[1], abs=8)
    for threshold, days in measured_last.items():
        cold = low < threshold
        last = low.shape[1] - cold[:, ::-1].argmax(axis=1)[cold.any(axis=1)]
        assert np.quantile(last, [0.1, 0.5, 0.9]) == pytest.approx(days, abs=9)
    assert (low.min(axis=1) < -10).mean() == pytest.approx(0.67, abs=0.1)


def test_nights_hang_together_as_measured_ones_do(clemson: Winters) -> None:
    """Correlation over 1 to 20 days, and the length of cold spells, November to March."""
    # Counted in the same 88 winters: nights below -6.7 degC come 1.74 together, 4.5 times a
    # winter; below -3.3 degC 2.09 together, 11.8 times.
    low = calendar_days(clemson).min(axis=-1)[:, 122:273]
    away = low - low.mean(axis=0)
    measured = {1: 0.625, 2: 0.324, 3: 0.205, 5: 0.136, 10: 0.082, 20: 0.086}
    for lag, value in measured.items():
        assert correlation(away, lag) == pytest.approx(value, abs=0.08)
    for threshold, length, times in ((-6.7, 1.74, 4.5), (-3.3, 2.09, 11.8)):
        found = spells(low < threshold)
        assert found.mean() == pytest.approx(length, rel=0.12)
        assert found.size / len(low) == pytest.approx(times, rel=0.18)
    assert away.std() == pytest.approx(5.58, rel=0.12)
    day = low.argmin(axis=1)
    assert np.quantile(day, [0.1, 0.5, 0.9]) == pytest.approx(
        np.array([169, 199, 230]) - 123, abs=9
    )


def test_the_coldest_night_belongs_to_one_day() -> None:
    """A day runs from noon to noon: no night is cut."""
    # The property promised: the coldest hour is before dawn, well inside its day.
    winters = draw(COLD, 30)
    assert winters.air_c.shape == winters.sun_w_m2.shape == (30, 24 * DAYS)
    assert winters.snow_m.shape == (30, DAYS)
    hour = winters.air_c.argmin(axis=1) % 24
    assert np.all(hour == 16)  # 04:00 to 05:00


def test_a_short_plan_sees_its_part_of_whole_winters() -> None:
    """Four weeks of November do not hold the winter's coldest night."""
    # Its own nights: not one near the law's mean, which is of whole winters.
    november = draw(COLD, 30, starts=date(2026, 11, 1), days=28)
    assert november.air_c.shape == (30, 24 * 28)
    assert november.air_c.min(axis=1).mean() > COLD.coldest_mean_c + 8


def test_the_southern_hemisphere_has_its_winter_in_july() -> None:
    """The coldest month may be any."""

    # The same promises with the year turned round.
    def turned(values: tuple[float, ...]) -> tuple[float, ...]:
        return tuple(np.roll(values, 6))

    recipe = replace(
        COLD,
        mean_min_c=turned(COLD.mean_min_c),
        mean_max_c=turned(COLD.mean_max_c),
        sun_mj_m2_d=None,
    )
    winters = draw(recipe, 30, starts=date(2027, 3, 20), latitude_deg=-42.0)
    coldest_day = winters.air_c.argmin(axis=1) // 24
    assert 60 < np.median(coldest_day) < 160
    assert winters.air_c.min(axis=1).mean() == pytest.approx(COLD.coldest_mean_c, abs=0.3)


def test_same_seed_same_winters() -> None:
    """Reproducible from the seed; another seed, other winters with coldest nights as cold."""
    # Determinism.
    one, again, other = draw(COLD, 12), draw(COLD, 12), draw(COLD, 12, seed=2)
    assert np.array_equal(one.air_c, again.air_c)
    assert np.array_equal(one.sun_w_m2, again.sun_w_m2)
    assert not np.array_equal(one.air_c, other.air_c)
    assert sorted(one.air_c.min(axis=1)) == pytest.approx(sorted(other.air_c.min(axis=1)))
    assert one.names[0] == "drawn 1"


def test_sun_keeps_its_months_and_goes_with_the_cold() -> None:
    """Monthly sun kept where given, no day brighter than a clear one, clear nights cold."""
    # Ceiling FAO-56 eq. 37. Night minima and sun go against each other at -0.39 (Chicago), -0.38
    # (Tampa), -0.54 (Dulles), -0.50 (San Francisco), +0.22 (Golden) in the TMY3 files.
    winters = draw(COLD, 30)
    sun = winters.sun_w_m2[:, 12:-12].reshape(30, -1, 24).mean(axis=-1) * 0.0864
    month = months(STARTS, DAYS)
    assert COLD.sun_mj_m2_d is not None
    for one in (11, 12, 1, 2, 3):
        assert sun[:, month == one].mean() == pytest.approx(COLD.sun_mj_m2_d[one - 1], rel=0.02)
    year_day = np.array([(STARTS.timetuple().tm_yday + i) % 365 + 1.0 for i in range(DAYS - 1)])
    cap = clear_sky_mj_m2_d(extraterrestrial_mj_m2_d(42.0, year_day), 200.0)
    assert np.all(sun <= cap * 1.001)
    deep = np.isin(month, (12, 1, 2))
    low = calendar_days(winters).min(axis=-1)[:, deep]
    found = np.corrcoef((low - low.mean(axis=0)).ravel(), sun[:, deep].ravel())[0, 1]
    assert -0.6 < found < -0.2


def test_snow_lies_as_often_as_the_grower_says() -> None:
    """Never: none; sometimes: less than usually; gone by May."""
    # A rough rule, all judgement: only its order is tested.
    depth = {lies: draw(replace(COLD, snow_lies=lies), 30).snow_m for lies in SnowLies}
    january = slice(103, 134)
    assert not depth[SnowLies.NEVER].any()
    means = [depth[lies][:, january].mean() for lies in (SnowLies.SOMETIMES, SnowLies.USUALLY)]
    assert 0.02 < means[0] < means[1] < 0.4
    assert depth[SnowLies.USUALLY][:, -10:].max() < 0.02


def test_normals_that_cannot_be_are_refused() -> None:
    """Coldest nights warmer than the coldest month's nights."""
    # Stated limit.
    with pytest.raises(ValueError, match="do not go with"):
        draw(replace(COLD, coldest_mean_c=-8.0), 10)


def test_thirty_winters_take_no_time() -> None:
    """Under half a second of processor time for 240 days."""
    # Measured: 0.01 to 0.02 s on one core.
    began = time.process_time()
    draw(COLD, 30)
    assert time.process_time() - began < 0.5
