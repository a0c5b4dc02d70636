"""The order in which trees, places and shelters are written, and their names, decide nothing."""

from dataclasses import replace

import numpy as np
import pytest
from tiny_winters import Tiny, draw

from overwinter.files.plan_file import plan_text
from overwinter.model.changes import start_of_season
from overwinter.model.shelter import Conditions


def shuffled(tiny: Tiny, seed: int) -> Tiny:
    """The same winter with its trees, shelters and places in another order, trees renamed."""
    rng = np.random.default_rng(seed)
    season = tiny.season
    shelters = [
        replace(shelter, places=tuple(rng.permutation(np.array(shelter.places, dtype=object))))
        for shelter in rng.permutation(np.array(season.shelters, dtype=object))
    ]
    trees = [
        replace(tree, id=f"other {i}", name=f"other {i}")
        for i, tree in enumerate(rng.permutation(np.array(season.trees, dtype=object)))
    ]
    other = replace(season, trees=tuple(trees), shelters=tuple(shelters))
    old = tiny.conditions
    conditions = Conditions(
        old.outdoor_min_c,
        old.day_length_h,
        {s.id: old.shelters[s.id] for s in shelters},
        {p.id: old.places[p.id] for s in shelters for p in s.places},
    )
    return Tiny(other, conditions, tiny.stage_days, start_of_season(other))


@pytest.mark.parametrize("seed", range(40))
def test_the_order_of_the_files_changes_no_cost(seed: int) -> None:
    tiny = draw(seed, most_chance=1.0)
    tiny = replace(tiny, start=start_of_season(tiny.season))
    costs = [t.plan(layouts=False).plan.proof for t in (tiny, shuffled(tiny, seed))]
    assert costs[0].bound == pytest.approx(costs[1].bound, rel=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_the_same_input_is_the_same_plan(seed: int) -> None:
    """To the byte, but for the seconds that the search took."""
    texts = []
    for _ in range(2):
        tiny = draw(seed)
        plan = tiny.plan(layouts=True).plan
        texts.append(plan_text(tiny.season, replace(plan, proof=replace(plan.proof, seconds=0.0))))
    assert texts[0] == texts[1]
