"""What was really carried, and what of a plan is still to do."""

from dataclasses import replace

from replan_winters import day, season, usual

from overwinter.model.changes import Mark
from overwinter.model.fingerprint import carry_key
from overwinter.model.plan import Carry
from overwinter.planning.marking import Fault, due_on, mark_tree
from overwinter.planning.marks import first_free_day, open_carries, real_carries, still_to_do

YARD, PORCH, CELLAR = "yard/stand", "porch/bench", "cellar/floor"
THERE_AND_BACK = (
    Carry(day(5), "fig", YARD, PORCH),
    Carry(day(10), "fig", PORCH, YARD),
    Carry(day(20), "fig", YARD, CELLAR),
    Carry(day(10), "bay", YARD, CELLAR),
)


def plan_of(*carries: Carry):
    """The usual plan with other carries; only these are looked at."""
    return replace(usual()[1].plan, carries=tuple(sorted(carries, key=lambda carry: carry.day)))


def test_real_carries_start_from_where_the_tree_was() -> None:
    """By day; the last mark of a day counts; a mark that moves nothing is no carry."""
    marks = [
        Mark(day(9), "fig", CELLAR),
        Mark(day(4), "fig", PORCH),
        Mark(day(4), "bay", PORCH),
        Mark(day(4), "bay", CELLAR),
        Mark(day(12), "bay", CELLAR),
        Mark(day(6), "a tree that was deleted", CELLAR),
    ]
    assert real_carries(season(), marks) == (
        Carry(day(4), "fig", YARD, PORCH),
        Carry(day(4), "bay", YARD, CELLAR),
        Carry(day(9), "fig", PORCH, CELLAR),
    )


def test_a_mark_on_another_day_or_to_another_place_stands_for_its_carry() -> None:
    """By its key, or by being exactly what the plan asked for."""
    plan = plan_of(*THERE_AND_BACK)
    marks = [
        Mark(day(6), "fig", CELLAR, carry_key(THERE_AND_BACK[0])),
        Mark(day(10), "bay", CELLAR),
    ]
    assert open_carries(season(), plan, marks) == THERE_AND_BACK[1:3]


def test_still_to_do() -> None:
    """Of what was due and not done the last of each tree counts, if it leads anywhere; what a later
    carry has overtaken does not; all that lies ahead does."""
    plan = plan_of(*THERE_AND_BACK)
    found = season()
    # in and out again were both missed: the fig stands where it should
    assert still_to_do(found, plan, [], day(12)) == (THERE_AND_BACK[3], THERE_AND_BACK[2])
    # only the way back was missed
    there = [Mark(day(5), "fig", PORCH)]
    assert THERE_AND_BACK[1] in still_to_do(found, plan, there, day(12))
    # the last was done, the two before it are of no use any more
    last = [Mark(day(20), "fig", CELLAR)]
    assert still_to_do(found, plan, last, day(22)) == (THERE_AND_BACK[3],)


def test_mark_tree() -> None:
    """The next open carry, elsewhere if said; a free move needs a day; nothing open is a fault."""
    plan, found = plan_of(*THERE_AND_BACK), season()
    key = carry_key(THERE_AND_BACK[0])
    assert mark_tree(found, plan, [], "fig", None, None) == Mark(day(5), "fig", PORCH, key)
    assert mark_tree(found, plan, [], "fig", day(7), CELLAR) == Mark(
        day(7), "fig", CELLAR, carry_key(THERE_AND_BACK[2])
    )
    free = mark_tree(found, plan, [], "bay", day(3), PORCH)
    assert free == Mark(day(3), "bay", PORCH)  # before any carry of it is due
    assert isinstance(mark_tree(found, plan, [], "larch", None, None), Fault)
    assert isinstance(mark_tree(found, plan, [], "larch", None, PORCH), Fault)
    assert isinstance(mark_tree(found, plan, [], "fig", day(99), None), Fault)


def test_due_on() -> None:
    """The last carry day up to the day said, not those before it."""
    plan, found = plan_of(*THERE_AND_BACK), season()
    assert due_on(found, plan, [], day(4)) == ()
    assert due_on(found, plan, [], day(15)) == (THERE_AND_BACK[1], THERE_AND_BACK[3])


def test_first_free_day() -> None:
    """Today, or tomorrow where something was carried today."""
    assert first_free_day(day(4), [Mark(day(3), "fig", PORCH)]) == day(4)
    assert first_free_day(day(4), [Mark(day(4), "fig", PORCH)]) == day(5)
