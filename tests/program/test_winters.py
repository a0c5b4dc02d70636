"""Whole winters as columns against the program they stand for."""

from dataclasses import replace

import numpy as np
import pytest
from tiny import PLANNED, best_by_enumeration, random_data

from overwinter.planning.rows_in_force import ComingRows, RowsInForce
from overwinter.planning.winters import Winters, winters_of
from overwinter.program.build import build
from overwinter.program.data import ProgramData
from overwinter.program.flow import flow_of
from overwinter.program.read_back import whole
from overwinter.program.sweep import Prices, Sweep
from overwinter.solvers.arrays import Rows
from overwinter.solvers.choose import relax, solve
from overwinter.suitability.groups import taken_apart


def placeable(data: ProgramData) -> bool:
    """Whether every group has some place in every spell."""
    return all(data.suitability.allowed[g.index].any(axis=0).all() for g in data.groups)


@pytest.mark.parametrize("seed", range(40))
def test_the_relaxation_by_winters_is_that_of_the_program(seed: int) -> None:
    """Dantzig and Wolfe's theorem; the reference is HiGHS's simplex method on the program itself.

    Paths through places are integral, so pricing by them loses and gains nothing.
    """
    data = random_data(seed, trees=5, spell_count=3)
    assert placeable(data)
    reference = relax(build(data, may_leave_out=True).problem).objective
    assert reference is not None
    found = Winters(build(data, may_leave_out=True)).relax(0.0)
    assert found == pytest.approx(reference, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("seed", PLANNED[:12])
def test_the_bound_lies_below_the_best_plan(seed: int) -> None:
    """Against enumeration of every plan; and nearly so where it stops early."""
    data = random_data(seed)
    best = best_by_enumeration(data).money
    assert best < float("inf")
    assert winters_of(data).relax(2e-4) <= best + 1e-6
    assert Winters(build(data, may_leave_out=True)).relax(0.05) <= best + 1e-6


def test_the_point_handed_back_has_the_bound_for_its_money() -> None:
    """The values written into the program's variables, priced by the program's own objective."""
    data = random_data(3, trees=5, spell_count=3)
    model = build(data, may_leave_out=True)
    bound = Winters(model).relax(0.0)
    assert model.problem.objective.value() == pytest.approx(bound, abs=1e-6)


def test_fixed_settings_cost_no_less() -> None:
    """A column held at a value: the relaxation rises to that of the program with the same fixed."""
    data = random_data(5, trees=5, spell_count=3)
    model = build(data, may_leave_out=True)
    winters = Winters(model)
    free = winters.relax(0.0)
    found = next(f for f in model.settings.values() if len(f) > 1)
    dearest = list(found.values())[-1]
    column = next(i for i, v in enumerate(winters.arrays.variables) if v is dearest)
    winters.fix({column: 1.0})
    assert dearest is not None
    dearest.lowBound = 1.0
    reference = relax(model.problem).objective
    assert winters.relax(0.0) == pytest.approx(reference, abs=1e-6)
    assert reference is not None
    assert reference >= free - 1e-9


@pytest.mark.parametrize("seed", range(12))
def test_parts_begun_where_the_whole_ended_cost_what_they_cost_alone(seed: int) -> None:
    """Each column of a choice at 0, then at 1, and back; references as for the whole relaxation."""
    data = random_data(seed, trees=5, spell_count=3)
    model = build(data, may_leave_out=True)
    winters = Winters(model)
    whole = winters.relax(0.0)
    stand = winters.stand()
    variables = [v for found in model.settings.values() for v in found.values() if v is not None]
    column_of = {id(v): c for c, v in enumerate(winters.arrays.variables)}
    for variable in [*variables[:4], *model.carry_day.values()]:
        column = np.array([column_of[id(variable)]])
        for on in (0.0, 1.0):
            winters.hold(column, np.array([on]), np.array([on]))
            winters.begin_at(stand)
            variable.bounds(on, on)
            reference = relax(model.problem).objective
            assert winters.relax(0.0) == pytest.approx(reference, rel=1e-6, abs=1e-6)
        winters.hold(column, np.zeros(1), np.ones(1))
        variable.bounds(0.0, 1.0)
    winters.begin_at(stand)
    assert winters.relax(0.0) == pytest.approx(whole, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("seed", range(12))
def test_more_than_enough_still_is_a_bound(seed: int) -> None:
    """Whatever is asked: above it and no more than the program's own relaxation, which is HiGHS's.

    Settings shut out one after the other, begun with the prices of the whole.
    """
    data = random_data(seed, trees=5, spell_count=3)
    model = build(data, may_leave_out=True)
    winters = Winters(model)
    winters.relax(0.0)
    stand = winters.stand()
    variables = [v for found in model.settings.values() for v in found.values() if v is not None]
    for variable in variables[:6]:
        column = np.array([winters.column_of[id(variable)]])
        variable.bounds(0.0, 0.0)
        reference = relax(model.problem).objective
        assert reference is not None
        for share in (0.5, 0.9, 0.999):
            winters.hold(column, np.zeros(1), np.zeros(1))
            winters.begin_at(stand)
            found = winters.relax(0.0, share * reference)
            assert share * reference < found <= reference + 1e-6
            winters.hold(column, np.zeros(1), np.ones(1))
        variable.bounds(0.0, 1.0)


def test_rows_broken_by_much_come_first() -> None:
    """Three rows ``x[i] <= 10 y``, broken by 5, 1 and nothing; by little is 4 % of the 10."""
    starts, columns = np.array([0, 2, 4, 6]), np.array([0, 3, 1, 3, 2, 3])
    values = np.array([1.0, -10.0, 1.0, -10.0, 1.0, -10.0])
    least, most = np.full(3, -np.inf), np.zeros(3)
    every = np.ones(3, dtype=np.bool_)

    def rows() -> RowsInForce:
        return RowsInForce(Rows(starts, columns, values, least, most), 4, every, every, 0)

    point = np.array([8.0, 4.0, 2.0, 0.3])
    coming = ComingRows(rows(), 4e-5)
    assert coming.next(point, 1.0, 0.1).tolist() == [0]
    assert coming.next(point, 2.0, 0.1).tolist() == [0]
    # once that raises nothing any more, those that count at all
    assert coming.next(point, 2.05, 0.1).tolist() == [0, 1]
    assert coming.next(point, 2.05, 0.1).tolist() == []
    slight = np.array([3.3, 3.2, 2.0, 0.3])
    assert ComingRows(rows(), 4e-5).next(slight, 1.0, 0.1).tolist() == []
    # unless every row is asked for, as long as there are any
    whole = ComingRows(rows(), 0.0)
    for _ in range(3):
        assert whole.next(slight, 1.0, 0.1).tolist() == [0, 1]
    assert rows().used_by(np.array([1]), np.ones(4, dtype=np.bool_)).tolist() == [1]


def test_the_cheapest_path_is_the_cheapest_of_all() -> None:
    """Random prices; the reference walks every path of two spells by hand."""
    data = random_data(8, trees=3, spell_count=2)
    model = build(data, may_leave_out=True)
    variables = model.problem.variables()
    column_of = {id(v): i for i, v in enumerate(variables)}
    flow = flow_of(model, column_of)
    prices = np.random.default_rng(1).uniform(0.0, 5.0, len(variables))
    spells = len(data.spells)
    possible = np.ones((len(data.suitability.options), spells), dtype=np.bool_)
    paths = Sweep(
        flow, flow.steps(np.ones(flow.groups, dtype=np.int64)), Prices(prices, possible)
    ).cheapest()
    for group in data.groups:
        best = np.inf
        for first in model.stays[group.index, 0]:
            for second in model.stays[group.index, 1]:
                money = (
                    prices[column_of[id(first.variable)]] + prices[column_of[id(second.variable)]]
                )
                before = group.start.place
                for stay in (first, second):
                    if stay.place_id != before:
                        carried = model.carried_in[group.index, stay.place_id, stay.spell]
                        money += prices[column_of[id(carried)]]
                    before = stay.place_id
                best = min(best, money)
        assert paths.cost[group.index] == pytest.approx(best)


@pytest.mark.parametrize("seed", range(30))
def test_winters_looked_for_near_the_best_earn_what_is_owed(seed: int) -> None:
    """Random winters of groups that owe chilling as a mean: whole trees each get their own."""
    data = random_data(seed, trees=6, spell_count=3)
    assert placeable(data)
    model = build(data, may_leave_out=True)
    winters = Winters(model)
    winters.relax(0.0)
    winters.look_near(1.0)
    table = data.suitability
    several = 0
    for number in winters.near_winters(1.0).tolist():
        group = data.groups[winters.owner[number]]
        owed = group.tree.limits.chill_need - group.start.chill
        if group.count == 1 or owed <= 0:
            continue
        several += 1
        chosen = set(winters.courses[number].columns.tolist())
        earned = sum(
            max(
                table.chill[group.index, option.index, stay.spell]
                for option in data.options_of_place[stay.place_id]
                if option.setting in stay.settings
            )
            for stays in (model.stays[group.index, k] for k in range(len(data.spells)))
            for stay in stays
            if next(c for c, v in enumerate(winters.arrays.variables) if v is stay.variable)
            in chosen
        )
        assert earned >= owed - 1e-6
    assert several or all(
        g.count == 1 or g.tree.limits.chill_need <= g.start.chill for g in data.groups
    )


def test_a_lot_taken_apart_stays_together() -> None:
    """A group that must stay together is at one place in every spell; it costs no less."""
    for seed in range(200):
        data = random_data(seed, trees=5, spell_count=3)
        group = max(data.groups, key=lambda g: g.count)
        if group.count < 2 or not placeable(data):
            continue
        free = build(data, may_leave_out=True)
        money = solve(free.problem, gap=0.0).objective
        groups = tuple(replace(g, together=g is group) for g in data.groups)
        table = replace(data.suitability, groups=groups)
        model = build(replace(data, suitability=table), may_leave_out=True)
        held = solve(model.problem, gap=0.0).objective
        assert money is not None
        assert held is not None
        assert held >= money - 1e-6
        counts = {whole(s.variable.varValue) for k in range(3) for s in model.stays[group.index, k]}
        assert counts <= {0, group.count}
        if held > money + 1e-6:
            return
    pytest.fail("no winter in which staying together matters")


def test_parts_are_disjoint() -> None:
    """A tree named again leaves its former part."""
    first = taken_apart((), [frozenset("abc"), frozenset("d")])
    assert taken_apart(first, [frozenset("b")]) == (frozenset("ac"), frozenset("d"), frozenset("b"))


@pytest.mark.parametrize("seed", range(8))
def test_winters_reckoned_again_cost_what_all_of_them_reckoned_anew_do(seed: int) -> None:
    """After bounds drawn at random; reckoned again are only those that pass a changed choice."""
    data = random_data(seed, trees=5, spell_count=3)
    model = build(data, may_leave_out=True)
    winters = Winters(model)
    winters.relax(1e-4)
    column = {id(v): c for c, v in enumerate(winters.arrays.variables)}
    settings = [v for found in model.settings.values() for v in found.values() if v is not None]
    choices = np.array([column[id(v)] for v in [*settings, *model.carry_day.values()]])
    draw = np.random.default_rng(seed)
    closed = 0
    for _ in range(6):
        winters.hold(choices, np.zeros(choices.size), (draw.random(choices.size) < 0.7) * 1.0)
        extra = winters._courses.extra(winters._courses.table(winters.courses))
        columns = [course.columns for course in winters.courses]
        own = np.array([winters.arrays.costs[some].sum() for some in columns])
        np.testing.assert_allclose(winters.costs, own + extra)
        prices = draw.random(winters.arrays.costs.size)
        at_prices = np.array([prices[some].sum() for some in columns]) + extra
        np.testing.assert_allclose(winters._found.costs_at(prices), at_prices)
        closed += int(np.isinf(extra).sum())
    assert closed
