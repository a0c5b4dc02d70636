"""The choice of a night against all that could be chosen, one by one."""

import random
from collections import defaultdict
from itertools import product

import pytest
from made import made_place

from overwinter.model.shelter import Place
from overwinter.search.night import NightGroup, NightProblem, Way, choose_night

NIGHTS = 2
ROOMS = {"yard/stand": "yard/stand", "hut/bench": "hut", "hut/floor": "hut"}


def place(place_id: str, area_m2: float, load_kg: float) -> Place:
    """One place of the given size."""
    return made_place(
        id=place_id,
        shelter_id=place_id.split("/")[0],
        name=place_id,
        width_m=area_m2,
        load_limit_kg=load_kg,
    )


def invented(seed: int) -> NightProblem:
    """Three single trees and a pair, a yard and a hut with a heater, two nights; all at random."""
    draw = random.Random(seed)
    groups = []
    for g in range(4):
        here = draw.choice(["yard/stand", "yard/stand", "hut/bench"])
        settings = frozenset({0, 1})
        ways = [Way(here, None, settings, 0.5, draw.uniform(0, 30))]
        if here == "yard/stand":
            ways.append(Way(here, None, settings, 0.2, draw.uniform(0, 20), "fleece", 1.0))
        for target in ROOMS:
            for night in range(NIGHTS):
                if target != here:
                    on = draw.choice([settings, frozenset({1})])
                    ways.append(Way(target, night, on, 0.1, draw.uniform(0, 15)))
        groups.append(
            NightGroup(
                tree_ids=("a", "b") if g == 3 else ("a",),
                here=here,
                footprint_m2=draw.choice([0.3, 0.5]),
                weight_kg=draw.choice([5.0, 30.0]),
                people=draw.choice([1, 1, 2]),
                apart=draw.random() < 0.2,
                ways=tuple(ways),
            )
        )
    return NightProblem(
        groups=tuple(groups),
        places={
            "yard/stand": place("yard/stand", 9.0, 900.0),
            "hut/bench": place("hut/bench", draw.choice([0.6, 1.2]), 40.0),
            "hut/floor": place("hut/floor", 0.6, 900.0),
        },
        fullest_share=0.9,
        rooms=ROOMS,
        heat={"yard": {0: 0.0, 1: 0.0}, "hut": {0: 0.0, 1: draw.uniform(0, 9)}},
        draws_w={("hut", 0): {}, ("hut", 1): {"fuse": 1500.0}},
        breakers_w={"fuse": draw.choice([1000.0, 2000.0])},
        people=2,
        minutes=draw.choice([5.0, 10.0, 20.0]),
        one_person_min=8.0,
        two_person_min=15.0,
        nights=NIGHTS,
        cloth_m2={"fleece": 1.0},
    )


def kept(problem: NightProblem, each: list[tuple[NightGroup, Way]], hut: int) -> bool:
    """Whether every rule of a night holds, each told anew."""
    if hut == 1 and problem.breakers_w["fuse"] < 1500.0:
        return False
    if any(way.place_id.startswith("hut") and hut not in way.settings for _, way in each):
        return False
    if sum(way.cloth_m2 for _, way in each) > problem.cloth_m2["fleece"]:
        return False
    for night in range(NIGHTS):
        carried = [group.people for group, way in each if way.night == night]
        minutes = sum(30.0 if people > 1 else 8.0 for people in carried)
        minutes += sum(way.cloth_m2 for _, way in each) if night == 0 else 0.0
        pairs = 15.0 * sum(people > 1 for people in carried)
        if minutes > problem.people * problem.minutes or pairs > problem.minutes:
            return False
        here = [
            (group, way.place_id if way.night is None or way.night <= night else group.here)
            for group, way in each
        ]
        for place_id, one in problem.places.items():
            there = [group for group, at in here if at == place_id]
            stood = [group for group, _ in each if group.here == place_id]
            most = max(0.9 * one.area_m2, sum(group.footprint_m2 for group in stood))
            load = max(one.load_limit_kg, sum(group.weight_kg for group in stood))
            if sum(group.footprint_m2 for group in there) > most + 1e-9:
                return False
            if sum(group.weight_kg for group in there) > load + 1e-9:
                return False
    return quarantined(problem, each)


def quarantined(problem: NightProblem, each: list[tuple[NightGroup, Way]]) -> bool:
    """Nobody comes where the others are, and not both kinds come to one room."""
    stood: dict[str, set[bool]] = defaultdict(set)
    came: dict[str, set[bool]] = defaultdict(set)
    for group, way in each:
        stood[ROOMS[group.here]].add(group.apart)
        if ROOMS[way.place_id] != ROOMS[group.here]:
            came[ROOMS[way.place_id]].add(group.apart)
    for room, kinds in came.items():
        # where a tree in quarantine stands among others already, only such may come
        one = True if True in stood[room] else (False if stood[room] else None)
        if len(kinds) > 1 or (one is not None and kinds != {one}):
            return False
    return True


def cheapest(problem: NightProblem) -> float:
    """The least money of all choices that keep the rules."""
    trees = [group for group in problem.groups for _ in group.tree_ids]
    best = float("inf")
    for hut, *ways in product((0, 1), *(group.ways for group in trees)):
        each = list(zip(trees, ways, strict=True))
        money = problem.heat["hut"][hut] + sum(way.cost for way in ways)
        if money < best and kept(problem, each, hut):
            best = money
    return best


@pytest.mark.parametrize("seed", range(12))
def test_nothing_cheaper_keeps_the_rules(seed: int) -> None:
    """Against brute force: all ways of five trees times two settings."""
    problem = invented(seed)
    choice = choose_night(problem)
    assert choice.money == pytest.approx(cheapest(problem), abs=0.01)
    each = [
        (group, way)
        for group, chosen in zip(problem.groups, choice.ways, strict=True)
        for way, count in chosen.items()
        for _ in range(count)
    ]
    assert kept(problem, each, choice.settings["hut"])
    money = problem.heat["hut"][choice.settings["hut"]] + sum(way.cost for _, way in each)
    assert money == pytest.approx(choice.money, abs=1e-6)
