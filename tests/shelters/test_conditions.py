"""Conditions of a whole invented site: shapes, order, and what a grower knows to be true."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from season_maker import GLASSHOUSE, make_place, make_season, make_shelters

from overwinter.climate.series import by_day
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions, HeaterSetting, PlaceKind
from overwinter.shelters.conditions import compute_conditions, design_need_w, heat_unsure
from overwinter.shelters.heater import heater_settings


@pytest.fixture(scope="module")
def season() -> Season:
    return make_season()


@pytest.fixture(scope="module")
def conditions(season: Season) -> Conditions:
    return compute_conditions(season)


def row(settings: tuple[HeaterSetting, ...], heater: str, **wanted: float) -> int:
    """Index of the setting in which one heater alone does what is wanted."""
    for i, setting in enumerate(settings):
        alone = len(setting.parts) == 1 and setting.parts[0].heater == heater
        if alone and all(getattr(setting.parts[0], key) == wanted[key] for key in wanted):
            return i
    raise LookupError(heater)


def test_every_array_has_its_documented_shape(season: Season, conditions: Conditions) -> None:
    """All arrays are filled, in the shapes their docstrings state, without gaps."""
    # overwinter.model.shelter.
    winters, days = season.winters.count, season.days
    assert conditions.outdoor_min_c.shape == (winters, days)
    assert conditions.day_length_h.shape == (days,)
    assert set(conditions.shelters) == {s.id for s in season.shelters}
    assert set(conditions.places) == set(season.places)
    for place_id, place in conditions.places.items():
        shelter = conditions.shelters[season.places[place_id].shelter_id]
        shape = (len(shelter.settings), winters, days)
        assert shelter.air_c.shape == (*shape[:2], 24 * season.days)
        assert shelter.money.shape == shelter.purchased_kwh.shape == shape
        daily = ("air_min_c", "air_mean_c", "chill_hours", "utah_units", "warmth_k_d")
        for name in daily:
            assert getattr(place, name).shape == shape, name
        assert place.cold_dose_k_h[10.0].shape == shape
        assert place.dli_mol_m2_d.shape == (winters, days)
        assert set(place.root) == {1.0, 10.0}  # classes of 1.2, 1.9 and 14 litres
        for zone in place.root.values():
            for array in (zone.wall_min_c, zone.core_min_c, zone.core_mean_c):
                assert array.shape == shape
                assert np.isfinite(array).all()


def test_settings_are_ordered_and_warmer_costs_more(conditions: Conditions) -> None:
    """Off is first and free; a higher hold is never colder in any hour and never cheaper."""
    # Monotone physics.
    glass = conditions.shelters["glass"]
    assert glass.settings[0].is_off
    assert glass.money[0].sum() == 0
    rows = [row(glass.settings, "radiator", hold_c=float(c)) for c in (0, 2, 5)]
    for cooler, warmer in zip([0, *rows[:-1]], rows, strict=True):
        assert np.all(glass.air_c[warmer] >= glass.air_c[cooler] - 1e-4)
        assert glass.money[warmer].sum() > glass.money[cooler].sum()
    np.testing.assert_allclose(glass.money, glass.purchased_kwh * 0.30)


def test_design_need_by_hand(season: Season) -> None:
    """Steady loss of the glasshouse at 5 degC inside and -28 outdoors, without sun."""
    # By hand with handbook films: 30 m2 x 5.7 + 0.335 x 0.8 x 18 m3 = 175.8 W/K outdoors, 4 W/K to
    # a house at 18 degC. EnergyPlus's like boxes need 0.4 to 0.8 of it (docs/energyplus.md).
    glass = season.shelter_by_id["glass"]
    settings = heater_settings(glass, season.site.money_per_kwh)
    hold = settings[row(settings, "radiator", hold_c=5.0)]
    need = design_need_w(glass, season.site, hold)
    assert 0.4 < need / (175.8 * 33 - 4 * 13) < 0.8


def test_step_heat_is_what_the_step_gives(season: Season, conditions: Conditions) -> None:
    """A fixed step of 400 W draws 9.6 kWh every day of the winter."""
    # By hand.
    glass = conditions.shelters["glass"]
    bar = row(glass.settings, "bar", step_w=400.0)
    np.testing.assert_allclose(glass.purchased_kwh[bar], 9.6)
    assert glass.money[bar].sum() == pytest.approx(9.6 * 0.30 * 4 * season.days)


def test_broken_heaters_keep_their_settings(season: Season, conditions: Conditions) -> None:
    """A heater that breaks in January has the same settings; who may use them is decided later."""
    # Stated rule.
    glass = season.shelter_by_id["glass"]
    heaters = tuple(replace(h, broken_from=date(2027, 1, 10)) for h in glass.heaters)
    got = compute_conditions(make_season((replace(glass, heaters=heaters),)))
    assert got.shelters["glass"].settings == conditions.shelters["glass"].settings


def test_low_step_keeps_a_small_cover_above_a_few_degrees_of_frost() -> None:
    """A small double cover on a 400 W step stays above freezing with 4 degrees of frost outside."""
    # Common practice, no source.
    small = replace(
        GLASSHOUSE,
        surfaces=(replace(GLASSHOUSE.surfaces[0], area_m2=12.0, u_w_m2k=3.5),),
        volume_m3=5.0,
        heat_capacity_j_k=2e5,
    )
    season = make_season((replace(make_shelters()[1], envelope=small),))
    frost = replace(season.winters, air_c=np.full_like(season.winters.air_c, -4.0))
    got = compute_conditions(replace(season, winters=frost)).shelters["glass"]
    assert got.air_c[row(got.settings, "bar", step_w=400.0)].min() > 0
    assert got.air_c[0].min() < 0


def test_open_air_is_the_weather(season: Season, conditions: Conditions) -> None:
    """In the garden the air is outdoor air."""
    # Definition.
    garden = conditions.shelters["garden"]
    np.testing.assert_allclose(garden.air_c[0], season.winters.air_c, atol=1e-5)
    bench = conditions.places["garden/bench"]
    np.testing.assert_array_equal(bench.air_min_c[0], conditions.outdoor_min_c)


def test_old_roots_inside_are_slower_than_young_ones_at_the_wall(conditions: Conditions) -> None:
    """The coldest night reaches the wall more than the inside, a small pot more than a large."""
    # Conduction: lag and damping grow inwards and with size; freezing water holds the inside.
    for place in conditions.places.values():
        small, large = place.root[1.0], place.root[10.0]
        for zone in (small, large):
            assert zone.wall_min_c.min() <= zone.core_min_c.min() + 1e-4
        assert small.wall_min_c.min() <= large.wall_min_c.min() + 1e-4
        assert small.core_min_c.min() <= large.core_min_c.min() + 1e-4


def test_sunk_pots_are_spared_the_worst(conditions: Conditions) -> None:
    """Sunk in the garden the coldest roots stay well above those on a bench."""
    # Common practice, no source: sinking or heeling in is what growers do for roots.
    bench = conditions.places["garden/bench"].root[10.0].core_min_c.min()
    sunk = conditions.places["garden/sunk"].root[10.0].core_min_c.min()
    assert sunk > bench + 2


def test_two_covers_in_one_garden(season: Season) -> None:
    """Two beds of one garden keep their own roots; the deeper cover is the warmer one."""
    # Conduction.
    garden = season.shelters[0]
    shallow = replace(make_place("garden", PlaceKind.SUNK), id="garden/shallow", cover_m=0.02)
    deep = replace(shallow, id="garden/deep", cover_m=0.25)
    got = compute_conditions(replace(season, shelters=(replace(garden, places=(shallow, deep)),)))
    lows = [got.places[bed.id].root[10.0].core_min_c.min() for bed in (shallow, deep)]
    assert lows[1] > lows[0] + 2


def test_u_values_run_through_to_the_heat(season: Season) -> None:
    """Walls known to a range make a range of heat; the wind alone 15 % either way (judgement)."""
    glass = season.shelter_by_id["glass"]
    assert glass.envelope is not None
    assert heat_unsure(glass) == pytest.approx((0.15, 0.15))
    first, *rest = glass.envelope.surfaces
    vague = replace(first, u_least_w_m2k=4.0, u_most_w_m2k=6.8)
    below, above = heat_unsure(
        replace(glass, envelope=replace(glass.envelope, surfaces=(vague, *rest)))
    )
    # 30 of the 46 m2 lose less at 4.0 than at 5.7: less than 1 - 4.0/5.7 = 0.30 in all.
    assert 0.15 < below < float(np.hypot(0.30, 0.15))
    assert above >= 0.15


def test_a_corner_is_as_much_colder_as_it_is_said(season: Season) -> None:
    """A place 3 K colder has its own air, roots, chilling; the shelter's heat is the same."""
    # By definition; the plain place of the same shelter is the measure.
    glass = season.shelter_by_id["glass"]
    bench = next(place for place in glass.places if place.kind is PlaceKind.BENCH)
    corner = replace(bench, id="glass/corner", warmer_k=-3.0)
    got = compute_conditions(replace(season, shelters=(replace(glass, places=(bench, corner)),)))
    plain, colder = got.places[bench.id], got.places[corner.id]
    np.testing.assert_allclose(colder.air_min_c, plain.air_min_c - 3, atol=1e-6)
    assert colder.root[10.0].core_mean_c.mean() < plain.root[10.0].core_mean_c.mean() - 1
    np.testing.assert_array_equal(got.places[bench.id].dli_mol_m2_d, colder.dli_mol_m2_d)


def test_a_roof_spares_pots_in_the_open_the_night_sky(season: Season) -> None:
    """Pot walls under the sky are 2 to 3 K colder than the air on the coldest clear nights."""
    # FAO-56 eq. 39 gives 65 W/m2 at -20 degC, more on dry nights; 0.5^1.5 of it (Walton 1983, from
    # memory, as for walls of shelters) over 10 W/(m2 K): 2.1 K and more.
    garden = season.shelter_by_id["garden"]
    bench = next(place for place in garden.places if place.kind is PlaceKind.BENCH)
    roofed = replace(bench, id="garden/roofed", sky_share=0.0)
    got = compute_conditions(replace(season, shelters=(replace(garden, places=(bench, roofed)),)))
    wall = got.places[bench.id].root[1.0].wall_min_c[0]
    under = got.places[roofed.id].root[1.0].wall_min_c[0]
    spared = under - wall
    coldest = got.outdoor_min_c < np.quantile(got.outdoor_min_c, 0.02)
    assert spared.min() >= -1e-3
    assert 2.1 < spared[coldest].max() < 2.9
    # In the sun of late winter dark pots are warmer inside than the air by day's mean.
    means = got.places[roofed.id].root[10.0].core_mean_c[0, :, -40:]
    assert (means - got.places[roofed.id].air_mean_c[0, :, -40:]).mean() > 1


def test_cellar_is_even_and_dark(conditions: Conditions) -> None:
    """A cellar under a warm house stays above freezing, swings little, has its lamp alone."""
    # Common practice, no source. Lamp: 2 mol x light share 0.5.
    cellar = conditions.places["cellar/floor"]
    assert cellar.air_min_c.min() > 0
    swing = by_day(conditions.shelters["cellar"].air_c[0])
    assert (swing.max(axis=-1) - swing.min(axis=-1)).max() < 3
    np.testing.assert_allclose(cellar.dli_mol_m2_d, 1.0)


def test_light_by_place(season: Season, conditions: Conditions) -> None:
    """Light is outdoor light times the cover's transmission times the place's share."""
    # Definition: 0.75 x 0.8; outdoors December light of Chicago is about 11 mol.
    outdoors = conditions.places["garden/bench"].dli_mol_m2_d
    np.testing.assert_allclose(conditions.places["glass/bench"].dli_mol_m2_d, 0.6 * outdoors)
    assert 5 < outdoors[:, 61:92].mean() < 16


def test_degree_hours_below_a_floor(conditions: Conditions) -> None:
    """The cold dose of a day adds up the hours' degrees below the floor."""
    # Definition.
    air = conditions.shelters["glass"].air_c[0]
    want = by_day(np.maximum(10.0 - air, 0.0)).sum(axis=-1)
    got = conditions.places["glass/bench"].cold_dose_k_h[10.0][0]
    np.testing.assert_allclose(got, want, rtol=1e-4, atol=1e-3)


def test_thermometer_nights(season: Season, conditions: Conditions) -> None:
    """On a night as cold as the reading's the shed is never warmer than its reading."""
    # Stated rule; the readings are -6 inside at -18 outdoors.
    coldest = by_day(conditions.shelters["shed"].air_c[0]).min(axis=-1)
    as_cold = conditions.outdoor_min_c <= -18
    assert as_cold.any()
    assert coldest[as_cold].max() <= -6 + 1e-4
    # and a degree outdoors is a degree inside at most
    assert coldest.min() >= -6 + (conditions.outdoor_min_c.min() + 18)


def test_same_season_same_conditions(season: Season, conditions: Conditions) -> None:
    """Computing twice gives the same bits."""
    # Determinism.
    again = compute_conditions(season)
    for shelter_id, shelter in conditions.shelters.items():
        assert np.array_equal(shelter.air_c, again.shelters[shelter_id].air_c)


def test_only_open_air_works() -> None:
    """A garden without any building still has conditions."""
    # A grower's smallest site.
    got = compute_conditions(make_season(make_shelters()[:1]))
    assert set(got.shelters) == {"garden"}
    assert got.shelters["garden"].settings[0].is_off
