"""The same winter as a textbook would write it in PuLP: each tree for itself, each rule a row.

Made from the same suitability table and the same prices as the tool's own program, and of the same
optimum (``tests/program/test_textbook.py``), so that the two can be timed side by side:

* one binary for each tree, place with a heater setting, and spell that is allowed;
* one binary for each shelter, setting and spell;
* a row for each tree that may be somewhere only while the setting is on.

It knows neither of trees that are alike, nor of settings that a tree cannot tell apart, nor of
shelters before benches. It also does less than the tool: nothing is laid out to scale, no tree's
hardening is followed through the winter it was given, nothing is audited.

Run ``python tests/benchmarks/textbook.py FOLDER --plan plan.json`` to solve a folder's winter as
nearly as a plan of the tool was proven; it prints JSON lines. ``sizes.py`` does so for many sizes.
"""

import argparse
import json
import resource
import sys
import time
from collections import defaultdict
from math import isfinite
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
import pulp

from overwinter.model.start import start_of_season
from overwinter.files.season import read_season
from overwinter.program.data import Cuts, ProgramData, program_data
from overwinter.program.objective import LEFT_OUT_EACH, LEFT_OUT_PER_VALUE
from overwinter.shelters.conditions import compute_conditions
from overwinter.solvers.choose import solve
from overwinter.spells import cut_spells
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import Group, group_trees
from overwinter.suitability.options import Option
from overwinter.suitability.table import Suitability

Term = pulp.LpVariable | pulp.LpAffineExpression
Stay = tuple[Option, pulp.LpVariable]
MOST_MEMORY = 0.75
"""Share of the machine's memory that the model may take."""


USUAL_GAP = 0.01


class Textbook:
    """The model of one winter; ``problem`` is ready to be solved."""

    def __init__(self, data: ProgramData) -> None:
        self.data = data
        self.table = data.suitability
        self.site = data.season.site
        self.spells = range(len(data.spells))
        self.trees: dict[str, Group] = {
            tree_id: group for group in data.groups for tree_id in group.tree_ids
        }
        self.problem = pulp.LpProblem("textbook", pulp.LpMinimize)
        self.money: list[Term] = []
        self.binaries = 0
        self._count = 0
        self.on: dict[tuple[str, int, int], pulp.LpVariable] = {}
        """Shelter, setting, spell."""
        self.stays: dict[tuple[str, int], list[Stay]] = {}
        """Tree, spell."""
        self.out: dict[str, pulp.LpVariable] = {}
        self.carried: dict[tuple[str, str, int], pulp.LpVariable] = {}
        """Tree, place, spell."""
        self.carry_day = [self.binary() for _ in self.spells]
        self._settings()
        self._trees()
        self._room()
        self._breakers()
        self._carries()
        self._plants()
        self._quarantine()
        self.problem.setObjective(pulp.lpSum(self.money))

    def binary(self) -> pulp.LpVariable:
        """A new variable that is 0 or 1."""
        self.binaries += 1
        self._count += 1
        return self.problem.add_variable(f"b{self._count}", 0, 1, pulp.LpBinary)

    def amount(self, high: float | None = None) -> pulp.LpVariable:
        """A new variable from 0 up."""
        self._count += 1
        return self.problem.add_variable(f"c{self._count}", 0, high, pulp.LpContinuous)

    def row(self, constraint: pulp.LpConstraint) -> None:
        """One more rule."""
        self.problem.addConstraint(constraint)

    def left_out_price(self, tree_id: str) -> float:
        """What it costs to leave a tree without a place: the tool's own price."""
        return LEFT_OUT_EACH + LEFT_OUT_PER_VALUE * self.trees[tree_id].tree.value

    def _settings(self) -> None:
        """A shelter has one setting in each spell, and its heat is paid."""
        for shelter, allowed in self.data.setting_allowed.items():
            for spell in self.spells:
                found = {int(s): self.binary() for s in np.flatnonzero(allowed[:, spell])}
                self.row(pulp.lpSum(found.values()) == 1)
                for setting, on in found.items():
                    self.on[shelter, setting, spell] = on
                    self.money.append(float(self.data.heat_money[shelter][setting, spell]) * on)

    def _trees(self) -> None:
        """A tree is in one place, and only where the setting that makes it safe is on."""
        for tree_id, group in self.trees.items():
            self.out[tree_id] = self.binary()
            self.money.append(self.left_out_price(tree_id) * self.out[tree_id])
            for spell in map(int, np.flatnonzero(self.table.present[group.index])):
                stays = self._stays(group.index, spell)
                self.stays[tree_id, spell] = stays
                self.row(pulp.lpSum(v for _, v in stays) + self.out[tree_id] == 1)

    def _stays(self, group: int, spell: int) -> list[Stay]:
        stays = []
        losses = self.table.risk_money[group, :, spell] + self.table.rodent_money[group, :, spell]
        for index in map(int, np.flatnonzero(self.table.allowed[group, :, spell])):
            option = self.table.options[index]
            on = self.on.get((option.shelter_id, option.setting, spell))
            if on is None:
                continue
            stay = self.binary()
            self.row(stay <= on)
            self.money.append(float(losses[index]) * stay)
            stays.append((option, stay))
        return stays

    def _room(self) -> None:
        """Footprints and masses on each place; what is beyond the comfortable share is paid."""
        here: dict[tuple[str, int], list[tuple[Group, pulp.LpVariable]]] = defaultdict(list)
        for (tree_id, spell), stays in self.stays.items():
            for option, stay in stays:
                here[option.place_id, spell].append((self.trees[tree_id], stay))
        weights = self.site.weights
        for (place_id, spell), found in here.items():
            place = self.data.season.places[place_id]
            area = pulp.lpSum(group.tree.footprint_m2 * stay for group, stay in found)
            self.row(area <= weights.fullest_share * place.area_m2)
            crowd = self.amount()
            self.row(area - crowd <= weights.comfortable_share * place.area_m2)
            price = weights.crowding_per_m2_day * self.data.spells[spell].days
            self.money.append(price * crowd)
            if isfinite(place.load_limit_kg):
                mass = pulp.lpSum(group.tree.weight_kg * stay for group, stay in found)
                self.row(mass <= place.load_limit_kg)

    def _breakers(self) -> None:
        for breaker, limit_w in self.site.breakers_w.items():
            for spell in self.spells:
                drawn = [
                    self.data.breaker_w[shelter][setting].get(breaker, 0.0) * on
                    for (shelter, setting, k), on in self.on.items()
                    if k == spell
                ]
                self.row(pulp.lpSum(drawn) <= limit_w)

    def _carries(self) -> None:
        """A tree that was not there before has been carried, on a carry day.

        The row for each tree follows from the row for each day; with it the solver is quicker.
        """
        of_day: dict[int, list[pulp.LpVariable]] = defaultdict(list)
        for (tree_id, spell), stays in self.stays.items():
            now = _by_place(stays)
            before = _by_place(self.stays.get((tree_id, spell - 1), []))
            start = self.trees[tree_id].start.place if spell == 0 else None
            moves = []
            for place_id, there in now.items():
                carried = self.amount(1)
                was_there = pulp.lpSum(before.get(place_id, [])) + int(place_id == start)
                self.row(carried >= pulp.lpSum(there) - was_there)
                self.money.append(self._carry_price(tree_id, place_id) * carried)
                moves.append(carried)
            self.row(pulp.lpSum(moves) <= self.carry_day[spell])
            of_day[spell] += moves
        for spell, day in enumerate(self.carry_day):
            self.row(pulp.lpSum(of_day[spell]) <= self.site.carries_per_day * day)
            self.money.append(self.site.weights.carry_day * day)
        self.row(pulp.lpSum(self.carry_day) <= self.data.start.carry_days_left)

    def _carry_price(self, tree_id: str, place_id: str) -> float:
        weights = self.site.weights
        group = self.trees[tree_id]
        heavy = group.tree.weight_kg >= weights.two_person_kg
        known = group.start.known_targets
        new = known is not None and place_id not in known
        price = weights.two_person_carry if heavy else weights.carry
        return price + (weights.extra_carry if new else 0.0)

    def _plants(self) -> None:
        for tree_id, group in self.trees.items():
            self._chilling(tree_id, group)
            for spell in self.spells:
                self._cold_after_warm(tree_id, group.index, spell)
            self._home(tree_id)

    def _chilling(self, tree_id: str, group: Group) -> None:
        owed = group.tree.limits.chill_need - group.start.chill
        if owed <= 0:
            return
        earned = [
            float(self.table.chill[group.index, option.index, spell]) * stay
            for spell in self.spells
            for option, stay in self.stays.get((tree_id, spell), [])
        ]
        self.row(pulp.lpSum(earned) >= owed - owed * self.out[tree_id])

    def _cold_after_warm(self, tree_id: str, group: int, spell: int) -> None:
        """Where a tree needs to be hardened it does not come from where it lost its hardening."""
        before = self.stays.get((tree_id, spell - 1), [])
        for option, stay in self.stays.get((tree_id, spell), []):
            needed = self.table.entry_least[group, option.index, spell]
            soft = [
                other
                for past, other in before
                if self.table.exit_most[group, past.index, spell - 1] < needed
            ]
            if needed > 0 and soft:
                self.row(pulp.lpSum(soft) + stay <= 1)

    def _home(self, tree_id: str) -> None:
        """A tree that is not at the summer place at the end must still be carried there."""
        last = self.spells[-1]
        if (tree_id, last) in self.stays:
            there = _by_place(self.stays[tree_id, last]).get(self.site.summer_place, [])
            self.money.append(self.site.weights.not_home * (1 - pulp.lpSum(there)))

    def _quarantine(self) -> None:
        """Trees in quarantine share no closed shelter, and outdoors no place, with others."""
        kept: dict[tuple[str, int], pulp.LpVariable] = {}
        apart = [key for key in self.stays if self._in_quarantine(*key)]
        others = [key for key in self.stays if not self._in_quarantine(*key)]
        for key in apart:
            for air, there in self._by_air(self.stays[key]).items():
                if (air, key[1]) not in kept:
                    kept[air, key[1]] = self.binary()
                self.row(pulp.lpSum(there) <= kept[air, key[1]])
        for key in others if kept else ():
            for air, there in self._by_air(self.stays[key]).items():
                if (air, key[1]) in kept:
                    self.row(pulp.lpSum(there) <= 1 - kept[air, key[1]])

    def _in_quarantine(self, tree_id: str, spell: int) -> bool:
        until = self.trees[tree_id].tree.quarantine_until
        return until is not None and self.data.spells[spell].start < until

    def _by_air(self, stays: list[Stay]) -> dict[str, list[pulp.LpVariable]]:
        found: dict[str, list[pulp.LpVariable]] = defaultdict(list)
        for option, stay in stays:
            outdoors = self.data.season.shelter_by_id[option.shelter_id].open_air
            found[option.place_id if outdoors else option.shelter_id].append(stay)
        return found


def _by_place(stays: list[Stay]) -> dict[str, list[pulp.LpVariable]]:
    found: dict[str, list[pulp.LpVariable]] = defaultdict(list)
    for option, stay in stays:
        found[option.place_id].append(stay)
    return found


def cells(data: ProgramData) -> int:
    """How many binaries the model would have for whereabouts: known before it is built."""
    counts = np.array([group.count for group in data.groups])
    return int((data.suitability.allowed.sum(axis=(1, 2)) * counts).sum())


def folder_data(folder: Path) -> ProgramData:
    """What the tool's program is made from, for the winter in a folder.

    Trees that have no place at all in some spell are left aside, as the tool does.
    """
    season = read_season(folder)
    conditions = compute_conditions(season)
    start = start_of_season(season)
    workshop = Workshop(season, conditions, cut_spells(season, conditions))
    table = workshop.table(group_trees(season, start))
    hopeless = _hopeless(table)
    if hopeless:
        table = workshop.table(group_trees(season, start, without=hopeless))
    return program_data(season, conditions, start, table, Cuts())


def _hopeless(table: Suitability) -> set[str]:
    placeable = (table.allowed.any(axis=1) | ~table.present).all(axis=1)
    return {
        tree_id
        for group in table.groups
        if not placeable[group.index]
        for tree_id in group.tree_ids
    }


def _gap_for(model: Textbook, plan: Path) -> float:
    """The gap to ask for so that it is as much money as the plan's: the price of trees that were
    left out is in this model's objective, and not in the plan's."""
    found = json.loads(plan.read_text(encoding="utf-8"))["plan"]
    gap, money = found["proof"]["gap"], found["proof"]["objective"]
    if gap is None:
        return USUAL_GAP
    left = [one["tree_id"] for one in found["left_out"] if one["tree_id"] in model.trees]
    price = sum(map(model.left_out_price, left))
    return max(0.0, float(gap) * money / (money + price)) if price else float(gap)


def _answer(model: Textbook, gap: float, time_limit_s: float) -> dict[str, object]:
    report = solve(
        model.problem, solver="highs", gap=min(gap, 0.99), time_limit_s=time_limit_s, threads=2
    )
    left = [tree for tree, out in model.out.items() if (out.varValue or 0.0) > 0.5]
    money = bound = proven = None
    if report.has_solution and report.objective is not None:
        price = sum(map(model.left_out_price, left))
        money = report.objective - price
        if report.bound is not None:
            bound = report.bound - price
            proven = (money - bound) / max(abs(money), 1e-9)
    return {
        "solve_s": report.seconds,
        "termination": str(report.termination),
        "reached": report.proven,
        "objective": money,
        "bound": bound,
        "gap": proven,
        "left_out": len(left) if report.has_solution else None,
    }


def _limit_memory() -> None:
    """A model too large for the machine ends this process, and nothing else."""
    most = int(Path("/proc/meminfo").read_text().split()[1]) * 1024 * MOST_MEMORY
    resource.setrlimit(resource.RLIMIT_AS, (int(most), resource.RLIM_INFINITY))


def main() -> None:
    """Solve one folder; a JSON line as soon as each thing is known."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--plan", type=Path, help="plan.json whose gap is asked for")
    parser.add_argument("--gap", type=float, default=USUAL_GAP, help="gap without --plan")
    parser.add_argument("--time-limit", type=float, default=300.0, metavar="SECONDS")
    parser.add_argument("--most-binaries", type=int, default=3_000_000)
    asked = parser.parse_args()
    if Path("/proc/meminfo").exists():
        _limit_memory()
    data = folder_data(asked.folder)
    groups = len(data.groups)
    _say({"groups": groups, "trees": sum(group.count for group in data.groups)})
    _say({"cells": cells(data), "spells": len(data.spells)})
    if cells(data) > asked.most_binaries:
        _say({"not_tried": True})
        return
    begun = time.perf_counter()
    model = Textbook(data)
    gap = asked.gap if asked.plan is None else _gap_for(model, asked.plan)
    _say({"build_s": time.perf_counter() - begun, "binaries": model.binaries})
    _say({"rows": model.problem.numConstraints(), "asked_gap": gap})
    _say(_answer(model, gap, asked.time_limit))


def _say(values: dict[str, object]) -> None:
    print(json.dumps(values), flush=True)


if __name__ == "__main__":
    main()
