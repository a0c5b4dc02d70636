"""A hand-made season of thirty days in two winters, and a plan for it that holds every rule.

Everything is invented and round, so that each expected number can be worked out by hand. The first
winter has frost on days 10 to 17, the second on days 12 to 21; else it is 6 degC. In frost the
garden falls to -12 degC and the unheated shed to -5 degC in the first winter (in the second it
stays at 6 degC); its heater can hold 5 or 20 degC, for 2 USD a day in the first winter and 1 USD in
the second. Air and roots are the same.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import numpy as np
from made import made_limits, made_place, made_site, made_tree

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport
from overwinter.model.plan import Carry, Costs, Plan, Proof, Termination
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
    RootZone,
    Shelter,
    ShelterConditions,
)
from overwinter.model.site import Site, Weights
from overwinter.model.species import Limits
from overwinter.model.stage import Sign, Stage, StageDays
from overwinter.model.tree import Tree

STARTS, COLD, MILD, ENDS, AFTER = (
    date(2026, 12, 1),
    date(2026, 12, 11),
    date(2026, 12, 21),
    date(2026, 12, 30),
    date(2026, 12, 31),
)
DAYS, WINTERS = 30, 2
STAGES = (
    Stage(0, Sign.START, None, (), STARTS, STARTS, STARTS, COLD),
    Stage(1, Sign.COLD_NIGHT, -5.0, (), COLD, COLD, date(2026, 12, 13), MILD),
    Stage(2, Sign.MILD_WEEK, -5.0, (), MILD, MILD, date(2026, 12, 23), AFTER),
)
STAGE_DAYS = StageDays(STAGES, np.array([[0, 0], [10, 12], [20, 22]]), DAYS)
DAY = np.arange(DAYS)
FROST = np.stack([(DAY >= 10) & (DAY < 18), (DAY >= 12) & (DAY < 22)])
OUTDOOR_C = np.where(FROST, -12.0, 6.0)
SHED_C = np.where(FROST & np.array([[True], [False]]), -5.0, 6.0)


def _hold(hold_c: float) -> HeaterSetting:
    parts = (HeaterPart("oil radiator", hold_c=hold_c),)
    return HeaterSetting(parts, hold_c=hold_c, power_w=1000.0, breaker_w=(("shed", 1000.0),))


OFF, HOLD, HOT = HeaterSetting(), _hold(5.0), _hold(20.0)
LIMITS = made_limits(
    root_kill_young_c=-8.0,
    root_kill_unhardened_c=-8.0,
    top_kill_c=-60.0,
    top_kill_unhardened_c=-60.0,
    new_leaf_kill_c=-60.0,
    light_floor_mol_m2_d=0.0,
    dark_below_c=30.0,
    harden_below_c=8.0,
    harden_days=10.0,
    deharden_per_degree_day=0.02,
)


def make_place(shelter: str, name: str, **changes: object) -> Place:
    """A bench of 2 m x 1 m that anything may stand on, changed as asked."""
    place = made_place(id=f"{shelter}/{name}", shelter_id=shelter, name=name)
    return replace(place, **changes)


def make_tree(tree_id: str, **changes: object) -> Tree:
    """A tree of half a metre each way; fields of ``Limits`` may be given among the changes."""
    of_limits = {k: v for k, v in changes.items() if k in Limits.__dataclass_fields__}
    others = {k: v for k, v in changes.items() if k not in of_limits}
    tree = made_tree(
        id=tree_id,
        name=tree_id,
        species_key="test",
        limits=replace(LIMITS, **of_limits),
        pot_litres=2.0,
    )
    return replace(tree, **others)


UNBOUNDED = {"headroom_m": float("inf"), "load_limit_kg": float("inf")}
GARDEN = Shelter(
    "garden",
    "Garden",
    (
        make_place("garden", "bench", width_m=4.0, **UNBOUNDED),
        make_place("garden", "far", **UNBOUNDED),
    ),
    open_air=True,
)
RADIATOR = Heater(
    "oil radiator", Carrier.ELECTRICITY, 1.0, 1000.0, hold_c=(5.0, 20.0), breaker="shed"
)
SHED = Shelter(
    "shed", "Shed", (make_place("shed", "bench"), make_place("shed", "floor")), heaters=(RADIATOR,)
)
SITE = made_site(
    longitude_deg=-93.0,
    elevation_m=300.0,
    starts=STARTS,
    ends=ENDS,
    currency="USD",
    money_per_kwh={Carrier.ELECTRICITY: 0.25},
    weights=Weights(
        caution=3.0, cover_day=0.04, carry=1.0, two_person_carry=4.0, crowding_per_m2_day=0.05
    ),
)


def make_season(
    *trees: Tree, site: Site = SITE, shelters: tuple[Shelter, ...] = (GARDEN, SHED)
) -> Season:
    """The season of some trees."""
    hours = np.zeros((WINTERS, DAYS * 24))
    winters = Winters(hours, hours, np.zeros((WINTERS, DAYS)), ("one", "two"), "invented")
    return Season(site, winters, {}, trees, shelters)


def make_conditions(season: Season) -> Conditions:
    """What the docstring of this module says."""
    shelters, places = {}, {}
    for shelter in season.shelters:
        settings = (OFF,) if shelter.open_air else (OFF, HOLD, HOT)
        daily = [OUTDOOR_C] if shelter.open_air else [SHED_C, np.maximum(SHED_C, 5.0)]
        if len(settings) == 3:
            daily.append(np.maximum(SHED_C, 20.0))
        air = np.stack(daily)
        on = np.array([0.0, 1.0, 4.0])[: len(settings), None, None]
        kwh = on * np.where(np.arange(WINTERS)[:, None] == 0, 8.0, 4.0) * np.ones(DAYS)
        shelters[shelter.id] = ShelterConditions(settings, air.repeat(24, axis=-1), kwh, 0.25 * kwh)
        places |= {place.id: _conditions_at(place, air) for place in shelter.places}
    length = np.full(DAYS, 9.5)
    return Conditions(OUTDOOR_C, length, shelters, places)


def _conditions_at(place: Place, air: FloatArray) -> PlaceConditions:
    nothing = np.zeros_like(air)
    return PlaceConditions(
        dli_mol_m2_d=np.full((WINTERS, DAYS), 10.0),
        air_min_c=air,
        air_mean_c=air,
        chill_hours=np.where((air >= 0) & (air <= 7.2), 24.0, 0.0),
        utah_units=nothing,
        warmth_k_d=np.maximum(air - 5.0, 0.0),
        root={2.0: RootZone(air, air, air)},
        cold_dose_k_h={},
    )


def make_plan(
    season: Season,
    stays: Mapping[str, tuple[str | None, ...]],
    settings: tuple[HeaterSetting, ...] = (OFF, HOLD, OFF),
) -> Plan:
    """A plan of these stays with the carries that they ask for, priced as the audit prices it."""
    carries = tuple(
        Carry(k, STAGES[k].usual, tree_id, path[k - 1], target)
        for k in range(1, len(STAGES))
        for tree_id, path in stays.items()
        if (target := path[k]) is not None and target != path[k - 1]
    )
    heated = {s.id: (OFF,) * 3 if s.open_air else settings for s in season.shelters}
    proof = Proof("none", Termination.TIME_LIMIT, 0.0, None, None, 0.0, 1)
    return priced(season, Plan(STAGES, heated, stays, carries, (), Costs(), proof))


def priced(season: Season, plan: Plan) -> Plan:
    """The plan with the costs that the audit finds: for cases that are not about money."""
    costs = run(season, plan).costs
    return replace(plan, costs=costs, proof=replace(plan.proof, objective=costs.total))


def run(season: Season, plan: Plan) -> AuditReport:
    """The audit of a plan under the hand-made conditions."""
    return audit(season, make_conditions(season), STAGE_DAYS, plan)


IN_AND_OUT = ("garden/bench", "shed/bench", "garden/bench")
OUTDOORS = ("garden/bench",) * 3
GOOD_STAYS = {"ash": IN_AND_OUT, "birch": IN_AND_OUT, "cedar": OUTDOORS}


def make_trees(**changes: object) -> tuple[Tree, ...]:
    """Two tender trees, the first one changed as asked, and a hardy one."""
    hardy = {"root_kill_c": -40.0, "root_kill_unhardened_c": -40.0, "root_kill_young_c": -40.0}
    return make_tree("ash", **changes), make_tree("birch"), make_tree("cedar", **hardy)
