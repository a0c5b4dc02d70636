"""Heavy trees stand lower where that costs nothing."""

from dataclasses import replace
from pathlib import Path

import pytest

from overwinter.audit.audit import audit
from overwinter.model.season import Season
from overwinter.model.shelter import PlaceKind
from overwinter.files.season import read_season
from overwinter.planning.options import PlanOptions
from overwinter.planning.plan_winter import plan_winter

BALCONY = Path(__file__).parents[2] / "scenarios" / "balcony-and-cellar"


@pytest.fixture(scope="module")
def season() -> Season:
    """The balcony with two trees alike but for their weight (our own scenario, invented)."""
    return read_season(BALCONY)


def test_exchanging_never_costs_nor_fails_the_audit(season: Season) -> None:
    """With a heavy twin of every third tree the plan still passes; whether one was exchanged or
    not, no heavier tree stands on a shelf while its twin of equal footprint has the floor of the
    same shelter all winter (our own rule: common practice, no source)."""
    trees = tuple(
        replace(tree, weight_kg=tree.weight_kg + 0.5) if number % 3 == 0 else tree
        for number, tree in enumerate(season.trees)
    )
    heavier = replace(season, trees=trees)
    outcome = plan_winter(heavier, PlanOptions(gap=0.0))
    assert outcome.report.passed
    again = audit(heavier, outcome.conditions, outcome.plan)
    assert again.costs.total == pytest.approx(outcome.plan.costs.total, rel=0.05)
    kind = {place.id: place.kind for place in heavier.places.values()}
    shelter = {place.id: place.shelter_id for place in heavier.places.values()}
    stays = outcome.plan.stays
    for one in trees:
        for other in trees:
            same = {one.width_m, one.depth_m} == {other.width_m, other.depth_m}
            if not same or one.weight_kg <= other.weight_kg or one.limits != other.limits:
                continue
            pairs = list(zip(stays[one.id], stays[other.id], strict=True))
            together = all(p and q and shelter[p] == shelter[q] for p, q in pairs)
            assert not (
                together
                and all(
                    kind[p or ""] is PlaceKind.SHELF and kind[q or ""] is PlaceKind.FLOOR
                    for p, q in pairs
                )
            )
