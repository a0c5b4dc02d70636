"""Tiny random winters for the integer program, and the best plan by trying everything.

The tables are drawn at random; no physics. What "best" means is written here a second time, from
the words in docs/program.md, in plain loops that share no code with ``overwinter.program``.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from itertools import product
from math import inf

import numpy as np

from overwinter.model.season import Season, Spell, Weather
from overwinter.model.shelter import Place, PlaceKind, Shelter
from overwinter.model.site import Ground, Site, Weights
from overwinter.model.species import ChillModel, LeafHabit, Limits
from overwinter.model.start import start_of_season
from overwinter.model.tree import Condition, Tree
from overwinter.program.data import Cuts, ProgramData
from overwinter.suitability.groups import group_trees
from overwinter.suitability.options import Option
from overwinter.suitability.table import Suitability

START = date(2026, 10, 1)
SPELL_DAYS = 14


def limits(chill_need: float = 0.0) -> Limits:
    """Limits of which the program sees only the chilling."""
    return Limits(
        root_kill_c=-10.0,
        root_kill_young_c=-7.0,
        root_kill_unhardened_c=-3.0,
        air_floor_c=None,
        rest_ceiling_c=None,
        chill_need=chill_need,
        chill_model=ChillModel.HOURS,
        light_floor_mol_m2_d=0.0,
        dark_below_c=99.0,
        leaf=LeafHabit.DECIDUOUS,
        rodent_appeal=0.5,
        harden_below_c=8.0,
        harden_days=40.0,
        deharden_above_c=5.0,
        deharden_per_degree_day=0.02,
    )


def place(shelter: str, name: str, area_m2: float, load_kg: float = inf) -> Place:
    """A bench of the given area."""
    return Place(
        id=f"{shelter}/{name}",
        shelter_id=shelter,
        name=name,
        kind=PlaceKind.BENCH,
        width_m=area_m2,
        depth_m=1.0,
        headroom_m=inf,
        load_limit_kg=load_kg,
        light_share=1.0,
        rodent_exposure=0.0,
        guarded=False,
    )


def tree(name: str, area_m2: float, **changes: object) -> Tree:
    """A tree of the given footprint."""
    values: dict[str, object] = {
        "id": name,
        "name": name,
        "species_key": "any",
        "limits": limits(),
        "width_m": area_m2,
        "depth_m": 1.0,
        "height_m": 0.5,
        "weight_kg": 10.0,
        "pot_litres": 5.0,
        "condition": Condition.ORDINARY,
        "value": 100.0,
    }
    return Tree(**{**values, **changes})


def site(days: int, **changes: object) -> Site:
    """A site whose plan lasts ``days``."""
    values: dict[str, object] = {
        "name": "tiny",
        "latitude_deg": 45.0,
        "longitude_deg": 0.0,
        "elevation_m": 0.0,
        "utc_offset_h": 0.0,
        "starts": START,
        "ends": START + timedelta(days=days - 1),
        "design_min_c": -15.0,
        "ground": Ground(10.0, 10.0, 30.0),
        "house_c": 20.0,
        "summer_place": "garden/stand",
        "currency": "EUR",
        "money_per_kwh": {},
        "breakers_w": {},
        "carries_per_day": 100,
        "carry_days_max": 100,
    }
    return Site(**{**values, **changes})


def spells(count: int) -> tuple[Spell, ...]:
    """``count`` spells of equal length."""
    step = timedelta(days=SPELL_DAYS)
    return tuple(Spell(k, START + k * step, START + (k + 1) * step, "test") for k in range(count))


def random_data(seed: int, *, trees: int = 3, spell_count: int = 2) -> ProgramData:
    """A garden, a heated house with two places and two or three settings, a cellar."""
    random = np.random.default_rng(seed)
    areas = random.choice([0.2, 0.3, 0.5], size=trees)
    stock = []
    for number in range(trees):
        twin = number > 0 and random.random() < 0.3
        need = float(random.choice([0.0, 0.0, 300.0]))
        stock.append(
            tree(f"t{number}", **stock_like(stock[-1]))
            if twin
            else tree(
                f"t{number}",
                float(areas[number]),
                limits=limits(need),
                weight_kg=float(random.choice([5.0, 30.0])),
                value=float(random.choice([50.0, 200.0])),
            )
        )
    weights = Weights(
        crowding_per_m2_day=float(random.choice([0.0, 1.0])),
        carry=float(random.choice([0.5, 2.0])),
        carry_day=float(random.choice([0.0, 3.0])),
        not_home=float(random.choice([0.0, 2.0])),
    )
    quarantined = bool(random.random() < 0.25)
    if quarantined:
        until = START + timedelta(days=SPELL_DAYS)
        stock[0] = tree("t0", float(areas[0]), quarantine_until=until)
    house_load = float(random.choice([inf, 40.0]))
    shelters = (
        Shelter("garden", "garden", (place("garden", "stand", 5.0),), open_air=True),
        Shelter("house", "house", (place("house", "a", 0.8, house_load), place("house", "b", 0.4))),
        Shelter("cellar", "cellar", (place("cellar", "floor", 0.6),)),
    )
    season = Season(
        site=site(
            SPELL_DAYS * spell_count,
            weights=weights,
            carries_per_day=int(random.choice([1, 2, 100])),
            carry_days_max=int(random.choice([1, 2, 100])),
            breakers_w={"b1": 1000.0},
        ),
        weather=Weather(np.zeros(1), np.zeros(1), "none"),
        species={},
        trees=tuple(stock),
        shelters=shelters,
    )
    settings = {"garden": 1, "house": int(random.integers(2, 4)), "cellar": 2}
    pairs = [
        (found.id, shelter.id, s)
        for shelter in shelters
        for found in shelter.places
        for s in range(settings[shelter.id])
    ]
    options = tuple(Option(i, *pair) for i, pair in enumerate(pairs))
    start = start_of_season(season)
    # trees that owe chilling each for itself, as the search splits them when one falls short
    owing = {one.id for one in stock if one.limits.chill_need}
    groups = group_trees(season, start, apart=[frozenset({tree_id}) for tree_id in owing])
    shape = (len(groups), len(options), spell_count)
    # by place, not by setting: what a class of settings hides is left to the search's histories,
    # and which of several twins went where is its matter too
    places = {found: i for i, found in enumerate(season.places)}
    of_place = [places[o.place_id] for o in options]
    by_place = (len(groups), len(places), spell_count)
    exit_most = random.choice([0.2, 0.6, 1.0], size=by_place)[:, of_place]
    entry_least = random.choice([0.0, 0.0, 0.0, 0.4, 0.8], size=by_place)[:, of_place]
    entry_least[[group.index for group in groups if group.count > 1]] = 0.0
    table = Suitability(
        spells=spells(spell_count),
        groups=groups,
        options=options,
        allowed=random.random(shape) < 0.75,
        risk_money=np.round(random.choice([0.0, 0.0, 1.0, 5.0], size=shape), 2),
        rodent_money=np.round(random.random(shape), 2),
        chill=np.round(random.choice([0.0, 150.0, 250.0], size=shape)),
        entry_least=entry_least,
        exit_most=exit_most,
        present=np.ones((len(groups), spell_count), dtype=np.bool_),
    )
    heat = {
        shelter: np.sort(np.round(random.random((count, spell_count)) * 20, 2), axis=0)
        * (np.arange(count)[:, None] > 0)
        for shelter, count in settings.items()
    }
    allowed = {
        shelter: np.ones((count, spell_count), dtype=np.bool_)
        for shelter, count in settings.items()
    }
    draws = {
        shelter: tuple({} if s == 0 else {"b1": 400.0 * s} for s in range(count))
        for shelter, count in settings.items()
    }
    return ProgramData(season, start, table, heat, allowed, draws, Cuts())


UNPLANNED = (4, 5, 8, 10, 14, 15, 18, 19, 20, 28, 31, 33, 40, 41, 47, 48, 50, 53, 59)
PLANNED = tuple(seed for seed in range(60) if seed not in UNPLANNED)
"""Seeds of ``random_data`` of which some plan places every tree."""


def stock_like(other: Tree) -> dict[str, object]:
    """Everything a twin shares with another tree."""
    return {
        "area_m2": other.width_m,
        "limits": other.limits,
        "weight_kg": other.weight_kg,
        "value": other.value,
    }


@dataclass(frozen=True)
class Best:
    """The cheapest plan by enumeration."""

    money: float
    plans: int
    """Plans that broke no rule."""


def best_by_enumeration(data: ProgramData) -> Best:
    """Try every heater schedule and every path of every tree."""
    settings_of = {shelter: range(m.shape[0]) for shelter, m in data.heat_money.items()}
    spell_count = len(data.spells)
    shelters = list(settings_of)
    schedules = product(*(product(settings_of[s], repeat=spell_count) for s in shelters))
    best, number = inf, 0
    for schedule in schedules:
        chosen = dict(zip(shelters, schedule, strict=True))
        if not _breakers_hold(data, chosen):
            continue
        heat = sum(
            data.heat_money[s][setting, k] for s in shelters for k, setting in enumerate(chosen[s])
        )
        paths = [_paths_of_tree(data, t, chosen) for t in range(len(data.season.trees))]
        for winter in product(*paths):
            money = _money(data, winter)
            if money is not None:
                number += 1
                best = min(best, heat + money)
    return Best(best, number)


def _breakers_hold(data: ProgramData, chosen: dict[str, tuple[int, ...]]) -> bool:
    for breaker, limit in data.season.site.breakers_w.items():
        for k in range(len(data.spells)):
            drawn = sum(
                data.breaker_w[s][found[k]].get(breaker, 0.0) for s, found in chosen.items()
            )
            if drawn > limit:
                return False
    return True


def _group_of(data: ProgramData, tree_id: str) -> int:
    return next(g.index for g in data.groups if tree_id in g.tree_ids)


def _paths_of_tree(
    data: ProgramData, number: int, chosen: dict[str, tuple[int, ...]]
) -> list[tuple[tuple[str, ...], float]]:
    """Every path one tree may take under a schedule, with its own expected losses."""
    table = data.suitability
    one = data.season.trees[number]
    g = _group_of(data, one.id)
    found = []
    for path in product(data.season.places, repeat=len(data.spells)):
        options = [
            next(
                o.index
                for o in table.options
                if o.place_id == p and o.setting == chosen[data.season.places[p].shelter_id][k]
            )
            for k, p in enumerate(path)
        ]
        if not all(table.allowed[g, o, k] for k, o in enumerate(options)):
            continue
        earned = sum(table.chill[g, o, k] for k, o in enumerate(options))
        if earned < one.limits.chill_need:
            continue
        steps = zip(enumerate(options), options[1:], strict=False)
        if any(
            table.exit_most[g, o, k] < table.entry_least[g, after, k + 1] for (k, o), after in steps
        ):
            continue
        losses = sum(
            table.risk_money[g, o, k] + table.rodent_money[g, o, k] for k, o in enumerate(options)
        )
        found.append((path, float(losses)))
    return found


def _money(data: ProgramData, winter: tuple[tuple[tuple[str, ...], float], ...]) -> float | None:
    """Money of a winter without heat; None if a rule is broken."""
    money = sum(losses for _path, losses in winter)
    carry_days = 0
    for k in range(len(data.spells)):
        crowding = _room(data, [path[k] for path, _ in winter], k)
        if crowding is None or not _apart(data, [path[k] for path, _ in winter], k):
            return None
        money += crowding
        moved = [
            one
            for one, (path, _losses) in zip(data.season.trees, winter, strict=True)
            if path[k] != (path[k - 1] if k else "garden/stand")
        ]
        if len(moved) > data.season.site.carries_per_day:
            return None
        carry_days += bool(moved)
        weights = data.season.site.weights
        money += weights.carry_day * bool(moved)
        money += sum(
            weights.two_person_carry if t.weight_kg >= 23 else weights.carry for t in moved
        )
    if carry_days > data.season.site.carry_days_max:
        return None
    away = sum(path[-1] != "garden/stand" for path, _losses in winter)
    return money + data.season.site.weights.not_home * away


def _room(data: ProgramData, where: list[str], spell: int) -> float | None:
    weights = data.season.site.weights
    money = 0.0
    for found in data.season.places.values():
        here = [t for t, p in zip(data.season.trees, where, strict=True) if p == found.id]
        area = sum(t.width_m * t.depth_m for t in here)
        if area > weights.fullest_share * found.area_m2 + 1e-9:
            return None
        if sum(t.weight_kg for t in here) > found.load_limit_kg:
            return None
        over = max(0.0, area - weights.comfortable_share * found.area_m2)
        money += weights.crowding_per_m2_day * data.spells[spell].days * over
    return money


def _apart(data: ProgramData, where: list[str], spell: int) -> bool:
    for one, p in zip(data.season.trees, where, strict=True):
        if one.quarantine_until is None or data.spells[spell].start >= one.quarantine_until:
            continue
        air = data.season.places[p].shelter_id
        for other, q in zip(data.season.trees, where, strict=True):
            if other is one or other.quarantine_until == one.quarantine_until:
                continue
            if q == p or (air != "garden" and data.season.places[q].shelter_id == air):
                return False
    return True
