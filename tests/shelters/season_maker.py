"""A small invented season for the tests of the shelters."""

from datetime import date

import numpy as np

from overwinter.climate.air import Normals, hourly_from_normals, sun_from_normals
from overwinter.climate.ground import ground_from_weather
from overwinter.climate.series import daily_mean, source_days, take_days
from overwinter.model.season import Season, Weather
from overwinter.model.shelter import (
    Carrier,
    Envelope,
    Heater,
    Place,
    PlaceKind,
    Shelter,
    Surface,
    Thermometer,
    Towards,
)
from overwinter.model.site import Site

STARTS, ENDS = date(2026, 10, 1), date(2027, 5, 15)
NORMALS = Normals(
    mean_min_c=np.array([-9.0, -8, -3, 3, 9, 14, 17, 16, 11, 5, -1, -6]),
    mean_max_c=np.array([-1.0, 1, 7, 14, 21, 26, 28, 27, 22, 15, 7, 1]),
    design_min_c=-22.0,
)
YEAR = [date.fromordinal(date(2025, 1, 1).toordinal() + i) for i in range(365)]
RADIATOR = Heater("radiator", Carrier.ELECTRICITY, 1.0, 2500, hold_c=(0, 2, 5), breaker="shed")
BAR = Heater("bar", Carrier.ELECTRICITY, 1.0, 800, steps_w=(400,), breaker="shed")
GLASSHOUSE = Envelope(
    (
        Surface("glass", 30, 5.7, Towards.OUTDOORS, glazed=True),
        Surface("floor", 8, 0.8, Towards.GROUND),
        Surface("house wall", 8, 0.5, Towards.HOUSE),
    ),
    volume_m3=18,
    air_changes_per_h=0.8,
    heat_capacity_j_k=9e5,
    solar_aperture_m2=3.0,
    vent_above_c=16.0,
)
CELLAR = Envelope(
    (
        Surface("ceiling", 12, 0.6, Towards.HOUSE),
        Surface("window wall", 3, 2.0, Towards.OUTDOORS),
        Surface("walls and floor", 40, 0.8, Towards.GROUND),
    ),
    volume_m3=26,
    air_changes_per_h=0.2,
    heat_capacity_j_k=9e6,
    solar_aperture_m2=0.0,
)


def make_place(shelter: str, kind: PlaceKind, light_share: float = 0.8) -> Place:
    """A 2 x 1 m place named after its kind."""
    return Place(
        id=f"{shelter}/{kind.value}",
        shelter_id=shelter,
        name=kind.value,
        kind=kind,
        width_m=2.0,
        depth_m=1.0,
        headroom_m=2.0,
        load_limit_kg=float("inf"),
        light_share=light_share,
        rodent_exposure=0.1,
        guarded=False,
    )


def make_shelters() -> tuple[Shelter, ...]:
    """Garden, glasshouse, cellar, and a shed known by its thermometer."""
    return (
        Shelter(
            "garden",
            "Garden",
            tuple(make_place("garden", k, 1.0) for k in PlaceKind if k is not PlaceKind.SHELF),
            open_air=True,
        ),
        Shelter(
            "glass",
            "Glasshouse",
            tuple(make_place("glass", k) for k in PlaceKind),
            envelope=GLASSHOUSE,
            heaters=(RADIATOR, BAR),
            transmission=0.75,
        ),
        Shelter(
            "cellar",
            "Cellar",
            (make_place("cellar", PlaceKind.FLOOR, 0.5),),
            opens=date(2026, 11, 1),
            envelope=CELLAR,
            transmission=0.0,
            lamp_mol_m2_d=2.0,
        ),
        Shelter(
            "shed",
            "Shed",
            (make_place("shed", PlaceKind.SHELF, 0.0),),
            thermometer=Thermometer(-6.0, 22.0, -18.0, 28.0),
        ),
    )


def make_season(shelters: tuple[Shelter, ...] | None = None, seed: int = 1) -> Season:
    """An invented winter at 42 N."""
    air, days = hourly_from_normals(NORMALS, seed), np.arange(1.0, 366.0)
    site = Site(
        name="invented",
        latitude_deg=42.0,
        longitude_deg=-88.0,
        elevation_m=200.0,
        utc_offset_h=-6.0,
        starts=STARTS,
        ends=ENDS,
        design_min_c=-22.0,
        ground=ground_from_weather(daily_mean(air), days),
        house_c=18.0,
        summer_place="garden/bench",
        currency="EUR",
        money_per_kwh={Carrier.ELECTRICITY: 0.30},
        breakers_w={"shed": 3000.0},
        carries_per_day=10,
        carry_days_max=10,
        invented=True,
    )
    order = source_days(YEAR, STARTS, ENDS)
    sun = sun_from_normals(NORMALS, seed, 42.0, -88.0, -6.0, 200.0)
    weather = Weather(take_days(air, order), take_days(sun, order), "invented normals")
    return Season(site, weather, {}, (), make_shelters() if shelters is None else shelters)
