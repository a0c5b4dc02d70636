"""Winters with the hardening their trees truly have, against a walk through all of them.

The reference keeps every state a tree can come to and follows it day by day with the functions that
judge finished plans (``planning.histories``), which know nothing of levels and steps.
"""

import sys
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from overwinter.model.start import start_of_season
from overwinter.files.season import read_season
from overwinter.planning import histories
from overwinter.planning.branching import Branching, Effort
from overwinter.planning.costs import carries_of, true_costs
from overwinter.planning.histories import short_of_chill, unhardened_histories
from overwinter.planning.whole_winters import read_winters, winter_choice
from overwinter.planning.winters import Winters, winters_of
from overwinter.program.data import Cuts, program_data
from overwinter.program.model import Stay
from overwinter.program.sweep import Prices, Sweep
from overwinter.program.winter_choice import winter_program
from overwinter.shelters.conditions import compute_conditions
from overwinter.solvers.choose import solve
from overwinter.spells import cut_spells
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import group_trees

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from winters import write_winter

GROUPS = (0, 3, 6, 9, 12, 15)
"""Groups that are walked through."""
MONEY = 1e-6


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Winters, Workshop]:
    folder = tmp_path_factory.mktemp("true") / "w"
    write_winter(folder, trees=30, places=8, seed=3)
    season = read_season(folder)
    conditions = compute_conditions(season)
    spells = cut_spells(season, conditions)
    start = start_of_season(season)
    workshop = Workshop(season, conditions, spells)
    table = workshop.table(group_trees(season, start))
    return winters_of(program_data(season, conditions, start, table, Cuts())), workshop


def paths_of(winters: Winters, levels: int, softest: bool) -> tuple[np.ndarray, np.ndarray]:
    """Cost of each group's cheapest winter at the program's own prices, and its stays."""
    flow = winters.flow
    shape = (len(winters.model.data.suitability.options), flow.spells)
    prices = Prices(winters.arrays.costs, np.ones(shape, dtype=np.bool_))
    steps = flow.steps(np.full(flow.groups, levels), softest=softest)
    found = Sweep(flow, steps, prices).cheapest()
    return found.cost, found.stay


class Walk:
    """Every winter of one group, day by day; states that another one beats are dropped."""

    def __init__(self, winters: Winters, workshop: Workshop, g: int) -> None:
        self.model, self.workshop, self.g = winters.model, workshop, g
        self.data = winters.model.data
        self.group = self.data.groups[g]
        variables = zip(winters.arrays.variables, winters.arrays.costs.tolist(), strict=True)
        self.cost = {id(variable): cost for variable, cost in variables}

    def least(self) -> float:
        """Cost of the cheapest winter."""
        ways = {self.group.start.place: [(0.0, self.group.start.hardening)]}
        for spell in range(len(self.data.spells)):
            after: dict[str | None, list[tuple[float, float]]] = {}
            for stay in self.model.stays[self.g, spell]:
                carry = self.cost[id(self.model.carried_in[self.g, stay.place_id, spell])]
                entries = unbeaten(
                    (money + (0.0 if place == stay.place_id else carry), state)
                    for place, found in ways.items()
                    for money, state in found
                )
                after.setdefault(stay.place_id, []).extend(self.through(stay, entries))
            ways = {place: unbeaten(found) for place, found in after.items()}
        return min(money for found in ways.values() for money, _ in found)

    def through(
        self, stay: Stay, entries: list[tuple[float, float]]
    ) -> Iterator[tuple[float, float]]:
        """Cost and hardening after a stay."""
        spell, money = stay.spell, self.cost[id(stay.variable)] - stay.money
        for option in self.data.options_of_place[stay.place_id]:
            if option.setting not in stay.settings:
                continue
            rodents = float(self.data.suitability.rodent_money[self.g, option.index, spell])
            for paid, state in entries:
                given = (self.data.season, self.workshop, self.group, option.index, spell, state)
                least, left = histories._through(*given)
                if least < -histories.TOLERANCE_K:
                    continue
                came = replace(self.group, start=replace(self.group.start, hardening=state))
                path = [option.index if k == spell else None for k in range(len(self.data.spells))]
                risk = histories._chance_of_loss(self.data.season, self.workshop, came, path)
                yield paid + money + rodents + self.group.tree.value * risk, left


def unbeaten(states: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """States that no cheaper one is at least as hardened as."""
    kept: list[tuple[float, float]] = []
    for money, hardening in sorted(states, key=lambda one: (one[0], -one[1])):
        if not kept or hardening > kept[-1][1]:
            kept.append((money, hardening))
    return kept


def test_the_cheapest_winter_is_never_dearer_than_truly_and_hardly_cheaper(
    made: tuple[Winters, Workshop],
) -> None:
    """With few levels a bound, with many the walk's own cost within a thousandth."""
    winters, workshop = made
    few, many = (paths_of(winters, levels, softest=False)[0] for levels in (5, 640))
    sure = paths_of(winters, 640, softest=True)[0]
    told_apart = 0
    for g in GROUPS:
        truly = Walk(winters, workshop, g).least()
        told_apart += few[g] < many[g] - 1e-3
        assert few[g] <= truly + MONEY
        assert many[g] <= truly + MONEY
        assert many[g] == pytest.approx(truly, rel=1e-3, abs=1e-3)
        assert sure[g] == pytest.approx(truly, rel=1e-2, abs=1e-2)
    assert told_apart, "hardening made no difference to any of these groups"


def test_a_plan_costs_what_its_winters_say(made: tuple[Winters, Workshop]) -> None:
    """Whole trees on winters: the program's money against the finished plan's, tree by tree."""
    winters, workshop = made
    branching = Branching(
        winters, 0.01, lambda _money, _bound: None, lambda: False, Effort(3, rounds_once=False)
    )
    decided = branching.run()
    assert decided is not None
    branching.hold_best()
    winters.look_near(1.0)
    choice = winter_choice(winters, winters.near_winters(1.0))
    program = winter_program(choice, (), {})
    report = solve(program.problem, gap=1e-3)
    placement = read_winters(choice, program, decided)
    data = winters.model.data
    assert placement.stays.keys() == {tree.id for tree in data.season.trees}
    assert not unhardened_histories(data, workshop, placement)
    assert not short_of_chill(data, placement)
    carries = carries_of(data.season, data, placement)
    truly = true_costs(data, workshop, placement, carries).total
    assert report.objective is not None
    assert report.objective <= truly + MONEY
    assert report.objective == pytest.approx(truly, rel=2e-3)
