"""The order of carries. The rules are common practice, no source; the tests are of logic."""

import random
from dataclasses import replace
from datetime import date
from itertools import groupby

import pytest
from carry_winters import GARDEN, MAY, NOV, PlanMaker, place, season_of, tree
from hypothesis import given, settings
from hypothesis import strategies as st

from overwinter.model.plan import Layout, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import PlaceKind, Side
from overwinter.render.carry_order import Ordered, WhyNow, listed_under, order_stage
from overwinter.render.carry_words import stands_before

BENCH, BENCH2, FLOOR, SHELF = "glass/bench 1", "glass/bench 2", "glass/floor", "glass/shelf"


def ids(turns: tuple[Ordered, ...]) -> list[str]:
    return [turn.carry.tree_id for turn in turns]


def turns_on(season: Season, plan: Plan, day: date) -> tuple[Ordered, ...]:
    """The turns of the stage that usually begins on a day."""
    stage = next(one.index for one in plan.stages if one.usual == day)
    return order_stage(season, plan, stage)


def with_places(season: Season, *places: object) -> Season:
    """The glasshouse with other places in it."""
    glass = replace(season.shelters[1], places=places)
    return replace(season, shelters=(season.shelters[0], glass, season.shelters[2]))


def test_back_row_goes_in_before_what_would_stand_before_it() -> None:
    """Far first: with drawings, the tree at the back is set down first, whatever the list says."""
    maker = PlanMaker(season_of([tree("front", row=1), tree("back", row=2)]))
    maker.carry(NOV, "front", GARDEN, BENCH).carry(NOV, "back", GARDEN, BENCH)
    maker.draw(BENCH, NOV, Layout("front", 0.1, 0.0, 0.4, 0.4), Layout("back", 0.2, 0.5, 0.4, 0.4))
    assert ids(turns_on(maker.season, maker.make(), NOV)) == ["back", "front"]


def test_a_light_tree_at_the_back_goes_before_a_heavy_one_in_front() -> None:
    """Being walled in beats coming with the second person, and the reason says so."""
    maker = PlanMaker(season_of([tree("heavy", kg=40.0), tree("light", kg=3.0)]))
    maker.carry(NOV, "heavy", GARDEN, BENCH).carry(NOV, "light", GARDEN, BENCH)
    maker.draw(BENCH, NOV, Layout("heavy", 0.0, 0.0, 0.4, 0.4), Layout("light", 0.0, 0.5, 0.4, 0.4))
    turns = turns_on(maker.season, maker.make(), NOV)
    assert ids(turns) == ["light", "heavy"]
    assert (turns[0].rule, turns[0].about) == (WhyNow.UNBLOCKS, "heavy")


def test_out_of_a_bench_what_stands_in_front_goes_first() -> None:
    """Spring is the reverse: the front row leaves before the back row."""
    maker = PlanMaker(season_of([tree("back", row=1), tree("front", row=2)]))
    maker.carry(NOV, "front", GARDEN, BENCH).carry(NOV, "back", GARDEN, BENCH)
    maker.carry(MAY, "front", BENCH, GARDEN).carry(MAY, "back", BENCH, GARDEN)
    maker.draw(BENCH, NOV, Layout("front", 0.0, 0.0, 0.4, 0.4), Layout("back", 0.0, 0.5, 0.4, 0.4))
    assert ids(turns_on(maker.season, maker.make(), MAY)) == ["front", "back"]


def test_low_places_are_filled_first_and_cleared_last() -> None:
    """Floor, bench, shelf on the way in; shelf, bench, floor on the way out."""
    maker = PlanMaker(season_of([tree("shelf", row=1), tree("bench", row=2), tree("floor", row=3)]))
    for one, target in (("shelf", SHELF), ("bench", BENCH), ("floor", FLOOR)):
        maker.carry(NOV, one, GARDEN, target).carry(MAY, one, target, GARDEN)
    plan = maker.make()
    assert ids(turns_on(maker.season, plan, NOV)) == ["floor", "bench", "shelf"]
    assert ids(turns_on(maker.season, plan, MAY)) == ["shelf", "bench", "floor"]


def test_one_bench_after_the_other_and_heavy_ones_first_at_each() -> None:
    """Nobody walks back: every place is one run of steps, its two-person lifts at the front."""
    trees = [tree(f"t{i}", kg=30.0 if i % 3 == 0 else 5.0, row=i) for i in range(9)]
    maker = PlanMaker(season_of(trees))
    for i in range(9):
        maker.carry(NOV, f"t{i}", GARDEN, (FLOOR, BENCH, "cellar/floor")[i % 2])
    turns = turns_on(maker.season, maker.make(), NOV)
    runs = [place for place, _ in groupby(turn.carry.target for turn in turns)]
    assert len(runs) == len(set(runs))
    for _, run in groupby(turns, key=lambda turn: turn.carry.target):
        heavy = [turn.rule is WhyNow.SECOND_PERSON for turn in run]
        assert heavy == sorted(heavy, reverse=True)


def test_the_shelter_of_the_tenderest_tree_is_filled_first() -> None:
    """The fig stands 10 °C and the larch far less, so the fig's shelter comes first."""
    maker = PlanMaker(season_of([tree("larch", "larch"), tree("fig", "fig")]))
    maker.carry(NOV, "larch", GARDEN, FLOOR).carry(NOV, "fig", GARDEN, "cellar/floor")
    assert ids(turns_on(maker.season, maker.make(), NOV)) == ["fig", "larch"]


def test_a_full_place_is_cleared_before_it_is_filled() -> None:
    """A leaver comes first although heavy trees have precedence, and says for whom."""
    maker = PlanMaker(season_of([tree("in", kg=40.0, width_m=0.8), tree("out", width_m=0.8)]))
    maker.season = with_places(
        maker.season, place(BENCH, width_m=1.0, depth_m=0.4), place(FLOOR, PlaceKind.FLOOR)
    )
    maker.carry(NOV, "out", GARDEN, BENCH)
    maker.carry(date(2025, 12, 1), "in", GARDEN, BENCH)
    maker.carry(date(2025, 12, 1), "out", BENCH, "cellar/floor")
    turns = turns_on(maker.season, maker.make(), date(2025, 12, 1))
    assert ids(turns) == ["out", "in"]
    assert (turns[0].rule, turns[0].about) == (WhyNow.MAKES_ROOM, "in")


def swap(*, loads: bool) -> tuple[Season, Plan]:
    """Two trees change two full benches."""
    trees = [tree("a", kg=9.0), tree("b", "fig", kg=5.0)]
    small = {"width_m": 0.45, "depth_m": 0.4}
    wide = {"width_m": 3.0, "depth_m": 1.0}
    first = place(BENCH, load_kg=9.0 if loads else float("inf"), **(wide if loads else small))
    second = place(BENCH2, load_kg=9.0 if loads else float("inf"), **(wide if loads else small))
    season = with_places(season_of(trees), first, second)
    maker = PlanMaker(season)
    maker.carry(NOV, "a", GARDEN, BENCH).carry(NOV, "b", GARDEN, BENCH2)
    day = date(2025, 12, 1)
    maker.carry(day, "a", BENCH, BENCH2).carry(day, "b", BENCH2, BENCH)
    return season, maker.make()


@pytest.mark.parametrize("loads", [False, True])
def test_a_swap_sets_the_lighter_tree_down(loads: bool) -> None:
    """Two full places exchange trees: one waits beside its place, for room or for load."""
    season, plan = swap(loads=loads)
    turns = turns_on(season, plan, date(2025, 12, 1))
    assert ids(turns) == ["b", "a"]
    assert (turns[0].rule, turns[0].about) == (WhyNow.SET_DOWN, "a")


def check_day(season: Season, plan: Plan, day: date) -> None:
    """Replays the turns: each carry ends once, no place is fuller than the plan makes it."""
    turns = turns_on(season, plan, day)
    todays = [carry for carry in plan.carries if carry.day == day]
    assert sorted(str(t.carry) for t in turns) == sorted(map(str, todays))
    at: dict[str, str | None] = {}
    for one in plan.stays:
        mine = sorted((c for c in plan.carries if c.tree_id == one), key=lambda c: c.day)
        past = [c.target for c in mine if c.day < day]
        at[one] = past[-1] if past else GARDEN

    def used(place_id: str) -> float:
        return sum(
            season.tree_by_id[o].footprint_m2 for o, where in at.items() if where == place_id
        )

    before = {place_id: used(place_id) for place_id in season.places}
    end = {**at, **{carry.tree_id: carry.target for carry in todays}}
    most = {
        place_id: max(
            before[place_id],
            sum(season.tree_by_id[o].footprint_m2 for o, w in end.items() if w == place_id),
            one.area_m2 * season.site.weights.fullest_share,
        )
        for place_id, one in season.places.items()
    }
    waits = {}
    for turn in turns:
        carry = turn.carry
        at[carry.tree_id] = carry.target
        if turn.rule is WhyNow.SET_DOWN:
            waits[carry.tree_id], at[carry.tree_id] = carry.target, None
        assert turn.rule is not WhyNow.TIGHT
        assert used(carry.target) <= most[carry.target] + 1e-9
    assert at | waits == end


@settings(max_examples=150)
@given(st.integers(0, 10**6), st.integers(2, 14))
def test_random_days_never_overfill_a_place(seed: int, count: int) -> None:
    """Whatever moves where, every tree arrives and no place holds more than the plan allows."""
    rng = random.Random(seed)
    trees = [
        tree(
            f"t{i}",
            rng.choice(["maple", "fig"]),
            kg=rng.uniform(2, 40),
            width_m=rng.choice([0.2, 0.3, 0.4]),
            row=i,
        )
        for i in range(count)
    ]
    targets = [BENCH, BENCH2, FLOOR, "cellar/floor"]
    season = with_places(
        season_of(trees),
        place(BENCH, width_m=0.2 * count, depth_m=0.4),
        place(BENCH2, width_m=0.2 * count, depth_m=0.4),
        place(FLOOR, PlaceKind.FLOOR, width_m=0.5),
    )
    maker = PlanMaker(season)
    for one in trees:
        first, second = rng.choice(targets), rng.choice(targets)
        maker.carry(NOV, one.id, GARDEN, first)
        if second != first:
            maker.carry(date(2025, 12, 1), one.id, first, second)
    plan = maker.make()
    check_day(season, plan, NOV)
    if any(carry.day == date(2025, 12, 1) for carry in plan.carries):
        check_day(season, plan, date(2025, 12, 1))


@settings(max_examples=60)
@given(st.integers(0, 10**6))
def test_nothing_drawn_is_ever_walled_in(seed: int) -> None:
    """On a grid of rectangles open to any sides, no tree is set down behind one already there."""
    rng = random.Random(seed)
    sides = rng.sample(list(Side), rng.randint(1, 4))
    cells = [(x, y) for x in range(4) for y in range(3)]
    rng.shuffle(cells)
    cells = cells[: rng.randint(2, 12)]
    trees = [tree(f"t{i}", kg=rng.uniform(2, 40), row=i) for i in range(len(cells))]
    bench = place(BENCH, width_m=2.0, depth_m=1.5, sides=sides)
    season = with_places(season_of(trees), bench)
    maker = PlanMaker(season)
    boxes = {
        f"t{i}": Layout(f"t{i}", 0.5 * x + 0.02, 0.5 * y + 0.02, 0.4, 0.4)
        for i, (x, y) in enumerate(cells)
    }
    for one in trees:
        maker.carry(NOV, one.id, GARDEN, BENCH).carry(MAY, one.id, BENCH, GARDEN)
    maker.draw(BENCH, NOV, *boxes.values())
    plan = maker.make()
    standing: list[str] = []
    for one in ids(turns_on(season, plan, NOV)):
        assert not any(stands_before(bench, boxes[other], boxes[one]) for other in standing)
        standing.append(one)
    for one in ids(turns_on(season, plan, MAY)):
        standing.remove(one)
        assert not any(stands_before(bench, boxes[other], boxes[one]) for other in standing)


def test_the_order_does_not_depend_on_the_order_of_the_plan() -> None:
    """Deterministic: shuffled carries give the same turns."""
    trees = [tree(f"t{i}", kg=5.0 + i, row=i) for i in range(12)]
    maker = PlanMaker(season_of(trees))
    for i in range(12):
        maker.carry(NOV, f"t{i}", GARDEN, (FLOOR, BENCH, SHELF, "cellar/floor")[i % 4])
    plan = maker.make()
    expected = turns_on(maker.season, plan, NOV)
    for seed in range(5):
        carries = list(plan.carries)
        random.Random(seed).shuffle(carries)
        assert turns_on(maker.season, replace(plan, carries=tuple(carries)), NOV) == expected


def test_a_carry_is_listed_where_it_fills_or_out_of_doors_where_it_empties() -> None:
    """In: the shelter filled; between shelters: the one filled; out: the one emptied."""
    maker = PlanMaker(season_of([tree("a")]))
    maker.carry(NOV, "a", GARDEN, BENCH).carry(date(2025, 12, 1), "a", BENCH, "cellar/floor")
    maker.carry(MAY, "a", "cellar/floor", GARDEN)
    plan = maker.make()
    under = [listed_under(maker.season, carry) for carry in plan.carries]
    assert under == ["glass", "cellar", "cellar"]
