"""Invented winters for the report: a small one that is planned, and one of 300 trees by hand.

The large one is not a good plan and may break rules; it is there to be drawn. Its trees come from
the shipped species table, its weather is a cosine.
"""

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from itertools import pairwise
from math import inf

import numpy as np

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport
from overwinter.benches.layout import Memo, lay_out_as_crowded
from overwinter.benches.results import Effort, LaidOut
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Carry, Costs, Lack, Layout, LeftOut, Plan, Proof, Reason
from overwinter.model.season import Season, Spell, Weather
from overwinter.model.shelter import (
    Carrier,
    Envelope,
    Heater,
    Place,
    PlaceKind,
    Shelter,
    Side,
    Surface,
    Towards,
)
from overwinter.model.site import Ground, Site
from overwinter.model.species import Assumption
from overwinter.model.tree import Condition, Tree
from overwinter.files.species_table import shipped_species
from overwinter.shelters.conditions import compute_conditions
from overwinter.units import Display

STARTS, ENDS = date(2026, 10, 1), date(2027, 5, 20)
HOME = "yard/stands"
ADJECTIVES = (
    "Old",
    "Twin-trunk",
    "Grandmother's",
    "Leaning",
    "Little",
    "Windswept",
    "Far-travelled",
)
LEFT_OUT = 3


def _place(
    place_id: str, name: str, width_m: float, depth_m: float, kind: PlaceKind, **changes: object
) -> Place:
    place = Place(
        id=place_id,
        shelter_id=place_id.split("/")[0],
        name=name,
        kind=kind,
        width_m=width_m,
        depth_m=depth_m,
        headroom_m=2.2,
        load_limit_kg=inf,
        light_share=0.8,
        rodent_exposure=0.0,
        guarded=False,
        open_sides=frozenset({Side.FRONT, Side.BACK}),
        glass_side=None,
    )
    return replace(place, **changes)


def _envelope(area_m2: float, u_w_m2k: float, sun_m2: float, house_m2: float = 0.0) -> Envelope:
    surfaces = [
        Surface("skin", area_m2, u_w_m2k, Towards.OUTDOORS),
        Surface("floor", area_m2 / 3, 0.8, Towards.GROUND),
    ]
    if house_m2:
        surfaces.append(Surface("wall of the house", house_m2, 1.0, Towards.HOUSE))
    return Envelope(tuple(surfaces), area_m2, 0.6, area_m2 * 40e3, sun_m2, vent_above_c=22.0)


def _shelters() -> tuple[Shelter, ...]:
    radiator = Heater("radiator", Carrier.ELECTRICITY, 1.0, 3000.0, hold_c=(8.0, 12.0))
    burner = Heater("burner", Carrier.PROPANE, 0.85, 6000.0, hold_c=(2.0, 5.0))
    tubes = Heater("tube heater", Carrier.ELECTRICITY, 1.0, 400.0, steps_w=(200.0, 400.0))
    bench, floor = PlaceKind.BENCH, PlaceKind.FLOOR
    return (
        Shelter(
            "yard",
            "Yard",
            (
                _place(
                    HOME, "Stands behind the house", 22.0, 5.5, PlaceKind.GROUND, headroom_m=inf
                ),
                _place("yard/bed", "Bark bed", 4.0, 2.5, PlaceKind.SUNK, rodent_exposure=0.6),
            ),
            open_air=True,
        ),
        Shelter(
            "room",
            "Potting room under the workshop",
            (
                _place("room/bench", "Long bench at the window", 6.0, 0.9, bench),
                _place("room/shelf", "Shelf above it", 6.0, 0.5, PlaceKind.SHELF),
            ),
            envelope=_envelope(40.0, 1.0, 1.0, 30.0),
            heaters=(radiator,),
            transmission=0.4,
            lamp_mol_m2_d=3.0,
        ),
        Shelter(
            "tunnel",
            "Polytunnel",
            (
                _place("tunnel/left", "Left bench", 8.0, 1.1, bench),
                _place("tunnel/right", "Right bench", 8.0, 1.1, bench),
                _place("tunnel/floor", "Under the benches", 8.0, 1.0, floor, rodent_exposure=0.4),
            ),
            opens=date(2026, 11, 20),
            envelope=_envelope(70.0, 4.0, 8.0),
            heaters=(burner,),
            transmission=0.7,
        ),
        Shelter(
            "cover",
            "Lean-to cover on the south wall",
            (_place("cover/floor", "Boards", 7.0, 1.3, floor, guarded=True, rodent_exposure=0.5),),
            envelope=_envelope(25.0, 3.0, 3.0, 10.0),
            heaters=(tubes,),
            transmission=0.6,
        ),
        Shelter(
            "barn",
            "Stone barn",
            (
                _place("barn/loft", "Loft", 6.0, 2.0, floor, rodent_exposure=0.7, guarded=True),
                _place("barn/rack", "Rack", 3.0, 0.6, PlaceKind.SHELF, load_limit_kg=400.0),
            ),
            envelope=_envelope(120.0, 1.8, 0.0),
            transmission=0.05,
        ),
        Shelter(
            "cellar",
            "Root cellar",
            (_place("cellar/floor", "Cellar floor", 5.0, 2.2, floor, rodent_exposure=0.2),),
            envelope=_envelope(15.0, 0.5, 0.0),
            transmission=0.0,
        ),
    )


def _weather() -> Weather:
    days = (ENDS - STARTS).days + 1
    hour = np.arange(days * 24)
    year = 3.0 - 12.0 * np.cos(2 * np.pi * (hour / 24.0 - 110.0) / 365.0)
    week = 4.0 * np.sin(2 * np.pi * hour / 24.0 / 11.0)
    day = -5.0 * np.cos(2 * np.pi * (hour % 24 - 3.0) / 24.0)
    sun = np.maximum(0.0, 300.0 * np.sin(2 * np.pi * (hour % 24 - 6.0) / 24.0))
    return Weather(year + week + day, sun, "Cosines, invented for tests; no station")


def _trees(count: int) -> tuple[Tree, ...]:
    kinds = [species for species in shipped_species().values() if not species.is_group][:60]
    trees = []
    for i in range(count):
        kind = kinds[(i * 7) % len(kinds)]
        name = f"{ADJECTIVES[i % 7]} {kind.common.split(',')[0]} {i + 1}"
        trees.append(
            Tree(
                id=f"t{i:03d}",
                name=name if i % 11 else f"{name} from the nursery that closed <A&B>",
                species_key=kind.key,
                limits=kind.limits,
                width_m=0.2 + 0.05 * (i % 8),
                depth_m=0.2 + 0.04 * (i % 7),
                height_m=0.3 + 0.1 * (i % 9),
                weight_kg=3.0 + (i * 5) % 40,
                pot_litres=1.0 + (i % 12),
                condition=list(Condition)[i % 3],
                value=50.0 + i,
                young_roots=i % 5 == 0,
            )
        )
    return tuple(trees)


def _season(count: int, *, us: bool) -> Season:
    site = Site(
        name="Three Hundred Pots (invented)",
        latitude_deg=44.0,
        longitude_deg=-90.0,
        elevation_m=300.0,
        utc_offset_h=-6.0,
        starts=STARTS,
        ends=ENDS,
        design_min_c=-25.0,
        ground=Ground(9.0, 12.0, 35.0),
        house_c=19.0,
        summer_place=HOME,
        currency="USD",
        money_per_kwh={Carrier.ELECTRICITY: 0.15, Carrier.PROPANE: 0.1},
        breakers_w={},
        carries_per_day=300,
        carry_days_max=10,
        display=Display(us=us),
        invented=True,
    )
    trees = _trees(count)
    assumed = tuple(
        Assumption(tree.name, "Something unheard of", tree.species_key, "The group stands in.")
        for tree in trees[:4]
    )
    return Season(
        site,
        _weather(),
        shipped_species(),
        trees,
        _shelters(),
        assumptions=assumed,
        warnings=("The burner is older than its maker's papers.",),
    )


def _spells() -> tuple[Spell, ...]:
    """Two weeks each, and a few short ones close together in autumn."""
    days = [0, 14, 21, 25, 32, 46, 60, 74, 88, 102, 116, 130, 144, 158, 172, 186, 193, 200, 214]
    edges = [*(STARTS + timedelta(days=day) for day in days), ENDS + timedelta(days=1)]
    return tuple(Spell(i, a, b, "cut for a test") for i, (a, b) in enumerate(pairwise(edges)))


class _Filler:
    """Puts trees where they can be laid out, place after place."""

    def __init__(self, season: Season) -> None:
        self.season = season
        self.memo = Memo()
        self.effort = Effort(exact_trees=0, corner_trees=1500)

    def lay_out(self, place_id: str, trees: list[Tree]) -> tuple[Layout, ...] | None:
        place, weights = self.season.places[place_id], self.season.site.weights
        found = lay_out_as_crowded(place, trees, weights, effort=self.effort, memo=self.memo)
        return found.layouts if isinstance(found, LaidOut) else None

    def fill(self, trees: list[Tree]) -> dict[str, str]:
        """Place of each tree in midwinter; the yard for those that fit nowhere."""
        where: dict[str, str] = {}
        rest = list(trees)
        for place in self.season.places.values():
            if place.id == HOME:
                continue
            some: list[Tree] = []
            area = 0.0
            for tree in rest:
                fits = tree.height_m <= place.headroom_m
                if fits and area + tree.footprint_m2 <= 0.5 * place.area_m2:
                    some.append(tree)
                    area += tree.footprint_m2
            while some and self.lay_out(place.id, some) is None:
                some.pop()
            where |= {tree.id: place.id for tree in some}
            rest = [tree for tree in rest if tree.id not in where]
        return where | {tree.id: HOME for tree in rest}


@cache
def large_winter(
    count: int = 300, *, us: bool = False
) -> tuple[Season, Conditions, Plan, AuditReport]:
    """Season, conditions, a plan by hand, and what the audit says of it."""
    season = _season(count, us=us)
    placed = list(season.trees[: count - LEFT_OUT])
    filler, spells = _Filler(season), _spells()
    winter = filler.fill(placed)
    come_in, go_out = (1, 2, 3, 4), (14, 15, 16, 17)
    stays: dict[str, tuple[str | None, ...]] = {}
    for i, tree in enumerate(placed):
        first, last = come_in[i % 4], go_out[i % 4]
        stays[tree.id] = tuple(
            winter[tree.id] if first <= spell.index < last else HOME for spell in spells
        )
    carries = tuple(
        Carry(spell.start, tree_id, path[spell.index - 1], path[spell.index])
        for tree_id, path in stays.items()
        for spell in spells[1:]
        if path[spell.index - 1] != path[spell.index]
    )
    conditions = compute_conditions(season)
    plan = Plan(
        spells=spells,
        settings={
            shelter.id: tuple(
                conditions.shelters[shelter.id]
                .settings[
                    min((spell.index // 4) % 3, len(conditions.shelters[shelter.id].settings) - 1)
                ]
                .key
                for spell in spells
            )
            for shelter in season.shelters
        },
        stays=stays,
        carries=carries,
        left_out=tuple(_left_out(season, tree) for tree in season.trees[count - LEFT_OUT :]),
        costs=Costs(heat=400.0, carries=500.0),
        proof=Proof("by hand", "made up", 900.0, 896.4, 0.004, 12.5, 4, misfits=7),
        layouts=_layouts(season, filler, stays, spells),
    )
    return season, conditions, plan, audit(season, conditions, plan)


def _left_out(season: Season, tree: Tree) -> LeftOut:
    reasons = (
        (Reason.ROOTS_TOO_COLD, 2.5, "K"),
        (Reason.TOO_TALL, 0.3, "m"),
        (Reason.TOO_DARK, 1.2, "mol/(m2 d)"),
        (Reason.TOO_HEAVY, 12.0, "kg"),
    )
    lacks = (Lack(place_id, "off", 8, *reasons[n % 4]) for n, place_id in enumerate(season.places))
    return LeftOut(tree.id, tuple(lacks))


def _layouts(
    season: Season,
    filler: _Filler,
    stays: dict[str, tuple[str | None, ...]],
    spells: tuple[Spell, ...],
) -> dict[str, dict[int, tuple[Layout, ...]]]:
    """All that are ever at a place laid out together; earlier and later sets leave gaps."""
    found: dict[str, dict[int, tuple[Layout, ...]]] = {}
    for place_id in season.places:
        trees = [tree for tree in season.trees if place_id in stays.get(tree.id, ())]
        layouts = filler.lay_out(place_id, trees)
        assert layouts is not None, f"{len(trees)} trees do not fit at {place_id}"
        for spell in spells:
            here = tuple(one for one in layouts if stays[one.tree_id][spell.index] == place_id)
            if here:
                found.setdefault(place_id, {})[spell.index] = here
    return found


def renamed(
    winter: tuple[Season, Conditions, Plan, AuditReport], names: dict[str, str]
) -> tuple[Season, Conditions, Plan, AuditReport]:
    """The same winter with some trees called something else."""
    season, *rest = winter
    trees = tuple(replace(tree, name=names.get(tree.id, tree.name)) for tree in season.trees)
    return replace(season, trees=trees), *rest
