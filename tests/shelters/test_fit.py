"""The fit to a thermometer's log gives back a shelter it was made from."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from season_maker import GLASSHOUSE, STARTS, make_season

from overwinter.climate.series import by_day
from overwinter.model.season import Season
from overwinter.model.shelter import Envelope, FloatArray, Readings, Shelter, Thermometer
from overwinter.shelters.conditions import compute_conditions, shelter_model
from overwinter.shelters.fit import FittedShelter, fit_readings, thermometer_air_c
from overwinter.shelters.heater import OFF
from overwinter.shelters.modes import model_of_fit, run
from overwinter.shelters.network import surroundings

SHED = replace(
    GLASSHOUSE,
    surfaces=GLASSHOUSE.surfaces[:2],
    heat_capacity_j_k=5e6,
    solar_aperture_m2=1.0,
    vent_above_c=None,
)


def _air(season: Season, envelope: Envelope | None, readings: Readings | None) -> FloatArray:
    shelter = Shelter("box", "box", (), envelope=envelope, readings=readings)
    model = shelter_model(shelter, season.site)
    assert model is not None
    return run(model, surroundings(season), (OFF,))[0][0, 0]


def _log(season: Season, air: FloatArray, first: int, days: int, noise_k: float = 0.0) -> Readings:
    rng, part = np.random.default_rng(4), slice(first, first + days)
    # A log's day runs from midnight to midnight, the season's from noon to noon.
    air, outdoor = air[12:-12], season.winters.air_c[0, 12:-12]
    low = by_day(air).min(axis=-1)[part] + rng.normal(0, noise_k, days)
    high = by_day(air).max(axis=-1)[part] + rng.normal(0, noise_k, days)
    return Readings(
        dates=tuple(STARTS + timedelta(days=1 + first + i) for i in range(days)),
        min_c=tuple(low.tolist()),
        max_c=tuple(high.tolist()),
        outdoor_min_c=tuple(by_day(outdoor).min(axis=-1)[part].tolist()),
        outdoor_max_c=tuple(by_day(outdoor).max(axis=-1)[part].tolist()),
    )


def _made(season: Season, of: FittedShelter) -> FloatArray:
    """Air of a shelter that is exactly what a fit takes shelters for."""
    return run(model_of_fit(of), surroundings(season), (OFF,))[0][0, 0]


QUICK = FittedShelter(7.6, 0.96, 0.006, 0)
SLOW = FittedShelter(55.0, 0.17, 0.0, 0)


@pytest.mark.parametrize("truth", [QUICK, SLOW])
def test_round_trip_recovers_the_shelter(truth: FittedShelter) -> None:
    """Log of readings to a third of a degree: time constant and share come back."""
    season = make_season()
    fit = fit_readings(_log(season, _made(season, truth), 20, 80, noise_k=0.3), season.site)
    assert fit.time_constant_h == pytest.approx(truth.time_constant_h, rel=0.35)
    assert fit.outdoor_share == pytest.approx(truth.outdoor_share, abs=0.05)
    assert fit.unsure_k < 0.9
    assert fit.days == 78


def test_a_short_log_is_less_sure_and_the_winters_carry_it() -> None:
    """Twenty mild days are less sure than eighty; winters of the sample are shifted by as much."""
    season = make_season()
    air = _made(season, QUICK)
    short, long = (_log(season, air, 2, days, noise_k=0.5) for days in (20, 80))
    sure = fit_readings(long, season.site).unsure_k
    assert 0.3 < sure < fit_readings(short, season.site).unsure_k
    shelter = Shelter("box", "box", (), readings=long)
    got = compute_conditions(replace(season, shelters=(shelter,))).shelters["box"].air_c[0]
    model = model_of_fit(fit_readings(long, season.site))
    plain = run(model, surroundings(season), (OFF,))[0][0]
    shifts = (got - plain).mean(axis=1)
    assert shifts.mean() == pytest.approx(0.0, abs=1e-4)
    assert shifts.max() == pytest.approx(1.15 * sure, rel=0.02)  # 7/8 of a normal law


def test_fit_predicts_the_coldest_night() -> None:
    """A log of November and early December foretells the minima of the deep winter within 1.2 K."""
    # Out of sample on a known box, under a night sky of which a fit knows nothing.
    season = make_season()
    truth = _air(season, SHED, None)
    predicted = _air(season, None, _log(season, truth, 31, 45, noise_k=0.3))
    miss = by_day(predicted).min(axis=-1)[80:] - by_day(truth).min(axis=-1)[80:]
    assert np.sqrt((miss**2).mean()) < 1.2
    assert abs(by_day(predicted).min(axis=-1).min() - by_day(truth).min(axis=-1).min()) < 1.2


def test_missing_days_are_bridged() -> None:
    """A log kept on two days of three fits as well, in any order of its rows."""
    # Same round trip with a third of the rows gone and the rest shuffled.
    season = make_season()
    whole = _log(season, _made(season, QUICK), 30, 60)
    kept = np.random.default_rng(2).permutation([i for i in range(60) if i % 3])
    part = Readings(
        dates=tuple(whole.dates[i] for i in kept),
        min_c=tuple(whole.min_c[i] for i in kept),
        max_c=tuple(whole.max_c[i] for i in kept),
        outdoor_min_c=tuple(whole.outdoor_min_c[i] for i in kept),
        outdoor_max_c=tuple(whole.outdoor_max_c[i] for i in kept),
    )
    fit = fit_readings(part, season.site)
    assert fit.time_constant_h == pytest.approx(QUICK.time_constant_h, rel=0.3)


def test_two_readings_replay_a_shed() -> None:
    """Coldest and warmest of a winter give its nights and its mean back."""
    # A shed of the other model, which knows walls, mass and sky, with its winter alone; found 0.0 K
    # in the mean of the nights, at most +1.2 K, and -0.1 K in the mean of the winter.
    season = make_season()
    first = season.winters
    alone = replace(
        first, air_c=first.air_c[:1], sun_w_m2=first.sun_w_m2[:1], snow_m=first.snow_m[:1]
    )
    season = replace(season, winters=alone)
    truth = _air(season, SHED, None)
    days, outdoor = by_day(truth), by_day(alone.air_c[0])
    cold, warm = int(days.min(axis=1).argmin()), int(days.max(axis=1).argmax())
    readings = (days[cold].min(), days[warm].max(), outdoor[cold].min(), outdoor[warm].max())
    known = Thermometer(*map(float, readings), smoothing_h=6.0)
    got = thermometer_air_c(known, surroundings(season))[0]
    nights = np.argsort(days.min(axis=1))[:10]
    miss = (by_day(got).min(axis=-1) - by_day(truth).min(axis=-1))[nights]
    assert abs(miss.mean()) < 0.7
    assert miss.max() < 1.6
    assert abs((got - truth).mean()) < 0.7


def test_two_readings_of_a_heated_room_stay_between() -> None:
    """62 °F in the coldest night and 75 °F in summer: a winter of neither 50 nor 80 °F."""
    # What init writes for a room; without bounds the sun made such rooms 40 degC.
    known = Thermometer(16.7, 23.9, -30.3, 30.0, smoothing_h=48.0)
    air = thermometer_air_c(known, surroundings(make_season()))
    assert air.min() > 16.0
    assert air.max() < 26.0


def test_readings_that_belong_together_are_asked_for() -> None:
    """The warmest reading belongs to the warmer day."""
    # Stated error.
    with pytest.raises(ValueError, match="warmer outdoor air"):
        thermometer_air_c(Thermometer(2.0, 20.0, 10.0, 5.0), surroundings(make_season()))
