"""Tiny invented winters for re-planning: a yard, a porch and a cellar, no heaters, few trees.

The air of porch and cellar is a straight line against the outdoor air (two thermometer readings),
so that what is too cold where can be read off. Everything is invented.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import numpy as np

from overwinter.model.changes import Changes, Mark, Unmarked
from overwinter.model.plan import Carry
from overwinter.model.season import Season, Weather
from overwinter.model.shelter import Place, PlaceKind, Shelter, Thermometer
from overwinter.model.site import Ground, Margins, Site, Weights
from overwinter.model.species import ChillModel, LeafHabit, Limits
from overwinter.model.tree import Condition, Tree
from overwinter.planning.marks import assumed_marks
from overwinter.planning.options import PlanOptions
from overwinter.planning.plan_winter import Outcome, plan_winter
from overwinter.planning.replan import InForce, Replanned, Request, replan

STARTS = date(2026, 11, 1)
DAYS = 42
EXACT = PlanOptions(gap=0.0)


def limits(kill_c: float) -> Limits:
    """Roots that stand the same hardened or not: no history matters."""
    return Limits(
        root_kill_c=kill_c,
        root_kill_young_c=kill_c,
        root_kill_unhardened_c=kill_c,
        air_floor_c=None,
        rest_ceiling_c=None,
        chill_need=0.0,
        chill_model=ChillModel.HOURS,
        light_floor_mol_m2_d=0.0,
        dark_below_c=99.0,
        leaf=LeafHabit.DECIDUOUS,
        rodent_appeal=0.0,
        harden_below_c=8.0,
        harden_days=40.0,
        deharden_above_c=5.0,
        deharden_per_degree_day=0.02,
    )


def tree(name: str, kill_c: float, width_m: float = 0.5, **changes: object) -> Tree:
    """A tree whose roots die at ``kill_c``; half a metre square unless said."""
    values: dict[str, object] = {
        "id": name,
        "name": name,
        "species_key": "any",
        "limits": limits(kill_c),
        "width_m": width_m,
        "depth_m": 0.5,
        "height_m": 0.5,
        "weight_kg": 10.0,
        "pot_litres": 5.0,
        "condition": Condition.ORDINARY,
        "value": 100.0,
    }
    return Tree(**{**values, **changes})


def place(shelter: str, name: str, width_m: float) -> Place:
    """A bench 0.6 m deep, reached from the front."""
    return Place(
        id=f"{shelter}/{name}",
        shelter_id=shelter,
        name=name,
        kind=PlaceKind.BENCH,
        width_m=width_m,
        depth_m=0.6,
        headroom_m=2.0,
        load_limit_kg=1000.0,
        light_share=1.0,
        rodent_exposure=0.0,
        guarded=False,
    )


def shelters(porch_m: float = 1.2, cellar_m: float = 1.2) -> tuple[Shelter, ...]:
    """The yard; the porch, 5 K above outdoors at 0 degC; the cellar, 10 K above and steadier."""
    return (
        Shelter("yard", "Yard", (place("yard", "stand", 9.0),), open_air=True),
        Shelter(
            "porch",
            "Porch",
            (place("porch", "bench", porch_m),),
            thermometer=Thermometer(-5.0, 15.0, -10.0, 10.0, 12.0),
            transmission=0.6,
        ),
        Shelter(
            "cellar",
            "Cellar",
            (place("cellar", "floor", cellar_m),),
            thermometer=Thermometer(5.0, 10.0, -10.0, 10.0, 72.0),
            transmission=0.0,
        ),
    )


def site(**changes: object) -> Site:
    """Six weeks; a carry costs 1, one that was not planned 5 more, a carry day 3."""
    values: dict[str, object] = {
        "name": "Tiny yard (invented)",
        "latitude_deg": 47.0,
        "longitude_deg": 9.0,
        "elevation_m": 400.0,
        "utc_offset_h": 1.0,
        "starts": STARTS,
        "ends": STARTS + timedelta(days=DAYS - 1),
        "design_min_c": -15.0,
        "ground": Ground(10.0, 8.0, 30.0),
        "house_c": 20.0,
        "summer_place": "yard/stand",
        "currency": "EUR",
        "money_per_kwh": {},
        "breakers_w": {},
        "carries_per_day": 10,
        "carry_days_max": 6,
        "longest_spell_days": 14,
        "weights": Weights(carry_day=3.0, not_home=0.0, tail_chance=0.0),
        "margins": Margins(root_k=1.0),
        "invented": True,
    }
    return Site(**{**values, **changes})


def weather(means_c: Sequence[float]) -> Weather:
    """Six weeks of the given means, each week the same all day long."""
    air = np.repeat(np.asarray(means_c, dtype=np.float64), 7 * 24)
    return Weather(air, np.full(air.size, 60.0), "made by hand")


def season(
    *trees: Tree, means_c: Sequence[float] = (5, 2, -3, -6, -8, -8), **of_site: object
) -> Season:
    """The yard with these trees."""
    return Season(
        site=site(**of_site),
        weather=weather(means_c),
        species={},
        trees=trees or (tree("fig", 0.0), tree("bay", -3.0), tree("larch", -20.0)),
        shelters=shelters(),
    )


@cache
def usual() -> tuple[Season, Outcome]:
    """The yard with its three ordinary trees, and its plan."""
    found = season()
    return found, plan_winter(found, EXACT)


def day(number: int) -> date:
    """Day of the winter, 0 on the first."""
    return STARTS + timedelta(days=number)


def done_until(outcome: Outcome, today: date) -> tuple[Mark, ...]:
    """Marks for all carries before a day, done as planned."""
    return tuple(
        replace(mark, assumed=False)
        for mark in assumed_marks([c for c in outcome.plan.carries if c.day < today])
    )


def again(
    found: Season,
    outcome: Outcome,
    today: date,
    changes: Changes | None = None,
    marks: Sequence[Mark] | None = None,
    unmarked: Unmarked | None = None,
    **request: object,
) -> Replanned:
    """Plan anew, everything before today done as planned unless ``marks`` say otherwise."""
    all_marks = done_until(outcome, today) if marks is None else tuple(marks)
    asked = Request(today, changes or Changes(), unmarked, **request)
    return replan(found, InForce(outcome.plan, Changes(), all_marks), asked, EXACT)


def ahead(carries: Sequence[Carry], first: date) -> list[tuple[date, str, str]]:
    """Carries from a day on: day, tree, target."""
    return [(c.day, c.tree_id, c.target) for c in carries if c.day >= first]
