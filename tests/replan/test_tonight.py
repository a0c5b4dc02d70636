"""The word for tonight: its chances against the audit's, its advice against a grower's sense."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from made import plain
from replan_cases import FROST, GARDEN, HARD, SHED, hand_plan, season, stage

from overwinter.audit.audit import audit
from overwinter.climate.series import by_day
from overwinter.model.changes import Mark
from overwinter.model.plan import Carry, Plan
from overwinter.model.stage import Sign, StageDays
from overwinter.render.tonight_report import tonight_report
from overwinter.replan.night_ways import Evening, NightChances, past_of
from overwinter.replan.past import begun_stages
from overwinter.replan.replan import InForce
from overwinter.replan.tonight import Tonight, tonight
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.exposures import kind_of
from overwinter.simulate.follow import lasting

LARCH_IN = Mark(FROST, "Larch", SHED)
ALL_IN = tuple(Mark(FROST, tree, SHED) for tree in ("Larch", "Olive", "Elm 1/2", "Elm 2/2"))


def word(
    *lows_c: float,
    day: date = HARD,
    minutes: float = 60.0,
    people: int = 2,
    marks: tuple[Mark, ...] = (LARCH_IN,),
    **cloth_m2: float,
) -> Tonight:
    """The word of the hand-made plan on a day."""
    evening = Evening(day, lows_c, minutes, people, cloth_m2)
    return tonight(season(), InForce(hand_plan(), marks=marks), evening)


def way_of(found: Tonight, tree_id: str) -> tuple[str, int | None]:
    """Where a tree stands then, and the night before which it is carried."""
    one = next(one for one in found.trees if one.tree_id == tree_id)
    return one.way.place_id, one.way.night


def test_chances_are_the_audits() -> None:
    """Each winter's own minimum as the forecast is that winter, so the audit of a plan in which
    the trees stand there says the same of a stage of that one night."""
    quiet, day = season(), 60
    first = quiet.date_of(day)
    conditions = compute_conditions(quiet)
    where = {"Larch": SHED, "Olive": GARDEN, "Elm 1/2": GARDEN, "Elm 2/2": SHED}
    turns = [quiet.date_of(d) for d in (0, day, day + 1, quiet.days)]
    stages = tuple(
        stage(k, Sign.CALENDAR if k else Sign.START, None, *turns[k : k + 2]) for k in range(3)
    )
    first_day = np.repeat([[0], [day], [day + 1]], quiet.winters.count, axis=1)
    off = conditions.shelters["shed"].settings[0]
    plan = replace(
        hand_plan(),
        stages=stages,
        settings={"garden": (off,) * 3, "shed": (off,) * 3},
        stays={tree: (GARDEN, at, at) for tree, at in where.items()},
        carries=tuple(
            Carry(1, first, tree, GARDEN, at) for tree, at in where.items() if at != GARDEN
        ),
        fixed_stages=2,
    )
    report = audit(quiet, conditions, StageDays(stages, first_day, quiet.days), plan)
    begun = begun_stages(quiet, hand_plan(), (), first)
    past = past_of(quiet, hand_plan(), (), begun, day)
    lows = by_day(quiet.winters.air_c).min(axis=-1)[:, day : day + 1]
    chances = NightChances(quiet, past, day, lows)
    hazards = chances.hazards([(quiet.tree_by_id[t], at, 0) for t, at in where.items()])
    kinds = [kind_of(quiet.tree_by_id[t]) for t in where]
    for_good = np.einsum("nwsh,nh->nw", hazards, np.array([lasting(kind) for kind in kinds]))
    found = (1.0 - np.exp(-for_good)).mean(axis=1)
    for tree_id, chance in zip(where, found, strict=True):
        assert chance == pytest.approx(report.risks[tree_id].by_stage[1], rel=1e-3, abs=1e-7)
    assert found.max() > 1e-4, "a check of zeros could not fail"


def test_a_mild_night_and_a_bitter_one() -> None:
    """-2 asks for nothing; at -20 in December, roots of olive and elm in small pots die in the
    open (both are killed well above -15: the species table)."""
    mild = word(-2.0)
    assert mild.begins == ()
    bitter = word(-20.0)
    assert mild.loss_left < bitter.loss_left / 20
    assert way_of(mild, "Elm 1/2") == (GARDEN, None)
    assert [one.stage.index for one in bitter.begins] == [2]
    assert way_of(bitter, "Olive") == (SHED, 0)
    assert way_of(bitter, "Elm 1/2")[1] == 0
    assert bitter.loss < bitter.loss_left / 2


def test_trees_of_a_row_that_may_stay_are_named_together() -> None:
    """Two elms that stand alike are one row of the list."""
    words = " ".join(plain(tonight_report(word(-3.0))).split())
    assert "may stay; nearest to danger: Elm (all 2) 0" in words


def test_what_makes_room_is_carried_before_what_comes() -> None:
    """A tree that leaves for another's sake stands first, though it saves nothing itself."""
    found = word(-20.0)
    comes = next(one for one in found.trees if one.way.night == 0)
    leaver = next(one for one in found.trees if one.tree_id == "Larch")
    way = replace(leaver.way, place_id=comes.here, night=0, chance=leaver.left)
    told = plain(tonight_report(replace(found, trees=(comes, replace(leaver, way=way)))))
    assert comes.way.place_id == leaver.here == SHED
    assert told.index("1  Larch") < told.index("makes room") < told.index(f"2  {comes.tree_id}")


def test_a_tree_that_the_plan_wants_elsewhere_goes_on_there() -> None:
    """Put up for the night where there is room, it does not go back to where it froze."""
    found = word(-9.0)
    (olive,) = (one for one in found.trees if one.tree_id == "Olive")
    assert olive.way.place_id == SHED
    for due in (SHED, GARDEN):
        told = plain(tonight_report(replace(found, trees=(replace(olive, due=due),))))
        on = "when it is over on to garden, bench, as planned" in " ".join(told.split()).lower()
        assert on == (due == GARDEN)


def test_it_starts_from_where_the_trees_are() -> None:
    """What the marks put into the shed is carried by nobody."""
    inside = word(-9.0, marks=ALL_IN)
    assert all(one.here == SHED for one in inside.trees)
    assert all(one.way.night is None for one in inside.trees)
    assert inside.loss_left < 0.8 * word(-9.0).loss_left


def test_what_to_save_first_where_time_is_short() -> None:
    """Eight minutes carry one tree: that with the most to lose; and more time would help."""
    short = word(-20.0, minutes=8.0, people=1)
    carried = [one for one in short.trees if one.way.night == 0]
    assert len(carried) == 1
    at_stake = [short.value(one) * one.left for one in (*carried, *short.trees)]
    assert at_stake[0] == pytest.approx(max(at_stake))
    assert short.minutes <= 8.0
    time = [one for one in short.helps if one.cloth is None]
    assert [help_.saves > 1.0 for help_ in time] == [True]


def test_more_hands_never_lose_more() -> None:
    """What can be done with less can be done with more."""
    losses = [word(-20.0, minutes=minutes).loss for minutes in (0.0, 8.0, 16.0, 60.0)]
    assert losses == sorted(losses, reverse=True)
    assert losses[0] == pytest.approx(word(-20.0).loss_left, rel=0.5)


def test_fleece_warms_and_is_not_more_than_there_is() -> None:
    """Nobody may carry, so what is at hand goes over the trees."""
    covered = word(-9.0, minutes=3.0, people=1, fleece=0.5)
    used = [one for one in covered.trees if one.way.cloth == "fleece"]
    assert used
    assert sum(one.way.cloth_m2 for one in used) <= 0.5
    assert all(one.way.chance < one.left for one in used)
    assert all(help_.cloth != "fleece" for help_ in covered.helps)


def test_nothing_is_covered_or_carried_for_a_few_cents() -> None:
    """What spares less than a carry costs, caution counted, waits, though the plan wants it."""
    weights = season().site.weights
    for low_c in (0.0, -2.0, -4.0, -6.0, -9.0):
        found = word(low_c, marks=(), fleece=20.0)
        done = [one for one in found.trees if one.way.cloth or one.way.night is not None]
        assert all(weights.caution * found.saved(one) > weights.carry for one in done)
    found = word(-2.0, marks=())
    told = " ".join(plain(tonight_report(found)).split())
    assert "may wait - Garden, Bench to Shed, Bench: Larch; saves next to nothing" in told
    larch = next(one for one in found.trees if one.tree_id == "Larch")
    larch = replace(larch, left=0.9, way=replace(larch.way, chance=0.005, cloth="fleece"))
    told = plain(tonight_report(replace(found, trees=(larch,))))  # beside what its cloth saves
    saves = found.value(larch) * (0.005 - float(larch.due_chance or 0.0))
    assert f"Larch; saves {saves:.2f} EUR" in " ".join(told.split())


def test_a_cloth_says_what_it_saves() -> None:
    """As carries do, in money."""
    found = word(-9.0, minutes=3.0, people=1, fleece=0.5)
    saved = sum(found.saved(one) for one in found.trees if one.way.cloth)
    assert f"under it; saves {saved:.2f} EUR" in " ".join(plain(tonight_report(found)).split())


def test_a_heater_is_turned_up_where_that_pays() -> None:
    """With all trees in an unheated shed in a bitter night, the fan heater is the answer."""
    found = word(-26.0, marks=ALL_IN)
    assert [one.shelter_id for one in found.heaters] == ["shed"]
    heat = found.heaters[0]
    assert heat.setting.hold_c is not None
    assert 0.0 < heat.money < heat.saves
    assert found.loss + heat.saves == pytest.approx(found.loss_left, abs=0.01)


def test_a_heater_that_the_plan_wants_from_this_stage_on_is_told() -> None:
    """Trees that are carried in count on it; a day that begins no stage changes nothing."""
    known = compute_conditions(season()).shelters["shed"].settings
    on = next(setting for setting in known if setting.hold_c is not None)
    heated = replace(
        hand_plan(), settings={**hand_plan().settings, "shed": (*known[:1] * 2, on, on)}
    )

    def asked(low_c: float) -> Tonight:
        evening = Evening(HARD, (low_c,), 60.0, 2, {})
        return tonight(season(), InForce(heated, marks=(LARCH_IN,)), evening)

    (heat,) = asked(-9.0).heaters
    assert (heat.now, heat.planned, heat.setting) == (known[0], on, on)
    assert heat.money == 0.0
    told = " ".join(tonight_report(asked(-9.0)).split())
    assert "(until now off), as planned from this stage on" in told
    assert asked(5.0).heaters == ()


def test_a_carry_waits_for_the_night_that_asks_for_it() -> None:
    """A mild night, then a bitter one: the forecast may turn, so trees go in tomorrow."""
    found = word(6.0, -20.0)
    assert way_of(found, "Olive") == (SHED, 1)
    assert [(one.stage.index, one.night) for one in found.begins] == [(2, 1)]


def test_spring_needs_a_week_of_forecast() -> None:
    """Six mild nights are no week; seven are."""
    day = date(2027, 3, 15)
    assert [b.stage.index for b in word(*[2.0] * 6, day=day, marks=ALL_IN).begins] == []
    assert [b.stage.index for b in word(*[2.0] * 7, day=day, marks=ALL_IN).begins] == [3]


def test_no_warmer_than_the_day_of_the_plan() -> None:
    """A day outside the winter is refused."""
    with pytest.raises(Exception, match="not in this winter"):
        word(-3.0, day=HARD - timedelta(days=300))


def test_plan_is_as_made() -> None:
    """The hand-made plan is not changed by asking."""
    before: Plan = hand_plan()
    assert word(-20.0).plan == before
