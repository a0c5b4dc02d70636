"""Forecast nights laid over the winters of a sample."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from overwinter.climate.series import by_day
from overwinter.climate.stages import FORECAST_ERROR_K
from overwinter.files.season import read_season
from overwinter.model.species import Harm
from overwinter.simulate.follow import HARMS
from overwinter.simulate.nights import carried_before, forecast_season, likely_lows_c

TINY = Path(__file__).parents[1] / "cli" / "data" / "tiny"


def test_errors_of_a_forecast_have_its_spread() -> None:
    """Equal shares of a normal law: its mean exactly, its standard deviation but for the tails."""
    lows = likely_lows_c((-4.0, -7.0), 200, 1)
    assert lows.mean(axis=0) == pytest.approx([-4.0, -7.0])
    assert lows[:, 0].std() == pytest.approx(FORECAST_ERROR_K, rel=0.02)
    # Three tenths of a kelvin more a night further ahead, and never the other way round.
    assert lows[:, 1].std() == pytest.approx(FORECAST_ERROR_K + 0.3, rel=0.02)
    assert np.corrcoef(lows.T)[0, 1] == pytest.approx(1.0)


def test_every_night_has_its_minimum() -> None:
    """Whatever the winter was, and the days before stay as they were."""
    season = read_season(TINY)
    lows = likely_lows_c((-4.0, -20.0, 3.0), season.winters.count, 1)
    coming = forecast_season(season, 40, lows, 0.0)
    found = by_day(coming.winters.air_c).min(axis=-1)
    assert coming.days == found.shape[1] == 43
    assert found[:, 40:] == pytest.approx(lows)
    assert np.array_equal(found[:, :40], by_day(season.winters.air_c).min(axis=-1)[:, :40])
    hours = 43 * 24
    for name, much in (("air_c", hours), ("sun_w_m2", hours), ("snow_m", 43)):
        before, after = getattr(season.winters, name), getattr(coming.winters, name)
        assert after.shape == before[:, :much].shape
        assert np.array_equal(after[:, : 40 * much // 43], before[:, : 40 * much // 43])
    covered = forecast_season(season, 40, lows, 2.0)
    assert by_day(covered.winters.air_c).min(axis=-1)[:, 40:] == pytest.approx(lows + 2.0)


def test_a_thermometer_keeps_its_winter() -> None:
    """What its readings mean is told by all nights, so none is cut off."""
    season = read_season(Path(__file__).parents[2] / "scenarios" / "balcony-and-cellar")
    lows = likely_lows_c((-4.0,), season.winters.count, 1)
    assert forecast_season(season, 40, lows, 0.0).days == season.days
    plain = replace(season, shelters=tuple(s for s in season.shelters if s.open_air))
    assert forecast_season(plain, 40, lows, 0.0).days == 41


def test_the_worst_night_counts_once_and_days_add_up() -> None:
    """Two nights as cold are one danger of freezing; two days in the dark are two."""
    stay, go = np.zeros((1, 2, len(HARMS))), np.zeros((1, 2, len(HARMS)))
    stay[0, :, HARMS.index(Harm.TOP)] = 0.3
    stay[0, :, HARMS.index(Harm.DARK)] = 0.1
    assert carried_before(stay, go, 2) == pytest.approx([0.5])
    assert carried_before(stay, go, 1) == pytest.approx([0.4])
    assert carried_before(stay, go, 0) == pytest.approx([0.0])


def test_hours_between_two_nights_are_shifted_in_proportion() -> None:
    """Nothing in one night, 4 K in the next: about 2 K halfway between their coldest hours."""
    season = read_season(TINY)
    before = season.winters.air_c[:, : 42 * 24]
    lows = by_day(before).min(axis=-1)[:, 40:] + np.array([0.0, 4.0])
    shift = forecast_season(season, 40, lows, 0.0).winters.air_c - before
    nights = before.reshape(len(before), 42, 24)[:, 40:].argmin(axis=2) + np.array([0, 24])
    for winter, (first, second) in enumerate(nights):
        middle = 40 * 24 + (first + second) // 2
        assert shift[winter, middle] == pytest.approx(2.0, abs=0.6)


def test_the_worst_nights_of_two_harms_add_up() -> None:
    stay = np.zeros((1, 2, len(HARMS)))
    stay[0, 0, HARMS.index(Harm.TOP)] = 0.3
    stay[0, 1, HARMS.index(Harm.OLD_ROOTS)] = 0.2
    assert carried_before(stay, 0.0 * stay, 2) == pytest.approx([0.5])
