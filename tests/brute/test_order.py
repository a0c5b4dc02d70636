"""The order in which trees, places and shelters are written, and their names, decide nothing."""

import os
from collections.abc import Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np
import pytest
from tiny_winters import Tiny, draw

from overwinter.files.plan_file import plan_text
from overwinter.model.changes import start_of_season
from overwinter.model.shelter import Conditions

SHUFFLED = 300 if "OVERWINTER_TINY_WINTERS" in os.environ else 40


def shuffled(tiny: Tiny, seed: int) -> Tiny:
    """The same winter with its trees, shelters and places in another order under other names."""
    rng = np.random.default_rng(seed)
    season, old = tiny.season, tiny.conditions
    new: dict[str, str] = {}
    shelters = []
    for i, shelter in enumerate(_mixed(rng, season.shelters)):
        new[shelter.id] = f"shelter {9 - i}"
        for k, place in enumerate(_mixed(rng, shelter.places)):
            new[place.id] = f"{new[shelter.id]}/{9 - k}"
        places = tuple(
            replace(place, id=new[place.id], shelter_id=new[shelter.id], name=f"any {place.id}")
            for place in sorted(shelter.places, key=lambda place: new[place.id])
        )
        shelters.append(replace(shelter, id=new[shelter.id], name="any", places=places))
    mixed = _mixed(rng, season.trees)
    new |= {tree.id: f"other {i}" for i, tree in enumerate(mixed)}
    trees = [
        replace(
            tree,
            id=new[tree.id],
            name=new[tree.id],
            stands_at=None if tree.stands_at is None else new[tree.stands_at],
            pinned=frozenset(new[name] for name in tree.pinned),
            forbidden=frozenset(new[name] for name in tree.forbidden),
        )
        for tree in mixed
    ]
    stages = (
        replace(s, happenings=tuple(replace(h, subject=new[h.subject]) for h in s.happenings))
        for s in tiny.stage_days.stages
    )
    site = replace(season.site, summer_place=new[season.site.summer_place])
    other = replace(season, site=site, trees=tuple(trees), shelters=tuple(shelters))
    conditions = Conditions(
        old.outdoor_min_c,
        old.day_length_h,
        {new[h]: one for h, one in old.shelters.items()},
        {new[p]: one for p, one in old.places.items()},
    )
    days = replace(tiny.stage_days, stages=tuple(stages))
    return Tiny(other, conditions, days, start_of_season(other))


T = TypeVar("T")


def _mixed(rng: np.random.Generator, things: Sequence[T]) -> list[T]:
    return [things[i] for i in rng.permutation(len(things))]


@pytest.mark.parametrize("seed", range(SHUFFLED))
def test_the_order_of_the_files_changes_no_cost(seed: int) -> None:
    tiny = draw(seed, most_chance=1.0)
    tiny = replace(tiny, start=start_of_season(tiny.season))
    one, other = (t.plan(layouts=True).plan.proof for t in (tiny, shuffled(tiny, seed)))
    assert other.bound == pytest.approx(one.bound, rel=1e-6)
    assert other.objective == pytest.approx(one.objective, rel=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_the_same_input_is_the_same_plan(seed: int) -> None:
    """To the byte, but for the seconds that the search took."""
    texts = []
    for _ in range(2):
        tiny = draw(seed)
        plan = tiny.plan(layouts=True).plan
        texts.append(plan_text(tiny.season, replace(plan, proof=replace(plan.proof, seconds=0.0))))
    assert texts[0] == texts[1]
