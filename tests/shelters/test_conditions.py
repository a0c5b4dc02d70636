"""Conditions of a whole invented site: shapes, order, and what a grower knows to be true."""

from dataclasses import replace

import numpy as np
import pytest
from season_maker import GLASSHOUSE, make_place, make_season, make_shelters

from overwinter.climate.series import by_day, daily_mean, daily_min
from overwinter.model.conditions import Conditions
from overwinter.model.season import Season
from overwinter.model.shelter import PlaceKind, Shelter
from overwinter.shelters.conditions import (
    compute_conditions,
    hourly_root_zone,
    shelter_model,
    simulate_schedule,
)
from overwinter.shelters.heater import settings_for
from overwinter.shelters.outage import air_after_failure, hours_until_c
from overwinter.shelters.root_zone import POT_CLASSES_L


@pytest.fixture(scope="module")
def season() -> Season:
    return make_season()


@pytest.fixture(scope="module")
def conditions(season: Season) -> Conditions:
    return compute_conditions(season)


def test_every_array_has_its_documented_shape(season: Season, conditions: Conditions) -> None:
    """All arrays of the domain are filled, in the shapes its docstrings state, without gaps."""
    # overwinter.model.conditions.
    days, hours = season.days, season.hours
    assert conditions.outdoor_air_c.shape == (hours,)
    for series in (conditions.outdoor_mean_c, conditions.day_length_h):
        assert series.shape == (days,)
    assert conditions.outdoor_dli_mol_m2_d.shape == (days,)
    assert set(conditions.shelters) == {s.id for s in season.shelters}
    assert set(conditions.places) == set(season.places)
    for place_id, place in conditions.places.items():
        shelter = conditions.shelters[season.places[place_id].shelter_id]
        n = len(shelter.settings)
        for name in ("air_c", "cold_air_c", "heat_w", "purchased_kwh", "money"):
            assert getattr(shelter, name).shape == (n, hours), name
            assert np.isfinite(getattr(shelter, name)).all(), name
        assert len(shelter.holds_at_design) == len(shelter.design_shortfall_w) == n
        names = ("air_min_c", "air_mean_c", "cold_air_min_c", "chill_hours", "utah_units")
        for name in names:
            assert getattr(place, name).shape == (n, days), name
        assert place.dli_mol_m2_d.shape == (days,)
        assert tuple(place.root) == POT_CLASSES_L
        for zone in place.root.values():
            for array in (zone.min_c, zone.mean_c, zone.cold_min_c):
                assert array.shape == (n, days)
                assert np.isfinite(array).all()


def test_settings_are_ordered_and_warmer_costs_more(conditions: Conditions) -> None:
    """Off is first and free; a higher hold is never colder in any hour and never cheaper."""
    # Monotone physics.
    glass = conditions.shelters["glass"]
    assert glass.settings[0].is_off
    assert glass.money[0].sum() == 0
    keys = [s.key for s in glass.settings]
    rows = [keys.index(f"radiator hold {c} °C") for c in (0, 2, 5)]
    for cooler, warmer in zip([0, *rows[:-1]], rows, strict=True):
        assert np.all(glass.air_c[warmer] >= glass.air_c[cooler] - 1e-9)
        assert glass.money[warmer].sum() > glass.money[cooler].sum()
    np.testing.assert_allclose(glass.money, glass.purchased_kwh * 0.30)


def test_step_heat_is_what_the_step_gives(season: Season, conditions: Conditions) -> None:
    """A fixed step of 400 W draws 0.4 kWh every hour of the winter."""
    # By hand.
    glass = conditions.shelters["glass"]
    row = [s.key for s in glass.settings].index("bar step 400 W")
    np.testing.assert_allclose(glass.purchased_kwh[row], 0.4)
    assert glass.money[row].sum() == pytest.approx(0.4 * 0.30 * season.hours)


def test_hold_is_kept_where_the_power_suffices(conditions: Conditions) -> None:
    """A hold that the design check passes is kept through a winter no colder than the design."""
    # The check is steady and dark, the winter touches the design temperature for hours only.
    for shelter in conditions.shelters.values():
        for i, setting in enumerate(shelter.settings):
            if setting.hold_c is not None and shelter.holds_at_design[i]:
                assert shelter.air_c[i].min() >= setting.hold_c - 1e-9
    glass = conditions.shelters["glass"]
    assert not all(glass.holds_at_design)


def test_low_step_keeps_a_small_cover_above_a_few_degrees_of_frost() -> None:
    """A small double cover on a 400 W step stays above freezing with 4 degrees of frost outside."""
    # Common practice, no source.
    small = replace(
        GLASSHOUSE,
        surfaces=(replace(GLASSHOUSE.surfaces[0], area_m2=12.0, u_w_m2k=3.5),),
        volume_m3=5.0,
        heat_capacity_j_k=2e5,
    )
    base = make_shelters()[1]
    season = make_season((replace(base, envelope=small),))
    frost = replace(season.weather, air_c=np.full(season.hours, -4.0))
    got = compute_conditions(replace(season, weather=frost)).shelters["glass"]
    row = [s.key for s in got.settings].index("bar step 400 W")
    assert got.air_c[row].min() > 0
    assert got.air_c[0].min() < 0


def test_open_air_is_the_weather(season: Season, conditions: Conditions) -> None:
    """In the garden the air is outdoor air, and the colder winter is 5 K colder all through."""
    # Definition.
    garden = conditions.shelters["garden"]
    np.testing.assert_array_equal(garden.air_c[0], season.weather.air_c)
    np.testing.assert_allclose(garden.cold_air_c[0], season.weather.air_c - 5)
    bench = conditions.places["garden/bench"]
    np.testing.assert_allclose(bench.cold_air_min_c, bench.air_min_c - 5)
    zone = bench.root[5.0]
    np.testing.assert_allclose(zone.cold_min_c, zone.min_c - 5, atol=1e-9)


def test_colder_winters_are_colder_everywhere(conditions: Conditions) -> None:
    """No root zone gains from a colder winter."""
    # Monotone physics.
    for place in conditions.places.values():
        for zone in place.root.values():
            assert np.all(zone.cold_min_c <= zone.min_c + 1e-9)


def test_sunk_pots_are_spared_the_worst(conditions: Conditions) -> None:
    """Sunk in the garden the coldest roots stay well above those on a bench."""
    # Common practice, no source: sinking or heeling in is what growers do for roots.
    bench = conditions.places["garden/bench"].root[5.0].min_c.min()
    sunk = conditions.places["garden/sunk"].root[5.0].min_c.min()
    assert sunk > bench + 2


def test_two_covers_in_one_garden(season: Season) -> None:
    """Two beds of one garden keep their own roots, each as the audit recomputes it."""
    # Two paths to one number; deeper is warmer in the coldest hour by conduction.
    garden = season.shelters[0]
    shallow = replace(make_place("garden", PlaceKind.SUNK), id="garden/shallow", cover_m=0.05)
    deep = replace(shallow, id="garden/deep", cover_m=0.25)
    beds = replace(garden, places=(*garden.places, shallow, deep))
    both = replace(season, shelters=(beds, *season.shelters[1:]))
    got = compute_conditions(both)
    lows = []
    for bed in (shallow, deep):
        zone = got.places[bed.id].root[5.0]
        hourly = hourly_root_zone(both, got, bed, 0, 5.0)
        np.testing.assert_allclose(daily_min(hourly), zone.min_c[0], atol=1e-9)
        colder = hourly_root_zone(both, got, bed, 0, 5.0, colder=True)
        np.testing.assert_allclose(daily_min(colder), zone.cold_min_c[0], atol=1e-9)
        lows.append(zone.min_c[0].min())
    assert lows[1] > lows[0] + 2


def test_cellar_is_even_and_dark(conditions: Conditions) -> None:
    """A cellar under a warm house stays above freezing, swings little, has its lamp alone."""
    # Common practice, no source. Lamp: 2 mol x light share 0.5.
    cellar = conditions.places["cellar/floor"]
    assert cellar.air_min_c.min() > 0
    swing = by_day(conditions.shelters["cellar"].air_c[0])
    assert (swing.max(axis=1) - swing.min(axis=1)).max() < 2
    np.testing.assert_allclose(cellar.dli_mol_m2_d, 1.0)


def test_light_by_place(conditions: Conditions) -> None:
    """Light is outdoor light times the cover's transmission times the place's share."""
    # Definition: 0.75 x 0.8; outdoors December light of Chicago is about 11 mol.
    outdoors = conditions.outdoor_dli_mol_m2_d
    np.testing.assert_allclose(conditions.places["glass/bench"].dli_mol_m2_d, 0.6 * outdoors)
    assert 5 < outdoors[61:92].mean() < 16


def test_closed_shelters_are_computed_too(season: Season, conditions: Conditions) -> None:
    """The cellar opens in November but has an October."""
    # Stated rule.
    assert season.shelter_by_id["cellar"].opens is not None
    assert np.isfinite(conditions.places["cellar/floor"].air_min_c[0, :31]).all()


def test_thermometer_line(season: Season, conditions: Conditions) -> None:
    """A shed known by two readings follows the line through them, smoothed."""
    # By hand: slope (22 + 6) / (28 + 18) = 0.6087; the mean obeys the line.
    air = conditions.shelters["shed"].air_c[0]
    line = -6 + 28 / 46 * (season.weather.air_c + 18)
    assert air.mean() == pytest.approx(line.mean(), abs=0.1)
    assert air.std() < line.std()


def test_hourly_roots_match_the_table(season: Season, conditions: Conditions) -> None:
    """What an audit recomputes hour by hour reduces to the table the plan was made from."""
    # Two paths to one number.
    for place in season.places.values():
        n = len(conditions.shelters[place.shelter_id].settings)
        for colder in (False, True):
            hourly = hourly_root_zone(season, conditions, place, n - 1, 7.5, colder)
            zone = conditions.places[place.id].root[5.0]
            table = (zone.cold_min_c if colder else zone.min_c)[n - 1]
            np.testing.assert_allclose(daily_min(hourly), table, atol=1e-9)
            if not colder:
                np.testing.assert_allclose(daily_mean(hourly), zone.mean_c[n - 1], atol=1e-9)


def test_schedule_of_one_setting_is_that_setting(season: Season, conditions: Conditions) -> None:
    """A schedule that never changes gives the shelter's own row, air and heat."""
    # Two paths to one number.
    glass = season.shelter_by_id["glass"]
    table = conditions.shelters["glass"]
    for i in (0, len(table.settings) - 1):
        air, heat = simulate_schedule(season, glass, np.full(season.hours, i))
        np.testing.assert_allclose(air, table.air_c[i], atol=1e-9)
        np.testing.assert_allclose(heat, table.heat_w[i], atol=1e-6)


def test_schedule_switch_lies_between(season: Season, conditions: Conditions) -> None:
    """After a switch the air joins the new setting's row within days."""
    # Time constant of the glasshouse is about 1.3 h.
    glass, table = season.shelter_by_id["glass"], conditions.shelters["glass"]
    model = shelter_model(glass, season.site)
    assert model is not None
    assert model.time_constant_h < 2
    switch = np.where(np.arange(season.hours) < 1000, 0, 3)
    air, _ = simulate_schedule(season, glass, switch)
    np.testing.assert_allclose(air[:1000], table.air_c[0, :1000], atol=1e-9)
    np.testing.assert_allclose(air[1048:], table.air_c[3, 1048:], atol=1e-6)


def test_power_failure(season: Season, conditions: Conditions) -> None:
    """A failure in the cold cools the house towards its unheated air, then it recovers."""
    # Bounded by the two rows; closed form by hand: tau 6 h from 5 to 0 at -10: 2.4328 h.
    glass, table = season.shelter_by_id["glass"], conditions.shelters["glass"]
    row = [s.key for s in table.settings].index("radiator hold 5 °C")
    first = int(np.argmin(table.air_c[0])) - 12
    air = air_after_failure(season, glass, row, first, 24)
    assert np.all(air >= table.air_c[0] - 1e-9)
    assert np.all(air <= table.air_c[row] + 1e-9)
    assert air[first + 12] < table.air_c[row, first + 12] - 2
    assert hours_until_c(5, -10, 0, 6.0) == pytest.approx(2.4328, abs=5e-5)
    assert hours_until_c(5, 1, 0, 6.0) == np.inf
    assert hours_until_c(-1, -10, 0, 6.0) == 0


def test_same_season_same_conditions(season: Season, conditions: Conditions) -> None:
    """Computing twice gives the same bits."""
    # Determinism.
    again = compute_conditions(season)
    for shelter_id, shelter in conditions.shelters.items():
        assert np.array_equal(shelter.air_c, again.shelters[shelter_id].air_c)


def test_bad_seasons_are_refused(season: Season) -> None:
    """Weather of the wrong length and a shelter described by nothing are errors."""
    # Stated errors.
    short = replace(season.weather, air_c=season.weather.air_c[:-24])
    with pytest.raises(ValueError, match="weather"):
        compute_conditions(replace(season, weather=short))
    empty = Shelter("box", "box", (make_place("box", PlaceKind.FLOOR),))
    with pytest.raises(ValueError, match="'box' has no envelope"):
        compute_conditions(make_season((empty,)))


def test_only_open_air_works() -> None:
    """A garden without any building still has conditions."""
    # A grower's smallest site.
    season = make_season(make_shelters()[:1])
    assert set(compute_conditions(season).shelters) == {"garden"}
    assert settings_for(season.shelters[0], season.site)[0].key == "off"
