"""Re-plans of winters small enough to try every continuation: none better, none with fewer carries.

What a continuation costs and what it must keep is written here a second time, in plain loops over
trees, places and days, from the audit's hourly roots rather than from the program's tables.
"""

from dataclasses import dataclass, replace
from itertools import product
from math import inf

import numpy as np
import pytest
from replan_winters import DAYS, EXACT, STARTS, day, done_until, season, tree

from overwinter.model.changes import Changes, Mark, Unmarked
from overwinter.model.fingerprint import carry_key
from overwinter.model.season import Season
from overwinter.model.site import Weights
from overwinter.planning.plan_winter import plan_winter
from overwinter.planning.replan import InForce, Replanned, Request, replan
from overwinter.shelters.conditions import root_zone_of_air

SEEDS = range(12)


@dataclass(frozen=True)
class Case:
    """A winter under way, and what comes otherwise."""

    season: Season
    in_force: InForce
    request: Request


def random_case(seed: int) -> Case:
    """Three trees, ever colder weather, a shelter late or shut early, some carries not done."""
    random = np.random.default_rng(seed)
    means = np.round(np.linspace(5, -9, 6) + random.normal(0, 1.5, 6), 1)
    kills = random.choice([-14.0, -7.0, -3.5, -1.0], size=3)
    widths = random.choice([0.5, 0.65], size=3)
    trees = [
        tree(
            f"t{n}", float(kills[n]), float(widths[n]), weight_kg=float(random.choice([10.0, 30.0]))
        )
        for n in range(3)
    ]
    weights = Weights(
        carry=1.37,
        two_person_carry=3.11,
        carry_day=float(random.choice([0.0, 2.9])),
        not_home=float(random.choice([0.0, 2.3])),
        tail_chance=0.0,
        crowding_per_m2_day=float(random.choice([0.0, 0.83])),
        extra_carry=float(random.choice([0.0, 4.7, 20.3])),
    )
    found = season(
        *trees,
        means_c=means.tolist(),
        weights=weights,
        carries_per_day=int(random.choice([2, 10])),
        carry_days_max=int(random.choice([3, 6])),
    )
    outcome = plan_winter(found, EXACT)
    today = day(int(random.integers(1, 30)))
    marks = [mark for mark in done_until(outcome, today) if random.random() < 0.7]
    if random.random() < 0.3:
        one = found.trees[int(random.integers(3))].id
        open_now = [c for c in outcome.plan.carries if c.tree_id == one and c.day < today]
        key = carry_key(open_now[0]) if open_now else None
        marks = [mark for mark in marks if mark.tree_id != one]
        marks.append(Mark(today - (day(1) - day(0)), one, "porch/bench", key))
        marks.sort(key=lambda mark: mark.day)
    which = str(random.choice(["cellar", "porch"]))
    when = day(int(random.integers(1, DAYS - 1)))
    changes = (
        Changes(opens={which: when}) if random.random() < 0.7 else Changes(closes={which: when})
    )
    in_force = InForce(outcome.plan, Changes(), tuple(marks))
    request = Request(today, changes, Unmarked.NOT_DONE, last_safe_dates=False)
    return Case(found, in_force, request)


def safe_days(found: Season, one: str, place_id: str, air_c: np.ndarray) -> np.ndarray:
    """Days on which the roots at a place stay at the working floor or above; kill plus 1 K."""
    place = found.places[place_id]
    roots = root_zone_of_air(found, place, air_c, found.tree_by_id[one].pot_litres)
    floor = found.tree_by_id[one].limits.root_kill_c + found.site.margins.root_k
    return roots.reshape(-1, 24).min(axis=1) >= floor - 1e-9


def best_by_trying(case: Case, anew: Replanned) -> tuple[float, set[int]]:
    """Least money of any continuation, and the numbers of carries of those that cost it."""
    truth = anew.truth
    found, start, site = truth.season, truth.start, truth.season.site
    weights = site.weights
    spells = [s for s in anew.plan.spells if s.start >= truth.first]
    spans = [((s.start - STARTS).days, (s.end - STARTS).days) for s in spells]
    paths: dict[str, list[tuple[str, ...]]] = {}
    for one in found.trees:
        allowed: dict[tuple[str, int], bool] = {}
        for place_id, place in found.places.items():
            shelter = found.shelter_by_id[place.shelter_id]
            air = truth.conditions.shelters[shelter.id].air_c[0]
            good = safe_days(found, one.id, place_id, air)
            for k, (first, last) in enumerate(spans):
                opened = shelter.opens is None or shelter.opens <= spells[k].start
                shut = shelter.closes is not None and spells[k].end > shelter.closes
                allowed[place_id, k] = opened and not shut and bool(good[first:last].all())
        choices = [[p for p in found.places if allowed[p, k]] for k in range(len(spells))]
        paths[one.id] = list(product(*choices))
    best, counts = inf, set[int]()
    for winter in product(*paths.values()):
        priced = price(found, start, weights, spells, dict(zip(paths, winter, strict=True)))
        if priced is None:
            continue
        money, carries = priced
        if money < best - 1e-7:
            best, counts = money, set()
        if money <= best + 1e-7:
            counts.add(carries)
    return best, counts


def price(found, start, weights, spells, winter):
    """Money and number of carries of one continuation; None if it breaks a rule of carrying."""
    money, number, days = 0.0, 0, 0
    for k, spell in enumerate(spells):
        moved = []
        for one in found.trees:
            before = start.trees[one.id].place if k == 0 else winter[one.id][k - 1]
            if winter[one.id][k] != before:
                moved.append(one)
        if len(moved) > found.site.carries_per_day:
            return None
        number += len(moved)
        days += bool(moved)
        for one in moved:
            money += weights.two_person_carry if one.weight_kg >= 23 else weights.carry
            known = start.trees[one.id].known_targets
            if known is not None and winter[one.id][k] not in known:
                money += weights.extra_carry
        for place in found.places.values():
            here = [t for t in found.trees if winter[t.id][k] == place.id]
            area = sum(t.width_m * t.depth_m for t in here)
            if area > weights.fullest_share * place.area_m2 + 1e-9:
                return None
            over = max(0.0, area - weights.comfortable_share * place.area_m2)
            money += weights.crowding_per_m2_day * spell.days * over
    if days > start.carry_days_left:
        return None
    money += weights.carry_day * days
    away = sum(path[-1] != found.site.summer_place for path in winter.values())
    return money + weights.not_home * away, number


@pytest.mark.parametrize("seed", SEEDS)
def test_no_continuation_is_better(seed: int) -> None:
    """The re-plan costs what the best continuation costs, and needs no more carries than the best
    with the fewest; where every continuation loses a tree, so does the re-plan."""
    case = random_case(seed)
    options = replace(EXACT, layouts=False)  # tried by area alone, as the loops do
    anew = replan(case.season, case.in_force, case.request, options)
    assert anew.report.passed, anew.report.findings
    first = anew.truth.first
    assert all(c.day >= first or c in anew.truth.past.carries for c in anew.plan.carries)
    best, counts = best_by_trying(case, anew)
    if anew.plan.left_out:
        assert best == inf
        return
    assert anew.comparison.costs[1].total == pytest.approx(best, abs=1e-6)
    assert sum(c.day >= first for c in anew.plan.carries) <= min(counts)


def test_the_cases_are_of_every_kind() -> None:
    """The seeds above hold winters with and without trees left out, and with extra carries."""
    kinds = set()
    for seed in SEEDS:
        case = random_case(seed)
        anew = replan(case.season, case.in_force, case.request, replace(EXACT, layouts=False))
        kinds.add("left out" if anew.plan.left_out else "whole")
        kinds.add("extra" if anew.comparison.extra_carries else "none extra")
        kinds.add(
            "carried" if any(c.day >= anew.truth.first for c in anew.plan.carries) else "rest"
        )
    assert {"left out", "whole", "extra", "none extra", "carried"} <= kinds
