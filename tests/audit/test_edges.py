"""Where a rule begins to be broken, what is a fact by then, and how the fault is told.

Everything is worked out by hand from the hand-made season (``audit_season``).
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from audit_season import (
    COLD,
    GARDEN,
    GOOD_STAYS,
    HOLD,
    HOT,
    IN_AND_OUT,
    MILD,
    OFF,
    OUTDOORS,
    RADIATOR,
    SHED,
    SITE,
    STAGE_DAYS,
    make_conditions,
    make_plan,
    make_season,
    make_tree,
    make_trees,
    priced,
    run,
)
from test_every_rule import (
    ASH,
    BIRCH,
    CEDAR,
    FAULTS,
    Case,
    at_site,
    changed,
    drawn,
    good,
    heated,
    in_shed,
    joined_by_cedar,
    joining,
    on_bench,
    proven,
    stages,
    told,
    told_costs,
    told_stays,
    without_ash,
)

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport
from overwinter.model.changes import Start
from overwinter.model.plan import Carry, Cure, LeftOut, Shift
from overwinter.model.shelter import Carrier, Heater, PlaceKind
from overwinter.model.site import Household
from overwinter.model.stage import StageDays
from overwinter.rules import figures
from overwinter.rules.carrying import CARRIES, HANDS
from overwinter.rules.doors import OPEN, QUARANTINE
from overwinter.rules.figures import CHANCE, COSTS, PROOF
from overwinter.rules.heating import BREAKER, THERMOSTAT
from overwinter.rules.places import FORBIDDEN, HEADROOM, LOAD, PINNED, WIDTH
from overwinter.rules.room import AREA, LAYOUT, SPOT
from overwinter.rules.rule import Finding, Rule
from overwinter.rules.structure import STAGES, STAYS
from overwinter.units import Display

WHOLE = good()[1].costs.total


def left_out_at(cost: float) -> Case:
    """The ash left out at a price told; its value is 100, the caution 3."""
    season, plan = without_ash(LeftOut("ash", Cure.NONE, None, ()))
    plan = priced(season, replace(plan, costs=replace(plan.costs, left_out=cost)))
    return season, plan


EDGES: dict[str, tuple[Rule, float, Callable[[float], Case]]] = {
    "height": (HEADROOM, 1e-6, lambda over: good(height_m=2.0 + over)),
    "width": (WIDTH, 1e-6, lambda over: on_bench(width_m=0.4 - over, depth_m=5.0)),
    "area": (AREA, 1e-6, lambda over: on_bench(width_m=1.0, depth_m=(0.4 - over) / 0.9)),
    "load": (LOAD, 1e-6, lambda over: on_bench(load_limit_kg=20.0 - over)),
    "edge of a bench": (LAYOUT, 1e-6, lambda over: drawn(replace(ASH, x_m=-over), BIRCH)),
    "size": (LAYOUT, 1e-6, lambda over: drawn(replace(ASH, width_m=0.5 - over), BIRCH)),
    "apart": (LAYOUT, 1e-6, lambda over: drawn(ASH, replace(BIRCH, x_m=0.5 - over))),
    "spot": (SPOT, 1e-3, lambda over: joined_by_cedar(replace(ASH, y_m=over), CEDAR)),
    "breaker": (BREAKER, 1e-6, lambda over: at_site(breakers_w={"shed": 1000.0 - over})),
    "threshold": (STAGES, 1e-6, lambda over: stages(threshold_c=-5.0 + over)),
    # Two trees at 8 minutes each; three days of two people.
    "hands": (
        HANDS,
        1e-6,
        lambda over: at_site(household=Household(hours_a_day=(16.0 - over) / 360.0)),
    ),
    "objective": (PROOF, 1e-6, lambda over: proven(objective=WHOLE * (1.0 + over))),
    "bound": (PROOF, 1e-6, lambda over: proven(bound=WHOLE * (1.0 + over), gap=-over)),
    "gap": (PROOF, 1e-6, lambda over: proven(bound=0.95 * WHOLE, gap=0.05 + over)),
    "left out": (COSTS, 1e-6, lambda over: left_out_at(300.0 - over)),
    "nobody left out": (COSTS, 1e-6, lambda over: told_costs(left_out=over)),
    "a hundredth of the whole": (
        COSTS,
        0.01,
        lambda over: told_costs(cover=0.08 + over * WHOLE),
    ),
}
"""What is nearer to a limit than the second is kept, what is farther off is not."""


@pytest.mark.parametrize("edge", EDGES)
def test_half_as_much_again_breaks_a_rule_and_half_does_not(edge: str) -> None:
    rule, slack, make = EDGES[edge]
    assert told(make(0.5 * slack)).passed
    report = told(make(1.5 * slack))
    assert {found.rule for found in report.findings} == {rule}


TENDER = {"root_kill_c": -7.8, "root_kill_unhardened_c": -7.8}


def test_chances_may_be_half_a_percent_of_winters_off() -> None:
    # At -5 degC in one winter of two, 2.8 K above the LT50: 1 / (1 + 99 ** (2.8 / 3)) / 2, 0.677 %.
    season = make_season(make_tree("ash", **TENDER))
    plan = make_plan(season, {"ash": IN_AND_OUT}, (OFF, OFF, OFF))
    for most, passes in ((0.002, True), (0.0015, False)):
        weights = replace(SITE.weights, most_chance=most)
        strict = replace(season, site=replace(SITE, weights=weights))
        report = run(strict, plan)
        assert report.passed == passes
    assert report.findings[0].by_how_much == pytest.approx(0.527, abs=0.001)
    assert "lost in 0.7 % of winters" in report.findings[0].text


def test_a_tree_told_to_be_unsafe_may_be_lost_half_the_time(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    season = make_season(make_tree("ash", **TENDER))
    weights = replace(SITE.weights, most_chance=0.0015)
    strict = replace(season, site=replace(SITE, weights=weights))
    plan = replace(make_plan(season, {"ash": IN_AND_OUT}, (OFF, OFF, OFF)), unsafe=("ash",))
    assert run(strict, plan).passed
    monkeypatch.setattr(figures, "EVEN_CHANCE", 0.0015)
    assert {found.rule for found in run(strict, plan).findings} == {CHANCE}


def test_sinking_a_tree_is_worth_two_carries() -> None:
    # Into the bed and home again, 1 USD a carry; at its own sunk stand a tree just stands.
    bed = replace(SHED, places=tuple(replace(p, kind=PlaceKind.SUNK) for p in SHED.places))
    out, bench = "garden/bench", "shed/bench"
    for path, carries in (((out, bench, out), 3.0), ((bench, out, bench), 2.0)):
        ash = replace(make_tree("ash"), stands_at=path[0])
        plan = make_plan(make_season(ash, shelters=(GARDEN, bed)), {"ash": path}, (OFF, OFF, OFF))
        assert plan.costs.carries == pytest.approx(carries)


LAST = {
    "too wide": "0.1 m",
    "too much to carry": "12.4 minutes",
    "opens late": "",
    "drawn in a stage that is none": "1 layout",
    "hands on the thermostat": "",
    # Listed from the shed, due from nowhere: what has been carried is still to be told right.
    "nowhere": "1 carries and 1 carries and 1 carries",
}
"""What is left of a fault that lies in the second and the last stage, once the second began."""
ALWAYS = {
    *("begun to its end", "begun before it began", "left out for nothing", "not drawn"),
    *("a broken heater", "a carry not listed", "a carry listed twice", "a carry that is none"),
    *("disturbance before the winter", "there before it joins", "begins elsewhere"),
    *("sent onto a taken spot", "drawn elsewhere", "a shift of what stays", "drawn for no place"),
}
"""Not of a stage, or not of the second one alone."""
IN_A_STAGE = {
    *(OPEN, HEADROOM, WIDTH, AREA, LOAD, LAYOUT, QUARANTINE),
    *(PINNED, FORBIDDEN, BREAKER, HANDS, THERMOSTAT),
}
OF_THE_SECOND_STAGE = [
    name for name, (rule, _, _) in FAULTS.items() if rule in IN_A_STAGE and name not in ALWAYS
] + ["a carry on another day", "nowhere"]


@pytest.mark.parametrize("fault", OF_THE_SECOND_STAGE)
@pytest.mark.parametrize("by_start", [True, False])
def test_what_has_happened_is_no_fault(fault: str, by_start: bool) -> None:
    _, by_how_much, make = FAULTS[fault]
    season, plan = make()
    for begun, left in ((1, by_how_much), (2, LAST.get(fault, ""))):
        start = Start(begun, {t: path[:begun] for t, path in plan.stays.items()})
        plan = replace(plan, fixed_stages=0 if by_start else begun)
        plan = replace(plan, costs=checked(season, plan, start if by_start else None).costs)
        plan = replace(plan, proof=replace(plan.proof, objective=plan.costs.total))
        report = checked(season, plan, start if by_start else None)
        # A chance of loss is of the whole winter.
        findings = [one for one in report.findings if one.rule is not CHANCE]
        assert " and ".join(f"{f.by_how_much:.4g} {f.unit}" for f in findings) == left, begun


def checked(season, plan, start: Start | None) -> AuditReport:
    """The audit of a plan that began from something known."""
    return audit(season, make_conditions(season), STAGE_DAYS, plan, start)


def test_nobody_is_told_to_have_been_where_it_was_not() -> None:
    season, plan = good()
    was = {"ash": ("garden/bench", "shed/floor"), "birch": IN_AND_OUT}
    report = checked(season, plan, Start(2, was))
    assert [(f.rule, f.subject, f.stage) for f in report.findings] == [(STAYS, "ash", 1)]
    assert checked(season, plan, Start(1, was)).passed
    # Of the last stage nothing is known that binds, and of the cedar nothing at all.
    assert checked(season, plan, Start(2, {"ash": IN_AND_OUT})).passed


def test_a_tree_stays_where_it_was_found_and_not_where_a_plan_believes() -> None:
    season, plan = joined_by_cedar(ASH, CEDAR)
    stays = {tree_id: path[:2] for tree_id, path in plan.stays.items()}
    found = {"shed/bench": (replace(ASH, y_m=0.5), BIRCH)}
    assert checked(season, plan, Start(2, stays, layouts=None)).passed
    assert checked(season, plan, Start(2, stays, layouts={"shed/bench": (ASH, BIRCH)})).passed
    assert checked(season, plan, Start(2, stays, layouts={})).passed  # then it is new there
    (one,) = checked(season, plan, Start(2, stays, layouts=found)).findings
    assert (one.rule, one.subject, one.by_how_much) == (SPOT, "ash", pytest.approx(0.5))


def test_where_a_plan_of_mid_winter_began_is_believed() -> None:
    # Nobody knows better; only its first carry is then listed from the wrong place.
    season, plan = FAULTS["begins elsewhere"][2]()
    for begun, rules in ((0, {STAYS}), (1, {CARRIES})):
        report = run(season, replace(plan, fixed_stages=begun))
        assert {found.rule for found in report.findings} == rules


def test_how_far_a_tree_is_from_its_spot() -> None:
    season, plan = joined_by_cedar(replace(ASH, x_m=1.5, y_m=0.6), CEDAR)
    stays = {tree_id: path[:2] for tree_id, path in plan.stays.items()}
    was = {"shed/bench": (replace(ASH, x_m=1.4, y_m=0.2), BIRCH)}
    (one,) = checked(season, plan, Start(2, stays, layouts=was)).findings
    assert one.by_how_much == pytest.approx(0.4)


def test_spots_that_are_told_right() -> None:
    pushed = replace(ASH, x_m=1.5)
    told_of = (Shift(2, "shed/bench", "ash"),)
    season, plan = joined_by_cedar(pushed, CEDAR, shifts=told_of)
    plan = priced(season, plan)
    assert run(season, plan).passed
    # Three carries at 1 USD and a quarter of one for the push.
    assert plan.costs.carries == pytest.approx(3.25)
    # Turned on its spot, and pushed back: both are shifts.
    for now, by in ((replace(ASH, width_m=0.4, depth_m=0.5), 0.1), (replace(ASH, y_m=0.6), 0.6)):
        season, plan = joined_by_cedar(now, CEDAR)
        (one,) = run(season, plan).findings
        assert (one.rule, one.by_how_much) == (SPOT, pytest.approx(by))
    # A newcomer is not sent onto anyone where the one that stays is only drawn elsewhere.
    season, plan = joined_by_cedar(replace(ASH, x_m=1.5), CEDAR)
    (one,) = run(season, plan).findings
    assert "ash is drawn elsewhere" in one.text


@pytest.mark.parametrize(
    ("shift", "by"),
    [
        (Shift(2, "shed/bench", "oak"), "1 shifts"),
        (Shift(1, "shed/floor", "ash"), "1 shifts"),
        (Shift(0, "shed/bench", "ash"), ""),
    ],
)
def test_a_shift_of_nobody_is_a_fault_unless_it_is_past(shift: Shift, by: str) -> None:
    season, plan = joined_by_cedar(ASH, CEDAR, shifts=(shift,))
    report = run(season, priced(season, plan))
    assert " and ".join(f"{f.by_how_much:g} {f.unit}" for f in report.findings) == by


def not_brought() -> Case:
    """A tree that joins, and whose carry is not listed."""
    season, plan = joining((None, None, "garden/bench"))
    return season, replace(plan, carries=())


WORDS: dict[str, tuple[Callable[[], Case], str]] = {
    "listed twice": (FAULTS["a carry listed twice"][2], "bench is listed but not in the stays"),
    "not listed": (FAULTS["a carry not listed"][2], "garden/bench to shed/bench is not listed"),
    "a joining tree": (not_brought, "from outside to garden/bench is not listed"),
    "overlap": (FAULTS["drawn over one another"][2], "ash and birch overlap on shed/bench"),
    "quarantine": (FAULTS["quarantine"][2], "shares shed with 1 others"),
    "settings": (FAULTS["no setting"][2], "has 0 heater settings for 3 stages (by 3 stages)"),
    "thermostat": (
        FAULTS["hands on the thermostat"][2],
        "thermostat, stage 3: the heating of Shed is set 2 times instead of at most 1 (by 1 ch",
    ),
    "a taken spot": (FAULTS["sent onto a taken spot"][2], "cedar is sent to a spot of shed/bench"),
    "another spot": (FAULTS["drawn elsewhere"][2], "ash is drawn elsewhere on shed/bench, and no"),
    "an idle shift": (FAULTS["a shift of what stays"][2], "ash on shed/bench is listed wrongly"),
    "size": (FAULTS["drawn too small"][2], "ash is drawn 0.100 m off its size"),
}


@pytest.mark.parametrize("case", WORDS)
def test_a_fault_is_told_in_words(case: str) -> None:
    make, words = WORDS[case]
    (one,) = told(make()).findings
    assert words in str(one)


@pytest.mark.parametrize(
    ("by", "unit", "words"),
    # 1 in = 2.54 cm, 1 ft = 0.3048 m, 1 lb = 0.45359237 kg.
    [(0.0508, "m", "2 in"), (1.0, "m²", "10.8 ft²"), (19.5, "kg", "43 lb"), (3, "days", "3 days")],
)
def test_a_fault_is_told_in_the_sites_units(by: float, unit: str, words: str) -> None:
    told = Finding(HANDS, None, None, None, by, unit, "a fault").told(Display(us=True))
    assert told == f"hands and daylight: a fault (by {words})."


def good_at(weight_kg: float, **site: object) -> Case:
    """The good plan at a changed site, with a first tree of another weight."""
    season = make_season(*make_trees(weight_kg=weight_kg), site=replace(SITE, **site))
    return season, make_plan(season, GOOD_STAYS)


def drawn_with(**proof: object) -> Case:
    """The good plan drawn rightly, with another proof."""
    season, plan = drawn(ASH, BIRCH)
    return season, replace(plan, proof=replace(plan.proof, **proof))


MORE: dict[str, tuple[str, Callable[[], Case]]] = {
    "out of order, far": ("3 stages", lambda: stages(index=4)),
    "until another day": ("1 days", lambda: stages(until=MILD + timedelta(1))),
    "another usual day": (
        "2 days",
        lambda: stages(usual=COLD - timedelta(2), until=MILD),
    ),
    "left out three times": (
        "2 trees",
        lambda: without_ash(*(LeftOut("ash", Cure.NONE, None, ()),) * 3),
    ),
    "three stays too many": ("3 stages", lambda: told_stays(ash=IN_AND_OUT + OUTDOORS)),
    "a shelter that is none": (
        "1 shelter",
        lambda: changed(settings={**good()[1].settings, "barn": (OFF,) * 3}),
    ),
    "four settings": (
        "1 stages",
        lambda: changed(settings={"garden": (OFF,) * 3, "shed": (OFF, HOLD, OFF, OFF)}),
    ),
    "a carry in a stage that is none": (
        "1 carries",
        lambda: changed(
            carries=(*good()[1].carries, Carry(3, COLD, "cedar", "garden/bench", "garden/far"))
        ),
    ),
    "a breaker that nobody knows": ("1000 W", lambda: at_site(breakers_w={})),
    "set twice too often": (
        "1 changes",
        lambda: heated(HOLD, HOT, HOLD, thermostat_changes=0),
    ),
    "opens three days late": ("3 days and 3 days", lambda: in_shed(opens=COLD + timedelta(3))),
    "in quarantine in one winter": ("1 trees", lambda: good(quarantine_until=COLD + timedelta(1))),
    # 8 minutes, and 15 of both people.
    "a heavy tree to carry": (
        "34.4 minutes and 34.4 minutes",
        lambda: good_at(household=Household(hours_a_day=0.01), weight_kg=23.0),
    ),
    "rounds that ran back": ("1 figure", lambda: proven(rounds=-1)),
    "fewer misfits than none": ("1 figure", lambda: drawn_with(misfits=-1)),
    "left out for too little": ("100 USD", lambda: left_out_at(200.0)),
    "drawn nowhere and too large": (
        "1 figure and 0.5 m",
        lambda: drawn(replace(ASH, y_m=float("nan")), replace(BIRCH, width_m=1.0)),
    ),
    "one into the other from behind": (
        "0.2 m",
        lambda: drawn(replace(ASH, y_m=0.3), replace(BIRCH, x_m=0.0, y_m=0.5)),
    ),
    "three on one spot": (
        "1 trees and 0.4 m and 0.1 m and 0.2 m",
        lambda: drawn(ASH, replace(BIRCH, x_m=0.4, y_m=0.0), replace(CEDAR, x_m=0.1, y_m=0.0)),
    ),
}
"""More faults, by how much."""


@pytest.mark.parametrize("fault", MORE)
def test_by_how_much(fault: str) -> None:
    by_how_much, make = MORE[fault]
    found = [f"{one.by_how_much:.4g} {one.unit}" for one in told(make()).findings]
    assert " and ".join(found) == by_how_much


def test_every_pair_that_overlaps_is_named() -> None:
    texts = [one.text for one in told(MORE["three on one spot"][1]()).findings]
    pairs = ("ash and cedar", "ash and birch", "cedar and birch")
    assert texts[1:] == [f"{pair} overlap on shed/bench" for pair in pairs]


def test_a_heater_counts_until_it_breaks_and_others_beside_it() -> None:
    # The stage's last day in any winter is the 21st (day 21 of the second).
    assert told(in_shed(heaters=(replace(RADIATOR, broken_from=MILD + timedelta(2)),))).passed
    stove = Heater("stove", Carrier.ELECTRICITY, 1.0, 500.0, broken_from=COLD)
    assert told(in_shed(heaters=(RADIATOR, stove))).passed
    # Three days into the second winter's stage it is broken for seven, ten in the first.
    (one,) = told(in_shed(heaters=(replace(RADIATOR, broken_from=COLD + timedelta(5)),))).findings
    assert one.by_how_much == 7


def test_what_no_rule_forbids() -> None:
    assert told(proven(rounds=0)).passed
    assert told(proven(seconds=0.0)).passed
    assert told(drawn_with(misfits=0)).passed
    # A shelter closed for good before anyone is in it, and one that closes when all have left.
    assert told(in_shed(opens=COLD, closes=MILD + timedelta(2))).passed
    # Trees that join are brought, not carried: no hands are needed.
    season, plan = joining((None, None, "garden/bench"))
    idle = replace(season, site=replace(SITE, household=Household(hours_a_day=0.0)))
    assert run(idle, plan).passed
    # A plan that costs nothing: its gap is none.
    season = make_season(make_trees()[2])
    plan = make_plan(season, {"cedar": OUTDOORS})
    free = replace(plan.proof, bound=plan.costs.total, gap=0.0)
    assert run(season, replace(plan, proof=free)).passed
    # One behind the other.
    assert told(drawn(ASH, replace(BIRCH, x_m=0.0, y_m=0.5))).passed
    # Drawings of the first stage are facts, right or wrong; so are those of stages that have begun.
    cedar = {0: (CEDAR,), 1: (replace(CEDAR, x_m=2.0),)}
    season, plan = changed(layouts={"garden/bench": cedar, "shed/bench": {1: (ASH, BIRCH)}})
    assert [found.rule for found in run(season, plan).findings] == [SPOT]
    assert run(season, replace(plan, fixed_stages=2)).passed


def test_joining_on_a_day_that_winters_do_not_share() -> None:
    # The second stage begins on the 11th in one winter and on the 13th in the other: who comes on
    # the 12th is there with the third, in every winter. Who comes on the first day is there with
    # the second: the first stage is over when it begins.
    for joins, there in ((COLD + timedelta(1), 2), (STAGE_DAYS.stages[0].usual, 1)):
        season = make_season(make_tree("ash", joins=joins))
        for first in (1, 2):
            path = (None,) * first + ("shed/bench", "garden/bench")[first - 1 :]
            report = run(season, make_plan(season, {"ash": path}))
            assert report.passed == (first == there), (joins, first)


def test_a_stage_may_last_no_day() -> None:
    one, two, three = STAGE_DAYS.stages
    short = (one, replace(two, until=COLD), replace(three, early=COLD, usual=COLD, late=COLD))
    season, plan = good()
    days = StageDays(short, STAGE_DAYS.first_day, STAGE_DAYS.days)
    carries = tuple(replace(carry, day=COLD) for carry in plan.carries)
    plan = replace(plan, stages=short, carries=carries)
    assert audit(season, make_conditions(season), days, plan).passed
