"""A hand-made season of thirty days, its hourly series, and a plan for it that holds every rule.

Everything is invented and round, so that each expected number can be worked out by hand. Ten mild
days, ten days of frost, ten mild days; three spells. Outdoors 6, -12, 6 degC all day long; the
shed leans on the house (a share of 2/15: 7.6, -8, 7.6 degC) and its heater can hold 5 degC. The
colder winter is 5 K colder, indoors 4 K colder.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import numpy as np

from overwinter.model.conditions import Conditions, ShelterConditions
from overwinter.model.plan import Carry, Costs, Plan, Proof
from overwinter.model.season import Season, Spell, Weather
from overwinter.model.shelter import (
    Carrier,
    Envelope,
    FloatArray,
    Heater,
    HeaterSetting,
    Place,
    PlaceKind,
    Shelter,
    Surface,
    Towards,
)
from overwinter.model.site import Ground, Site
from overwinter.model.species import ChillModel, LeafHabit, Limits
from overwinter.model.tree import Condition, Tree

STARTS, FROST, THAW, AFTER = (
    date(2026, 12, 1),
    date(2026, 12, 11),
    date(2026, 12, 21),
    date(2026, 12, 31),
)
SPELLS = (
    Spell(0, STARTS, FROST, "the plan begins"),
    Spell(1, FROST, THAW, "first night below -10 °C"),
    Spell(2, THAW, AFTER, "last night below -10 °C is past"),
)
OUTDOOR_C = np.repeat([6.0, -12.0, 6.0], 240)
SHED_C = OUTDOOR_C + (18.0 - OUTDOOR_C) * 2.0 / 15.0
HEAT_W = 300.0
MONEY_PER_KWH = 0.25
OFF, HOLD, HUGE = (
    HeaterSetting("off"),
    HeaterSetting("hold 5 °C", hold_c=5.0, power_w=1000.0, breaker_w=(("shed", 1000.0),)),
    HeaterSetting("hold 20 °C", hold_c=20.0, power_w=1000.0, breaker_w=(("shed", 1000.0),)),
)

LIMITS = Limits(
    root_kill_c=-10.0,
    root_kill_young_c=-10.0,
    root_kill_unhardened_c=-10.0,
    air_floor_c=None,
    rest_ceiling_c=None,
    chill_need=0.0,
    chill_model=ChillModel.HOURS,
    light_floor_mol_m2_d=0.0,
    dark_below_c=5.0,
    leaf=LeafHabit.DECIDUOUS,
    rodent_appeal=0.2,
    harden_below_c=8.0,
    harden_days=10.0,
    deharden_above_c=10.0,
    deharden_per_degree_day=0.02,
)


def make_place(shelter: str, name: str, **changes: object) -> Place:
    """A bench of 1 m x 2 m that anything may stand on, changed as asked."""
    place = Place(
        id=f"{shelter}/{name}",
        shelter_id=shelter,
        name=name,
        kind=PlaceKind.BENCH,
        width_m=2.0,
        depth_m=1.0,
        headroom_m=2.0,
        load_limit_kg=100.0,
        light_share=1.0,
        rodent_exposure=0.0,
        guarded=False,
    )
    return replace(place, **changes)


def make_tree(tree_id: str, **changes: object) -> Tree:
    """A tree of half a metre each way; fields of ``Limits`` may be given among the changes."""
    of_limits = {k: v for k, v in changes.items() if k in Limits.__dataclass_fields__}
    others = {k: v for k, v in changes.items() if k not in of_limits}
    tree = Tree(
        id=tree_id,
        name=tree_id,
        species_key="test",
        limits=replace(LIMITS, **of_limits),
        width_m=0.5,
        depth_m=0.4,
        height_m=1.0,
        weight_kg=10.0,
        pot_litres=2.0,
        condition=Condition.ORDINARY,
        value=100.0,
    )
    return replace(tree, **others)


GARDEN = Shelter(
    "garden",
    "Garden",
    (
        make_place(
            "garden", "bench", width_m=4.0, headroom_m=float("inf"), load_limit_kg=float("inf")
        ),
        make_place("garden", "far", headroom_m=float("inf"), load_limit_kg=float("inf")),
    ),
    open_air=True,
)
SHED = Shelter(
    "shed",
    "Shed",
    (
        make_place("shed", "bench"),
        make_place("shed", "floor", kind=PlaceKind.FLOOR, rodent_exposure=1.0),
    ),
    heaters=(
        Heater(
            "oil radiator", Carrier.ELECTRICITY, 1.0, 1000.0, hold_c=(5.0, 20.0), breaker="shed"
        ),
    ),
    transmission=0.5,
    envelope=Envelope(
        surfaces=(
            Surface("walls", 13.0, 1.0, Towards.OUTDOORS),
            Surface("house wall", 2.0, 1.0, Towards.HOUSE),
        ),
        volume_m3=0.0,
        air_changes_per_h=0.0,
        heat_capacity_j_k=15.0 * 3600.0,  # a time constant of one hour
        solar_aperture_m2=0.0,
    ),
)
CELLAR = Shelter("cellar", "Cellar", (make_place("cellar", "bench"),), transmission=0.0)

SITE = Site(
    name="Invented yard",
    latitude_deg=45.0,
    longitude_deg=0.0,
    elevation_m=0.0,
    utc_offset_h=0.0,
    starts=STARTS,
    ends=date(2026, 12, 30),
    design_min_c=-12.0,
    ground=Ground(mean_c=10.0, amplitude_k=8.0, coldest_day=35.0),
    house_c=18.0,
    summer_place="garden/bench",
    currency="EUR",
    money_per_kwh={Carrier.ELECTRICITY: MONEY_PER_KWH},
    breakers_w={"shed": 1500.0},
    carries_per_day=10,
    carry_days_max=4,
    longest_spell_days=10,
    invented=True,
)


def make_season(*trees: Tree, site: Site = SITE, shelters: tuple[Shelter, ...] = ()) -> Season:
    """The season with these trees, or with three ordinary ones."""
    return Season(
        site=site,
        weather=Weather(OUTDOOR_C, np.full(720, 50.0), "made by hand"),
        species={},
        trees=trees or (make_tree("ash"), make_tree("birch"), make_tree("cedar")),
        shelters=shelters or (GARDEN, SHED, CELLAR),
    )


def _columns(shelter_id: str, settings: Mapping[HeaterSetting, FloatArray]) -> ShelterConditions:
    keys = tuple(settings)
    air = np.stack(list(settings.values()))
    heated = np.array([[0.0 if key.is_off else HEAT_W] for key in keys]) * np.ones_like(air)
    return ShelterConditions(
        shelter_id=shelter_id,
        settings=keys,
        air_c=air,
        cold_air_c=air - (5.0 if shelter_id == "garden" else 4.0),
        heat_w=heated,
        purchased_kwh=heated / 1000.0,
        money=heated / 1000.0 * MONEY_PER_KWH,
        holds_at_design=tuple(key is not HUGE for key in keys),
        design_shortfall_w=tuple(700.0 if key is HUGE else 0.0 for key in keys),
    )


def make_conditions(**air_c: FloatArray) -> Conditions:
    """The hourly series; ``garden``, ``shed`` (off), ``held`` (shed at 5 degC), ``cellar``."""
    garden = air_c.get("garden", OUTDOOR_C)
    shed = air_c.get("shed", SHED_C)
    held = air_c.get("held", np.maximum(shed, 5.0))
    cellar = air_c.get("cellar", np.full(720, 7.0))
    daily = garden.reshape(-1, 24).mean(axis=1)
    return Conditions(
        days=30,
        colder_by_k=5.0,
        outdoor_air_c=garden,
        outdoor_mean_c=daily,
        day_length_h=np.full(30, 8.7),
        outdoor_dli_mol_m2_d=np.full(30, 50.0 * 0.0864 * 2.06),
        shelters={
            "garden": _columns("garden", {OFF: garden}),
            "shed": _columns("shed", {OFF: shed, HOLD: held, HUGE: np.full(720, 20.0)}),
            "cellar": _columns("cellar", {OFF: cellar}),
        },
        places={},
    )


def make_plan(
    stays: Mapping[str, tuple[str | None, ...]], heat: tuple[str, ...] = ("off", "off", "off")
) -> Plan:
    """A plan with these stays and the carries they call for; its costs are left at nought."""
    carries = []
    for tree_id, path in stays.items():
        before: str | None = None if path[0] is None else SITE.summer_place
        for spell, place in zip(SPELLS, path, strict=False):
            if place is not None and place != before:
                carries.append(Carry(spell.start, tree_id, before, place))
            before = place or before
    return Plan(
        spells=SPELLS,
        settings={"shed": heat},
        stays=dict(stays),
        carries=tuple(carries),
        left_out=(),
        costs=Costs(),
        proof=Proof("none", "optimal", 0.0, 0.0, 0.0, 0.0, 1),
    )


HOME = "garden/bench"
IN_SHED = (HOME, "shed/bench", HOME)
"""Out, in the shed through the frost, out again."""

HEATED = ("off", "hold 5 °C", "off")


def good(*trees: Tree, **changes: object) -> tuple[Season, Conditions, Plan]:
    """A season, its series and a plan that holds every rule, costs worked out by hand.

    Heat 240 h x 0.3 kW x 0.25; three trees carried twice at 1; two carry days at 5.
    """
    season = make_season(*trees, **changes)
    plan = make_plan({tree.id: IN_SHED for tree in season.trees}, HEATED)
    costs = Costs(heat=18.0, carries=6.0, carry_days=10.0, risk=0.18)
    return season, make_conditions(), replace(plan, costs=costs)
