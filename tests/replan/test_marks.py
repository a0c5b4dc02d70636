"""What was really carried, and what of a plan is still to do."""

from dataclasses import replace
from datetime import date

from replan_cases import (
    AFTER,
    FROST,
    GARDEN,
    HARD,
    LARCH_IN,
    LARCH_OUT,
    MILD,
    OLIVE_IN,
    SHED,
    hand_plan,
    season,
)

from overwinter.model.changes import Mark
from overwinter.model.plan import carry_key
from overwinter.problems import Problem
from overwinter.replan.past import due_on, first_free_day, mark_tree, open_carries, stands


def test_where_trees_stand() -> None:
    """The last mark of a tree tells; marks of trees that were deleted are passed over."""
    marks = [
        Mark(date(2026, 11, 12), "Larch", GARDEN),
        Mark(date(2026, 11, 9), "Larch", SHED),
        Mark(date(2026, 11, 9), "a tree that was deleted", SHED),
    ]
    found = stands(season(), marks)
    assert (found["Larch"], found["Olive"]) == (GARDEN, GARDEN)


def test_a_mark_on_another_day_or_to_another_place_stands_for_its_carry() -> None:
    """By its key, or by being exactly what the plan asked for."""
    keyed = Mark(date(2026, 11, 14), "Larch", GARDEN, carry_key(LARCH_IN))
    exact = Mark(HARD, "Olive", SHED)
    assert open_carries(season(), hand_plan(), [keyed, exact]) == (LARCH_OUT,)
    assert open_carries(season(), hand_plan(), [Mark(FROST, "Olive", SHED)]) == (
        LARCH_IN,
        OLIVE_IN,
        LARCH_OUT,
    )


def test_mark_tree() -> None:
    """The next open carry, elsewhere if said; a free move needs a day; nothing open is a fault."""
    found, plan = season(), hand_plan()
    key = carry_key(LARCH_IN)
    assert mark_tree(found, plan, [], "Larch", None, None, HARD) == Mark(FROST, "Larch", SHED, key)
    free = mark_tree(found, plan, [], "Elm 1/2", date(2026, 11, 3), SHED, HARD)
    assert free == Mark(date(2026, 11, 3), "Elm 1/2", SHED)
    for day, target in ((None, None), (None, SHED), (date(2030, 1, 1), SHED)):
        assert isinstance(mark_tree(found, plan, [], "Elm 1/2", day, target, HARD), Problem)


def test_without_a_day_nothing_is_marked_ahead() -> None:
    """Today where the usual day is still ahead; not what cannot have come by today or a mark."""
    found, plan = season(), hand_plan()
    marks = [Mark(FROST, "Larch", SHED, carry_key(LARCH_IN))]
    ahead = mark_tree(found, plan, marks, "Larch", None, None, HARD)
    assert isinstance(ahead, Problem)
    assert "--day" in ahead.fix
    for day, today, on in ((MILD, HARD, MILD), (None, AFTER, MILD)):
        out = mark_tree(found, plan, marks, "Larch", day, None, today)
        assert isinstance(out, Mark)
        assert out.day == on
    stages = [replace(stage, early=FROST) for stage in plan.stages]
    early = replace(plan, stages=tuple(stages))
    olive = mark_tree(found, early, [], "Olive", None, None, date(2026, 11, 14))
    assert isinstance(olive, Mark)
    assert FROST < olive.day == date(2026, 11, 14) < HARD


def test_due_on() -> None:
    """The last carry day up to the day said, not those before it."""
    found, plan = season(), hand_plan()
    assert due_on(found, plan, [], date(2026, 11, 9)) == ()
    assert due_on(found, plan, [], date(2026, 11, 30)) == (LARCH_IN,)
    assert due_on(found, plan, [], date(2026, 12, 24)) == (OLIVE_IN,)


def test_first_free_day() -> None:
    """Today, or tomorrow where something was carried today."""
    assert first_free_day(HARD, [Mark(FROST, "Larch", SHED)]) == HARD
    assert first_free_day(FROST, [Mark(FROST, "Larch", SHED)]) == date(2026, 11, 11)
