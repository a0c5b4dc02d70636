"""Chances, costs and bill of the hand-made season beside figures worked out by hand.

A logistic about the LT50 whose slope gives 1 % at 3 K above it: 1 / (1 + 99^(m / 3)).
"""

import time
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from audit_season import (
    GOOD_STAYS,
    HOLD,
    HOT,
    IN_AND_OUT,
    OFF,
    OUTDOORS,
    SITE,
    STAGE_DAYS,
    make_conditions,
    make_plan,
    make_season,
    make_tree,
    make_trees,
    run,
)

from overwinter.audit.audit import audit
from overwinter.model.changes import Start
from overwinter.model.plan import Plan
from overwinter.model.shelter import Conditions, PlaceConditions, RootZone, ShelterConditions
from overwinter.model.species import Harm, LeafHabit
from overwinter.model.stage import StageDays
from overwinter.rules.figures import COSTS

UNHEATED = (OFF, OFF, OFF)
LOST = 1.0 - 0.99 * 0.9998
"""Old roots at -5 degC, 3 K above their LT50: 1 % of trees; young ones a fiftieth of the value."""


def test_a_sound_plan_passes() -> None:
    season = make_season(*make_trees())
    report = run(season, make_plan(season, GOOD_STAYS))
    assert report.findings == ()
    assert report.passed


def test_costs_of_the_good_plan() -> None:
    # Heat: 10 days of 2 USD, and 10 of 1. Carries: two trees in and out at 1 USD. Cover: stage 1 of
    # the first winter has two days after the frost, that of the second none; one on average, two
    # trees, 0.04 USD each.
    season = make_season(*make_trees())
    report = run(season, make_plan(season, GOOD_STAYS))
    assert report.costs.heat == pytest.approx(15.0)
    assert report.costs.carries == pytest.approx(4.0)
    assert report.costs.cover == pytest.approx(0.08)
    assert report.costs.losses == pytest.approx(0.0, abs=1e-3)
    assert report.costs.crowding == report.costs.not_home == report.costs.disturbance == 0.0
    # Percentiles between two figures lie on a straight line (Hyndman & Fan 1996, type 7).
    assert (report.bill.low, report.bill.high) == pytest.approx((11.0, 19.0))
    (use,) = report.heat
    assert (use.shelter_id, use.stage) == ("shed", 1)
    assert (use.purchased_kwh, use.money) == pytest.approx((60.0, 15.0))


def test_the_bill_joins_winters_and_walls() -> None:
    # On in the last two stages: 20 and 10 USD, then 20 and 8 (ten and eight days). Walls may save a
    # fifth or cost half as much again; independent of the winters, so squares add up.
    season = make_season(*make_trees())
    plan = make_plan(season, GOOD_STAYS, (OFF, HOLD, HOLD))
    conditions = make_conditions(season)
    for unsure, low, high in (
        ((0.2, 0.5), 29.0 - np.hypot(8.8, 5.8), 29.0 + np.hypot(8.8, 14.5)),
        ((1.5, 0.0), 0.0, 29.0 + 8.8),  # no bill is below nothing
    ):
        shed = replace(conditions.shelters["shed"], heat_unsure=unsure)
        shelters = {**conditions.shelters, "shed": shed}
        report = audit(season, replace(conditions, shelters=shelters), STAGE_DAYS, plan)
        # Winters of 40 and 18 USD: a tenth of the way in from either is 2.2 of 11.
        assert report.bill.mean == pytest.approx(29.0)
        assert (report.bill.low, report.bill.high) == pytest.approx((low, high))
        use = report.heat[0]
        assert (use.from_kwh, use.to_kwh) == pytest.approx(
            (60.0 * (1.0 - unsure[0]), 60.0 * (1.0 + unsure[1]))
        )


def test_losses_and_trees_away_add_up() -> None:
    season = make_season(make_tree("ash"), make_tree("birch"))
    stays = ("garden/bench", "shed/bench", "garden/far")
    report = run(season, make_plan(season, {"ash": stays, "birch": stays}, UNHEATED))
    assert report.costs.not_home == 2 * SITE.weights.not_home
    assert report.costs.losses == pytest.approx(2 * 3 * 100 * LOST / 2, rel=1e-4)


def test_what_disturbs_is_believed_only_where_nobody_knows_better() -> None:
    season = make_season(make_tree("ash"), make_tree("birch"))
    plan = make_plan(season, {"ash": IN_AND_OUT, "birch": IN_AND_OUT})
    told = replace(plan, costs=replace(plan.costs, disturbance=7.0))
    for begun, start, disturbance in (
        (0, None, 0.0),
        (1, None, 7.0),
        (1, Start(1, {}), 0.0),
        # Two trees to the shed and home again, none of it in the plan in force.
        (0, Start(1, {}, known_targets={}), 4 * SITE.weights.extra_carry),
        (2, Start(2, {}, known_targets={}), 2 * SITE.weights.extra_carry),
    ):
        one = replace(told, fixed_stages=begun)
        report = audit(season, make_conditions(season), STAGE_DAYS, one, start)
        assert report.costs.disturbance == disturbance, (begun, start)


def test_chance_is_the_mean_over_the_winters() -> None:
    # In the second winter the shed does not freeze.
    season = make_season(make_tree("ash"))
    report = run(season, make_plan(season, {"ash": IN_AND_OUT}, UNHEATED))
    risk = report.risks["ash"]
    assert risk.chance == pytest.approx(LOST / 2, rel=1e-4)
    assert risk.by_stage == pytest.approx((0.0, 0.005, 0.0), abs=1e-6)  # young roots mend
    assert risk.by_harm[Harm.OLD_ROOTS] == pytest.approx(0.005, rel=1e-4)
    assert risk.by_harm[Harm.YOUNG_ROOTS] == pytest.approx(0.0001, rel=1e-4)
    assert risk.worst is Harm.OLD_ROOTS
    assert risk.coldest_root_c == pytest.approx(-4.78)  # one of 50: 0.02 of the way from -5 to 6
    assert risk.loss == report.expected_loss == pytest.approx(100 * LOST / 2, rel=1e-4)
    begun = replace(make_plan(season, {"ash": IN_AND_OUT}, UNHEATED), fixed_stages=2)
    past = audit(season, make_conditions(season), STAGE_DAYS, begun, Start(2, {})).risks["ash"]
    assert (past.chance, past.coldest_root_c) == pytest.approx((0.0, 6.0))  # of what is ahead
    assert report.costs.losses == pytest.approx(3 * 100 * LOST / 2, rel=1e-4)


def test_lost_is_the_part_of_the_chance_that_does_not_mend() -> None:
    # 3 K above the LT50 of all roots 1 in 100, at it half; young ones are a fiftieth of their tree
    # and mend; just repotted it has hardly any others: six tenths. What is left of each harm
    # multiplies; chances do not add up.
    for changes, chance, lost in (
        ({}, 1 - 0.99 * 0.9998, 0.01),
        ({"young_roots": True}, 1 - 0.99 * 0.994, 1 - 0.99 * 0.994),
        ({"root_kill_c": -5.0}, 1 - 0.5 * 0.99, 0.5),
        ({"root_kill_c": -5.0, "young_roots": True}, 1 - 0.5 * 0.7, 1 - 0.5 * 0.7),
    ):
        season = make_season(make_tree("ash", **changes))
        risk = run(season, make_plan(season, {"ash": IN_AND_OUT}, UNHEATED)).risks["ash"]
        assert risk.chance == pytest.approx(chance / 2, rel=1e-3), changes
        assert risk.lost == pytest.approx(lost / 2, rel=1e-3), changes
        assert risk.lost <= risk.chance <= sum(risk.by_harm.values()) + 1e-9


def test_a_tree_owes_only_the_chilling_of_the_days_left() -> None:
    # It joins on the 21st: a third of 30 days is left, so it owes a third of 900 hours. At 6 degC
    # every hour counts, in frost none: 22 days give 528 h, 20 give 480 h; 264 h of the first ten.
    stays = {"ash": (None, None, "garden/bench")}
    joining = make_tree("ash", joins=date(2026, 12, 21), chill_need=900.0)
    season = make_season(joining)
    report = run(season, make_plan(season, stays))
    assert report.passed
    # The state is that at the beginning of the last day: a day of 24 h less.
    earned = np.mean([528 - 24, 480 - 24]) / 300.0
    assert report.risks["ash"].chill_share == pytest.approx(earned, rel=0.01)
    assert report.costs.carries == 0.0


def test_too_little_chilling_is_a_harm_of_the_whole_winter() -> None:
    # 504 and 456 of 1,000 h: half the value times the square of what is missing (a judgement).
    season = make_season(
        make_tree(
            "ash",
            chill_need=1000.0,
            root_kill_c=-60.0,
            root_kill_unhardened_c=-60.0,
            root_kill_young_c=-60.0,
        )
    )
    risk = run(season, make_plan(season, {"ash": OUTDOORS})).risks["ash"]
    expected = np.mean([0.5 * (1 - 0.504) ** 2, 0.5 * (1 - 0.456) ** 2])
    assert risk.by_harm[Harm.SHORT_CHILL] == pytest.approx(expected, rel=1e-3)
    assert risk.chance == pytest.approx(expected, rel=1e-3)
    assert max(risk.by_stage) < 1e-6


def test_crowding_counts_what_is_beyond_the_comfortable_share() -> None:
    # Two of 0.8 m2 on 2 m2: 0.2 m2 over 70 %, for ten days, at 0.05 USD.
    big = {"width_m": 1.0, "depth_m": 0.8}
    season = make_season(make_tree("ash", **big), make_tree("birch", **big))
    # The last stage takes ten days in one winter, eight in the other; nobody crowds the open.
    late = ("garden/bench", "garden/far", "shed/bench")
    report = run(season, make_plan(season, {"ash": late, "birch": late}))
    assert report.costs.crowding == pytest.approx(0.09)
    report = run(season, make_plan(season, {"ash": IN_AND_OUT, "birch": IN_AND_OUT}))
    assert report.costs.crowding == pytest.approx(0.1)
    use = next(use for use in report.uses if use.place_id == "shed/bench")
    assert (use.trees, use.stage, use.load_kg) == (2, 1, 20.0)
    assert use.share == pytest.approx(1.6 / 1.8)


def test_two_people_carry_a_heavy_tree() -> None:
    # The NIOSH load constant is 23 kg (Waters and others 1993): from there on two people.
    season = make_season(make_tree("ash", weight_kg=23.0), make_tree("birch", weight_kg=22.9))
    report = run(season, make_plan(season, {"ash": IN_AND_OUT, "birch": IN_AND_OUT}))
    assert report.costs.carries == pytest.approx(2 * 4.0 + 2 * 1.0)


def test_a_tree_away_at_the_end_is_paid_for() -> None:
    season = make_season(make_tree("ash"))
    stays = ("garden/bench", "shed/bench", "garden/far")
    report = run(season, make_plan(season, {"ash": stays}))
    assert report.costs.not_home == SITE.weights.not_home
    # Outdoors but away: a quarter of the days of stage 2, ten and eight, all mild.
    assert report.costs.cover == pytest.approx(0.04 * (1.0 + 0.25 * 9.0))


def test_carries_that_the_plan_in_force_did_not_have_disturb() -> None:
    season = make_season(make_tree("ash"))
    plan = make_plan(season, {"ash": IN_AND_OUT})
    for known, disturbed in (
        (frozenset({"shed/bench", "garden/bench"}), 0.0),
        (frozenset({"garden/bench"}), SITE.weights.extra_carry),
    ):
        start = Start(1, {"ash": ("garden/bench",)}, known_targets={"ash": known})
        report = audit(season, make_conditions(season), STAGE_DAYS, plan, start)
        assert report.costs.disturbance == disturbed
        assert {found.rule for found in report.findings} == ({COSTS} if disturbed else set())


def test_leaving_out_costs_what_the_plan_says() -> None:
    season = make_season(make_tree("ash"))
    plan = make_plan(season, {"ash": OUTDOORS})
    costs = replace(plan.costs, left_out=77.0)
    assert run(season, replace(plan, costs=costs)).costs.left_out == 77.0


def test_light_is_told_only_of_days_in_leaf_and_warm() -> None:
    # 5 of 10 mol; the shed is at 20 degC on the ten days of stage 1 only.
    evergreen = make_tree(
        "ash", leaf=LeafHabit.EVERGREEN, light_floor_mol_m2_d=20.0, dark_below_c=10.0
    )
    season = make_season(evergreen)
    hot = run(season, make_plan(season, {"ash": IN_AND_OUT}, (OFF, HOT, OFF)))
    assert hot.risks["ash"].light_share == pytest.approx(0.5)
    cool = run(season, make_plan(season, {"ash": IN_AND_OUT}, (OFF, HOLD, OFF)))
    assert cool.risks["ash"].light_share is None


def test_a_large_collection_takes_less_than_two_seconds() -> None:
    # 120 trees of as many kinds and paths, 30 winters, 290 days.
    kinds = [
        make_tree(f"t{i}", root_kill_c=-8.0 - i / 50, width_m=0.1, depth_m=0.1) for i in range(120)
    ]
    season = make_season(*kinds)
    plan = make_plan(season, {tree.id: IN_AND_OUT for tree in kinds})
    plan = _until(plan, date(2027, 9, 17))
    site = replace(SITE, ends=date(2027, 9, 16))
    long = replace(season, site=site)
    began = time.process_time()
    first = np.zeros((3, 30), dtype=np.intp)
    first[1], first[2] = 60, 200
    report = audit(
        long,
        _stretched(make_conditions(season), 30, 290),
        StageDays(plan.stages, first, 290),
        plan,
    )
    assert len(report.risks) == 120
    assert time.process_time() - began < 2.0


def _until(plan: Plan, day: date) -> Plan:
    return replace(plan, stages=(*plan.stages[:-1], replace(plan.stages[-1], until=day)))


def _stretched(conditions: Conditions, winters: int, days: int) -> Conditions:
    """The first winter's first days over and over."""

    def wide(array: np.ndarray) -> np.ndarray:
        one = array[..., :1, :]
        return np.resize(one[..., 0, :], (*one.shape[:-2], winters, days)) * 1.0

    def place(one: PlaceConditions) -> PlaceConditions:
        daily = {n: wide(v) for n, v in vars(one).items() if isinstance(v, np.ndarray)}
        root = {k: RootZone(*(wide(a) for a in vars(z).values())) for k, z in one.root.items()}
        return replace(one, **daily, root=root)

    def shelter(one: ShelterConditions) -> ShelterConditions:
        daily = {n: wide(getattr(one, n)) for n in ("purchased_kwh", "money")}
        return replace(one, **daily)

    return Conditions(
        wide(conditions.outdoor_min_c),
        np.full(days, 9.5),
        {k: shelter(v) for k, v in conditions.shelters.items()},
        {k: place(v) for k, v in conditions.places.items()},
    )
