"""A small invented season for the tests of the shelters."""

from datetime import date

import numpy as np
from made import made_limits, made_place, made_site

from overwinter.climate.generator import draw_winters
from overwinter.climate.ground import ground_from_weather
from overwinter.model.season import Season, WinterRecipe
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
from overwinter.model.site import Location
from overwinter.model.tree import Condition, Tree

STARTS, ENDS = date(2026, 10, 1), date(2027, 5, 15)
RECIPE = WinterRecipe(
    mean_min_c=(-9, -8, -3, 3, 9, 14, 17, 16, 11, 5, -1, -6),
    mean_max_c=(-1, 1, 7, 14, 21, 26, 28, 27, 22, 15, 7, 1),
    sun_mj_m2_d=None,
    coldest_mean_c=-22.0,
    coldest_spread_k=3.5,
)
MID_MONTH_D = np.array([15.5, 45, 74.5, 105, 135.5, 166, 196.5, 227.5, 258, 288.5, 319, 349.5])
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
    return made_place(
        id=f"{shelter}/{kind.value}",
        shelter_id=shelter,
        name=kind.value,
        kind=kind,
        load_limit_kg=float("inf"),
        light_share=light_share,
        rodent_exposure=0.1,
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


def make_tree(name: str, litres: float, air_floor_c: float | None = None) -> Tree:
    """A tree of which the physics looks at the pot and the floor alone."""
    limits = made_limits(
        root_kill_c=-10.0,
        root_kill_unhardened_c=-4.0,
        top_kill_unhardened_c=-5.0,
        air_floor_c=air_floor_c,
        chill_injury_k_h=200.0,
        light_floor_mol_m2_d=0.0,
        harden_below_c=4.4,
    )
    return Tree(name, name, "kind", limits, 0.4, 0.4, 0.6, 10.0, litres, Condition.ORDINARY, 100.0)


TREES = (make_tree("small", 1.2), make_tree("large", 14.0), make_tree("tropical", 1.9, 10.0))


def make_season(
    shelters: tuple[Shelter, ...] | None = None, winters: int = 4, seed: int = 1
) -> Season:
    """Invented winters at 42 N."""
    days = (ENDS - STARTS).days + 1
    drawn = draw_winters(RECIPE, winters, seed, STARTS, days, Location(42.0, -88.0, -6.0, 200.0))
    monthly = (np.array(RECIPE.mean_min_c) + np.array(RECIPE.mean_max_c)) / 2
    site = made_site(
        name="invented",
        starts=STARTS,
        ends=ENDS,
        design_min_c=-28.0,
        ground=ground_from_weather(monthly, MID_MONTH_D),
        money_per_kwh={Carrier.ELECTRICITY: 0.30},
        breakers_w={"shed": 3000.0},
        invented=True,
    )
    return Season(site, drawn, {}, TREES, make_shelters() if shelters is None else shelters)
