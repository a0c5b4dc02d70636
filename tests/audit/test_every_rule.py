"""Each rule of the audit: a good plan passes, and the same plan with one thing broken does not.

Expected numbers are worked out by hand from the round figures in ``audit_season``.
"""

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from audit_season import (
    AFTER,
    FROST,
    GARDEN,
    HEATED,
    HOME,
    HUGE,
    IN_SHED,
    SHED,
    SITE,
    SPELLS,
    STARTS,
    THAW,
    good,
    make_conditions,
    make_plan,
    make_season,
    make_tree,
)

from overwinter.audit import AuditReport, Rule, audit
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Layout, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Shelter
from overwinter.model.species import LeafHabit
from overwinter.model.tree import Tree

Case = tuple[Season, Conditions, Plan]


def priced(season: Season, conditions: Conditions, plan: Plan) -> Case:
    """The plan with the costs the audit finds: for cases that are not about money."""
    return season, conditions, replace(plan, costs=audit(season, conditions, plan).costs)


def with_ash(**changes: object) -> Case:
    """The good plan, the first tree changed."""
    return priced(*good(make_tree("ash", **changes), make_tree("birch"), make_tree("cedar")))


def with_site(**changes: object) -> Case:
    """The good plan at a changed site."""
    return priced(*good(site=replace(SITE, **changes)))


def with_shed(**changes: object) -> Case:
    """The good plan with a changed shed."""
    shed: Shelter = replace(SHED, **changes)
    return priced(*good(shelters=(GARDEN, shed)))[:1] + priced(*good())[1:]


def with_plan(change: Callable[[Plan], Plan]) -> Case:
    """The good season with a changed plan, costs left as they were."""
    season, conditions, plan = good()
    return season, conditions, change(plan)


def stays(plan: Plan, **paths: tuple[str | None, ...]) -> Plan:
    """The plan with other stays for some trees and the carries they call for."""
    changed = make_plan({**plan.stays, **paths}, HEATED)
    return replace(plan, stays=changed.stays, carries=changed.carries)


def cold_night() -> Case:
    """The heater stays off through the frost; only the first tree minds (-8 is below -7)."""
    hardy = [make_tree(name, root_kill_c=-20.0, root_kill_unhardened_c=-20.0) for name in "bc"]
    season, conditions, plan = good(make_tree("ash"), *hardy)
    return priced(season, conditions, replace(plan, settings={"shed": ("off", "off", "off")}))


def too_large_a_hold() -> Case:
    """A setting in force that the heater cannot keep at the design temperature."""
    season, conditions, plan = good()
    return priced(season, conditions, replace(plan, settings={"shed": ("off", HUGE.key, "off")}))


def slow_shed(time_constant_h: float) -> Case:
    """Roots that die below 15 degC go from a warm cellar into a shed freshly turned up to 20.

    The plan's figures have the shed at 20 all winter. With its real schedule it stands at -8 until
    the day before; 1000 W over 15 W/K would end at 58.7 degC, but a time constant of 100 h leaves
    it at -8 + 66.7 (1 - exp(-0.24)) = 6.2 degC when the trees come.
    """
    assert SHED.envelope is not None
    heavy = replace(SHED.envelope, heat_capacity_j_k=15.0 * 3600.0 * time_constant_h)
    tree = make_tree(
        "ficus", root_kill_c=15.0, root_kill_unhardened_c=15.0, stands_at="cellar/bench"
    )
    season = make_season(tree)
    shelters = tuple(replace(s, envelope=heavy) if s.id == "shed" else s for s in season.shelters)
    season = replace(season, shelters=shelters)
    conditions = make_conditions(cellar=np.full(720, 22.0))
    strong = replace(
        conditions.shelters["shed"],
        holds_at_design=(True, True, True),
        design_shortfall_w=(0.0, 0.0, 0.0),
    )
    conditions = replace(conditions, shelters={**conditions.shelters, "shed": strong})
    plan = make_plan(
        {"ficus": ("cellar/bench", "cellar/bench", "shed/bench")}, ("off", "off", HUGE.key)
    )
    plan = replace(plan, carries=plan.carries[1:])  # it stands in the cellar from the start
    return priced(season, conditions, plan)


def drawn(*layouts: Layout) -> Case:
    """The good plan with the shed's bench drawn in the frost."""
    return with_plan(lambda plan: replace(plan, layouts={"shed/bench": {1: layouts}}))


ASH, BIRCH, CEDAR = (
    Layout("ash", 0.0, 0.0, 0.5, 0.4),
    Layout("birch", 0.5, 0.0, 0.4, 0.5),
    Layout("cedar", 1.5, 0.6, 0.5, 0.4),
)
"""Side by side, one turned, the last in the far corner of 2 m x 1 m."""

BROKEN: dict[str, tuple[Callable[[], Case], Rule, int, float, str]] = {
    "last day missing": (
        lambda: with_plan(
            lambda p: replace(
                p, spells=(*SPELLS[:2], replace(SPELLS[2], end=AFTER - timedelta(days=1)))
            )
        ),
        Rule.SPELLS,
        1,
        1.0,
        "days",
    ),
    "gap between spells": (
        lambda: with_plan(
            lambda p: replace(
                p, spells=(replace(SPELLS[0], end=FROST - timedelta(days=3)), *SPELLS[1:])
            )
        ),
        Rule.SPELLS,
        1,
        3.0,
        "days",
    ),
    "tree forgotten": (
        lambda: with_plan(lambda p: make_plan({"ash": IN_SHED, "birch": IN_SHED}, HEATED)),
        Rule.ACCOUNTED,
        1,
        1.0,
        "item",
    ),
    "tree nowhere in the frost": (
        lambda: with_plan(lambda p: stays(p, ash=(HOME, None, HOME))),
        Rule.STAYS,
        1,
        1.0,
        "spell",
    ),
    "too few stays": (
        lambda: with_plan(lambda p: replace(p, stays={**p.stays, "ash": (HOME, HOME)})),
        Rule.STAYS,
        1,
        1.0,
        "item",
    ),
    "place that does not exist": (
        lambda: with_plan(lambda p: stays(p, ash=(HOME, "shed/attic", HOME))),
        Rule.KNOWN_PLACE,
        1,
        1.0,
        "place",
    ),
    "setting that does not exist": (
        lambda: with_plan(lambda p: replace(p, settings={"shed": ("off", "hold 9 °C", "off")})),
        Rule.SETTING,
        1,
        1.0,
        "setting",
    ),
    "no setting at all": (
        lambda: with_plan(lambda p: replace(p, settings={})),
        Rule.SETTING,
        1,
        1.0,
        "item",
    ),
    "shed opens a day late": (
        lambda: with_shed(opens=FROST + timedelta(days=1)),
        Rule.OPEN,
        3,
        1.0,
        "days",
    ),
    "shed closes two days early": (
        lambda: with_shed(closes=THAW - timedelta(days=2)),
        Rule.OPEN,
        3,
        2.0,
        "days",
    ),
    "taller than the headroom of 2 m": (
        lambda: with_ash(height_m=2.3),
        Rule.HEADROOM,
        1,
        0.3,
        "m",
    ),
    "wider than the bench of 2 m": (
        lambda: with_ash(width_m=0.4, depth_m=2.5),
        Rule.WIDTH,
        1,
        0.5,
        "m",
    ),
    # 1.7 x 0.95 + 2 x 0.2 = 2.015 m2 on 2 m2, of which 0.9 may be filled
    "fuller than allowed": (lambda: with_ash(width_m=1.7, depth_m=0.95), Rule.AREA, 1, 0.215, "m2"),
    "heavier than the bench bears": (lambda: with_ash(weight_kg=90.0), Rule.LOAD, 1, 10.0, "kg"),
    "drawn over the edge": (
        lambda: drawn(replace(ASH, x_m=-0.1), BIRCH, CEDAR),
        Rule.LAYOUT,
        1,
        0.1,
        "m",
    ),
    "drawn over each other": (
        lambda: drawn(ASH, replace(BIRCH, x_m=0.3), CEDAR),
        Rule.LAYOUT,
        1,
        0.2,
        "m",
    ),
    "drawn too small": (
        lambda: drawn(replace(ASH, width_m=0.4), BIRCH, CEDAR),
        Rule.LAYOUT,
        1,
        0.1,
        "m",
    ),
    "not drawn": (lambda: drawn(ASH, BIRCH), Rule.LAYOUT, 1, 1.0, "trees"),
    # -8 degC; killed at -10, 3 K above it is the working floor
    "roots too cold": (cold_night, Rule.ROOTS, 1, 1.0, "K"),
    "air too cold": (lambda: with_ash(air_floor_c=5.5), Rule.AIR, 1, 0.5, "K"),
    "too warm to rest": (lambda: with_ash(rest_ceiling_c=4.0), Rule.REST, 1, 1.0, "K"),
    # 720 h between 0 and 7.2 degC
    "too little chilling": (lambda: with_ash(chill_need=800.0), Rule.CHILL, 1, 80.0, "chill hours"),
    # outdoors 50 W/m2 x 0.0864 MJ/(m2 d) x 2.06 mol/MJ = 8.8992, half of it in the shed
    "too dark": (
        lambda: with_ash(leaf=LeafHabit.EVERGREEN, light_floor_mol_m2_d=5.0, dark_below_c=4.0),
        Rule.LIGHT,
        1,
        5.0 - 4.4496,
        "mol/(m2 d)",
    ),
    # exposure 1 x appeal 0.5, limit 0.3
    "mice": (
        lambda: priced(*with_appeal(0.5)),
        Rule.RODENTS,
        1,
        0.2,
        "of exposure",
    ),
    "quarantine shared": (
        lambda: with_ash(quarantine_until=date(2026, 12, 15)),
        Rule.QUARANTINE,
        2,
        2.0,
        "trees",
    ),
    "not where it is pinned": (
        lambda: with_ash(pinned=frozenset({"cellar"})),
        Rule.PINNED,
        1,
        1.0,
        "place",
    ),
    "where it must not be": (
        lambda: with_ash(forbidden=frozenset({"shed"})),
        Rule.FORBIDDEN,
        1,
        1.0,
        "place",
    ),
    "heater too small": (too_large_a_hold, Rule.HOLDS, 1, 700.0, "W"),
    "breaker overloaded": (
        lambda: with_site(breakers_w={"shed": 800.0}),
        Rule.BREAKER,
        1,
        200.0,
        "W",
    ),
    "carry missing": (
        lambda: with_plan(lambda p: replace(p, carries=p.carries[1:])),
        Rule.CARRIES,
        1,
        1.0,
        "carries",
    ),
    "carry twice": (
        lambda: with_plan(lambda p: replace(p, carries=(*p.carries, p.carries[0]))),
        Rule.CARRIES,
        1,
        1.0,
        "carries",
    ),
    "too many carries a day": (
        lambda: with_site(carries_per_day=2),
        Rule.CARRIES_PER_DAY,
        2,
        1.0,
        "carries",
    ),
    "too many carry days": (
        lambda: with_site(carry_days_max=1),
        Rule.CARRY_DAYS,
        1,
        1.0,
        "days",
    ),
    "heat made cheap": (
        lambda: with_plan(lambda p: replace(p, costs=replace(p.costs, heat=17.0))),
        Rule.COSTS,
        1,
        1.0,
        "EUR",
    ),
    # 6.2 degC where 15 kills, and colder roots still on the way
    "turned up too late": (lambda: slow_shed(100.0), Rule.SWITCHING, 1, None, "K"),
}


def with_appeal(appeal: float) -> Case:
    """The first tree spends the frost on the floor, where mice run."""
    ash = make_tree("ash", rodent_appeal=appeal)
    season, conditions, plan = good(ash, make_tree("birch"), make_tree("cedar"))
    return season, conditions, stays(plan, ash=(HOME, "shed/floor", HOME))


def run(case: Case) -> AuditReport:
    """The audit's report on a case."""
    return audit(*case)


def test_good_plan_passes_every_rule() -> None:
    """A plan that holds every rule passes, with all rules checked and the costs worked by hand."""
    report = run(good())
    assert report.findings == ()
    assert report.passed
    assert set(report.rules_checked) == set(Rule)
    assert report.costs.heat == pytest.approx(18.0)
    assert (report.costs.carries, report.costs.carry_days) == (6.0, 10.0)
    assert (report.costs.crowding, report.costs.rodents, report.costs.not_home) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize("name", BROKEN)
def test_one_thing_broken_is_found(name: str) -> None:
    """Each seeded violation is found, alone, as often and by as much as it was made."""
    make, rule, times, by_how_much, unit = BROKEN[name]
    report = run(make())
    assert not report.passed
    assert {finding.rule for finding in report.findings} == {rule}, report.findings
    assert len(report.findings) == times
    for finding in report.findings:
        assert finding.unit == unit
        assert finding.by_how_much > 0
        if by_how_much is not None:
            assert finding.by_how_much == pytest.approx(by_how_much, abs=1e-6)


def test_every_rule_is_broken_by_some_case() -> None:
    """No rule is without a case that breaks it (the day of a carry has its own test)."""
    assert {case[1] for case in BROKEN.values()} | {Rule.CARRY_DAY} == set(Rule)


@pytest.mark.parametrize(
    "case",
    [
        lambda: with_ash(height_m=2.0),
        lambda: with_ash(width_m=0.4, depth_m=2.0),
        lambda: with_ash(weight_kg=80.0),
        lambda: with_ash(air_floor_c=5.0),
        lambda: with_ash(rest_ceiling_c=5.0),
        lambda: with_ash(chill_need=720.0),
        lambda: with_ash(leaf=LeafHabit.EVERGREEN, light_floor_mol_m2_d=4.4, dark_below_c=4.0),
        lambda: with_ash(leaf=LeafHabit.EVERGREEN, light_floor_mol_m2_d=8.0, dark_below_c=5.0),
        lambda: priced(*with_appeal(0.3)),
        lambda: with_ash(pinned=frozenset({"shed"})),
        lambda: with_ash(pinned=frozenset({"shed/bench"})),
        lambda: with_ash(forbidden=frozenset({"cellar", "shed/floor"})),
        lambda: with_site(breakers_w={"shed": 1000.0}),
        lambda: with_site(carries_per_day=3),
        lambda: with_site(carry_days_max=2),
        lambda: with_shed(opens=FROST, closes=THAW),
        lambda: drawn(ASH, BIRCH, CEDAR),
        lambda: slow_shed(0.5),
    ],
)
def test_just_kept_limits_pass(case: Callable[[], Case]) -> None:
    """A limit that is exactly kept, or a rule that does not apply, breaks nothing."""
    assert run(case()).findings == ()


def test_carry_inside_a_spell() -> None:
    """A carry on another day is both no carry the stays call for and on no first day."""

    def later(plan: Plan) -> Plan:
        first, *others = plan.carries
        return replace(plan, carries=(replace(first, day=FROST + timedelta(days=2)), *others))

    rules = [finding.rule for finding in run(with_plan(later)).findings]
    assert sorted(set(rules)) == sorted({Rule.CARRIES, Rule.CARRY_DAY})


def test_unsound_plan_is_not_passed_on_silently() -> None:
    """A plan too broken to be laid out reports which rules were looked at, and does not pass."""
    season, conditions, plan = good()
    report = audit(season, conditions, replace(plan, spells=()))
    assert not report.passed
    assert Rule.ROOTS not in report.rules_checked


def test_unknown_tree_and_shelter() -> None:
    """A tree and a shelter nobody has are named."""
    season, conditions, plan = good()
    odd = replace(
        plan,
        stays={**plan.stays, "ghost": IN_SHED},
        settings={**plan.settings, "barn": ("off", "off", "off")},
    )
    texts = [finding.text for finding in audit(season, conditions, odd).findings]
    assert texts == ["no tree is called ghost", "no shelter is called barn"]


def test_joining_tree() -> None:
    """A tree is nowhere before it joins; joining is one carry with no place it comes from."""
    late = make_tree("late", joins=FROST)
    season = make_season(late)
    plan = make_plan({"late": (None, "shed/bench", HOME)}, HEATED)
    report = run(priced(season, make_conditions(), plan))
    assert report.findings == ()
    assert report.costs.carries == 2.0
    early = make_plan({"late": (HOME, "shed/bench", HOME)}, HEATED)
    assert {f.rule for f in audit(season, make_conditions(), early).findings} == {Rule.STAYS}
    unsplit = make_season(make_tree("late", joins=FROST + timedelta(days=3)))
    found = audit(unsplit, make_conditions(), plan).findings
    assert [f.rule for f in found] == [Rule.STAYS]


def test_two_in_quarantine_may_share() -> None:
    """Trees in quarantine stand together, apart from the healthy ones, outdoors and in."""
    until = date(2026, 12, 25)
    sick: list[Tree] = [make_tree(name, quarantine_until=until) for name in ("ash", "birch")]
    season, conditions, plan = good(*sick, make_tree("cedar"))
    apart = ("garden/far", "cellar/bench", "garden/far")
    plan = stays(plan, ash=apart, birch=apart)
    assert run(priced(season, conditions, plan)).findings == ()
    # released in the third spell's middle: it still counts for the whole spell
    back = stays(plan, ash=("garden/far", "cellar/bench", HOME))
    found = run(priced(season, conditions, back)).findings
    assert [(f.rule, f.subject, f.spell) for f in found] == [(Rule.QUARANTINE, "ash", 2)]


def test_first_spell_away_from_home_is_a_carry() -> None:
    """A first place other than where the tree stands is carried to on the first day."""
    season, conditions, plan = good()
    plan = stays(plan, ash=("garden/far", "shed/bench", HOME))
    report = run(priced(season, conditions, plan))
    assert report.findings == ()
    assert report.costs.carry_days == 15.0
    assert plan.carry_days == (STARTS, FROST, THAW)
