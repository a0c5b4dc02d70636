"""Dew points against PsychroLib, surface temperatures against published factors."""

from dataclasses import replace

import numpy as np
import psychrolib
import pytest
from season_maker import make_season

from overwinter.files.envelope import constructions
from overwinter.model.shelter import HeaterPart
from overwinter.shelters.conditions import compute_conditions
from overwinter.shelters.damp import (
    dew_point_c,
    inner_surface_c,
    saturation_pa,
    wet_surfaces,
)
from overwinter.shelters.heater import OFF


def test_dew_point_printed_example() -> None:
    """Air of 25 degC at 80 % has the dew point 21.3 degC that PsychroLib's text prints."""
    # PsychroLib source header: 21.309397163661785.
    assert float(dew_point_c(0.80 * saturation_pa(25.0))) == pytest.approx(21.3094, abs=0.005)


def test_dew_points_against_psychrolib() -> None:
    """Above freezing the Magnus formula stays within 0.02 K of PsychroLib for damp air."""
    # PsychroLib 2.5 (ASHRAE 2017 formulas), dew points above 0 degC only: below, it means ice.
    psychrolib.SetUnitSystem(psychrolib.SI)
    for air in (2.0, 5.0, 8.0, 10.0, 15.0, 20.0):
        for humidity in (0.7, 0.8, 0.9, 0.95, 1.0):
            reference = psychrolib.GetTDewPointFromRelHum(air, humidity)
            if reference > 0:
                assert float(dew_point_c(humidity * saturation_pa(air))) == pytest.approx(
                    reference, abs=0.02
                )


def test_below_freezing_water_is_meant() -> None:
    """Below 0 degC the dew point is over water, 0.36 K under PsychroLib's frost point."""
    # References section 6: -3.0404 (water) against -2.6829 (ice) at 0 degC and 80 %.
    assert float(dew_point_c(0.80 * saturation_pa(0.0))) == pytest.approx(-3.0404, abs=1e-3)


@pytest.mark.parametrize(
    ("u", "inside", "outside", "film", "surface", "factor", "humidity"),
    [
        # Ours from Tsi = Ti - U Rsi (Ti - To) and PsychroLib pressures.
        (5.7, 5, -10, 0.10, -3.55, 0.430, 0.521),
        (4.0, 5, -10, 0.10, -1.00, 0.600, 0.645),
        (0.35, 5, -10, 0.10, 4.475, 0.965, 0.964),
        (2.0, 8, -15, 0.13, 2.02, 0.740, 0.659),
    ],
)
def test_cold_surfaces(
    u: float,
    inside: float,
    outside: float,
    film: float,
    surface: float,
    factor: float,
    humidity: float,
) -> None:
    """Surface, temperature factor, and the humidity at which it wets keep their check values."""
    got = float(inner_surface_c(inside, outside, u, film))
    assert got == pytest.approx(surface, abs=5e-3)
    assert (got - outside) / (inside - outside) == pytest.approx(factor, abs=5e-4)
    # It wets where its own saturation is that share of the air's. Over water: up to 0.02 above the
    # ice value for surfaces below freezing.
    wets = float(saturation_pa(got) / saturation_pa(inside))
    assert wets == pytest.approx(humidity, abs=0.02)


def test_a_glasshouse_drips_less_with_less_vapour_and_more_layers() -> None:
    """Single glass over pots is wet in hundreds of hours; what helps, helps in the right order."""
    # Common practice, no source: single glass drips in most frosty nights. A second layer warms the
    # face; doubled air exchange halves the vapour that the house adds.
    season = make_season()
    conditions = compute_conditions(season)
    stage_of_day = np.zeros((season.winters.count, season.days), dtype=np.intp)
    stage_of_day[:, 100:] = 1
    settings = {shelter.id: (OFF, OFF) for shelter in season.shelters}
    found = {one.surface: one for one in wet_surfaces(season, conditions, settings, stage_of_day)}
    glass = found["glass"]
    assert glass.shelter_id == "glass"
    assert 100 < glass.hours < 24 * season.days
    assert glass.insulated_hours < glass.hours
    assert glass.aired_hours <= glass.hours
    assert glass.floor_covered_hours <= glass.hours
    # A warm house over the same air drips more on its glass: it holds more above the cold pane.
    (hold,) = (
        one
        for one in conditions.shelters["glass"].settings
        if one.parts == (HeaterPart("radiator", hold_c=5),)
    )
    warm = wet_surfaces(season, conditions, settings | {"glass": (hold, hold)}, stage_of_day)
    assert {one.surface for one in warm if one.shelter_id == "glass"} == {"glass"}
    assert warm[0].airing_kwh > glass.airing_kwh
    # Heat that no thermostat replaces is not bought; else at the heater's price.
    assert glass.airing_money == 0
    assert warm[0].airing_money == pytest.approx(warm[0].airing_kwh * hold.hold_money_per_kwh)


def test_a_concrete_floor_gives_a_few_times_what_floorings_may_be_laid_on() -> None:
    """A dry garage was said to drip through most of the winter, for its floor counted as soil."""
    # ASTM F1869 (memory): floorings are laid on slabs that give up to 3 lb a 1000 ft² in 24 h.
    mm_d = 3 * 0.45359237 / (1000 * 0.3048**2)
    concrete, soil = constructions()["concrete floor on soil"], constructions()["soil floor"]
    assert concrete.dries_mm_d is not None
    assert soil.dries_mm_d is not None
    assert mm_d < concrete.dries_mm_d < 4 * mm_d < soil.dries_mm_d


def test_a_concrete_floor_wets_the_panes_less_than_soil() -> None:
    season = make_season()
    stage_of_day = np.zeros((season.winters.count, season.days), dtype=np.intp)
    settings = {shelter.id: (OFF,) for shelter in season.shelters}
    house, wet = season.shelter_by_id["glass"].envelope, {}
    assert house is not None
    for mm_d in (0.2, 0.03):
        floors = [replace(one, dries_mm_d=mm_d) for one in house.surfaces]
        glass = replace(
            season.shelter_by_id["glass"], envelope=replace(house, surfaces=tuple(floors))
        )
        others = [one for one in season.shelters if one.id != "glass"]
        here = replace(season, shelters=(*others, glass))
        found = wet_surfaces(here, compute_conditions(here), settings, stage_of_day)
        wet[mm_d] = next(one.hours for one in found if one.surface == "glass")
    assert wet[0.03] < wet[0.2]
