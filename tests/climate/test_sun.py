"""Daylight against FAO-56's printed examples."""

import numpy as np
import pandas as pd
import pvlib
import pytest

from overwinter.climate import sun
from overwinter.climate.sun import hourly_sun, sun_on_face
from overwinter.model.site import Location

PLACES = [(41.98, -87.92, -6.0), (62.97, -141.93, -9.0), (-33.9, 151.2, 10.0)]


def test_fao56_example_8_extraterrestrial() -> None:
    """Ra at 20 S on 3 September is FAO-56's printed 32.2 MJ/(m2 d)."""
    # FAO-56 example 8, p. 80 (dr 0.985, delta 0.120, ws 1.527, Ra 32.2), read second-hand. Its
    # declination is a plain sine, 0.8 degrees (0.014 rad) from the sun's on that day.
    assert float(sun.inverse_relative_distance(246)) == pytest.approx(0.985, abs=5e-4)
    assert float(sun.declination_rad(246)) == pytest.approx(0.120, abs=0.015)
    assert float(sun.sunset_angle_rad(-20, 246)) == pytest.approx(1.527, abs=0.006)
    assert float(sun.extraterrestrial_mj_m2_d(-20, 246)) == pytest.approx(32.2, rel=0.012)


def test_fao56_example_9_day_length() -> None:
    """Day length at 20 S on 3 September is FAO-56's printed 11.7 h."""
    # FAO-56 example 9, p. 83.
    assert float(sun.day_length_h(-20, 246)) == pytest.approx(11.7, abs=0.08)


def test_fao56_example_18_clear_sky() -> None:
    """Clear-sky radiation at 100 m is FAO-56's printed 30.90 MJ/(m2 d)."""
    # FAO-56 example 18, p. 115: z 100, Ra 41.09 -> 30.90.
    assert float(sun.clear_sky_mj_m2_d(41.09, 100)) == pytest.approx(30.90, abs=0.005)


@pytest.mark.parametrize(("latitude", "longitude", "offset"), PLACES)
def test_sun_stands_where_pvlib_says(latitude: float, longitude: float, offset: float) -> None:
    """Height of the sun over a whole year within 0.3 degrees of pvlib's NREL algorithm."""
    times = pd.date_range("2006-01-01 00:30", periods=8760, freq="h", tz="UTC")
    local = times - pd.Timedelta(hours=-offset)
    day, hour = local.day_of_year.to_numpy(float), local.hour.to_numpy(float) + 0.5
    angle = sun.hour_angle_rad(hour, longitude, offset, day)
    ours = np.rad2deg(
        np.arcsin(sun.sine_of_elevation(latitude, day + (hour - offset) / 24 - 0.5, angle))
    )
    theirs = pvlib.solarposition.get_solarposition(times, latitude, longitude)["elevation"]
    assert np.abs(ours - theirs.to_numpy()).max() < 0.3


@pytest.mark.parametrize(("slope", "faces"), [(0.0, 180.0), (35.0, 180.0), (90.0, 90.0)])
def test_sun_on_faces_is_pvlibs(slope: float, faces: float) -> None:
    """Erbs's split and sun on roofs and walls against pvlib: within 2 % over a winter's month."""
    times = pd.date_range("2007-02-01 00:30", periods=28 * 24, freq="h", tz="UTC")
    local = times - pd.Timedelta(hours=6)
    where = pvlib.solarposition.get_solarposition(times, 42.0, -88.0)
    level = 0.55 * 1370 * np.maximum(0, np.sin(np.deg2rad(where["elevation"].to_numpy())))
    split = pvlib.irradiance.erbs(level, where["zenith"], times)
    theirs = pvlib.irradiance.get_total_irradiance(
        *(slope, faces, where["zenith"], where["azimuth"]),
        *(split["dni"], level, split["dhi"]),
        albedo=0.2,
        model="isotropic",
    )["poa_global"].to_numpy()
    day_of_year = local.day_of_year.to_numpy(float) + (local.hour.to_numpy(float) + 0.5) / 24
    found = hourly_sun(level[None], Location(42.0, -88.0, -6.0), day_of_year)
    assert sun_on_face(found, faces, slope)[0].sum() == pytest.approx(theirs.sum(), rel=0.02)


def test_all_round_is_the_mean_of_all_directions() -> None:
    """Walls facing all round get what walls of eight directions get in the mean."""
    day_of_year = 60 + (np.arange(240) + 0.5) / 24
    level = np.maximum(0, 500 * np.sin(np.pi * (day_of_year % 1 * 24 - 7) / 11))
    found = hourly_sun(level[None], Location(45.0, 0.0, 0.0), day_of_year)
    eight = np.mean([sun_on_face(found, 45.0 * i, 90.0).sum() for i in range(8)])
    assert sun_on_face(found, None, 90.0).sum() == pytest.approx(eight, rel=0.02)


def test_polar_night_and_day() -> None:
    """Past the polar circle the sun stays down or up without an error."""
    # Geometry: at 75 N the winter solstice has no sun, the summer solstice 24 h of it.
    assert float(sun.day_length_h(75, 355)) == 0
    assert float(sun.extraterrestrial_mj_m2_d(75, 355)) == pytest.approx(0, abs=1e-12)
    assert float(sun.day_length_h(75, 172)) == 24
    dark = sun.sun_from_daily_total(np.array([0.0]), Location(75, 0, 0), np.array([355.0]))
    assert np.all(dark == 0)


def test_hourly_radiation_adds_up_to_the_day() -> None:
    """FAO-56's hourly formula summed over a clock day gives its daily one, in odd zones too."""
    # FAO-56 eq. 28 integrated over a day is eq. 21; a clock 4 h off the sun splits days at night.
    days = np.arange(1.0, 366.0)
    for longitude, offset in ((-88.0, -6.0), (-88.0, -2.0), (170.0, 11.0)):
        hourly = sun.extraterrestrial_hourly_w_m2(55.0, longitude, offset, days)
        daily = hourly.mean(axis=1) * sun.MJ_PER_M2_D_PER_W_M2
        np.testing.assert_allclose(daily, sun.extraterrestrial_mj_m2_d(55.0, days), rtol=1e-9)


def test_noon_is_where_the_sun_is_highest() -> None:
    """At solar noon the sun stands 90 degrees - latitude + declination high."""
    # Geometry: elevation at the meridian.
    day = np.array([80.0])
    noon_h = 12 - float(sun.equation_of_time_h(80.0))
    angle = sun.hour_angle_rad(np.array([noon_h]), 0.0, 0.0, day)
    height = float(np.rad2deg(np.arcsin(sun.sine_of_elevation(40.0, 80.0, angle)))[0])
    expected = 50 + float(np.rad2deg(sun.declination_rad(80.0)))
    assert height == pytest.approx(expected, abs=1e-6)


def test_range_estimate_stays_under_the_clear_sky() -> None:
    """Radiation guessed from the day's range follows FAO-56 eq. 50 and its ceiling."""
    # FAO-56 eq. 50 by hand: 0.16 sqrt(9) Ra = 0.48 Ra; sqrt(36) would give 0.96 > 0.75.
    above = float(sun.extraterrestrial_mj_m2_d(42.0, 30.0))
    low, high = np.array([0.0, 0.0]), np.array([9.0, 36.0])
    got = sun.sun_from_temperature_range_mj_m2_d(
        low, high, Location(42.0, 0, 0), np.array([30.0, 30.0])
    )
    np.testing.assert_allclose(got, [0.48 * above, 0.75 * above], rtol=1e-12)
