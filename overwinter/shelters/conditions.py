"""From a season to the conditions at every place under every heater setting in every winter."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import replace
from statistics import NormalDist
from typing import Any

import numpy as np

from overwinter.climate import series
from overwinter.climate.air import cold_sky_share
from overwinter.climate.ground import kusuda_c
from overwinter.climate.sun import MOL_PER_MJ, day_length_h
from overwinter.model.season import Season
from overwinter.model.shelter import (
    Conditions,
    FloatArray,
    HeaterSetting,
    PlaceConditions,
    RootZone,
    Shelter,
    ShelterConditions,
)
from overwinter.model.site import Site
from overwinter.model.tree import Tree
from overwinter.plants.hardening import warmth_k_d
from overwinter.shelters import network
from overwinter.shelters.fit import UNSURE_K, fit_readings, thermometer_air_c
from overwinter.shelters.heater import heater_settings
from overwinter.shelters.modes import ShelterModel, model_of_envelope, model_of_fit, run
from overwinter.shelters.network import GroundAt, SkyOver, SunOn, Surroundings
from overwinter.shelters.root_table import StandAir, root_zones
from overwinter.shelters.root_zone import OpenSky, Stand, pot_class, stand_of
from overwinter.units import HOURS_PER_DAY, MJ_PER_WH

KWH_PER_WH = 1e-3
WIND_UNSURE = 0.15  # what wind and films make of a shelter's heat besides its U-values (judgement)
CLEAR_NIGHT_W_M2 = 65.0  # loss to a clear sky in a hard frost: FAO-56 eq. 39 at -20 degC
DESIGN_SHARE = 0.05  # share of winters with a night colder than the design night: one of 20
POTS_FILL = 0.5  # of a shelter's places, where it is not yet known which (judgement)


def shelter_model(shelter: Shelter, site: Site, pot_litres: float = 0.0) -> ShelterModel | None:
    """The shelter's model; None for open air and for a thermometer's two readings."""
    if shelter.open_air:
        return None
    if shelter.readings is not None:
        return model_of_fit(fit_readings(shelter.readings, site))
    envelope = shelter.envelope
    return None if envelope is None else model_of_envelope(envelope, pot_litres)


def _air(
    season: Season, shelter: Shelter, around: Surroundings, settings: tuple[HeaterSetting, ...]
) -> tuple[FloatArray, FloatArray]:
    """Air (degC) and heat delivered (W), ``(setting, winter, hour)``."""
    model = shelter_model(shelter, season.site, pots_in_l(shelter, season.trees))
    off_k = unsure_k(shelter, season.site) * luck(season.winters.count, season.site.seed)
    if model is not None:
        air, heat = run(model, around, settings)
        return (air + off_k[:, None] if shelter.readings is not None else air), heat
    air = around.air_c
    if shelter.thermometer is not None and not shelter.open_air:
        air = thermometer_air_c(shelter.thermometer, around, off_k)
    return air[None], np.zeros((1, *air.shape))


def unsure_k(shelter: Shelter, site: Site) -> float:
    """Standard deviation of a coldest night foretold from a thermometer, K; 0 without one."""
    if shelter.readings is not None:
        return fit_readings(shelter.readings, site).unsure_k
    known = shelter.thermometer
    if known is None:
        return 0.0
    outdoors_k = known.outdoor_at_warmest_c - known.outdoor_at_coldest_c
    return UNSURE_K * min(1.0, (known.warmest_c - known.coldest_c) / max(outdoors_k, 0.1))


def bought(heat_w: FloatArray, settings: Sequence[HeaterSetting]) -> tuple[FloatArray, FloatArray]:
    """Energy bought (kWh) and money of each day, ``(setting, winter, day)``, of hourly W."""
    daily_kwh = series.by_day(heat_w).sum(axis=-1).astype(np.float64) * KWH_PER_WH
    kwh, money = np.zeros_like(daily_kwh), np.zeros_like(daily_kwh)
    for i, setting in enumerate(settings):
        fixed = setting.fixed_w * HOURS_PER_DAY * KWH_PER_WH
        held = daily_kwh[i] - fixed
        kwh[i] = held / setting.hold_efficiency + fixed / setting.fixed_efficiency
        money[i] = held * setting.hold_money_per_kwh + fixed * setting.fixed_money_per_kwh
    return kwh, money


def heat_unsure(shelter: Shelter) -> tuple[float, float]:
    """Shares by which a shelter's heat may lie below and above its best estimate. From the network
    with every U-value at its least and at its most, and the wind's share."""
    if shelter.envelope is None:
        return 0.0, 0.0

    def loss_w_k(end: str) -> float:
        envelope = shelter.envelope
        assert envelope is not None
        known = envelope.surfaces
        surfaces = tuple(replace(s, u_w_m2k=getattr(s, end) or s.u_w_m2k) for s in known)
        return 1 / model_of_envelope(replace(envelope, surfaces=surfaces)).modes.steady_k_w

    best = loss_w_k("u_w_m2k")
    below, above = 1 - loss_w_k("u_least_w_m2k") / best, loss_w_k("u_most_w_m2k") / best - 1
    return float(np.hypot(below, WIND_UNSURE)), float(np.hypot(above, WIND_UNSURE))


def design_need_w(shelter: Shelter, site: Site, setting: HeaterSetting) -> float:
    """Steady heat for a hold in a lasting design night, dark and clear, W; 0 without a model."""
    model = shelter_model(shelter, site)
    if model is None or setting.hold_c is None:
        return 0.0
    year = np.arange(1.0, 366.0)

    def in_it(source: Hashable) -> float:
        if isinstance(source, SkyOver):
            return cold_sky_share(source.slope_deg) * CLEAR_NIGHT_W_M2
        if isinstance(source, GroundAt):
            return float(kusuda_c(source.depth_m, year, site.ground).min())
        known = {network.OUTDOORS: site.design_min_c, network.HOUSE: site.house_c}
        return known.get(str(source), 0.0)

    unheated_c = float(model.modes.steady @ np.array([in_it(one) for one in model.sources]))
    return (setting.hold_c - unheated_c) / model.modes.steady_k_w


def coldest_of_20_winters(season: Season) -> dict[str, dict[HeaterSetting, float]]:
    """Air of every shelter in the coldest night of 20 winters of the sample, degC, by setting."""
    around = network.surroundings(season)
    found = {}
    for shelter in season.shelters:
        settings = heater_settings(shelter, season.site.money_per_kwh)
        air, _ = _air(season, shelter, around, settings)
        coldest = np.quantile(air.min(axis=-1), DESIGN_SHARE, axis=-1)
        found[shelter.id] = dict(zip(settings, map(float, coldest), strict=True))
    return found


def luck(winters: int, seed: int) -> FloatArray:
    """Standard normal deviates, one a winter, equal shares of the law in no order. What is not
    known of a shelter is a risk: it is warmer than foretold in some winters of the sample and
    colder in others, and chances of loss are means over them."""
    shares = (np.arange(winters) + 0.5) / winters
    deviates = np.array([NormalDist().inv_cdf(float(share)) for share in shares])
    return np.random.default_rng(seed).permutation(deviates)


def pots_in_l(shelter: Shelter, trees: tuple[Tree, ...]) -> float:
    """Litres of mix that stand in a shelter, at the collection's own litres an m2."""
    footprint_m2 = sum(tree.width_m * tree.depth_m for tree in trees)
    area_m2 = min(POTS_FILL * sum(place.area_m2 for place in shelter.places), footprint_m2)
    return area_m2 * sum(tree.pot_litres for tree in trees) / footprint_m2 if trees else 0.0


def _stands(season: Season, shelter: Shelter, air_c: FloatArray, sky: OpenSky) -> list[StandAir]:
    """The kinds of stand of one shelter."""
    snow = season.winters.snow_m if shelter.open_air else np.zeros_like(season.winters.snow_m)
    kinds = dict.fromkeys(stand_of(place, shelter.open_air) for place in shelter.places)
    above = sky if shelter.open_air else None
    return [StandAir(stand, air_c + stand.warmer_k, snow, above) for stand in kinds]


def _place_air(air_c: FloatArray, floors_c: list[float]) -> dict[str, Any]:
    """Fields of ``PlaceConditions`` that follow from the air of a place alone."""
    mean = series.by_day(air_c).mean(axis=-1)
    return {
        "air_min_c": series.by_day(air_c).min(axis=-1),
        "air_mean_c": mean,
        "chill_hours": series.by_day(series.chill_hours_weight(air_c)).sum(axis=-1),
        "utah_units": series.by_day(series.utah_weight(air_c)).sum(axis=-1),
        "warmth_k_d": warmth_k_d(mean),
        "cold_dose_k_h": {
            floor_c: series.by_day(np.maximum(floor_c - air_c, 0.0)).sum(axis=-1).astype(np.float32)
            for floor_c in floors_c
        },
    }


def _places(
    season: Season, shelter: Shelter, air_c: FloatArray, roots: dict[Stand, dict[float, RootZone]]
) -> dict[str, PlaceConditions]:
    """Conditions at the places of one shelter; places alike share their arrays."""
    floors = sorted({float(f) for t in season.trees if (f := t.limits.air_floor_c) is not None})
    outdoors = MOL_PER_MJ * MJ_PER_WH * series.by_day(season.winters.sun_w_m2).sum(axis=-1)
    inside = outdoors * shelter.transmission + shelter.lamp_mol_m2_d
    airs = {k: _place_air(air_c + k, floors) for k in {p.warmer_k for p in shelter.places}}
    found = {}
    for place in shelter.places:
        dli, root = np.asarray(inside * place.light_share), roots[stand_of(place, shelter.open_air)]
        found[place.id] = PlaceConditions(dli_mol_m2_d=dli, root=root, **airs[place.warmer_k])
    return found


def compute_conditions(
    season: Season, only: Mapping[str, Sequence[HeaterSetting]] | None = None
) -> Conditions:
    """Air, roots, heat, money, light and chilling of every heater setting in every winter.
    ``only``: by shelter, settings that will be met beside "off"; None: any."""
    around = network.surroundings(season)
    site = season.site
    shelters: dict[str, ShelterConditions] = {}
    airs: dict[str, FloatArray] = {}
    stands: dict[str, list[StandAir]] = {}
    sky = OpenSky(around.sky_loss_w_m2, around.source(SunOn(None, 90.0, False)))
    for shelter in season.shelters:
        settings = heater_settings(shelter, site.money_per_kwh)
        if only is not None:
            settings = tuple(s for s in settings if s.is_off or s in only[shelter.id])
        air, heat = _air(season, shelter, around, settings)
        kwh, money = bought(heat, settings)
        shelters[shelter.id] = ShelterConditions(
            settings=settings,
            air_c=np.asarray(air, dtype=np.float32),
            purchased_kwh=kwh,
            money=money,
            heat_unsure=heat_unsure(shelter) if len(settings) > 1 else (0.0, 0.0),
        )
        airs[shelter.id], stands[shelter.id] = air, _stands(season, shelter, air, sky)
    classes = tuple(sorted({pot_class(tree.pot_litres) for tree in season.trees}))
    every = [one for some in stands.values() for one in some]
    zones = iter(root_zones(every, classes, site.ground, around.day_of_year))
    places: dict[str, PlaceConditions] = {}
    for shelter in season.shelters:
        roots = {one.stand: next(zones) for one in stands[shelter.id]}
        places |= _places(season, shelter, airs[shelter.id], roots)
    return Conditions(
        outdoor_min_c=series.by_day(around.air_c).min(axis=-1),
        day_length_h=day_length_h(site.latitude_deg, series.days_of_year(site.starts, season.days)),
        shelters=shelters,
        places=places,
    )
