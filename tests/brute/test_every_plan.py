"""The search beside every plan there is, on tiny winters drawn at random.

``OVERWINTER_TINY_WINTERS=2000 pytest tests/brute`` looks at that many, 511 of them re-plans, up to
200,000 plans each, and asks CBC about each; at 300 and 30,000 plans without it.
"""

import os
from itertools import product

import enumeration
import pulp
import pytest
from enumeration import Enumeration, TooMany
from tiny_winters import Tiny, draw

from overwinter.search.program import build
from overwinter.search.whole_trees import Whole

WINTERS = int(os.environ.get("OVERWINTER_TINY_WINTERS", "300"))
CHUNK = 50
CHUNKS = [range(first, min(first + CHUNK, WINTERS)) for first in range(0, WINTERS, CHUNK)]
ALL = WINTERS > 300
if ALL:
    enumeration.MOST_LOOKED_AT = 200_000
BY_CBC = WINTERS if ALL else 12
"""CBC is asked through files, which takes longer."""
SAME = 1e-6


def asked(tiny: Tiny) -> tuple[float, float]:
    """Money of the plan that the integer program finds when it is asked to the end, and bound."""
    placement, bound = Whole(build(tiny.problem)).solve(0.0, 30.0)
    assert placement is not None
    assert bound is not None
    return placement.money(), bound


@pytest.mark.parametrize("seeds", CHUNKS, ids=str)
def test_no_plan_is_cheaper_and_the_bound_is_its_cost(seeds: range) -> None:
    wrong, skipped = {}, 0
    for seed in seeds:
        tiny = draw(seed)
        try:
            best = Enumeration(tiny).best().money
        except TooMany:
            skipped += 1
            continue
        money, bound = asked(tiny)
        if (money, bound) != (pytest.approx(best, rel=SAME), pytest.approx(best, rel=2 * SAME)):
            wrong[seed] = best, money, bound
    assert wrong == {}
    assert skipped <= (3 if ALL else 1)


def test_cbc_finds_the_same() -> None:
    for seed in range(BY_CBC):
        tiny = draw(seed)
        lp = build(tiny.problem).lp
        lp.solve(pulp.PULP_CBC_CMD(msg=False, gapRel=0.0, _skip_v4_deprecation=True))
        assert asked(tiny)[0] == pytest.approx(pulp.value(lp.objective), rel=SAME)


@pytest.mark.parametrize(
    ("seeds", "layouts"),
    list(product(CHUNKS, [False, True]) if ALL else zip(CHUNKS, [True, False, True], strict=False)),
    ids=str,
)
def test_the_whole_search_ends_at_the_cheapest(seeds: range, layouts: bool) -> None:
    """Where no true path is refused, the plan is the cheapest by the table of stages, or else it is
    cheaper than that one on the trees' true paths, on which the search looks a second time."""
    wrong, skipped = {}, 0
    for seed in seeds:
        tiny = draw(seed, most_chance=1.0)
        every = Enumeration(tiny, layouts=layouts)
        try:
            best = every.best()
        except TooMany:
            skipped += 1
            continue
        outcome = tiny.plan(layouts)
        assert outcome.report.passed, seed
        if every.money_of(outcome.plan) != pytest.approx(best.money, rel=SAME):
            true = Enumeration(tiny, true_paths=True, layouts=layouts)
            found, by_table = true.money_of(outcome.plan), true.money_under(best.ways, best.paths)
            if found > by_table * (1 + SAME):
                wrong[seed] = found, by_table
    assert wrong == {}
    assert skipped <= (3 if ALL else 2)


@pytest.mark.parametrize("seed", [23, 46])
def test_the_bound_allows_for_true_paths(seed: int) -> None:
    """Where they make the plan cheaper than the table says, they may do so for others: in these
    winters the bound by the table lies above the cheapest plan on true paths."""
    tiny = draw(seed, most_chance=1.0)
    proof = tiny.plan(layouts=False, gap=0.02).plan.proof
    assert proof.bound is not None
    assert Enumeration(tiny).best().money > proof.objective
    assert proof.bound <= Enumeration(tiny, true_paths=True).best().money


def test_a_winter_that_costs_next_to_nothing_passes_its_audit() -> None:
    """A ten millionth of a loss: shares of it say nothing."""
    outcome = draw(772, most_chance=1.0).plan(layouts=False)
    assert 0.0 < outcome.plan.proof.objective < 1e-6
    assert outcome.report.passed
