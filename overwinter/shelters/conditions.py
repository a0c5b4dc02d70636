"""From a season to the conditions at every place under every heater setting."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from overwinter.climate.chill_weights import chill_hours_weight, utah_weight
from overwinter.climate.ground import kusuda_c
from overwinter.climate.series import daily_mean, daily_min, daily_sum, days_of_year
from overwinter.climate.sun import day_length_h
from overwinter.model.conditions import (
    Conditions,
    PlaceConditions,
    RootZone,
    ShelterConditions,
)
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray, HeaterSetting, Place, Shelter
from overwinter.model.site import Site
from overwinter.shelters.fit import fit_readings
from overwinter.shelters.heat_balance import Trace
from overwinter.shelters.heater import settings_for
from overwinter.shelters.light import outdoor_dli_mol_m2_d, place_dli_mol_m2_d
from overwinter.shelters.model import (
    Column,
    ShelterModel,
    column_of,
    model_of_envelope,
    model_of_fit,
    run,
)
from overwinter.shelters.root_table import root_zones
from overwinter.shelters.root_zone import (
    Stand,
    outer_root_time_constant_h,
    pot_class,
    root_zone_c,
    stand_of,
)
from overwinter.shelters.surroundings import (
    FLOOR_GROUND_DEPTH_M,
    Surroundings,
    colder_ground,
    hourly_days_of_year,
    surroundings,
)
from overwinter.shelters.thermometer import thermometer_air_c

COLDER_BY_K = 5.0
KWH_PER_WH = 1e-3
_ENOUGH_W = 1e-6


@dataclass(frozen=True)
class _Air:
    """Air and heat of one shelter, shapes ``(setting, hour)``."""

    settings: tuple[HeaterSetting, ...]
    air_c: FloatArray
    cold_air_c: FloatArray
    heat_w: FloatArray


def shelter_model(shelter: Shelter, site: Site) -> ShelterModel | None:
    """The shelter's thermal node; None for open air and for a thermometer's two readings.

    Readings come before the envelope, which then only gives the scale.

    Raises ValueError when the shelter is described by nothing, or its readings cannot be fitted.
    """
    if shelter.open_air:
        return None
    if shelter.readings is not None:
        return model_of_fit(fit_readings(shelter.readings, site), shelter.envelope)
    if shelter.envelope is not None:
        return model_of_envelope(shelter.envelope)
    if shelter.thermometer is None:
        raise ValueError(f"shelter {shelter.id!r} has no envelope, thermometer or readings")
    return None


def _modelless_air_c(shelter: Shelter, outdoor_c: FloatArray) -> FloatArray:
    """Air of a shelter without a thermal node, ``(hour,)``."""
    if shelter.thermometer is not None and not shelter.open_air:
        return thermometer_air_c(shelter.thermometer, outdoor_c)
    return outdoor_c


def _all_air(season: Season, around: Surroundings, cold: Surroundings) -> dict[str, _Air]:
    """Every shelter's air under every setting, all columns in one run."""
    columns: list[Column] = []
    slots: dict[str, tuple[tuple[HeaterSetting, ...], int]] = {}
    found: dict[str, _Air] = {}
    for shelter in season.shelters:
        settings = settings_for(shelter, season.site)
        model = shelter_model(shelter, season.site)
        if model is None:
            air = _modelless_air_c(shelter, around.air_c)[None, :]
            colder = _modelless_air_c(shelter, cold.air_c)[None, :]
            found[shelter.id] = _Air(settings, air, colder, np.zeros_like(air))
            continue
        slots[shelter.id] = (settings, len(columns))
        columns += [column_of(model, around, setting) for setting in settings]
        columns += [column_of(model, cold, setting) for setting in settings]
    if not columns:
        return found
    trace = run(columns)
    for shelter_id, (settings, first) in slots.items():
        n = len(settings)
        found[shelter_id] = _Air(
            settings,
            np.ascontiguousarray(trace.air_c[:, first : first + n].T),
            np.ascontiguousarray(trace.air_c[:, first + n : first + 2 * n].T),
            np.ascontiguousarray(trace.heat_w[:, first : first + n].T),
        )
    return found


def _bought(air: _Air) -> tuple[FloatArray, FloatArray]:
    """Energy bought (kWh) and money of each hour, ``(setting, hour)``."""
    kwh, money = np.zeros_like(air.heat_w), np.zeros_like(air.heat_w)
    for i, setting in enumerate(air.settings):
        held_kwh = (air.heat_w[i] - setting.fixed_w) * KWH_PER_WH
        fixed_kwh = setting.fixed_w * KWH_PER_WH
        kwh[i] = held_kwh / setting.hold_efficiency + fixed_kwh / setting.fixed_efficiency
        money[i] = held_kwh * setting.hold_money_per_kwh + fixed_kwh * setting.fixed_money_per_kwh
    return kwh, money


def design_shortfalls_w(
    shelter: Shelter, site: Site, settings: tuple[HeaterSetting, ...]
) -> tuple[float, ...]:
    """Power each setting lacks at the site's design temperature, W; 0 where it holds.

    Steady and dark, with the ground behind the floor at its coldest.
    """
    model = shelter_model(shelter, site)
    year = np.arange(1.0, 366.0)
    coldest_ground = float(kusuda_c(FLOOR_GROUND_DEPTH_M, year, site.ground).min())
    lacks = []
    for setting in settings:
        need = 0.0
        if model is not None and setting.hold_c is not None:
            need = model.steady_need_w(
                setting.hold_c, site.design_min_c, coldest_ground, site.house_c
            )
            need -= setting.fixed_w + setting.power_w
        lacks.append(need if need > _ENOUGH_W else 0.0)
    return tuple(lacks)


def _shelter_conditions(shelter: Shelter, site: Site, air: _Air) -> ShelterConditions:
    kwh, money = _bought(air)
    lacks = design_shortfalls_w(shelter, site, air.settings)
    return ShelterConditions(
        shelter_id=shelter.id,
        settings=air.settings,
        air_c=air.air_c,
        cold_air_c=air.cold_air_c,
        heat_w=air.heat_w,
        purchased_kwh=kwh,
        money=money,
        holds_at_design=tuple(lack == 0.0 for lack in lacks),
        design_shortfall_w=lacks,
    )


def _site_roots(
    season: Season, air: dict[str, _Air], colder_by_k: float
) -> dict[tuple[str, Stand], dict[float, RootZone]]:
    """Root zones wherever pots can stand."""
    keys = {(p.shelter_id, stand_of(p)) for p in season.places.values()}
    return root_zones(
        {key: (air[key[0]].air_c, air[key[0]].cold_air_c) for key in sorted(keys)},
        season.site.ground,
        colder_ground(season.site.ground, colder_by_k, 0.0),
        hourly_days_of_year(season),
    )


def _place_conditions(
    season: Season, air: dict[str, _Air], outdoor_dli: FloatArray, colder_by_k: float
) -> dict[str, PlaceConditions]:
    roots = _site_roots(season, air, colder_by_k)
    places = {}
    for shelter in season.shelters:
        inside, cold = air[shelter.id].air_c, air[shelter.id].cold_air_c
        air_min, air_mean, cold_min = daily_min(inside), daily_mean(inside), daily_min(cold)
        hours = daily_sum(chill_hours_weight(inside))
        utah = daily_sum(utah_weight(inside))
        for place in shelter.places:
            places[place.id] = PlaceConditions(
                place_id=place.id,
                dli_mol_m2_d=place_dli_mol_m2_d(outdoor_dli, shelter, place),
                air_min_c=air_min,
                air_mean_c=air_mean,
                cold_air_min_c=cold_min,
                chill_hours=hours,
                utah_units=utah,
                root=roots[shelter.id, stand_of(place)],
            )
    return places


def compute_conditions(season: Season, colder_by_k: float = COLDER_BY_K) -> Conditions:
    """Air, roots, heat, money, light and chilling everywhere, for every heater setting.

    Parameters
    ----------
    season : Season
    colder_by_k : float
        The second, colder winter: outdoor air lower by this, K, all winter.

    Returns
    -------
    Conditions
        Shelters are computed on closed days too.

    Raises
    ------
    ValueError
        The weather is not one value an hour of the season; a shelter is described by nothing;
        readings that cannot be fitted; a heater without a price.
    """
    if season.weather.air_c.shape != (season.hours,):
        raise ValueError(f"weather of {season.weather.air_c.shape}, season of {season.hours} h")
    around, cold = surroundings(season), surroundings(season, colder_by_k)
    air = _all_air(season, around, cold)
    outdoor_dli = outdoor_dli_mol_m2_d(season.weather)
    site = season.site
    return Conditions(
        days=season.days,
        colder_by_k=colder_by_k,
        outdoor_air_c=season.weather.air_c,
        outdoor_mean_c=daily_mean(season.weather.air_c),
        day_length_h=day_length_h(site.latitude_deg, days_of_year(site.starts, season.days)),
        outdoor_dli_mol_m2_d=outdoor_dli,
        shelters={s.id: _shelter_conditions(s, site, air[s.id]) for s in season.shelters},
        places=_place_conditions(season, air, outdoor_dli, colder_by_k),
    )


def root_zone_of_air(
    season: Season, place: Place, air_c: FloatArray, pot_litres: float, colder_by_k: float = 0.0
) -> FloatArray:
    """Outer roots of a pot at ``place`` in air given hour by hour, degC, ``(hour,)``.

    ``pot_litres`` is brought to its class, as in ``Conditions``. ``colder_by_k`` lowers the
    ground, not ``air_c``.
    """
    tau = outer_root_time_constant_h(pot_class(pot_litres))
    ground = colder_ground(season.site.ground, colder_by_k, 0.0)
    return root_zone_c(air_c, stand_of(place), tau, ground, hourly_days_of_year(season))


def hourly_root_zone(
    season: Season,
    conditions: Conditions,
    place: Place,
    setting_index: int,
    pot_litres: float,
    colder: bool = False,
) -> FloatArray:
    """Outer roots of a pot at ``place`` with one setting all winter, degC, ``(hour,)``."""
    shelter = conditions.shelters[place.shelter_id]
    air = shelter.cold_air_c if colder else shelter.air_c
    shift = conditions.colder_by_k if colder else 0.0
    return root_zone_of_air(season, place, air[setting_index], pot_litres, shift)


def simulate_schedule(
    season: Season,
    shelter: Shelter,
    setting_index_by_hour: NDArray[np.intp],
    colder_by_k: float = 0.0,
) -> tuple[FloatArray, FloatArray]:
    """A shelter whose heater setting changes through the winter.

    Parameters
    ----------
    season : Season
    shelter : Shelter
    setting_index_by_hour : array (hour,) of int
        Index into ``settings_for(shelter, season.site)``.

    Returns
    -------
    air_c, heat_w : array (hour,)
        Air at the end of each hour, degC; heat of all heaters, mean W.
    """
    around = surroundings(season, colder_by_k)
    model = shelter_model(shelter, season.site)
    if model is None:
        air = _modelless_air_c(shelter, around.air_c)
        return air, np.zeros_like(air)
    settings = settings_for(shelter, season.site)
    index = np.asarray(setting_index_by_hour, dtype=np.intp)
    fixed = np.array([s.fixed_w for s in settings])
    hold = np.array([-np.inf if s.hold_c is None else s.hold_c for s in settings])
    power = np.array([s.power_w for s in settings])
    trace: Trace = run([Column(model, around, fixed[index], hold[index], power[index])])
    return trace.air_c[:, 0], trace.heat_w[:, 0]
