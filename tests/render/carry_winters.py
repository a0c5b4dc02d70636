"""Small invented winters and plans for the carry lists, made from domain objects directly."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from itertools import pairwise
from math import inf

import numpy as np
from made import made_limits, made_place, made_site, made_tree

from overwinter.audit.report import AuditReport, Bill, HeatUse, PlaceUse, TreeRisk
from overwinter.model.plan import (
    Carry,
    Costs,
    Cure,
    Lack,
    Layout,
    LeftOut,
    Plan,
    Proof,
    Termination,
)
from overwinter.model.season import Season, Winters
from overwinter.model.shelter import (
    Carrier,
    Envelope,
    Heater,
    HeaterSetting,
    Place,
    PlaceKind,
    Shelter,
    Side,
    Surface,
    Towards,
)
from overwinter.model.site import Ground, Site
from overwinter.model.species import (
    Assumption,
    Harm,
    LeafHabit,
    Limits,
    Source,
    Species,
    Standing,
)
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage
from overwinter.model.tree import Condition, Tree
from overwinter.shelters.heater import OFF, heater_settings
from overwinter.units import Display

STARTS, ENDS = date(2025, 10, 1), date(2026, 5, 15)
GARDEN = "garden/terrace"


def limits(
    kill_c: float = -8.0, air_floor_c: float | None = None, *, evergreen: bool = False
) -> Limits:
    return made_limits(
        root_kill_c=kill_c,
        root_kill_young_c=kill_c + 2.0,
        root_kill_unhardened_c=-2.0 if kill_c < -2.0 else kill_c,
        top_kill_c=kill_c - 10.0,
        top_kill_unhardened_c=-3.0 if kill_c < -2.0 else kill_c,
        new_leaf_kill_c=-2.0,
        air_floor_c=air_floor_c,
        rest_ceiling_c=None if evergreen else 7.0,
        drying=0.5 if evergreen else 0.0,
        leaf=LeafHabit.EVERGREEN if evergreen else LeafHabit.DECIDUOUS,
        rodent_appeal=0.6,
        deharden_above_c=8.0,
        deharden_per_degree_day=0.02,
    )


KINDS: Mapping[str, Limits] = {
    "maple": limits(-8.0),
    "larch": limits(-15.0),
    "olive": limits(-4.0, -2.0, evergreen=True),
    "fig": limits(5.0, 10.0, evergreen=True),
}


def species() -> dict[str, Species]:
    names = {
        "maple": ("Acer palmatum", "Japanese maple"),
        "larch": ("Larix decidua", "European larch"),
        "olive": ("Olea europaea", "olive"),
        "fig": ("Ficus microcarpa", "tropical fig"),
    }
    none = Source(Standing.JUDGEMENT, "invented for a test")
    return {
        key: Species(key, latin, common, key, KINDS[key], {"root_kill_c": none})
        for key, (latin, common) in names.items()
    }


def tree(
    tree_id: str,
    kind: str = "maple",
    *,
    name: str | None = None,
    kg: float = 8.0,
    width_m: float = 0.4,
    depth_m: float = 0.4,
    row: int = 2,
    stands_at: str | None = None,
    joins: date | None = None,
    condition: Condition = Condition.ORDINARY,
) -> Tree:
    return made_tree(
        id=tree_id,
        name=name or tree_id,
        species_key=kind,
        limits=KINDS[kind],
        width_m=width_m,
        depth_m=depth_m,
        height_m=0.6,
        weight_kg=kg,
        condition=condition,
        stands_at=stands_at,
        joins=joins,
        row=row,
    )


def place(
    place_id: str,
    kind: PlaceKind = PlaceKind.BENCH,
    *,
    width_m: float = 3.0,
    depth_m: float = 0.9,
    exposure: float = 0.0,
    guarded: bool = False,
    headroom_m: float = 1.8,
    load_kg: float = inf,
    sides: Sequence[Side] = (Side.FRONT,),
) -> Place:
    shelter_id, name = place_id.split("/")
    return made_place(
        id=place_id,
        shelter_id=shelter_id,
        name=name,
        kind=kind,
        width_m=width_m,
        depth_m=depth_m,
        headroom_m=headroom_m,
        load_limit_kg=load_kg,
        rodent_exposure=exposure,
        guarded=guarded,
        open_sides=frozenset(sides),
    )


def envelope(area_m2: float, u_w_m2k: float, most: Towards, sun_m2: float = 0.0) -> Envelope:
    skin = Surface("skin", area_m2, u_w_m2k, most)
    door = Surface("door", 2.0, 2.0, Towards.OUTDOORS)
    return Envelope((skin, door), 25.0, 0.5, 4e6, sun_m2, vent_above_c=20.0)


def shelters() -> tuple[Shelter, ...]:
    heater = Heater("fan heater", Carrier.ELECTRICITY, 1.0, 2000.0, hold_c=(5.0, 8.0))
    burner = Heater("burner", Carrier.PROPANE, 0.8, 3000.0, hold_c=(2.0,), vented=False)
    return (
        Shelter(
            "garden",
            "Garden",
            (
                place(
                    GARDEN,
                    PlaceKind.GROUND,
                    width_m=30.0,
                    depth_m=10.0,
                    exposure=0.8,
                    headroom_m=inf,
                ),
            ),
            open_air=True,
        ),
        Shelter(
            "glass",
            "Glasshouse",
            (
                place("glass/bench 1"),
                place("glass/bench 2"),
                place("glass/shelf", PlaceKind.SHELF, depth_m=0.35, headroom_m=0.65),
                place("glass/floor", PlaceKind.FLOOR, exposure=0.5, guarded=True),
            ),
            opens=date(2025, 10, 20),
            envelope=envelope(30.0, 2.5, Towards.OUTDOORS, sun_m2=4.0),
            heaters=(heater,),
            transmission=0.7,
        ),
        Shelter(
            "cellar",
            "Cellar",
            (place("cellar/floor", PlaceKind.FLOOR, depth_m=1.5, exposure=0.3),),
            closes=date(2026, 5, 10),
            envelope=envelope(40.0, 0.8, Towards.GROUND),
            heaters=(burner,),
            transmission=0.0,
        ),
    )


def winters(seed_c: float = 4.0) -> Winters:
    """A cosine year with a cosine day, and one 3 K colder: coldest on 15 January."""
    days = (ENDS - STARTS).days + 1
    hour = np.arange(days * 24) + 12
    season_c = seed_c - 10.0 * np.cos(2 * np.pi * (hour / 24.0 - 106.0) / 365.0)
    air_c = season_c - 4.0 * np.cos(2 * np.pi * (hour % 24 - 3.0) / 24.0)
    return Winters(
        air_c=np.stack([air_c, air_c - 3.0]),
        sun_w_m2=np.zeros((2, hour.size)),
        snow_m=np.zeros((2, days)),
        names=("mild", "cold"),
        origin="two cosines, invented for tests",
    )


def site(*, us: bool = False) -> Site:
    return made_site(
        name="Invented garden",
        latitude_deg=46.0,
        longitude_deg=8.0,
        elevation_m=400.0,
        utc_offset_h=1.0,
        starts=STARTS,
        ends=ENDS,
        ground=Ground(10.0, 8.0, 35.0),
        summer_place=GARDEN,
        money_per_kwh={Carrier.ELECTRICITY: 0.3, Carrier.PROPANE: 0.12},
        breakers_w={},
        display=Display(us=us),
        invented=True,
    )


def season_of(trees: Sequence[Tree], *, us: bool = False) -> Season:
    return Season(site(us=us), winters(), species(), tuple(trees), shelters())


PROOF = Proof("by hand", Termination.TIME_LIMIT, 0.0, None, None, 0.0, 1)

Begins = tuple[Sign, float | None, tuple[Happening, ...]]


def setting(season: Season, shelter_id: str, hold_c: float | None) -> HeaterSetting:
    """The shelter's setting with that hold; None is off."""
    offered = heater_settings(season.shelter_by_id[shelter_id], season.site.money_per_kwh)
    return next(one for one in offered if one.hold_c == hold_c)


@dataclass
class PlanMaker:
    """Makes a plan from carries: a stage begins on each of their days; most are calendar days."""

    season: Season
    carries: list[tuple[date, str, str | None, str]] = field(default_factory=list)
    settings: dict[str, dict[date, float | None]] = field(default_factory=dict)
    """By shelter: the hold temperature from a day on, degC; None is off."""
    drawn: dict[tuple[str, date], tuple[Layout, ...]] = field(default_factory=dict)
    """By place and the first day of the stage."""
    signs: dict[date, Begins] = field(default_factory=dict)
    """What begins the stage of a day."""
    left_out: tuple[LeftOut, ...] = ()

    def carry(self, day: date, tree_id: str, source: str | None, target: str) -> "PlanMaker":
        self.carries.append((day, tree_id, source, target))
        return self

    def heat(self, shelter_id: str, day: date, hold_c: float | None) -> "PlanMaker":
        self.settings.setdefault(shelter_id, {})[day] = hold_c
        return self

    def draw(self, place_id: str, day: date, *layouts: Layout) -> "PlanMaker":
        self.drawn[place_id, day] = layouts
        return self

    def sign(
        self, day: date, sign: Sign, threshold_c: float | None = None, *happens: Happening
    ) -> "PlanMaker":
        self.signs[day] = (sign, threshold_c, happens)
        return self

    def make(self) -> Plan:
        days = {self.season.site.starts, *(day for day, *_ in self.carries), *self.signs}
        days |= {day for changes in self.settings.values() for day in changes}
        days |= {day for _, day in self.drawn}
        edges = [*sorted(days), self.season.site.ends + timedelta(days=1)]
        stages = tuple(
            self._stage(index, start, end) for index, (start, end) in enumerate(pairwise(edges))
        )
        number = {stage.usual: stage.index for stage in stages}
        return Plan(
            stages=stages,
            settings={
                shelter.id: tuple(self._setting(shelter.id, stage) for stage in stages)
                for shelter in self.season.shelters
            },
            stays={
                tree.id: tuple(self._stay(tree, stage) for stage in stages)
                for tree in self.season.trees
            },
            carries=tuple(
                Carry(number[day], day, tree_id, source, target)
                for day, tree_id, source, target in sorted(self.carries, key=lambda c: c[0])
            ),
            left_out=self.left_out,
            costs=Costs(),
            proof=PROOF,
            layouts=self._layouts(stages),
        )

    def _stage(self, index: int, start: date, end: date) -> Stage:
        first = (Sign.START, None, ()) if index == 0 else (Sign.CALENDAR, None, ())
        sign, threshold_c, happens = self.signs.get(start, first)
        spread = timedelta(days=0 if sign in (Sign.START, Sign.CALENDAR) else 10)
        return Stage(index, sign, threshold_c, happens, start - spread, start, start + spread, end)

    def _setting(self, shelter_id: str, stage: Stage) -> HeaterSetting:
        changes = sorted(self.settings.get(shelter_id, {}).items())
        past = [hold_c for day, hold_c in changes if day <= stage.usual]
        return setting(self.season, shelter_id, past[-1]) if past else OFF

    def _stay(self, one: Tree, stage: Stage) -> str | None:
        mine = sorted((day, to) for day, tree_id, _, to in self.carries if tree_id == one.id)
        past = [target for day, target in mine if day <= stage.usual]
        if past:
            return past[-1]
        return None if one.joins else one.stands_at or self.season.site.summer_place

    def _layouts(self, stages: Sequence[Stage]) -> dict[str, dict[int, tuple[Layout, ...]]]:
        found: dict[str, dict[int, tuple[Layout, ...]]] = {}
        for (place_id, day), layouts in self.drawn.items():
            for stage in stages:
                if stage.usual == day:
                    found.setdefault(place_id, {})[stage.index] = layouts
        return found


NOV, DEC, APR, MAY = date(2025, 11, 1), date(2025, 12, 6), date(2026, 4, 11), date(2026, 5, 9)


def small_winter(*, us: bool = False, names: Sequence[str] = ()) -> tuple[Season, Plan]:
    """Five trees, into two shelters, one of them from one to the other, and out in spring."""
    names = names or ("Old maple", "Little maple", "Larch", "Olive", "Fig")
    kinds = ("maple", "maple", "larch", "olive", "fig")
    kilos = (34.0, 6.0, 12.5, 9.0, 7.25)
    trees = [
        tree(f"t{i}", kind, name=name, kg=kg, row=i + 2)
        for i, (kind, name, kg) in enumerate(zip(kinds, names, kilos, strict=True))
    ]
    season = season_of(trees, us=us)
    maker = PlanMaker(season)
    maker.carry(date(2025, 10, 20), "t4", GARDEN, "glass/bench 1")
    maker.carry(NOV, "t0", GARDEN, "cellar/floor").carry(NOV, "t1", GARDEN, "cellar/floor")
    maker.carry(NOV, "t3", GARDEN, "glass/bench 1")
    maker.carry(DEC, "t3", "glass/bench 1", "cellar/floor")
    maker.carry(APR, "t3", "cellar/floor", GARDEN).carry(MAY, "t0", "cellar/floor", GARDEN)
    maker.carry(MAY, "t1", "cellar/floor", GARDEN).carry(MAY, "t4", "glass/bench 1", GARDEN)
    maker.heat("glass", date(2025, 10, 20), 8.0).heat("glass", MAY, None)
    maker.heat("cellar", DEC, 2.0).heat("cellar", APR, None)
    maker.sign(date(2025, 10, 20), Sign.CALENDAR, None, Happening(HappeningKind.OPENS, "glass"))
    maker.sign(NOV, Sign.COLD_NIGHT, -1.0).sign(DEC, Sign.COLD_NIGHT, -6.0)
    maker.sign(APR, Sign.MILD_WEEK, -4.0).sign(MAY, Sign.MILD_WEEK, 2.0)
    maker.draw(
        "cellar/floor", NOV, Layout("t0", 0.4, 0.9, 0.4, 0.4), Layout("t1", 0.4, 0.1, 0.4, 0.4)
    )
    return season, maker.make()


def report_of(season: Season, plan: Plan) -> AuditReport:
    """What an audit might say of the plan: figures by hand, every rule checked."""
    last = len(plan.stages) - 1
    risks = {}
    for n, tree_id in enumerate(plan.stays):
        chance = min(0.002 * n * n, 0.04)
        by_stage = tuple(chance if stage == last // 2 else 0.0 for stage in range(last + 1))
        value = season.tree_by_id[tree_id].value
        risks[tree_id] = TreeRisk(
            tree_id,
            chance,
            chance,
            {Harm.OLD_ROOTS: chance},
            by_stage,
            value * chance,
            coldest_root_c=-4.5,
            chill_share=None,
            light_share=1.2,
            worst_stage=last // 2 if chance else None,
        )
    heat = tuple(
        HeatUse(shelter_id, stage, 100.0, 30.0, 80.0, 130.0)
        for shelter_id, by_stage in plan.settings.items()
        for stage, one in enumerate(by_stage)
        if not one.is_off
    )
    uses = tuple(
        PlaceUse(place_id, stage, 1, 0.16, 0.1, 8.0)
        for stage in range(last + 1)
        for place_id in dict.fromkeys(
            path[stage] for path in plan.stays.values() if path[stage] is not None
        )
    )
    spent = sum(use.money for use in heat)
    lost = sum(risk.loss for risk in risks.values())
    carried = float(len(plan.carries))
    return AuditReport(
        findings=(),
        costs=Costs(heat=spent, losses=3.0 * lost, carries=carried, cover=12.5),
        bill=Bill(spent, 0.7 * spent, 1.4 * spent),
        risks=risks,
        heat=heat,
        uses=uses,
    )


def big_winter(count: int = 60, *, us: bool = False) -> tuple[Season, Plan]:
    """Many trees with long names, all in on one day and all out on another."""
    kinds = list(KINDS)
    targets = ("glass/floor", "glass/bench 1", "glass/bench 2", "cellar/floor", "glass/shelf")
    trees = [
        tree(
            f"t{i:02d}",
            kinds[i % 4],
            name=f"The {'very ' * (i % 5)}long-named windswept double-trunk one from the old "
            f"neighbour's garden {i:02d}",
            kg=3.0 + (i * 7) % 31,
            width_m=0.2,
            depth_m=0.2,
            row=i + 2,
        )
        for i in range(count)
    ]
    season = season_of(trees, us=us)
    maker = PlanMaker(season)
    for i, one in enumerate(trees):
        maker.carry(NOV, one.id, GARDEN, targets[i % 5])
        maker.carry(MAY, one.id, targets[i % 5], GARDEN)
    maker.heat("glass", NOV, 8.0).heat("glass", MAY, None)
    maker.sign(NOV, Sign.COLD_NIGHT, -1.0).sign(MAY, Sign.MILD_WEEK, 2.0)
    for target in targets:
        mine = [one for i, one in enumerate(trees) if targets[i % 5] == target]
        maker.draw(
            target,
            NOV,
            *(
                Layout(one.id, 0.25 * (n % 10), 0.0 if n < 10 else 0.3, 0.2, 0.2)
                for n, one in enumerate(mine)
            ),
        )
    return season, maker.make()


def renamed(season: Season, tree_id: str, name: str) -> Season:
    """The same season with one tree called something else."""
    trees = tuple(replace(one, name=name) if one.id == tree_id else one for one in season.trees)
    return replace(season, trees=trees)


def reported_winter(count: int = 60, *, us: bool = False) -> tuple[Season, Plan, AuditReport]:
    """The big winter with three trees left out, what its inputs assume, and an audit's figures."""
    season, plan = big_winter(count, us=us)
    assumed = tuple(
        Assumption(one.name, "Something unheard of", one.species_key, "The group stands in.")
        for one in season.trees[:4]
    )
    season = replace(
        season, assumptions=assumed, warnings=("The burner is older than its maker's papers.",)
    )
    reasons = (
        ("too likely to be lost there", 0.12, "share"),
        ("too tall", 0.3, "m"),
        ("too heavy", 12.0, "kg"),
    )
    lacks = tuple(
        Lack(place_id, 1, *reasons[n % 3], Harm.OLD_ROOTS if n % 3 == 0 else None)
        for n, place_id in enumerate(season.places)
    )
    lost = [one.id for one in season.trees[-3:]]
    plan = replace(
        plan,
        stays={tree_id: path for tree_id, path in plan.stays.items() if tree_id not in lost},
        carries=tuple(carry for carry in plan.carries if carry.tree_id not in lost),
        left_out=tuple(LeftOut(one, Cure.ROOM, "glass/shelf", lacks) for one in lost),
        layouts={
            place_id: {
                stage: tuple(one for one in some if one.tree_id not in lost)
                for stage, some in by_stage.items()
            }
            for place_id, by_stage in plan.layouts.items()
        },
        proof=Proof("by hand", Termination.TIME_LIMIT, 900.0, 896.4, 0.004, 12.5, 4, misfits=7),
    )
    return season, plan, report_of(season, plan)
