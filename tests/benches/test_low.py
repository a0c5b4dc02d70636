"""Heavy trees are lifted less where two trees can change places, and nothing else changes."""

from dataclasses import replace

from bench_cases import make_place, make_tree

from overwinter.benches.low import heavier_low
from overwinter.model.shelter import PlaceKind

FLOOR = replace(make_place(2, 1, kind=PlaceKind.FLOOR), id="shed/floor", shelter_id="shed")
SHELF = replace(
    make_place(2, 1, kind=PlaceKind.SHELF, headroom_m=0.6), id="shed/shelf", shelter_id="shed"
)
CELLAR = replace(make_place(2, 1, kind=PlaceKind.FLOOR), id="cellar/floor", shelter_id="cellar")
PLACES = {place.id: place for place in (FLOOR, SHELF, CELLAR)}
HEAVY, LIGHT = make_tree(1, 0.3, 0.4, weight_kg=20.0), make_tree(2, 0.4, 0.3, weight_kg=4.0)
UP, DOWN = (None, "shed/shelf"), (None, "shed/floor")


def test_the_heavier_of_two_like_trees_goes_down() -> None:
    # Intent: whole winters change hands; the light one goes up in its stead.
    stays = heavier_low({"t1": UP, "t2": DOWN}, [HEAVY, LIGHT], PLACES, lambda *_: True)
    assert stays == {"t1": DOWN, "t2": UP}


def test_nothing_moves_where_it_may_not() -> None:
    # Intent: refused by the caller, another footprint, too tall up there, another shelter, joins.
    before = {"t1": UP, "t2": DOWN}
    both = [HEAVY, LIGHT]
    assert heavier_low(before, both, PLACES, lambda *_: False) == before
    wide = [HEAVY, replace(LIGHT, width_m=0.5)]
    assert heavier_low(before, wide, PLACES, lambda *_: True) == before
    tall = [HEAVY, replace(LIGHT, height_m=0.7)]
    assert heavier_low(before, tall, PLACES, lambda *_: True) == before
    for other in ((None, "cellar/floor"), ("shed/floor", "shed/floor")):
        apart = {"t1": UP, "t2": other}
        assert heavier_low(apart, both, PLACES, lambda *_: True) == apart


def test_a_limited_load_is_never_raised() -> None:
    # Intent: the floor below may be a weak one.
    weak = {**PLACES, "shed/floor": replace(FLOOR, load_limit_kg=30.0)}
    before = {"t1": UP, "t2": DOWN}
    assert heavier_low(before, [HEAVY, LIGHT], weak, lambda *_: True) == before
