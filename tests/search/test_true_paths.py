"""Trees on other ways by their true paths: the audit, which shares no code, finds the gain."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from random_winters import random_problem

from overwinter.files.season import read_season
from overwinter.search import fitting
from overwinter.search import plan_winter as search
from overwinter.search.fitting import Fitting
from overwinter.search.heating import warmest
from overwinter.search.mending import mend
from overwinter.search.placement import Placement
from overwinter.search.plan_winter import Outcome, plan_winter
from overwinter.search.true_paths import _take
from overwinter.search.whole_trees import under

BALCONY = Path(__file__).parents[2] / "scenarios" / "balcony-and-cellar"


def carries(outcome: Outcome) -> int:
    return sum(carry.source is not None for carry in outcome.plan.carries)


@pytest.mark.parametrize("most_chance", [0.01, 0.02])
def test_trees_that_no_place_keeps_safe(
    most_chance: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of them the table knows least."""
    season = read_season(BALCONY)
    weights = replace(season.site.weights, most_chance=most_chance)
    season = replace(season, site=replace(season.site, weights=weights))
    after = plan_winter(season)
    monkeypatch.setattr(search, "improve", lambda *_: False)
    before = plan_winter(season)
    assert after.report.passed
    cheaper = after.report.costs.total < before.report.costs.total - 1.0
    assert cheaper or len(after.plan.unsafe) < len(before.plan.unsafe)
    assert carries(after) <= carries(before)
    assert set(after.plan.stays) == set(before.plan.stays)
    assert set(after.plan.unsafe) <= set(before.plan.unsafe)


def test_a_tree_stays_where_the_others_would_no_longer_fit(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """An arrangement is found for all trees of a bench, and none for these without the first: 183
    random trees once ended so. Nor may one join where no arrangement is found."""
    problem = random_problem(1)
    placement = Placement(problem, warmest(problem))
    assert under(placement, range(len(problem.groups))).round(placement, lambda: 20.0)
    under_roof = [p for p in placement.places if not problem.season.shelter_of(p).open_air]
    tree, path = next(
        (tree, path)
        for tree, path in enumerate(placement.paths)
        if path is not None and {placement.places[p] for p in path} & set(under_roof)
    )
    home = np.full_like(path, placement.home[placement.trees[tree][0]])
    name = placement.problem.groups[placement.trees[tree][0]].tree_ids[placement.trees[tree][1]]
    for found_with, taken in ((True, False), (False, True)):
        monkeypatch.setattr(
            fitting, "fits", lambda _, here, w=found_with: (name in {t.id for t in here}) is w
        )
        assert _take(placement, tree, home, Fitting(problem)) is taken
        assert (placement.paths[tree] is path) is not taken


def test_who_must_stay_also_leaves_a_bench_that_is_not_drawn(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Trees alike to one that may move had changed places with it, and their bench was drawn no
    more: a search of 45 trees never ended."""
    problem = random_problem(1)
    placement = Placement(problem, warmest(problem))
    assert under(placement, range(len(problem.groups))).round(placement, lambda: 20.0)
    open_air = {p for p in placement.places if problem.season.shelter_of(p).open_air}
    tree = next(
        tree
        for tree, path in enumerate(placement.paths)
        if path is not None and {placement.places[p] for p in path} - open_air
    )
    g, i = placement.trees[tree]
    name = problem.groups[g].tree_ids[i]
    monkeypatch.setattr(fitting, "fits", lambda _, here: name not in {t.id for t in here})
    drawn = iter([[]] * 1_000)  # that it does not end is an error, not a test that hangs
    monkeypatch.setattr(fitting, "left_over", lambda *_: next(drawn))
    mended = mend(placement, Fitting(problem), lambda: 0.0, only=[]).placement
    path = mended.paths[tree]
    assert path is None or {placement.places[p] for p in path} <= open_air
