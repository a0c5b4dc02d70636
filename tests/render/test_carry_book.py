"""What a carry list says about each carry."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from carry_winters import (
    APR,
    DEC,
    GARDEN,
    MAY,
    NOV,
    PlanMaker,
    big_winter,
    place,
    season_of,
    site,
    small_winter,
    tree,
)

from overwinter.climate.sun import carrying_minutes, sunset_h
from overwinter.model.plan import Cure, Layout, LeftOut, Shift
from overwinter.model.shelter import PlaceKind, Side
from overwinter.model.site import Household
from overwinter.model.stage import Happening, HappeningKind, Sign, Stage
from overwinter.render.carry_book import CarryStep, StageHead, _days_of_work, carry_book
from overwinter.render.carry_pages import carry_phone, carry_sheet
from overwinter.render.carry_words import (
    TodoKind,
    damp_words,
    leaf_words,
    leaves_down_days,
    position_words,
    shift_words,
    stands_before,
    water_words,
)
from overwinter.render.cautions import CAUTIONS, season_cautions
from overwinter.render.words import clock, short_date
from overwinter.shelters.damp import WetSurface
from overwinter.units import Display


def step_of(season_plan: tuple, tree_id: str, day: date) -> CarryStep:
    book = carry_book(*season_plan)
    return next(s for s in book.steps if s.carry.tree_id == tree_id and s.carry.day == day)


def test_a_step_says_all_that_is_needed_to_carry_it() -> None:
    """From, to, where on the bench, weight, people, guard and checks, all with their units."""
    step = step_of(small_winter(), "t0", NOV)
    assert (step.source, step.target) == ("Garden, terrace", "Cellar, floor")
    assert step.position == "40 cm from the left, 90 cm from the front"
    assert (step.weight, step.people) == ("34.0 kg", 2)
    assert "mice can come" in step.guards
    assert step.water
    assert step.pests


def test_us_units_all_through() -> None:
    """34 kg is 75 lb, 40 cm is 16 in (rounded), hold 8 °C is 46 °F (46.4, rounded), a night of
    -1 °C is one of 30 °F (30.2, rounded)."""
    step = step_of(small_winter(us=True), "t0", NOV)
    assert step.weight == "75 lb"
    assert step.position.startswith("16 in from the left, 35 in from the front")
    book = carry_book(*small_winter(us=True))
    assert "hold 46 °F" in [one.setting for one in book.lists if one.head.stage.usual == NOV]
    heads = [head.when for head in book.heads]
    assert "When the first night of 30 °F or colder is forecast" in heads


def test_guards_are_closed_where_they_are_and_missed_where_not() -> None:
    """Guarded floor: close it; bench out of reach: nothing; spring: nothing."""
    maker = PlanMaker(season_of([tree("a"), tree("b")]))
    maker.carry(NOV, "a", GARDEN, "glass/floor").carry(NOV, "b", GARDEN, "glass/bench 1")
    maker.carry(MAY, "a", "glass/floor", GARDEN)
    steps = {
        (s.carry.tree_id, s.carry.day): s for s in carry_book(maker.season, maker.make()).steps
    }
    assert steps["a", NOV].guards.startswith("close the mesh guard")
    assert steps["b", NOV].guards == ""
    assert steps["a", MAY].guards == ""


def test_heater_is_set_up_before_and_down_after_the_carries() -> None:
    """Warm before tender trees come in; off only when they have left."""
    book = carry_book(*small_winter())
    days = {(one.head.stage.usual, one.shelter_id): one for one in book.lists}
    before = [todo.text for todo in days[DEC, "cellar"].jobs if not todo.last]
    assert any("from off to hold 2 °C" in line for line in before)
    after = [todo.text for todo in days[MAY, "glass"].jobs if todo.last]
    assert after == ["Heater: from hold 8 °C to off."]


@pytest.mark.parametrize(("us", "depth"), [(False, "25 cm"), (True, "10 in")])
def test_the_cover_the_plan_counts_on_is_asked_for(us: bool, depth: str) -> None:
    """Sunk pots are covered anew in every stage in which some come or go, on the list of their own
    shelter; not where nobody is left, nor where the data has no cover."""
    beds = (
        replace(place("garden/bed", PlaceKind.SUNK), cover_m=0.254),
        replace(place("garden/bare", PlaceKind.SUNK), cover_m=0.0),
    )
    season = season_of([tree("t0"), tree("t1"), tree("t2")], us=us)
    garden, *others = season.shelters
    garden = replace(garden, places=(*garden.places, *beds))
    season = replace(season, shelters=(garden, *others))
    maker = PlanMaker(season)
    maker.carry(NOV, "t0", GARDEN, "garden/bed").carry(NOV, "t1", GARDEN, "garden/bed")
    maker.carry(NOV, "t2", GARDEN, "garden/bare")
    maker.carry(DEC, "t1", "garden/bed", "cellar/floor")
    maker.carry(APR, "t1", "cellar/floor", GARDEN)
    maker.carry(MAY, "t0", "garden/bed", GARDEN)
    asked = {
        (one.head.stage.usual, one.shelter_id): [
            todo.text for todo in one.jobs if todo.last and "heap" in todo.text
        ]
        for one in carry_book(season, maker.make()).lists
    }
    told = {where: texts for where, texts in asked.items() if texts}
    assert set(told) == {(NOV, "garden"), (DEC, "garden")}
    signs = {one.usual: one.threshold_c for one in maker.make().stages}
    for (day, _), texts in told.items():
        assert ("frozen crust" in texts[0]) is ((signs[day] or 0.0) < 0.0)
    for (text,) in told.values():
        assert text.startswith("bed: heap soil, bark or leaves over the pots")
        assert f"the highest roots lie {depth} deep" in text


def test_a_shelter_is_made_ready_when_its_first_tree_comes_not_months_before() -> None:
    """It opens on 20 October: told on that day; swept then only if a tree comes then."""
    opens = date(2025, 10, 20)

    def asked(day: date) -> dict[date, list[str]]:
        maker = PlanMaker(season_of([tree("t0")])).carry(day, "t0", GARDEN, "glass/bench 1")
        maker.sign(DEC, Sign.COLD_NIGHT, -6.0)
        maker.sign(opens, Sign.CALENDAR, None, Happening(HappeningKind.OPENS, "glass"))
        book = carry_book(maker.season, maker.make())
        return {
            one.head.stage.usual: [todo.text for todo in one.jobs if not todo.last]
            for one in book.lists
            if one.shelter_id == "glass"
        }

    late = asked(DEC)
    (told,) = late[opens]
    assert told.startswith("Glasshouse can be used from now on; its first tree waits for:")
    assert told.endswith("first night of -6 °C or colder.")
    assert "sweep it out" in late[DEC][0]
    assert "thermometer" in late[DEC][0]
    at_once = asked(opens)
    assert list(at_once) == [opens]
    assert at_once[opens][0].startswith("Open Glasshouse for the winter: sweep it out")
    assert "sweep" not in at_once[opens][1]


def test_a_plan_made_in_mid_winter_lists_only_what_lies_ahead() -> None:
    """Stages that have begun are facts: their carries are done, their settings are not told."""
    season, plan = small_winter()
    book = carry_book(season, replace(plan, fixed_stages=3))
    assert [head.number for head in book.heads] == [4, 5, 6]
    texts = [todo.text for one in book.lists for todo in one.jobs if not todo.last]
    assert not any("hold 8 °C" in one for one in texts)
    assert any("from off to hold 2 °C" in one for one in texts)


def test_tender_trees_are_marked_before_a_cold_night() -> None:
    """A night of 2 °C is under the fig's 10 °C and above the larch's -15 °C; without a night in
    the sign nothing is known of it."""
    maker = PlanMaker(season_of([tree("fig", "fig"), tree("larch", "larch")]))
    for one in ("fig", "larch"):
        maker.carry(NOV, one, GARDEN, "glass/bench 1")
    maker.sign(NOV, Sign.COLD_NIGHT, 2.0)
    steps = {step.carry.tree_id: step for step in carry_book(maker.season, maker.make()).steps}
    assert steps["fig"].before_dusk
    assert not steps["larch"].before_dusk
    maker.sign(NOV, Sign.CALENDAR)
    assert not any(step.before_dusk for step in carry_book(maker.season, maker.make()).steps)


@pytest.mark.parametrize(
    "household",
    [
        Household(people=1, hours_a_day=12.0),
        Household(people=2, hours_a_day=2.0),
        Household(people=3, hours_a_day=1.5, weekends_only=True),
    ],
)
def test_no_day_is_longer_than_people_hours_and_daylight(household: Household) -> None:
    """By the minutes of the household, counted here anew; walking order stays."""
    season, plan = big_winter()
    season = replace(season, site=replace(season.site, household=household))
    book = carry_book(season, plan)
    assert max(head.work_days for head in book.heads) > 1
    for head in book.heads:
        steps = [step for one in book.of_stage(head) for step in one.steps]
        steps.sort(key=lambda step: step.number)
        days = [step.on_day for step in steps]
        assert days == sorted(days)
        for day in set(days):
            on_day = [s for s in steps if s.on_day == day]
            minutes = sum(8 if s.people == 1 else 15 * min(2, household.people) for s in on_day)
            hours = minutes / 60 / household.people
            assert hours <= household.hours_a_day
            assert 10 + hours <= sunset_h(season.site, head.stage.usual) - 1
    usual = [head.on_day(n + 1) for head in book.heads for n in range(head.work_days)]
    assert not household.weekends_only or {day.weekday() for day in usual} <= {5, 6}
    for head in book.heads:  # a cold night does not wait, a mild week does
        days = [head.on_day(n + 1) for n in range(head.work_days)]
        assert days == sorted(set(days))
        cold = head.stage.sign is Sign.COLD_NIGHT
        assert all(day <= head.stage.usual if cold else day >= head.stage.usual for day in days)
    fast = replace(season, site=replace(season.site, household=Household(minutes_a_tree=1.0)))
    assert {head.work_days for head in carry_book(fast, plan).heads} == {1}


@pytest.mark.parametrize(
    ("day", "expected"),
    [(date(2025, 12, 21), 15 + 53 / 60), (date(2025, 6, 21), 20 + 21 / 60)],
)
def test_greenwich_sunsets(day: date, expected: float) -> None:
    """Almanac sunsets, UTC, from memory; ours has no refraction: up to 10 min early."""
    greenwich = replace(site(), latitude_deg=51.48, longitude_deg=0.0, utc_offset_h=0.0)
    assert expected - 10 / 60 < sunset_h(greenwich, day) < expected + 2 / 60


def test_clock_rounds_to_the_minute() -> None:
    """16.999 h is 17:00, not 16:60."""
    assert clock(16.999) == "17:00"
    assert clock(7.5) == "07:30"


def test_notes_warn_of_low_roofs_quarantine_and_of_trees_already_in_front() -> None:
    """What makes this one carry different stands on its line."""
    new = replace(tree("new", joins=NOV), quarantine_until=NOV + timedelta(days=30))
    maker = PlanMaker(season_of([new, tree("old")]))
    maker.carry(NOV, "new", None, "glass/shelf")
    maker.carry(NOV, "old", GARDEN, "glass/bench 1")
    step = next(s for s in carry_book(maker.season, maker.make()).steps if s.tree == "new")
    assert step.source == "arrives today"
    assert "keep it apart from all others until Mon 1 Dec" in step.note
    assert "5 cm to spare at the top" in step.note

    maker = PlanMaker(season_of([tree("back"), tree("front")]))
    maker.carry(NOV, "front", GARDEN, "glass/bench 1").carry(DEC, "back", GARDEN, "glass/bench 1")
    boxes = (Layout("front", 0.0, 0.0, 0.4, 0.4), Layout("back", 0.1, 0.5, 0.4, 0.4))
    maker.draw("glass/bench 1", DEC, *boxes)
    step = next(s for s in carry_book(maker.season, maker.make()).steps if s.tree == "back")
    assert step.note == "reach over 1 tree already in front of it"


def test_a_tree_that_must_wait_is_told_so_in_its_line() -> None:
    """Two full benches exchange trees: the sheet says of the first that it is set down."""
    maker = PlanMaker(season_of([tree("a", kg=9.0), tree("b", kg=5.0)]))
    small = [place(f"glass/{n}", width_m=0.45, depth_m=0.4) for n in ("bench 1", "bench 2")]
    glass = replace(maker.season.shelters[1], places=(*small, place("glass/floor", width_m=1.0)))
    maker.season = replace(
        maker.season, shelters=(maker.season.shelters[0], glass, maker.season.shelters[2])
    )
    maker.carry(NOV, "a", GARDEN, "glass/bench 1").carry(NOV, "b", GARDEN, "glass/bench 2")
    maker.carry(DEC, "a", "glass/bench 1", "glass/bench 2")
    maker.carry(DEC, "b", "glass/bench 2", "glass/bench 1")
    plan = maker.make()
    book = carry_book(maker.season, plan)
    steps = [s for s in book.steps if s.carry.day == DEC]
    assert [(s.tree, s.source, s.target) for s in steps] == [
        ("b", "Glasshouse, bench 2", "Glasshouse, bench 1"),
        ("a", "Glasshouse, bench 1", "Glasshouse, bench 2"),
    ]
    assert steps[0].why == "set it down beside its place until a has gone"
    assert f"<i>{steps[0].why}" in carry_sheet(maker.season, plan, book)


def test_left_out_trees_are_named() -> None:
    """A tree without a place must not vanish from the lists."""
    season, plan = small_winter()
    book = carry_book(season, replace(plan, left_out=(LeftOut("t2", Cure.NONE, None, ()),)))
    assert book.left_out == ("Larch",)


def test_trees_without_a_safe_place_are_named() -> None:
    """Who carries it should know that it stands on trial, as the summary says."""
    season, plan = small_winter()
    plan = replace(plan, unsafe=("t2",))
    book, said = carry_book(season, plan), "Not safe, as no safe place was found: Larch."
    assert said in carry_sheet(season, plan, book)
    assert said in carry_phone(book)
    assert said not in carry_sheet(season, plan, carry_book(*small_winter()))


def test_cautions_stand_where_they_apply() -> None:
    """Two-person lifts, shelves, cords, fuel and poison, where a winter has them."""
    season, plan = small_winter()
    dry = [replace(t, limits=replace(t.limits, drying=0.5)) for t in season.trees]
    book = carry_book(replace(season, trees=tuple(dry)), plan)
    assert "drying" not in carry_book(season, plan).cautions
    assert set(book.cautions) == set(CAUTIONS)
    # light trees in the open with nothing to heat, climb to or gnaw: hands and long cold alone
    light = tuple(replace(t, weight_kg=5.0) for t in season.trees)
    garden = next(one for one in season.shelters if one.open_air)
    bed = replace(garden, places=tuple(replace(p, rodent_exposure=0.0) for p in garden.places))
    bare = replace(season, trees=light, shelters=(bed,))
    assert season_cautions(bare) == ("lifting", "long_cold")


def test_a_day_ends_an_hour_before_sunset_and_is_filled() -> None:
    """Ten carries just fill it; the eleventh begins another, and one that is longer has its own."""
    day, usual = date(2025, 12, 6), replace(site(), household=Household(people=2, hours_a_day=24.0))
    most = carrying_minutes(usual, day)
    assert most == pytest.approx(2 * 60 * (sunset_h(usual, day) - 1.0 - 10.0))
    assert _days_of_work([most / 10] * 10, most) == [1] * 10
    assert _days_of_work([most / 10] * 11, most) == [1] * 10 + [2]
    assert _days_of_work([8.0, most + 1.0, 8.0], most) == [1, 2, 3]


def test_a_weekend_is_told_by_its_days() -> None:
    """The usual day may be one of them, and long work takes several."""
    household = Household(weekends_only=True)
    stage = Stage(1, Sign.COLD_NIGHT, -3.0, (), *(date(2026, 10, 31),) * 3, date(2026, 11, 9))
    head = StageHead(2, stage, "", "", "", "", household)
    assert head.work.endswith("about 5 min: on 1 weekend day, usually Sat 31 Oct")
    two = replace(head, hours=7.0, work_days=2)
    assert two.work.endswith("on 2 weekend days, usually Sun 25 Oct, Sat 31 Oct")


def test_wind_is_told_of_evergreens_and_long_cold_of_all_that_rest() -> None:
    """What no figure is to be had for stands on the lists instead (common practice, no source)."""
    season, _ = small_winter()
    pine, bed = season.trees[2], season.places[GARDEN]
    for drying, rest_c, keys in (
        (0.5, 8.0, {"drying", "long_cold"}),
        (0.0, 8.0, {"long_cold"}),
        (0.5, None, set()),
    ):
        limits = replace(pine.limits, drying=drying, rest_ceiling_c=rest_c)
        same = replace(season, trees=tuple(replace(t, limits=limits) for t in season.trees))
        assert set(season_cautions(same)) & {"drying", "long_cold"} == keys
        one = same.trees[2]
        told = [
            "wind and winter sun" in " ".join(water_words(same, one, place, day))
            for place, day in ((bed, NOV), (bed, MAY), (season.places["cellar/floor"], NOV))
        ]
        assert told == ["drying" in keys, False, False]


def test_leaves_never_hold_a_tree_back_when_its_sign_comes() -> None:
    """They are told of where the sign comes about when they fall, and say what to do with them."""
    season, plan = small_winter()
    early, usual, late = leaves_down_days(season)
    (stage,) = {c.stage for c in plan.carries if c.tree_id == "t0" and c.day == NOV}
    about = replace(plan.stages[stage], early=early, late=late)
    told = leaf_words(season, plan, "cellar", about)
    assert told.startswith("The 2 deciduous trees come in when the sign does;")
    assert f"usually down on {short_date(usual)} " in told
    day = timedelta(days=1)
    for other in (replace(about, late=early - day), replace(about, early=late + day)):
        assert leaf_words(season, plan, "cellar", other) == ""


def test_mice_that_hardly_come_are_not_told_of() -> None:
    """A bench in a living room has the usual figure of a bench and needs no trap."""
    season, plan = small_winter()
    for exposure, told in ((0.05, False), (0.1, True)):
        shelters = tuple(
            replace(s, places=tuple(replace(p, rodent_exposure=exposure) for p in s.places))
            for s in season.shelters
        )
        book = carry_book(replace(season, shelters=shelters), plan)
        assert any(t.kind is TodoKind.MICE for one in book.lists for t in one.jobs) == told
        assert any("mice can come" in step.guards for step in book.steps) == told


def test_a_push_says_how_far_and_whether_it_turns() -> None:
    """Half a metre to the right; turned as the sides of its rectangle change places."""
    season, plan = small_winter()
    at = season.places["cellar/floor"]
    for width, depth, words in ((0.4, 0.3, ""), (0.3, 0.4, ", turned by a quarter")):
        drawn = {1: (Layout("t4", 0.0, 0.0, 0.4, 0.3),), 2: (Layout("t4", 0.5, 0.0, width, depth),)}
        shifted = replace(plan, layouts={at.id: drawn}, shifts=(Shift(2, at.id, "t4"),))
        told = shift_words(season, shifted, at, 2)
        assert told.endswith(f"what comes in, push Fig 50 cm to the right{words}.")


def test_positions_are_seen_from_the_open_side() -> None:
    """A bench open at the back only: what lies nearest the back is in front of the rest."""
    near, far = Layout("near", 0.0, 0.5, 0.4, 0.4), Layout("far", 0.0, 0.0, 0.4, 0.4)
    back = place("glass/bench 1", sides=[Side.BACK])
    front = place("glass/bench 1", sides=[Side.FRONT])
    assert stands_before(back, near, far)
    assert not stands_before(back, far, near)
    assert stands_before(front, far, near)
    both = place("glass/bench 1", sides=[Side.FRONT, Side.BACK])
    assert not stands_before(both, near, far)
    assert position_words(None, Display()) == ""


def test_the_same_plan_gives_the_same_book() -> None:
    """Deterministic."""
    assert carry_book(*small_winter()) == carry_book(*small_winter())


def test_a_face_that_drips_is_on_the_list_of_its_wettest_stage() -> None:
    """Told once, with what makes it much less; hours to two figures; a few hours are not told."""
    season, plan = small_winter()
    wet = WetSurface("cellar", "ceiling", False, 347.0, 2, 41.0, 330.0, 300.0, 20.0, 0.0)
    plan_stage = next(s.index for s in plan.stages if s.usual == NOV)
    book = carry_book(season, plan, [replace(wet, stage=plan_stage)])
    texts = [
        todo.text
        for one in book.lists
        for todo in one.jobs
        if not todo.last and todo.kind is TodoKind.DAMP
    ]
    (text,) = texts
    assert "ceiling may drip for about 350 h of a winter" in text
    assert text.endswith("; 25 mm of foam would leave 41 h.")
    assert damp_words(small_winter(us=True)[0], "cellar", [wet]).endswith(
        "; 1 in of foam would leave 41 h."
    )
    dry = carry_book(season, plan, [replace(wet, stage=plan_stage, hours=20.0)])
    assert not any(todo.kind is TodoKind.DAMP for one in dry.lists for todo in one.jobs)
