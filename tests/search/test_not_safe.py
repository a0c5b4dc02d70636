"""Trees for which no place is safe: they stand where they are kept more likely than lost.

The rule is common practice, no source. What a place does to them the audit reckons for itself.
"""

from dataclasses import replace

import pytest
from random_winters import random_problem, random_season

from overwinter.model.season import Season
from overwinter.model.site import EVEN_CHANCE
from overwinter.search import plan_winter as search
from overwinter.search import problem
from overwinter.search.explain import cures
from overwinter.search.plan_winter import plan_winter

MOST_CHANCE = 1e-4


def strict(seed: int) -> Season:
    """A tiny winter whose grower wants hardly any risk."""
    season = random_season(seed)
    weights = replace(season.site.weights, most_chance=MOST_CHANCE)
    return replace(season, site=replace(season.site, weights=weights))


@pytest.mark.parametrize("seed", range(4))
def test_they_get_what_room_the_others_leave(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    found = plan_winter(strict(seed))
    monkeypatch.setattr(problem, "EVEN_CHANCE", 0.0)
    before = plan_winter(strict(seed)).plan
    plan, risks = found.plan, found.report.risks
    out = {left.tree_id for left in before.left_out}
    assert found.report.passed
    assert before.unsafe == ()
    assert plan.unsafe
    assert set(plan.unsafe) <= out
    assert out - set(plan.stays) <= {left.tree_id for left in plan.left_out}
    assert set(before.stays) <= set(plan.stays) - set(plan.unsafe)
    for tree in plan.unsafe:
        assert MOST_CHANCE < max(risks[tree].by_stage) <= EVEN_CHANCE + 0.005
    helps = {left.tree_id: (left.cure, left.cure_place) for left in before.left_out}
    monkeypatch.undo()
    for one in cures(found):  # as if it were left out
        assert (one.cure, one.cure_place) == helps[one.tree_id]


@pytest.mark.parametrize("seed", range(4))
def test_heaters_are_set_for_them_too(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Cheaper than in the room and under the programmes that were left by the safe trees."""
    cost = plan_winter(strict(seed)).plan.costs.total
    seek = search._Search.seek
    monkeypatch.setattr(problem.Problem, "hoping", lambda self: self)
    monkeypatch.setattr(
        search._Search,
        "seek",
        lambda self: None if self.problem.most_chance.max() > 0.3 else seek(self),
    )
    assert cost < plan_winter(strict(seed)).plan.costs.total


@pytest.mark.parametrize("seed", range(4))
def test_who_is_safe_nowhere_is_placed_with_all_others(seed: int) -> None:
    """By each group's options, one by one; and none that can be safe is left out for one of them,
    as that costs more."""
    plain = random_problem(seed, weights=strict(seed).site.weights)
    hoping = plain.hoping()
    free = range(plain.first, plain.stages)
    nowhere = [
        any(not (plain.suits[g, :, k] & (plain.lost[g, :, k] <= MOST_CHANCE)).any() for k in free)
        for g in range(len(plain.groups))
    ]
    assert sum(nowhere) > 0
    assert hoping.most_chance.tolist() == [EVEN_CHANCE if one else MOST_CHANCE for one in nowhere]
    dearest = max(plain.left_out[g] for g, one in enumerate(nowhere) if one)
    for g, one in enumerate(nowhere):
        assert hoping.left_out[g] == pytest.approx(plain.left_out[g] + (0.0 if one else dearest))
