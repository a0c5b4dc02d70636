"""A fault of each kind is found, under its own rule, and nothing else is."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from math import inf, nan

import pytest
from audit_season import (
    COLD,
    GARDEN,
    HOLD,
    HOT,
    IN_AND_OUT,
    MILD,
    OFF,
    OUTDOORS,
    RADIATOR,
    SHED,
    SITE,
    STAYS,
    make_place,
    make_plan,
    make_season,
    make_tree,
    make_trees,
    priced,
    run,
)

from overwinter.audit.report import AuditReport, Rule
from overwinter.model.plan import Carry, Cure, Lack, Layout, LeftOut, Plan, Reason, Shift
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterPart, HeaterSetting
from overwinter.model.site import Household
from overwinter.model.stage import Happening, HappeningKind, Sign

Case = tuple[Season, Plan]


def good(**changes: object) -> Case:
    """The good plan, fields of the first tree changed."""
    season = make_season(*make_trees(**changes))
    return season, make_plan(season, STAYS)


def at_site(**changes: object) -> Case:
    """The good plan at a changed site."""
    season = make_season(*make_trees(), site=replace(SITE, **changes))
    return season, make_plan(season, STAYS)


def in_shed(**changes: object) -> Case:
    """The good plan with a changed shed."""
    shed = replace(SHED, **changes)
    season = make_season(*make_trees(), shelters=(GARDEN, shed))
    return season, make_plan(season, STAYS)


def on_bench(**changes: object) -> Case:
    """The good plan with a changed bench in the shed."""
    return in_shed(places=(make_place("shed", "bench", **changes), make_place("shed", "floor")))


def changed(**changes: object) -> Case:
    """The good plan itself changed."""
    season, plan = good()
    return season, replace(plan, **changes)


def told_stays(**stays: tuple[str | None, ...]) -> Case:
    """The good plan with other stays; the carries stay as they were."""
    season, plan = good()
    return season, replace(plan, stays={**plan.stays, **stays})


def heated(*settings: HeaterSetting, **site: object) -> Case:
    """The good plan with other settings in the shed."""
    season = make_season(*make_trees(), site=replace(SITE, **site))
    return season, make_plan(season, STAYS, settings)


def drawn(*layouts: Layout) -> Case:
    """The good plan with a drawing of the shed's bench."""
    return changed(layouts={"shed/bench": {1: layouts}})


def joined_by_cedar(*then: Layout, shifts: tuple[Shift, ...] = ()) -> Case:
    """Ash goes in and stays; hardy cedar joins it on the bench, which is drawn as ``then``."""
    season = make_season(*make_trees())
    cold = ("garden/bench", "shed/bench", "shed/bench")
    late = ("garden/bench", "garden/bench", "shed/bench")
    plan = make_plan(season, {"ash": cold, "birch": cold, "cedar": late})
    return season, replace(
        plan, layouts={"shed/bench": {1: (ASH, BIRCH), 2: (*then, BIRCH)}}, shifts=shifts
    )


def proven(**changes: object) -> Case:
    """The good plan with another proof."""
    season, plan = good()
    return season, replace(plan, proof=replace(plan.proof, **changes))


def stages(**changes: object) -> Case:
    """The good plan with its second stage changed."""
    _, plan = good()
    one, two, three = plan.stages
    return changed(stages=(one, replace(two, **changes), three))


def joining(path: tuple[str | None, ...]) -> Case:
    """A tree that joins with the third stage."""
    season = make_season(make_tree("ash", joins=MILD))
    return season, make_plan(season, {"ash": path})


ASH, BIRCH = Layout("ash", 0.0, 0.0, 0.5, 0.4), Layout("birch", 0.5, 0.0, 0.5, 0.4)
CEDAR = Layout("cedar", 1.0, 0.0, 0.5, 0.4)
UNKNOWN = HeaterSetting((HeaterPart("stove", hold_c=3.0),), hold_c=3.0)

FAULTS: dict[str, tuple[Rule, Callable[[], Case]]] = {
    "a stage is missing": (Rule.STAGES, lambda: changed(stages=good()[1].stages[:2])),
    "out of order": (Rule.STAGES, lambda: stages(index=2)),
    "a gap": (Rule.STAGES, lambda: stages(usual=COLD + timedelta(1))),
    "told for other days": (Rule.STAGES, lambda: stages(late=COLD)),
    "told for earlier days": (Rule.STAGES, lambda: stages(early=COLD - timedelta(3))),
    "a stage that begins for a shelter": (
        Rule.STAGES,
        lambda: stages(happenings=(Happening(HappeningKind.OPENS, "shed"),)),
    ),
    "begun to its end": (Rule.STAGES, lambda: changed(fixed_stages=3)),
    "begun before it began": (Rule.STAGES, lambda: changed(fixed_stages=-1)),
    "no stage at all": (Rule.STAGES, lambda: changed(stages=())),
    "another sign": (Rule.STAGES, lambda: stages(sign=Sign.MILD_WEEK)),
    "a sign without a temperature": (Rule.STAGES, lambda: stages(threshold_c=None)),
    "another threshold": (Rule.STAGES, lambda: stages(threshold_c=-6.0)),
    "a tree forgotten": (
        Rule.ACCOUNTED,
        lambda: changed(stays={"ash": IN_AND_OUT, "birch": IN_AND_OUT}),
    ),
    "an unknown tree": (Rule.ACCOUNTED, lambda: told_stays(dogwood=OUTDOORS)),
    "placed and left out": (
        Rule.ACCOUNTED,
        lambda: changed(left_out=(LeftOut("ash", Cure.NONE, None, ()),)),
    ),
    "left out for a place that is none": (
        Rule.ACCOUNTED,
        lambda: without_ash(LeftOut("ash", Cure.ROOM, "shed/roof", ())),
    ),
    "left out for what a place lacks that is none": (
        Rule.ACCOUNTED,
        lambda: without_ash(
            LeftOut("ash", Cure.NONE, None, (Lack("shed/roof", 1, Reason.NO_ROOM, 0.0, ""),))
        ),
    ),
    "left out for a stage that is none": (
        Rule.ACCOUNTED,
        lambda: without_ash(
            LeftOut("ash", Cure.NONE, None, (Lack("shed/bench", 7, Reason.NO_ROOM, 0.0, ""),))
        ),
    ),
    "left out twice": (
        Rule.ACCOUNTED,
        lambda: without_ash(*(LeftOut("ash", Cure.NONE, None, ()),) * 2),
    ),
    "left out for nothing": (
        Rule.COSTS,
        lambda: without_ash(LeftOut("ash", Cure.NONE, None, ())),
    ),
    "a stay too few": (Rule.STAYS, lambda: told_stays(ash=IN_AND_OUT[:2])),
    "nowhere": (Rule.STAYS, lambda: told_stays(ash=("garden/bench", None, "garden/bench"))),
    "begins elsewhere": (
        Rule.STAYS,
        lambda: told_stays(ash=("garden/far", "shed/bench", "garden/bench")),
    ),
    "there before it joins": (Rule.STAYS, lambda: joining((None, "shed/bench", "garden/bench"))),
    "never there though it joins": (Rule.STAYS, lambda: joining((None, None, None))),
    "no such place": (
        Rule.KNOWN_PLACE,
        lambda: told_stays(ash=("garden/bench", "shed/roof", "garden/bench")),
    ),
    "opens late": (Rule.OPEN, lambda: in_shed(opens=COLD + timedelta(1))),
    "closes early in one winter": (Rule.OPEN, lambda: in_shed(closes=MILD + timedelta(1))),
    "too tall": (Rule.HEADROOM, lambda: good(height_m=2.1)),
    "too wide": (Rule.WIDTH, lambda: good(width_m=1.2, depth_m=1.1)),
    "too long": (Rule.WIDTH, lambda: on_bench(width_m=0.35, depth_m=6.0)),
    "too full": (Rule.AREA, lambda: good(width_m=1.9, depth_m=0.9)),
    "too heavy": (Rule.LOAD, lambda: on_bench(load_limit_kg=19.0)),
    "drawn over the edge": (Rule.LAYOUT, lambda: drawn(replace(ASH, x_m=-0.1), BIRCH)),
    "drawn over one another": (Rule.LAYOUT, lambda: drawn(ASH, replace(BIRCH, x_m=0.4))),
    "drawn too small": (Rule.LAYOUT, lambda: drawn(replace(ASH, width_m=0.4), BIRCH)),
    "drawn without one": (Rule.LAYOUT, lambda: drawn(ASH)),
    "drawn twice": (Rule.LAYOUT, lambda: drawn(ASH, BIRCH, replace(ASH, x_m=1.2))),
    "not drawn": (
        Rule.LAYOUT,
        lambda: changed(layouts={"garden/bench": {1: (Layout("cedar", 0.0, 0.0, 0.4, 0.5),)}}),
    ),
    "nothing drawn": (Rule.LAYOUT, lambda: proven(misfits=0)),
    "drawn nowhere": (Rule.LAYOUT, lambda: drawn(replace(ASH, x_m=nan), BIRCH)),
    "drawn beyond the far edge": (Rule.LAYOUT, lambda: drawn(replace(ASH, x_m=1.6), BIRCH)),
    "drawn before the front": (Rule.LAYOUT, lambda: drawn(replace(ASH, y_m=-0.01), BIRCH)),
    "drawn behind the back": (Rule.LAYOUT, lambda: drawn(replace(ASH, y_m=0.61), BIRCH)),
    "drawn too large": (Rule.LAYOUT, lambda: drawn(replace(ASH, depth_m=0.5), BIRCH)),
    "drawn under another's name": (Rule.LAYOUT, lambda: drawn(replace(ASH, tree_id="oak"), BIRCH)),
    "drawn where it does not stand": (
        Rule.LAYOUT,
        lambda: drawn(ASH, BIRCH, Layout("cedar", 1.2, 0.0, 0.5, 0.4)),
    ),
    "drawn in a stage that is none": (
        Rule.LAYOUT,
        lambda: changed(layouts={"shed/bench": {1: (ASH, BIRCH), 3: (ASH, BIRCH)}}),
    ),
    "drawn for no place": (
        Rule.LAYOUT,
        lambda: changed(layouts={"shed/bench": {1: (ASH, BIRCH)}, "shed/roof": {1: (ASH,)}}),
    ),
    "sent onto a taken spot": (
        Rule.SPOT,
        lambda: joined_by_cedar(replace(ASH, x_m=1.5), replace(CEDAR, x_m=0.0)),
    ),
    "drawn elsewhere": (Rule.SPOT, lambda: joined_by_cedar(replace(ASH, x_m=1.5), CEDAR)),
    "a shift of what stays": (
        Rule.SPOT,
        lambda: joined_by_cedar(ASH, CEDAR, shifts=(Shift(2, "shed/bench", "ash"),)),
    ),
    "quarantine": (Rule.QUARANTINE, lambda: good(quarantine_until=MILD)),
    "pinned": (Rule.PINNED, lambda: good(pinned=frozenset({"shed/floor"}))),
    "forbidden": (Rule.FORBIDDEN, lambda: good(forbidden=frozenset({"shed"}))),
    "left in the frost": (
        Rule.CHANCE,
        lambda: (s := make_season(make_tree("ash")), make_plan(s, {"ash": OUTDOORS})),
    ),
    "no such setting": (
        Rule.SETTING,
        lambda: changed(settings={"garden": (OFF,) * 3, "shed": (OFF, UNKNOWN, OFF)}),
    ),
    "no setting": (Rule.SETTING, lambda: changed(settings={"garden": (OFF,) * 3})),
    "a broken heater": (
        Rule.SETTING,
        lambda: in_shed(heaters=(replace(RADIATOR, broken_from=MILD + timedelta(1)),)),
    ),
    "a weak breaker": (Rule.BREAKER, lambda: at_site(breakers_w={"shed": 900.0})),
    "hands on the thermostat": (
        Rule.THERMOSTAT,
        lambda: heated(OFF, HOLD, HOT, thermostat_changes=0),
    ),
    "a carry not listed": (Rule.CARRIES, lambda: changed(carries=good()[1].carries[1:])),
    "a carry listed twice": (
        Rule.CARRIES,
        lambda: changed(carries=(*good()[1].carries, good()[1].carries[0])),
    ),
    "a carry that is none": (
        Rule.CARRIES,
        lambda: changed(
            carries=(*good()[1].carries, Carry(1, COLD, "cedar", "garden/bench", "garden/far"))
        ),
    ),
    "a carry on another day": (
        Rule.CARRIES,
        lambda: changed(
            carries=tuple(
                replace(c, day=c.day + timedelta(5)) if n == 0 else c
                for n, c in enumerate(good()[1].carries)
            )
        ),
    ),
    "too much to carry": (Rule.HANDS, lambda: at_site(household=Household(hours_a_day=0.01))),
    "heat told too low": (Rule.COSTS, lambda: told_costs(heat=14.0)),
    "losses told too low": (Rule.COSTS, lambda: told_costs(losses=-1.0)),
    "cover told too high": (Rule.COSTS, lambda: told_costs(cover=1.0)),
    "an objective of its own": (Rule.PROOF, lambda: proven(objective=1.0)),
    "an objective that is no number": (Rule.PROOF, lambda: proven(objective=nan)),
    "a bound that is no number": (Rule.PROOF, lambda: proven(bound=nan, gap=0.0)),
    "a bound without end": (Rule.PROOF, lambda: proven(bound=-inf, gap=inf)),
    "a gap that is no number": (Rule.PROOF, lambda: proven(bound=10.0, gap=nan)),
    "a gap below zero": (Rule.PROOF, lambda: proven(bound=10.0, gap=-0.1)),
    "a bound without a gap": (Rule.PROOF, lambda: proven(bound=10.0)),
    "proven without a bound": (Rule.PROOF, lambda: proven(termination="gap reached")),
    "the best without a bound": (Rule.PROOF, lambda: proven(termination="optimal")),
    "a bound beyond all plans": (Rule.PROOF, lambda: proven(bound=1e6, gap=0.0)),
    "time that ran back": (Rule.PROOF, lambda: proven(seconds=-1.0)),
    "heat told as no number": (Rule.COSTS, lambda: no_number("heat")),
    "carries told for nothing": (Rule.COSTS, lambda: told_costs(carries=0.0)),
    "crowding told though there is none": (Rule.COSTS, lambda: told_costs(crowding=3.0)),
    "disturbance before the winter": (Rule.COSTS, lambda: told_costs(disturbance=3.0)),
    "away at the end though home": (Rule.COSTS, lambda: told_costs(not_home=13.5)),
    "left out though nobody is": (Rule.COSTS, lambda: told_costs(left_out=100.0)),
    "a bound above the plan": (Rule.PROOF, lambda: proven(bound=30.0, gap=-0.57)),
    "a gap too small": (Rule.PROOF, lambda: proven(bound=10.0, gap=0.01)),
    "a gap without a bound": (Rule.PROOF, lambda: proven(gap=0.01)),
}


def told_costs(**changes: float) -> Case:
    """The good plan with some costs told otherwise; the objective goes with them."""
    season, plan = good()
    costs = replace(plan.costs, **changes)
    proof = replace(plan.proof, objective=costs.total)
    return season, replace(plan, costs=costs, proof=proof)


def no_number(part: str) -> Case:
    """The good plan with a cost that is no number; the objective is left as it was."""
    season, plan = good()
    costs = replace(plan.costs, **{part: nan})
    return season, replace(plan, costs=costs)


def without_ash(*left_out: LeftOut) -> Case:
    """A plan in which the ash is left out, at no cost."""
    season = make_season(*make_trees())
    plan = make_plan(season, {"birch": IN_AND_OUT, "cedar": OUTDOORS})
    return season, replace(plan, left_out=left_out)


def told(case: Case) -> AuditReport:
    return run(*case)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_is_found_under_its_rule(fault: str) -> None:
    rule, make = FAULTS[fault]
    report = told(make())
    assert not report.passed
    assert {found.rule for found in report.findings} == {rule}
    assert all(found.by_how_much > 0 and found.unit and found.text for found in report.findings)


def test_every_rule_has_a_fault() -> None:
    assert {rule for rule, _ in FAULTS.values()} == set(Rule)


@pytest.mark.parametrize(
    ("case", "by", "unit"),
    [
        # The shed opens on the 12th; in the first winter the stage begins on the 11th.
        (lambda: in_shed(opens=COLD + timedelta(1)), 1.0, "days"),
        (lambda: good(height_m=2.1), 0.1, "m"),
        (lambda: on_bench(load_limit_kg=19.0), 1.0, "kg"),
        # 1.9 x 0.9 and 0.2 m2 on 90 % of 2 m2.
        (lambda: good(width_m=1.9, depth_m=0.9), 1.91 - 1.8, "m²"),
        (lambda: at_site(breakers_w={"shed": 900.0}), 100.0, "W"),
        (lambda: told_costs(heat=14.0), 1.0, "USD"),
    ],
)
def test_by_how_much(case: Callable[[], Case], by: float, unit: str) -> None:
    found = told(case()).findings[0]
    assert (found.by_how_much, found.unit) == (pytest.approx(by), unit)


def test_a_turned_tree_fits() -> None:
    # 0.5 m x 0.4 m on a board 0.45 m wide.
    season = make_season(
        make_tree("ash"),
        shelters=(
            GARDEN,
            replace(SHED, places=(make_place("shed", "bench", width_m=0.45, depth_m=3.0),)),
        ),
    )
    assert run(season, make_plan(season, {"ash": IN_AND_OUT})).passed


def test_a_turned_drawing_is_right() -> None:
    assert told(drawn(replace(ASH, width_m=0.4, depth_m=0.5), BIRCH)).passed


def test_trees_in_quarantine_may_stand_together() -> None:
    apart = make_tree("ash", quarantine_until=MILD), make_tree("birch", quarantine_until=MILD)
    season = make_season(*apart)
    assert run(season, make_plan(season, {"ash": IN_AND_OUT, "birch": IN_AND_OUT})).passed


def test_outdoors_a_quarantine_closes_only_the_place() -> None:
    hardy = make_trees()[2]
    season = make_season(replace(hardy, id="oak", quarantine_until=MILD), hardy)
    far = ("garden/bench", "garden/far", "garden/bench")
    assert run(season, make_plan(season, {"oak": far, "cedar": OUTDOORS})).passed


def test_a_pin_does_not_hold_at_the_summer_stand() -> None:
    assert told(good(pinned=frozenset({"shed"}))).passed


def test_a_joining_tree_is_brought_and_not_carried() -> None:
    case = joining((None, None, "garden/bench"))
    report = told(case)
    assert report.passed
    assert report.costs.carries == 0.0
    assert [carry.source for carry in case[1].carries] == [None]


def test_what_has_happened_is_no_fault() -> None:
    # Too heavy, too many carries and the wrong place, all in stages that had begun.
    season, plan = on_bench(load_limit_kg=19.0)
    assert not run(season, plan).passed
    assert run(season, replace(plan, fixed_stages=2)).passed


def test_a_heater_may_be_set_once_more_than_the_site_says() -> None:
    # On, warmer, and off again at the end: two changes besides the last turning off.
    assert told(heated(OFF, HOLD, OFF, thermostat_changes=0)).passed
    assert told(heated(OFF, HOLD, HOT, thermostat_changes=1)).passed


def test_unsound_structure_leaves_the_rest_unchecked() -> None:
    report = told(FAULTS["nowhere"][1]())
    assert set(report.rules_checked) == {
        Rule.STAGES,
        Rule.ACCOUNTED,
        Rule.STAYS,
        Rule.KNOWN_PLACE,
        Rule.SETTING,
    }
    assert report.risks == {}


def test_costs_within_a_hundredth_of_the_whole_agree() -> None:
    # The whole is 19.08 USD.
    assert told(told_costs(heat=14.85)).passed
    assert not told(told_costs(heat=14.75)).passed


def test_a_proof_that_holds() -> None:
    season, plan = good()
    bound = 0.95 * plan.costs.total
    assert run(season, replace(plan, proof=replace(plan.proof, bound=bound, gap=0.05))).passed


def test_priced_plans_keep_their_other_faults() -> None:
    season, plan = good(height_m=2.1)
    assert {found.rule for found in run(season, priced(season, plan)).findings} == {Rule.HEADROOM}
