"""Which stages have begun, and where every tree was in them."""

from dataclasses import replace
from datetime import date, timedelta

from replan_cases import (
    FROST,
    GARDEN,
    HARD,
    LARCH_IN,
    OLIVE_IN,
    SHED,
    STARTS,
    hand_plan,
    season,
)

from overwinter.model.changes import Changes, Mark
from overwinter.model.plan import carry_key
from overwinter.model.shelter import HeaterPart, HeaterSetting
from overwinter.replan.past import begun_stages, start_from
from overwinter.replan.replan import changed_season
from overwinter.shelters.heater import OFF

CHRISTMAS = date(2026, 12, 24)
DECEMBER = date(2026, 12, 1)


def days_begun(marks: list[Mark], first: date) -> list[date]:
    """Days on which stages have begun."""
    return [one.usual for one in begun_stages(season(), hand_plan(), marks, first)]


def in_on(day: date) -> Mark:
    """The larch carried in on a day."""
    return Mark(day, "Larch", SHED, carry_key(LARCH_IN))


def test_a_marked_stage_has_begun_when_it_was_marked() -> None:
    """Also before its usual day, and late."""
    assert days_begun([in_on(date(2026, 11, 5))], date(2026, 11, 8)) == [STARTS, date(2026, 11, 5)]
    assert days_begun([in_on(date(2026, 11, 20))], date(2026, 12, 1)) == [
        STARTS,
        date(2026, 11, 20),
    ]


def test_a_stage_whose_carries_all_wait_has_not_begun() -> None:
    """Its sign has not come, however late it is by its usual day; nor has any after it."""
    assert days_begun([], CHRISTMAS) == [STARTS]
    assert days_begun([in_on(FROST)], CHRISTMAS) == [STARTS, FROST]


def test_a_stage_with_nothing_to_carry_begins_on_its_usual_day() -> None:
    """Nobody can mark it."""
    plan = replace(hand_plan(), carries=())
    assert [one.usual for one in begun_stages(season(), plan, [], CHRISTMAS)] == [
        STARTS,
        FROST,
        HARD,
    ]


def test_stages_before_a_marked_one_have_begun() -> None:
    """A harder frost has been a frost, whoever forgot to mark; days never fall."""
    olive = Mark(date(2026, 11, 6), "Olive", SHED, carry_key(OLIVE_IN))
    assert days_begun([olive], date(2026, 11, 8)) == [
        STARTS,
        date(2026, 11, 6),
        date(2026, 11, 6),
    ]


def test_where_trees_were() -> None:
    """By the stage a mark belongs to; an unplanned one by its day; today where marks say."""
    marks = [in_on(FROST), Mark(FROST + timedelta(days=3), "Elm 1/2", SHED)]
    begun = begun_stages(season(), hand_plan(), marks, DECEMBER)
    start = start_from(season(), hand_plan(), marks, begun, DECEMBER)
    assert start.fixed_stages == 2
    assert start.stays["Larch"] == (GARDEN, SHED)
    assert start.stays["Elm 1/2"] == (GARDEN, SHED)
    assert start.stays["Olive"] == (GARDEN, GARDEN)
    assert all(len(settings) == 2 for settings in start.settings.values())


def test_places_the_plan_in_force_would_carry_it_to() -> None:
    """What no longer lies ahead of it costs as an unplanned carry."""
    begun = begun_stages(season(), hand_plan(), [in_on(FROST)], DECEMBER)
    known = start_from(season(), hand_plan(), [in_on(FROST)], begun, DECEMBER).known_targets
    assert known is not None
    assert known["Larch"] == {SHED, GARDEN}
    assert known["Elm 1/2"] == {GARDEN}


def test_a_shelter_that_is_late_was_not_heated() -> None:
    """The plan in force heated it from its first day; it opens on the second of December, or did
    on the day of the frost."""
    hold = HeaterSetting((HeaterPart("heater", hold_c=2.0),), hold_c=2.0)
    plan = replace(hand_plan(), settings={"garden": (OFF,) * 4, "shed": (hold,) * 4})
    begun = begun_stages(season(), plan, [in_on(FROST)], DECEMBER)
    for opens, heated in ((date(2026, 12, 2), (OFF, OFF)), (FROST, (OFF, hold))):
        late = changed_season(season(), Changes(opens={"shed": opens}))
        assert start_from(late, plan, [], begun, DECEMBER).settings["shed"] == heated
