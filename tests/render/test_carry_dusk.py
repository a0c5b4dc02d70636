"""Sunset and the pace of the day."""

from dataclasses import replace
from datetime import date

import pytest
from carry_winters import site

from overwinter.climate.sun import sunset_h
from overwinter.model.site import Pace
from overwinter.render.carry_dusk import clock, days_of_work, hours_of_work


def test_daylight_agrees_with_the_worked_example_of_fao_56() -> None:
    """Sunset minus solar noon is half of 11.7 h at 20 S on 3 September (FAO-56, example 9)."""
    south = replace(site(), latitude_deg=-20.0, longitude_deg=0.0, utc_offset_h=0.0)
    noon = 12.0 - 0.0
    half = sunset_h(south, date(2025, 9, 3)) - noon
    # The equation of time is within two minutes of zero on that day.
    assert half == pytest.approx(11.7 / 2.0, abs=0.06)


@pytest.mark.parametrize(
    ("day", "expected"),
    [(date(2025, 12, 21), 15 + 53 / 60), (date(2025, 6, 21), 20 + 21 / 60)],
)
def test_greenwich_sunsets(day: date, expected: float) -> None:
    """Almanac sunsets, UTC, from memory; ours has no refraction: up to 10 min early."""
    greenwich = replace(site(), latitude_deg=51.48, longitude_deg=0.0, utc_offset_h=0.0)
    assert expected - 10 / 60 < sunset_h(greenwich, day) < expected + 2 / 60


def test_a_day_ends_before_the_last_hour_of_light() -> None:
    """Ten carries just fill the day; the eleventh begins another."""
    day, place = date(2025, 12, 6), site()
    left_min = (sunset_h(place, day) - 1.0 - 10.0) * 60.0
    pace = Pace(starts_h=10.0, one_person_min=left_min / 10.001, two_person_min=left_min)
    assert days_of_work(place, day, [1] * 10, pace) == [1] * 10
    assert days_of_work(place, day, [1] * 11, pace) == [1] * 10 + [2]
    assert days_of_work(place, day, [2, 1, 2], pace) == [1, 2, 3]
    assert hours_of_work([1] * 10, pace) == pytest.approx(left_min / 60.0, rel=1e-3)


def test_clock_rounds_to_the_minute() -> None:
    """16.999 h is 17:00, not 16:60."""
    assert clock(16.999) == "17:00"
    assert clock(7.5) == "07:30"
