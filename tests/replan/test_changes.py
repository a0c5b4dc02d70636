"""Changed facts laid over a season; two plans beside each other."""

import re
from dataclasses import replace
from datetime import date

from made import plain
from replan_cases import FROST, GARDEN, LARCH_IN, LARCH_OUT, OFF, OLIVE_IN, SHED, hand_plan, season

from overwinter.model.changes import Changes, Mark
from overwinter.model.plan import Costs, Cure, LeftOut, Plan, Proof, Termination
from overwinter.model.shelter import HeaterPart, HeaterSetting
from overwinter.model.stage import Happening, HappeningKind, Sign
from overwinter.render.replan_report import ReplanAnswer, replan_report
from overwinter.replan.going_on import compare, stays_by
from overwinter.replan.replan import changed_season

DAY = date(2026, 12, 1)
LARCH_IS_IN = (Mark(FROST, "Larch", SHED),)


def test_changed_facts() -> None:
    """Shelters, heaters and trees as they are now; the inputs stay as they were."""
    before = season()
    after = changed_season(
        before,
        Changes(
            opens={"shed": DAY},
            closes={"shed": date(2027, 2, 1)},
            broken={("shed", "fan heater"): DAY},
            gone={"Olive": DAY},
        ),
    )
    shed = after.shelter_by_id["shed"]
    assert (shed.opens, shed.closes) == (DAY, date(2027, 2, 1))
    assert [heater.broken_from for heater in shed.heaters] == [DAY]
    assert [tree.id for tree in after.trees] == ["Larch", "Elm 1/2", "Elm 2/2"]
    assert before.shelter_by_id["shed"].opens is None


def test_a_tree_joins_when_it_really_came() -> None:
    """Earlier than said where it is marked; on the first free day where it is overdue."""
    found = season()
    larch = replace(found.tree_by_id["Larch"], joins=date(2026, 11, 20))
    found = replace(found, trees=(larch,))

    def joins(*marks: Mark) -> date | None:
        return changed_season(found, Changes(), marks, DAY).trees[0].joins

    assert joins() == DAY
    assert joins(Mark(date(2026, 11, 12), "Larch", GARDEN)) == date(2026, 11, 12)
    assert joins(Mark(date(2026, 12, 12), "Larch", GARDEN)) == DAY


def test_on_the_day_of_one_tree_no_other_is_carried() -> None:
    """The larch waits where the day on which it went in is now the elm's alone: nobody carries
    others because one is bought. A day on which a shelter opens is for all."""
    plan = hand_plan()
    opens, joins = Happening(HappeningKind.OPENS, "shed"), Happening(HappeningKind.JOINS, "Elm 1/2")

    def with_day(*happenings: Happening) -> Plan:
        start, frost, *rest = plan.stages
        day = replace(frost, sign=Sign.CALENDAR, threshold_c=None, happenings=happenings)
        return replace(plan, stages=(start, day, *rest), fixed_stages=1)

    with_both = with_day(opens, joins)
    assert [with_both.stages[1].is_for(one) for one in ("Elm 1/2", "Larch")] == [True, True]
    alone = with_day(joins)
    assert [alone.stages[1].is_for(one) for one in ("Elm 1/2", "Larch")] == [True, False]
    assert stays_by(with_both, alone)["Larch"] == (GARDEN, GARDEN, SHED, GARDEN)
    assert stays_by(with_both, with_both)["Larch"] == plan.stays["Larch"]
    kept = {tree_id: path for tree_id, path in plan.stays.items() if tree_id != "Larch"}
    out = replace(with_both, stays=kept, left_out=(LeftOut("Larch", Cure.NONE, None, ()),))
    assert stays_by(with_both, out)["Larch"] == plan.stays["Larch"]  # it had a place
    assert "Larch" not in stays_by(with_both, replace(out, left_out=()))  # it is gone


def test_nothing_differs_between_a_plan_and_itself() -> None:
    """No tree, no heater, the same carries ahead."""
    found = compare(season(), hand_plan(), hand_plan(), DAY, LARCH_IS_IN)
    assert (found.changed, found.heaters, found.gone, found.left_out) == ((), (), (), ())
    assert found.unchanged == 4
    assert found.carries == (2, 2)


def test_only_a_tree_that_was_safe_is_no_longer_safe() -> None:
    """The olive had no place at all before; the larch had one that was safe."""
    plan, after = hand_plan(), replace(hand_plan(), unsafe=("Larch", "Olive"))
    stays = {tree_id: path for tree_id, path in plan.stays.items() if tree_id != "Olive"}
    out = (LeftOut("Olive", Cure.NONE, None, ()),)
    before = replace(plan, stays=stays, left_out=out, carries=(LARCH_IN, LARCH_OUT))
    plans, names = (before, after), ("plan 1", "plan 2")
    told = plain(
        replan_report(
            ReplanAnswer(season(), names, plans, compare(season(), *plans, DAY, LARCH_IS_IN), ())
        )
    )
    assert "No longer in a safe place, as none is left: Larch.\n" in told
    assert "In a place now, but in none that is safe: Olive.\n" in told
    assert re.search(r"trees left out +1 +0\n", told)
    assert re.search("Olive +no safe place", told)


def test_a_plan_kept_for_less_is_no_gift_for_being_late() -> None:
    """Losses before today count no longer, so the sum is lower; an equal one needs no words."""
    cheaper = replace(hand_plan(), costs=Costs(losses=20.0))
    plans, names = (replace(cheaper, costs=Costs(losses=30.0)), cheaper), ("plan 1", "plan 2")
    for after, said in ((plans[1], True), (plans[0], False)):
        found = compare(season(), plans[0], after, DAY, LARCH_IS_IN)
        answer = ReplanAnswer(season(), names, (plans[0], after), found, (), kept=True)
        told = " ".join(plain(replan_report(answer)).split())
        assert ("risked before 1 Dec 2026 is past and no longer counts." in told) == said


def test_a_plan_that_is_kept_need_not_be_the_best() -> None:
    """It says what was looked for, and how much better another could be at most."""
    proof = Proof("none", Termination.GAP_REACHED, 100.0, 98.5, 0.015, 0.0, 0)
    plans = (hand_plan(), replace(hand_plan(), proof=proof))
    found = compare(season(), *plans, DAY, LARCH_IS_IN)
    for gap, said in ((0.02, "nothing better by more than 2 % was"), (0.0, "nothing better was")):
        answer = ReplanAnswer(season(), ("plan 1", "plan 2"), plans, found, (), kept=True, gap=gap)
        told = " ".join(plain(replan_report(answer)).split())
        assert f"plan 1 is kept: {said} found; " in told
        assert "no plan can cost less than 98.50 EUR, 1.5 % below this one" in told


def test_what_differs_is_told_tree_by_tree() -> None:
    """Another place, a tree that is gone, another heater setting; what is past counts no more."""
    plan = hand_plan()
    heated = HeaterSetting((HeaterPart("fan heater", hold_c=4.0),), hold_c=4.0)
    other = replace(
        plan,
        stays={
            tree: path if tree != "Larch" else (GARDEN, SHED, SHED, SHED)
            for tree, path in plan.stays.items()
            if tree != "Olive"
        },
        carries=tuple(
            carry for carry in plan.carries if carry.tree_id != "Olive" and carry != LARCH_OUT
        ),
        settings={**plan.settings, "shed": (OFF, OFF, heated, OFF)},
    )
    found = compare(season(), plan, other, DAY, LARCH_IS_IN)
    (larch,) = found.changed
    assert (larch.tree_id, larch.before, larch.after) == ("Larch", (LARCH_OUT,), ())
    assert found.gone == ("Olive",)
    (shed,) = found.heaters
    assert (shed.before, shed.after) == ((OFF,), (OFF, heated, OFF))
    assert compare(season(), plan, other, FROST).carries == (3, 1)


def test_another_day_to_the_same_place_is_told_in_a_line() -> None:
    """The olive goes in with the first frost instead of the harder one."""
    plan = hand_plan()
    early = replace(OLIVE_IN, stage=1, day=FROST)
    other = replace(plan, carries=(LARCH_IN, early, LARCH_OUT))
    plans = (plan, other)
    found = compare(season(), *plans, FROST)
    assert [one.tree_id for one in found.other_days] == ["Olive"]
    assert (found.changed, found.unchanged, found.carries) == ((), 4, (3, 3))
    told = plain(replan_report(ReplanAnswer(season(), ("plan 1", "plan 2"), plans, found, ())))
    assert "4 of 4 trees keep their places, 1 of them on other days." in told
    line = next(line for line in told.splitlines() if line.startswith("Olive to Shed, "))
    assert "10 Dec (first night of -8" in line


def test_a_carry_that_is_done_is_not_still_to_come() -> None:
    """A larch that nobody has carried yet is, though it was due."""
    plan = hand_plan()
    assert compare(season(), plan, plan, DAY).carries == (3, 3)
    assert compare(season(), plan, plan, DAY, LARCH_IS_IN).carries == (2, 2)
