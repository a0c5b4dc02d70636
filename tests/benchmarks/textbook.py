"""No plan lies below the bound that a plan claims: other winters solved by the textbook's program.

``python tests/benchmarks/textbook.py 200`` draws so many winters of 20 to 150 trees, plans each,
then gives twice as long to the plainest integer program there is: a binary for every tree, place,
setting and stage, one for every heater programme, carries between them. It is written from
docs/program.md over the rules of ``tests/brute/enumeration.py`` and shares nothing with
``overwinter.search``. What it finds is priced and checked by that enumeration once more; it asks
with all programmes open first, then under those of the plan, from which it starts if it has found
nothing. Exit code 1 if anything it finds is cheaper than a bound. A plan with trees in places that
are not safe breaks a rule of the program: it claims no bound, and its cost is infinite here.

Two of three winters are those of ``tests/brute/tiny_winters.py`` with more trees and larger places,
with all rules and re-plans; the third has the physics, climates and rooms of ``sizes.py``.
"""

import argparse
import sys
import time
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "shelters"))
sys.path.insert(0, str(Path(__file__).parents[1] / "brute"))

import numpy as np
import pulp
from enumeration import AWAY_OUTDOORS, DAYS, OFTEN, Enumeration, Way
from enumeration import Path as Stays
from sizes import make_winter
from tiny_winters import Tiny, draw

from overwinter.climate.sun import carrying_minutes
from overwinter.model.changes import start_of_season
from overwinter.model.plan import Plan
from overwinter.model.tree import Tree
from overwinter.plants.harm import SHORT_CHILL_SHARE
from overwinter.search import plan_winter as planning
from overwinter.search.options import PlanOptions
from overwinter.search.ordering import in_own_order
from overwinter.search.problem import Problem
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.exposures import kind_of

FALSE = 1e-6
"""A plan cheaper than a bound by this share shows that the bound is false."""
LIMIT_S, LEAST_S = 15.0, 4.0
"""Wall seconds of a plan, and least of the textbook's program."""
GAPS = (0.02, 0.002)
"""Asked of every second winter."""
Variable = pulp.LpVariable
Terms = list[tuple[Variable, float]]


class Textbook:
    """The program of one winter; what is allowed and what it costs the enumeration says."""

    def __init__(self, every: Enumeration, decided: Mapping[str, Way] | None = None) -> None:
        self.every, self.season, self.weights = every, every.season, every.weights
        self.lp = pulp.LpProblem("textbook", pulp.LpMinimize)
        self.costs: Terms = []
        self.y: dict[tuple[str, str, int, int], Variable] = {}
        self.z: dict[tuple[str, int, int], Variable] = {}
        self.out: dict[str, Variable] = {}
        self.x: dict[str, dict[Way, Variable]] = {}
        self.here: dict[tuple[str, int], list[tuple[Tree, Variable]]] = defaultdict(list)
        self.minutes: dict[int, Terms] = defaultdict(list)
        for shelter_id, ways in every.ways.items():
            self._shelter(shelter_id, ways if decided is None else [decided[shelter_id]])
        for tree in self.season.trees:
            self._tree(tree)
        for k in every.free:
            self._breakers(k)
            self._quarantine(k)
            for place_id in self.season.places:
                self._place(place_id, k)
            usual = every.days.stages[k].usual
            self.row(self.minutes[k], "<", DAYS * carrying_minutes(self.season.site, usual))
        self.lp.setObjective(pulp.LpAffineExpression(self.costs))

    def column(self, cost: float, upper: float | None, whole: bool = False) -> Variable:
        """From 0 to ``upper`` at a cost a unit."""
        kind = pulp.LpInteger if whole else pulp.LpContinuous
        variable = self.lp.add_variable(f"v{len(self.costs)}", 0, upper, cat=kind)
        self.costs.append((variable, cost))
        return variable

    def row(self, terms: Terms, sense: str, right: float) -> None:
        """Add a row, if it says anything."""
        if terms:
            codes = {"<": pulp.LpConstraintLE, "=": pulp.LpConstraintEQ, ">": pulp.LpConstraintGE}
            left = pulp.LpAffineExpression(terms)
            self.lp.addConstraint(pulp.LpConstraint(left, codes[sense], rhs=right))

    def _shelter(self, shelter_id: str, ways: Sequence[Way]) -> None:
        """One programme; z is the setting that it has in a stage."""
        columns = {way: self.column(self.every.heat_of(shelter_id, way), 1, True) for way in ways}
        self.x[shelter_id] = columns
        self.row([(x, 1.0) for x in columns.values()], "=", 1.0)
        for k in self.every.free:
            for s in sorted({way[k] for way in ways}):
                z = self.z[shelter_id, s, k] = self.column(0.0, 1)
                on: Terms = [(x, 1.0) for way, x in columns.items() if way[k] == s]
                self.row([*on, (z, -1.0)], "=", 0.0)

    def _tree(self, tree: Tree) -> None:
        """One place in every stage or left out; carries and chilling."""
        e, weights = self.every, self.weights
        out = self.out[tree.id] = self.column(e.left_out[tree.id], 1, True)
        stood = e.tiny.start.stays[tree.id][e.first - 1]
        before: dict[str, Terms] | None = None if stood is None else {stood: []}
        moves: Terms = []
        earned: Terms = []
        for k in e.free:
            if not e.is_there(tree, k):
                continue
            now = {p: y for p in self.season.places if (y := self._stays(tree, p, k, earned))}
            self.row([*(y for ys in now.values() for y in ys), (out, 1.0)], "=", 1.0)
            if before is not None:
                moves += self._moves(tree, k, before, now, stood if k == e.first else None)
            before = now
        borne = weights.caution * weights.most_chance * tree.value
        often = self.column(max(borne, OFTEN * self._carry(tree)), None)
        self.row([*moves, (often, -1.0)] if moves else [], "<", weights.most_carries)
        self._chilling(tree, earned, out)

    def _carry(self, tree: Tree) -> float:
        heavy = tree.weight_kg >= self.weights.two_person_kg
        return self.weights.two_person_carry if heavy else self.weights.carry

    def _stays(self, tree: Tree, place_id: str, k: int, earned: Terms) -> Terms:
        """A binary for each setting that the tree may meet there."""
        e, weights, place = self.every, self.weights, self.season.places[place_id]
        if not e.may_stand(tree, place_id) or e.closed(place.shelter_id, k):
            return []
        kind, home = e.tiny.follower.kind_index[kind_of(tree)], place_id == e.home(tree)
        share = 0.0 if home else AWAY_OUTDOORS if self._open(place_id) else 1.0
        money = weights.cover_day * share * float(e.table.spare_days[kind, k])
        if k == e.stages[-1] and not home:
            money += weights.not_home
        found: Terms = []
        for s in sorted(s for h, s, stage in self.z if (h, stage) == (place.shelter_id, k)):
            option = e.option(place_id, s)
            chance = float(e.table.chance[kind, option, k])
            if e.table.lost[kind, option, k] > weights.most_chance:
                continue
            y = self.column(money + weights.caution * tree.value * chance, 1, True)
            self.y[tree.id, place_id, s, k] = y
            self.row([(y, 1.0), (self.z[place.shelter_id, s, k], -1.0)], "<", 0.0)
            self.here[place_id, k].append((tree, y))
            earned.append((y, float(e.table.chill_share[kind, option, k])))
            found.append((y, 1.0))
        return found

    def _open(self, place_id: str) -> bool:
        return self.season.shelter_by_id[self.season.places[place_id].shelter_id].open_air

    def _moves(
        self, tree: Tree, k: int, before: dict[str, Terms], now: dict[str, Terms], stood: str | None
    ) -> Terms:
        """Whoever is at a place and was not there was carried."""
        known, weights = self.every.tiny.start.known_targets, self.weights
        found: Terms = []
        for place_id, ys in now.items():
            work = self.every.work(tree, place_id)
            price = work * self._carry(tree)
            if known is not None and place_id not in known.get(tree.id, frozenset()):
                price += weights.extra_carry
            m = self.column(price, float(self.every.is_day_for(tree, k)))
            was: Terms = [(y, -1.0) for y, _ in before.get(place_id, [])]
            self.row([*ys, *was, (m, -1.0)], "<", 1.0 if place_id == stood else 0.0)
            heavy = tree.weight_kg >= weights.two_person_kg
            self.minutes[k].append((m, work * self.season.site.household.minutes(heavy)))
            found.append((m, 1.0))
        return found

    def _chilling(self, tree: Tree, earned: Terms, out: Variable) -> None:
        e, start = self.every, self.every.tiny.start
        chills = e.table.chill_share[e.tiny.follower.kind_index[kind_of(tree)]]
        stays = enumerate(start.stays[tree.id][: e.first])
        past = sum(float(chills[e.option(p, 0), k]) for k, p in stays if p is not None)
        owed = max(0.0, e._owed(tree) - past)
        if chills.any() and owed:
            price = self.weights.caution * tree.value * SHORT_CHILL_SHARE
            self.row([*earned, (self.column(price, None), 1.0), (out, owed)], ">", owed)

    def _place(self, place_id: str, k: int) -> None:
        """Area, load and crowding."""
        here, place, weights = self.here[place_id, k], self.season.places[place_id], self.weights
        area: Terms = [(y, tree.footprint_m2) for tree, y in here]
        self.row(area, "<", weights.fullest_share * place.area_m2)
        if np.isfinite(place.load_limit_kg):
            self.row([(y, tree.weight_kg) for tree, y in here], "<", place.load_limit_kg)
        if here and not self._open(place_id):
            price = weights.crowding_per_m2_day * float(self.every.mean_days[k])
            crowd = self.column(price, None)
            self.row([*area, (crowd, -1.0)], "<", weights.comfortable_share * place.area_m2)

    def _breakers(self, k: int) -> None:
        drawn: dict[str, Terms] = defaultdict(list)
        for (h, s, stage), z in self.z.items():
            if stage == k:
                for breaker, watts in self.every.tiny.conditions.shelters[h].settings[s].breaker_w:
                    drawn[breaker].append((z, watts))
        for breaker, terms in drawn.items():
            self.row(terms, "<", self.season.site.breakers_w[breaker])

    def _quarantine(self, k: int) -> None:
        """In one air there are trees in quarantine or others, never both."""
        airs: dict[str, list[tuple[Tree, Variable]]] = defaultdict(list)
        for place_id in self.season.places:
            shelter_id = self.season.places[place_id].shelter_id
            airs[place_id if self._open(place_id) else shelter_id] += self.here[place_id, k]
        for trees in airs.values():
            if any(self.every.apart(tree, k) for tree, _ in trees):
                q = self.column(0.0, 1, True)
                for tree, y in trees:
                    if self.every.apart(tree, k):
                        self.row([(y, 1.0), (q, -1.0)], "<", 0.0)
                    else:
                        self.row([(y, 1.0), (q, 1.0)], "<", 1.0)

    def solve(self, seconds: float, begin: "Plans | None" = None) -> "Plans | None":
        """Heater programmes and stays of the cheapest plan found within so many seconds."""
        if begin is not None:
            self._begin(*begin)
        solver = pulp.HiGHS(
            msg=False, timeLimit=seconds, threads=1, gapRel=0.0, warmStart=begin is not None
        )
        self.lp.solve(solver)
        if self.lp.sol_status not in (pulp.LpSolutionOptimal, pulp.LpSolutionIntegerFeasible):
            return None
        ways = {h: max(xs, key=lambda way: xs[way].varValue or 0.0) for h, xs in self.x.items()}
        found: dict[str, list[str | None]] = {}
        for tree in self.season.trees:
            if (self.out[tree.id].varValue or 0.0) < 0.5:
                past = self.every.tiny.start.stays[tree.id][: self.every.first]
                found[tree.id] = [*past, *(None for _ in self.every.free)]
        for (tree_id, place_id, _, k), y in self.y.items():
            if (y.varValue or 0.0) > 0.5:
                found[tree_id][k] = place_id
        return ways, {tree_id: tuple(path) for tree_id, path in found.items()}

    def _begin(self, ways: Mapping[str, Way], stays: Mapping[str, Stays | None]) -> None:
        for h, xs in self.x.items():
            for way, x in xs.items():
                x.setInitialValue(float(way == ways[h]))
        for (tree_id, place_id, s, k), y in self.y.items():
            path = stays.get(tree_id)
            at = path is not None and path[k] == place_id
            setting = ways[self.season.places[place_id].shelter_id][k]
            y.setInitialValue(float(at and s == setting))
        for tree_id, out in self.out.items():
            out.setInitialValue(float(stays.get(tree_id) is None))


Plans = tuple[Mapping[str, Way], Mapping[str, Stays | None]]


def many(seed: int) -> Tiny:
    """A winter of 20 to 150 trees, few of them large."""
    rng = np.random.default_rng(10_000 + seed)
    trees = 20 + int(130 * rng.random() ** 4)
    if seed % 3:
        return draw(seed, most_chance=1.0 if seed % 2 else None, trees=trees)
    season = make_winter(trees, seed, float(rng.uniform(0.4, 1.4)), float(rng.uniform(-6.0, 8.0)))
    conditions = compute_conditions(season)
    days = planning.plan_stages(season, conditions)
    return Tiny(season, conditions, days, start_of_season(season))


def planned(tiny: Tiny, gap: float, seconds: float) -> tuple[Plan, Problem]:
    """The plan, and the problem whose figures its bound is of."""
    seen: list[Problem] = []

    class Watched(planning._Search):
        def to_plan(self) -> Plan:
            seen.append(self.problem)
            return super().to_plan()

    options = PlanOptions(gap=gap, time_limit_s=seconds, threads=1)
    with patch.object(planning, "_Search", Watched):
        outcome = planning.plan_winter(
            tiny.season, options, None, tiny.start, tiny.stage_days, tiny.conditions
        )
    return outcome.plan, seen[-1]


def try_one(seed: int, seconds: float) -> tuple[str, bool, bool, bool]:
    """A line of the table; whether there is no bound, it is false, or false on true paths."""
    tiny = many(seed)
    tiny = replace(tiny, season=in_own_order(tiny.season))  # the tables count kinds in this order
    began = time.monotonic()
    plan, problem = planned(tiny, GAPS[seed // 3 % 2], seconds)
    took = max(LEAST_S, 2.0 * (time.monotonic() - began))
    every, true = Enumeration(tiny), Enumeration(tiny, true_paths=True)
    every.table = true.table = problem.table
    known = tiny.conditions.shelters
    ours: Plans = (
        {h: tuple(known[h].settings.index(s) for s in way) for h, way in plan.settings.items()},
        plan.stays,
    )
    found = Textbook(every).solve(took)
    tried = [ours, *([found] if found else [])]
    nearer = Textbook(every, ours[0]).solve(took / 2.0, None if found else ours)
    tried += [nearer] if nearer else []
    money = [every.money_under(*one) for one in tried]
    walked = min(true.money_under(*one) for one in tried)
    bound, objective = plan.proof.bound, plan.proof.objective
    false = bound is not None and min(money) < bound * (1 - FALSE)
    false_walked = bound is not None and walked < bound * (1 - FALSE)
    shown = "     none" if bound is None else f"{bound:9.2f}"
    cells = [f"{money[0]:9.2f}", *(f"{m:9.2f}" for m in money[1:])]
    line = f"{seed:4} {len(tiny.season.trees):5} {objective:9.2f} {shown} {'  '.join(cells):33}"
    line += f" {walked:9.2f} {took:6.1f}{'  FALSE' if false else ''}"
    line += "  (true paths)" if false_walked else ""
    return line, bound is None, false, false_walked


def main() -> None:
    """As many winters as asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("winters", type=int)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--seconds", type=float, default=LIMIT_S, help="limit of a plan")
    asked = parser.parse_args()
    print("seed trees    ours      bound  by table: ours, textbook's          true paths  s")
    none = false = walked = 0
    for seed in range(asked.first, asked.first + asked.winters):
        line, no_bound, is_false, is_walked = try_one(seed, asked.seconds)
        none, false, walked = none + no_bound, false + is_false, walked + is_walked
        print(line, flush=True)
    print(
        f"{asked.winters} winters, {none} without a bound in time, {false} false bounds by the"
        f" table, {walked} bounds above a plan on true paths"
    )
    sys.exit(1 if false else 0)


if __name__ == "__main__":
    main()
