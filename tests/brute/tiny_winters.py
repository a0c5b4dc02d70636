"""Tiny winters drawn at random, small enough that every plan of them can be counted.

Two to five trees of several kinds, two to four places in a garden and one or two shelters, up to
two hold temperatures, two to four stages beside the first. Weather, air, roots and light are
invented; all else is the tool's own.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from unittest.mock import patch

import numpy as np
from made import made_limits, made_place, made_site, made_tree

from overwinter.model.changes import Start, start_of_season
from overwinter.model.season import Season, Winters
from overwinter.model.shelter import (
    Carrier,
    Conditions,
    FloatArray,
    Heater,
    HeaterPart,
    HeaterSetting,
    Place,
    PlaceConditions,
    PlaceKind,
    RootZone,
    Shelter,
    ShelterConditions,
)
from overwinter.model.site import Household, Site, Weights
from overwinter.model.species import LeafHabit, Limits
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage, StageDays
from overwinter.model.tree import Condition, Tree
from overwinter.search import plan_winter as planning
from overwinter.search.options import PlanOptions
from overwinter.search.problem import Problem, make_problem
from overwinter.simulate.harm_table import Follower

STARTS = date(2026, 10, 20)
WINTERS, POT_L, FLOOR_C = 2, 5.0, 10.0
HARDY = made_limits(
    root_kill_c=-14.0,
    root_kill_young_c=-9.0,
    root_kill_unhardened_c=-6.0,
    top_kill_unhardened_c=-8.0,
    rest_ceiling_c=7.0,
    bud_break_k_d=150.0,
    light_floor_mol_m2_d=2.0,
    harden_below_c=8.0,
    harden_days=15.0,
    deharden_per_degree_day=0.02,
)
KINDS: tuple[Limits, ...] = (
    HARDY,
    replace(HARDY, chill_need=500.0, rodent_appeal=1.0),
    replace(HARDY, root_kill_c=-7.0, root_kill_unhardened_c=-4.0, drying=0.8),
    replace(
        HARDY, leaf=LeafHabit.EVERGREEN, drying=1.0, light_floor_mol_m2_d=6.0, root_kill_c=-10.0
    ),
    replace(
        HARDY,
        root_kill_c=0.0,
        root_kill_young_c=0.0,
        root_kill_unhardened_c=0.0,
        top_kill_c=-1.0,
        top_kill_unhardened_c=-1.0,
        air_floor_c=FLOOR_C,
        rest_ceiling_c=None,
        leaf=LeafHabit.EVERGREEN,
        light_floor_mol_m2_d=4.0,
        dark_below_c=9.0,
    ),
)


@dataclass(frozen=True)
class Tiny:
    """One such winter, with what the physics would have found."""

    season: Season
    conditions: Conditions
    stage_days: StageDays
    start: Start

    @cached_property
    def follower(self) -> Follower:
        """The trees' physics."""
        return Follower(self.season, self.conditions)

    @cached_property
    def problem(self) -> Problem:
        """As the search sees it."""
        return make_problem(
            self.season, self.conditions, self.follower, self.stage_days, self.start
        )

    def plan(self, layouts: bool, gap: float = 0.0) -> planning.Outcome:
        """The tool's own plan."""
        options = PlanOptions(gap=gap, layouts=layouts, time_limit_s=60.0)
        with patch.object(planning, "compute_conditions", lambda _: self.conditions):
            return planning.plan_winter(
                self.season, options, start=self.start, stage_days=self.stage_days
            )


def draw(seed: int, most_chance: float | None = None, trees: int | None = None) -> Tiny:
    """The tiny winter of a seed.

    Parameters
    ----------
    most_chance : chance of loss above which a place is refused; None: drawn too.
    trees : so many, with room, hands and heat for them; None: a few.
    """
    rng = np.random.default_rng(seed)
    stage_days = _stages(rng)
    shelters = _shelters(rng, stage_days)
    places = [place.id for shelter in shelters for place in shelter.places]
    site = _site(rng, stage_days)
    if most_chance is not None:
        site = replace(site, weights=replace(site.weights, most_chance=most_chance))
    few = int(rng.integers(2, 6 if len(stage_days.stages) < 5 else 5))
    larger = 1.0 if trees is None else trees / few
    shelters = tuple(_larger(shelter, larger) for shelter in shelters)
    household = replace(site.household, people=math.ceil(larger))
    site = replace(site, household=household)
    drawn = _trees(rng, stage_days, places, trees or few)
    stage_days = _own_days(np.random.default_rng((seed, 1)), stage_days, drawn)
    nothing = np.zeros((WINTERS, stage_days.days * 24))
    winters = Winters(nothing, nothing, nothing[:, ::24], ("one", "two"), "invented")
    season = Season(site, winters, {}, drawn, shelters)
    conditions = _conditions(rng, season, larger)
    start = start_of_season(season)
    if rng.random() < 0.25 and len(stage_days.stages) > 2:
        start = _midwinter(rng, season, stage_days, conditions)
    return Tiny(season, conditions, stage_days, start)


def _stages(rng: np.random.Generator) -> StageDays:
    number = int(rng.integers(3, 6))
    first = [np.zeros(WINTERS, dtype=int)]
    for _ in range(number - 1):
        first.append(first[-1] + rng.integers(3, 16, WINTERS))
    days = int(first[-1].max() + rng.integers(4, 12))
    usual = [int(f[0]) for f in first]
    spring = int(rng.integers(2, number + 1))
    stages = tuple(
        Stage(
            k,
            Sign.START if k == 0 else Sign.COLD_NIGHT if k < spring else Sign.MILD_WEEK,
            None if k == 0 else -2.0,
            (),
            *(STARTS + timedelta(usual[k]),) * 3,
            STARTS + timedelta(usual[k + 1] if k + 1 < number else days),
        )
        for k in range(number)
    )
    return StageDays(stages, np.array(first), days)


def _own_days(
    rng: np.random.Generator, stage_days: StageDays, trees: tuple[Tree, ...]
) -> StageDays:
    """Every second autumn stage is a day of trees that join or were in quarantine alone."""
    dated = [(t.joins, t.quarantine_until) for t in trees if t.joins or t.quarantine_until]
    stages = list(stage_days.stages)
    for k, stage in enumerate(stages):
        if dated and stage.sign is Sign.COLD_NIGHT and rng.random() < 0.5:
            dates = dated[int(rng.integers(len(dated)))]
            own = [t.id for t in trees if (t.joins, t.quarantine_until) == dates]
            ends = tuple(Happening(HappeningKind.QUARANTINE_ENDS, tree_id) for tree_id in own)
            stages[k] = replace(stage, sign=Sign.CALENDAR, happenings=ends)
    return replace(stage_days, stages=tuple(stages))


def _day_between(rng: np.random.Generator, stage_days: StageDays) -> date:
    return STARTS + timedelta(int(rng.integers(2, stage_days.days - 1)))


def _place(rng: np.random.Generator, shelter_id: str, number: int) -> Place:
    roofed = shelter_id != "garden"
    return made_place(
        id=f"{shelter_id}/{number}",
        shelter_id=shelter_id,
        name=f"Place {number}",
        width_m=rng.integers(7, 16) / 10,
        depth_m=rng.integers(5, 8) / 10,
        headroom_m=float(rng.choice([0.8, 2.0])) if roofed else np.inf,
        load_limit_kg=float(rng.integers(20, 80)) if rng.random() < 0.4 else np.inf,
        light_share=float(rng.uniform(0.3, 1.0)),
        rodent_exposure=float(rng.choice([0.0, 0.5, 1.0])),
        guarded=bool(rng.random() < 0.3),
    )


def _shelters(rng: np.random.Generator, stage_days: StageDays) -> tuple[Shelter, ...]:
    number = int(rng.integers(1, 3))
    outdoors = replace(_place(rng, "garden", 0), width_m=6.0, load_limit_kg=np.inf)
    sunk = number == 1 and rng.random() < 0.5
    beds = [replace(_place(rng, "garden", 1), kind=PlaceKind.SUNK)] if sunk else []
    found = [Shelter("garden", "Garden", (outdoors, *beds), open_air=True)]
    room = 4 - 1 - len(beds)
    for i in range(number):
        name = ("shed", "room")[i]
        most = room - (number - 1 - i)
        count = int(rng.integers(1, most + 1))
        room -= count
        holds = ((), (3.0,), (3.0, 12.0), (12.0,))[int(rng.integers(4))]
        broken = _day_between(rng, stage_days) if rng.random() < 0.1 else None
        heater = Heater(
            "heater",
            Carrier.ELECTRICITY,
            1.0,
            1000.0,
            hold_c=holds,
            breaker="main",
            broken_from=broken,
        )
        found.append(
            Shelter(
                name,
                name.capitalize(),
                tuple(_place(rng, name, n) for n in range(count)),
                opens=_day_between(rng, stage_days) if rng.random() < 0.2 else None,
                closes=_day_between(rng, stage_days) if rng.random() < 0.1 else None,
                heaters=(heater,) if holds else (),
            )
        )
    return tuple(found)


def _site(rng: np.random.Generator, stage_days: StageDays) -> Site:
    weights = Weights(
        caution=float(rng.choice([1.0, 3.0, 6.0])),
        most_chance=float(rng.choice([0.03, 0.05, 0.2])),
        cover_day=float(rng.choice([0.0, 0.1, 0.3])),
        crowding_per_m2_day=float(rng.choice([0.05, 2.0])),
        most_carries=float(rng.choice([1, 2, 4])),
        carry=float(rng.uniform(0.2, 3.0)),
    ).with_own_not_home()
    return made_site(
        name="Tiny",
        latitude_deg=45.0,
        longitude_deg=0.0,
        elevation_m=0.0,
        utc_offset_h=0.0,
        starts=STARTS,
        ends=STARTS + timedelta(stage_days.days - 1),
        design_min_c=-15.0,
        summer_place="garden/0",
        money_per_kwh={Carrier.ELECTRICITY: 0.3},
        breakers_w={"main": float(rng.choice([1500.0, 2500.0]))},
        household=Household(people=1, hours_a_day=float(rng.choice([1, 2])) * 8.0 / 60.0),
        thermostat_changes=int(rng.choice([1, 2])),
        weights=weights,
    )


def _larger(shelter: Shelter, times: float) -> Shelter:
    places = (
        replace(p, width_m=times * p.width_m, load_limit_kg=times * p.load_limit_kg)
        for p in shelter.places
    )
    return replace(shelter, places=tuple(places))


def _trees(
    rng: np.random.Generator, stage_days: StageDays, places: list[str], number: int
) -> tuple[Tree, ...]:
    trees: list[Tree] = []
    for i in range(number):
        if trees and rng.random() < 0.3:
            trees.append(replace(trees[-1], id=f"t{i}", name=f"t{i}"))
            continue
        shelters = [place.partition("/")[0] for place in places]
        chosen = str(rng.choice([*places, *shelters]))
        word = rng.random()
        trees.append(
            made_tree(
                id=f"t{i}",
                name=f"t{i}",
                limits=KINDS[int(rng.integers(len(KINDS)))],
                width_m=rng.integers(20, 70) / 100,
                depth_m=rng.integers(20, 60) / 100,
                height_m=float(rng.choice([0.5, 1.0])),
                weight_kg=float(rng.integers(5, 30)),
                pot_litres=POT_L,
                condition=Condition(str(rng.choice(["weak", "ordinary", "strong"]))),
                value=float(rng.integers(20, 600)),
                young_roots=bool(rng.random() < 0.2),
                stands_at="garden/1" if "garden/1" in places and rng.random() < 0.2 else None,
                joins=_day_between(rng, stage_days) if rng.random() < 0.15 else None,
                quarantine_until=_day_between(rng, stage_days) if rng.random() < 0.2 else None,
                pinned=frozenset({chosen}) if word < 0.1 else frozenset(),
                forbidden=frozenset({chosen}) if 0.1 < word < 0.25 else frozenset(),
            )
        )
    return tuple(trees)


def _settings(shelter: Shelter) -> tuple[HeaterSetting, ...]:
    off = HeaterSetting()
    return (
        off,
        *(
            HeaterSetting(
                (HeaterPart(heater.name, hold_c=hold),),
                hold_c=hold,
                power_w=heater.power_w,
                breaker_w=(("main", heater.power_w),),
            )
            for heater in shelter.heaters
            for hold in heater.hold_c
        ),
    )


def _conditions(rng: np.random.Generator, season: Season, larger: float) -> Conditions:
    days = season.days
    dip = 1.0 - np.abs(np.linspace(-1, 1, days))
    outdoor = 9.0 - rng.uniform(8, 24) * dip + rng.normal(0, 2.5, (WINTERS, days))
    shelters: dict[str, ShelterConditions] = {}
    places: dict[str, PlaceConditions] = {}
    for shelter in season.shelters:
        settings = _settings(shelter)
        share = 1.0 if shelter.open_air else float(rng.uniform(0.1, 0.7))
        unheated = outdoor * share + (1 - share) * 6.0
        air = np.stack([np.maximum(unheated, -99.0 if s.is_off else s.hold_c) for s in settings])
        kwh = (air - air[:1]) * larger * rng.uniform(0.1, 1.5)
        shelters[shelter.id] = ShelterConditions(settings, air.repeat(24, axis=-1), kwh, 0.3 * kwh)
        for place in shelter.places:
            places[place.id] = _at_place(rng, place, air)
    length = 12.5 - 4.0 * dip
    return Conditions(outdoor, length, shelters, places)


def _at_place(rng: np.random.Generator, place: Place, air: FloatArray) -> PlaceConditions:
    mean = air + 3.0
    roots = air + float(rng.uniform(0.5, 3.0))
    return PlaceConditions(
        dli_mol_m2_d=np.full(air.shape[1:], 12.0 * place.light_share),
        air_min_c=air,
        air_mean_c=mean,
        chill_hours=np.clip(24.0 - 3.0 * np.abs(mean - 4.0), 0.0, 24.0),
        utah_units=np.zeros_like(air),
        warmth_k_d=np.maximum(mean - 5.0, 0.0),
        root={POT_L: RootZone(roots, roots + 1.0, roots + 2.0)},
        cold_dose_k_h={FLOOR_C: 6.0 * np.maximum(FLOOR_C - air, 0.0)},
    )


def _midwinter(
    rng: np.random.Generator, season: Season, stage_days: StageDays, conditions: Conditions
) -> Start:
    """One stage has passed: trees stand anywhere, a plan is in force."""
    first = start_of_season(season)
    open_to_all = [p for p in season.places if p.startswith("garden/")]
    stays: dict[str, tuple[str | None, ...]] = {}
    targets: Mapping[str, frozenset[str]] = {
        tree.id: frozenset(p for p in season.places if rng.random() < 0.4) for tree in season.trees
    }
    for tree in season.trees:
        came = tree.joins is None or bool(
            (stage_days.first_day[1] >= season.day_index(tree.joins)).all()
        )
        where = str(rng.choice(open_to_all if rng.random() < 0.5 else list(season.places)))
        stays[tree.id] = (*first.stays[tree.id], where if came else None)
    settings = {
        shelter.id: (conditions.shelters[shelter.id].settings[0],) * 2
        for shelter in season.shelters
    }
    return Start(2, stays, settings, targets)
