"""Sunset and the pace of the day."""

from dataclasses import replace
from datetime import date

import pytest
from carry_winters import site

from overwinter.climate.sun import sunset_h
from overwinter.model.site import Pace
from overwinter.render.carry_dusk import clock, dusk_is_near


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


def test_dusk_is_near_when_the_work_runs_into_the_last_hour() -> None:
    """Exactly at the last hour before sunset the answer turns."""
    day, place = date(2025, 12, 6), site()
    left_min = (sunset_h(place, day) - 1.0 - 10.0) * 60.0
    pace = Pace(starts_h=10.0, one_person_min=left_min / 10.0, two_person_min=99.0)
    assert not dusk_is_near(place, day, [1] * 9, pace)
    assert dusk_is_near(place, day, [1] * 11, pace)
    assert dusk_is_near(place, day, [2] * 9, pace)


def test_clock_rounds_to_the_minute() -> None:
    """16.999 h is 17:00, not 16:60."""
    assert clock(16.999) == "17:00"
    assert clock(7.5) == "07:30"
