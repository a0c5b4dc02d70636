"""What keeps a tree from a place whatever the weather, each by hand from the rule's own words."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from made import made_place, made_site, made_tree

from overwinter.model.season import Season, Winters
from overwinter.model.shelter import Shelter
from overwinter.model.stage import Sign, Stage, StageDays
from overwinter.rules import misfits
from overwinter.rules.doors import closed_days, in_quarantine, there

STARTS, SECOND, ENDS = date(2026, 10, 1), date(2026, 10, 11), date(2026, 10, 20)
STAGES = (
    Stage(0, Sign.START, None, (), STARTS, STARTS, STARTS, SECOND),
    Stage(1, Sign.COLD_NIGHT, 0.0, (), SECOND, SECOND, SECOND, date(2026, 10, 21)),
)
#: Twenty days in two winters; the second stage begins on day 10 of one and on day 12 of the other.
STAGE_DAYS = StageDays(STAGES, np.array([[0, 0], [10, 12]]), 20)
BENCH = made_place(id="shed/bench", shelter_id="shed")
GARDEN = made_place(id="garden/bench", shelter_id="garden")


def season(**shed: object) -> Season:
    """A garden and a shed of one bench each, the shed changed as asked."""
    hours = np.zeros((2, 480))
    winters = Winters(hours, hours, hours[:, ::24], ("one", "two"), "invented")
    shelters = (
        Shelter("garden", "Garden", (GARDEN,), open_air=True),
        replace(Shelter("shed", "Shed", (BENCH,)), **shed),
    )
    return Season(made_site(starts=STARTS, ends=ENDS), winters, {}, (), shelters)


@pytest.mark.parametrize(
    ("tree", "expected"),
    [
        ({}, []),
        ({"height_m": 2.0, "weight_kg": 100.0, "width_m": 2.0, "depth_m": 1.0}, []),
        ({"height_m": 2.3}, [("too tall", 0.3, "m")]),
        # On a bench of 2 m x 1 m a tree of 0.9 m x 1.8 m stands turned, one of 1.2 m x 1.2 m not.
        ({"width_m": 0.9, "depth_m": 1.8}, []),
        ({"width_m": 1.2, "depth_m": 1.2}, [("too wide", 0.2, "m")]),
        ({"weight_kg": 104.0}, [("too heavy", 4.0, "kg")]),
        ({"forbidden": frozenset({"shed"})}, [("forbidden by the grower", 0.0, "")]),
        ({"forbidden": frozenset({"shed/bench"})}, [("forbidden by the grower", 0.0, "")]),
        ({"forbidden": frozenset({"garden/bench"})}, []),
        ({"pinned": frozenset({"garden"})}, [("pinned elsewhere", 0.0, "")]),
        ({"pinned": frozenset({"shed"})}, []),
        ({"pinned": frozenset({"shed/bench"})}, []),
        # Where a tree stands in summer it may be, wherever it is pinned.
        ({"pinned": frozenset({"garden"}), "stands_at": "shed/bench"}, []),
    ],
)
def test_reasons(tree: dict[str, object], expected: list[tuple[str, float, str]]) -> None:
    # Shed bench: 2 m x 1 m, 2 m clear, 100 kg.
    found = [
        (rule.lacks, by, rule.unit) for rule, by in misfits(season(), made_tree(**tree), BENCH)
    ]
    assert [one[::2] for one in found] == [one[::2] for one in expected]
    assert [one[1] for one in found] == pytest.approx([one[1] for one in expected])


@pytest.mark.parametrize(
    ("shed", "by_stage"),
    [
        ({}, [0, 0]),
        # Closed on days 0 to 13: the whole first stage (12 days in the second winter), and 4 or 2.
        ({"opens": date(2026, 10, 15)}, [12, 4]),
        # Closed from day 15 on: 5 days of the second stage in either winter.
        ({"closes": date(2026, 10, 16)}, [0, 5]),
        # Closed on days 0 and 1, and on 18 and 19.
        ({"opens": date(2026, 10, 3), "closes": date(2026, 10, 19)}, [2, 2]),
    ],
)
def test_closed_days(shed: dict[str, object], by_stage: list[int]) -> None:
    # The winter with most of them counts.
    assert [closed_days(season(**shed), BENCH, STAGE_DAYS, k) for k in (0, 1)] == by_stage


def test_quarantine_counts_in_any_winter() -> None:
    # It ends on day 11: over in the second stage of one winter (day 12), not of the other (day 10).
    kept = made_tree(quarantine_until=date(2026, 10, 12))
    assert [in_quarantine(season(), kept, STAGE_DAYS, k) for k in (0, 1)] == [True, True]
    over = made_tree(quarantine_until=date(2026, 10, 11))
    assert [in_quarantine(season(), over, STAGE_DAYS, k) for k in (0, 1)] == [True, False]
    assert not in_quarantine(season(), made_tree(), STAGE_DAYS, 0)


def test_a_tree_is_there_from_the_stage_it_joins_in_every_winter() -> None:
    # Joined by day 10, when the second stage begins first; by day 11 it is too late for one winter.
    assert [
        there(season(), made_tree(joins=day), STAGE_DAYS, 1)
        for day in (None, date(2026, 10, 11), date(2026, 10, 12))
    ] == [True, True, False]
