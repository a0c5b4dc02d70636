"""What keeps a tree from a place whatever the weather, by the hand-made season."""

from dataclasses import replace
from datetime import date

import pytest
from audit_season import GARDEN, SHED, STAGE_DAYS, make_place, make_season, make_tree

from overwinter.model.plan import Reason
from overwinter.rules.standing import closed_days, in_quarantine, misfits, there

BENCH = make_place("shed", "bench")  # 2.0 m x 1.0 m, 2.0 m high, 100 kg
SEASON = make_season(make_tree("oak"))


def found(**changes: object) -> dict[Reason, float]:
    """What speaks against a tree on the bench, and by how much."""
    tree = make_tree("oak", **changes)
    return {reason: over for reason, over, _ in misfits(SEASON, tree, BENCH)}


def test_size_and_weight() -> None:
    assert found() == {}
    assert found(height_m=2.0, weight_kg=100.0, width_m=2.0, depth_m=1.0) == {}
    assert found(width_m=1.0, depth_m=2.0) == {}  # it may be turned
    assert found(height_m=2.3) == {Reason.TOO_TALL: pytest.approx(0.3)}
    assert found(weight_kg=112.0) == {Reason.TOO_HEAVY: pytest.approx(12.0)}
    assert found(width_m=2.4, depth_m=0.5) == {Reason.TOO_WIDE: pytest.approx(0.4)}
    assert found(width_m=1.3, depth_m=1.2) == {Reason.TOO_WIDE: pytest.approx(0.2)}


def test_the_growers_word() -> None:
    for name in ("shed", "shed/bench"):
        assert set(found(forbidden=frozenset({name}))) == {Reason.FORBIDDEN}
        assert found(pinned=frozenset({name})) == {}
    assert found(forbidden=frozenset({"garden"})) == {}
    assert set(found(pinned=frozenset({"garden"}))) == {Reason.PINNED_ELSEWHERE}
    # Where it stands in summer a pinned tree may always be.
    assert found(pinned=frozenset({"garden"}), stands_at="shed/bench") == {}


@pytest.mark.parametrize(
    ("opens", "closes", "by_stage"),
    [
        (None, None, [0, 0, 0]),
        # Stages begin on days 0, 10 and 20 in the first winter, on 0, 12 and 22 in the second.
        (date(2026, 12, 6), None, [5, 0, 0]),  # day 5
        (date(2026, 12, 16), None, [12, 5, 0]),  # day 15
        (None, date(2026, 12, 16), [0, 7, 10]),
        (date(2026, 12, 3), date(2026, 12, 29), [2, 0, 2]),  # days 2 and 28
    ],
)
def test_days_of_a_stage_on_which_a_shelter_is_closed(opens, closes, by_stage) -> None:
    shed = replace(SHED, opens=opens, closes=closes)
    season = make_season(make_tree("oak"), shelters=(GARDEN, shed))
    assert [closed_days(season, BENCH, STAGE_DAYS, stage) for stage in range(3)] == by_stage


def test_quarantine_and_joining() -> None:
    tree = make_tree("oak", quarantine_until=date(2026, 12, 15), joins=date(2026, 12, 11))
    assert not any(in_quarantine(SEASON, make_tree("ash"), STAGE_DAYS, k) for k in range(3))
    assert [in_quarantine(SEASON, tree, STAGE_DAYS, k) for k in range(3)] == [True, True, False]
    assert [there(SEASON, tree, STAGE_DAYS, k) for k in range(3)] == [False, True, True]
    assert all(there(SEASON, make_tree("ash"), STAGE_DAYS, k) for k in range(3))
