"""Branch and bound on settings and carry days, against HiGHS on the same program."""

from itertools import product

import pulp
import pytest
from tiny import PLANNED, best_by_enumeration, random_data

from overwinter.planning.branching import Branching, Effort
from overwinter.planning.decided import Freedom, restricted
from overwinter.planning.winters import NoPoint, Winters
from overwinter.program.build import build
from overwinter.program.data import ProgramData
from overwinter.program.model import needs_chill_row
from overwinter.solvers.choose import relax, solve

MONEY = 1e-5


def placeable(data: ProgramData) -> bool:
    """Whether every group has some place in every spell."""
    return all(data.suitability.allowed[g.index].any(axis=0).all() for g in data.groups)


def branched(data: ProgramData, gap: float = 0.0) -> Branching:
    """Searched to its end."""
    winters = Winters(build(data, may_leave_out=True))
    branching = Branching(
        winters, gap, lambda _money, _bound: None, lambda: False, Effort(60, rounds_once=False)
    )
    branching.run()
    return branching


def owed_by_group(data: ProgramData) -> list[float]:
    """What a tree of each group owes, 0 where it earns it anyway."""
    return [
        max(group.tree.limits.chill_need - group.start.chill, 0.0)
        if needs_chill_row(data, group.index)
        else 0.0
        for group in data.groups
    ]


def chosen_whole(data: ProgramData) -> float:
    """The reference: HiGHS with whole settings and carry days, and trees in any pieces.

    Pieces of winters that chill: every winter is listed, and stays and carries are made up of those
    that earn what a tree owes.
    """
    model = build(data, may_leave_out=True)
    for g, owes in enumerate(owed_by_group(data)):
        of_group = [stays for (group, _), stays in model.stays.items() if group == g]
        made_of = {id(stay.variable): [stay.variable] for stays in of_group for stay in stays}
        made_of |= {id(v): [v] for (group, _, _), v in model.carried_in.items() if group == g}
        for winter in product(*of_group):
            if sum(stay.chill for stay in winter) >= owes:
                share = model.variable(0, None, integer=False)
                at = data.groups[g].start.place
                for stay in winter:
                    made_of[id(stay.variable)].append(share)
                    if stay.place_id != at:
                        made_of[id(model.carried_in[g, stay.place_id, stay.spell])].append(share)
                    at = stay.place_id
        for variable, *shares in made_of.values() if owes > 0.0 else ():
            model.problem += variable == pulp.lpSum(shares)
    whole = {id(v) for found in model.settings.values() for v in found.values()}
    whole |= {id(v) for v in model.carry_day.values()}
    for variable in model.problem.variables():
        if id(variable) not in whole:
            variable.cat = "Continuous"
    report = solve(model.problem, solver="highs", gap=0.0)
    assert report.objective is not None
    return report.objective


@pytest.mark.parametrize("seed", range(40))
def test_settings_and_days_are_the_best_there_are(seed: int) -> None:
    """To the end, the bound and the best decision meet at what HiGHS finds."""
    data = random_data(seed, trees=5, spell_count=3)
    assert placeable(data)
    reference = chosen_whole(data)
    branching = branched(data)
    assert branching.bound <= reference + MONEY
    # relaxations on the way are solved to within a 2e-4 of themselves
    slack = 1e-3 * abs(reference) + MONEY
    assert branching.bound >= reference - slack
    assert branching.best is not None
    assert abs(branching.best.money - reference) <= slack


@pytest.mark.parametrize("seed", range(20))
def test_what_is_decided_can_be_planned_at_its_price(seed: int) -> None:
    """Settings held, days whole: among the places that come into question it costs no more."""
    data = random_data(seed, trees=5, spell_count=3)
    assert placeable(data)
    best = branched(data).best
    assert best is not None
    free = chosen_whole(restricted(data, best, Freedom.PLACES, frozenset()))
    near = chosen_whole(restricted(data, best, Freedom.NEAR, frozenset()))
    assert free <= near + MONEY
    assert near <= best.money * (1 + 1e-3) + MONEY


@pytest.mark.parametrize("seed", PLANNED[:12])
def test_no_plan_costs_less_than_the_bound(seed: int) -> None:
    """Against enumeration of every plan, searched to the end and stopped early."""
    data = random_data(seed)
    best = best_by_enumeration(data).money
    assert best < float("inf")
    for gap in (0.0, 0.1):
        assert branched(data, gap).bound <= best + MONEY


def test_a_relaxation_stopped_early_is_still_a_bound() -> None:
    """Stopped at any height, then solved to its end: never above its own value, and unharmed."""
    data = random_data(3, trees=5, spell_count=3)
    model = build(data, may_leave_out=True)
    reference = relax(model.problem).objective
    assert reference is not None
    winters = Winters(build(data, may_leave_out=True))
    for share in (0.2, 0.6, 0.9):
        assert winters.relax(0.0, share * reference) <= reference + MONEY
    assert winters.relax(0.0) == pytest.approx(reference, abs=MONEY)


def test_settings_that_all_are_forbidden_leave_no_point() -> None:
    """Every setting of a shelter in a spell held at 0: none is left to be chosen."""
    data = random_data(5, trees=5, spell_count=3)
    model = build(data, may_leave_out=True)
    winters = Winters(model)
    column_of = {id(v): c for c, v in enumerate(winters.arrays.variables)}
    found = next(f for f in model.settings.values() if len(f) > 1)
    winters.fix({column_of[id(v)]: 0.0 for v in found.values()})
    with pytest.raises(NoPoint):
        winters.relax(0.0)
