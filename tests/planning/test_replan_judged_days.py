"""A spell cut short by an opening or a re-plan is not judged by its few days alone."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from replan_winters import DAYS, day, limits, season, tree

from overwinter.model.plan import Reason
from overwinter.model.season import Spell, Weather
from overwinter.model.species import LeafHabit
from overwinter.model.start import start_of_season
from overwinter.model.tree import Tree
from overwinter.shelters.conditions import compute_conditions
from overwinter.spells import judged_windows
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import group_trees

DLI_PER_W_M2 = 24 * 3600 * 2.06e-6
"""mol/(m2 d) of 1 W/m2 all day, as ``shelters.light`` has it; here only ratios count."""


def evergreen(floor_w_m2: float) -> Tree:
    """A tree that always needs light, as much as so many W/m2 all day give."""
    needs = replace(
        limits(-20.0),
        leaf=LeafHabit.EVERGREEN,
        dark_below_c=-99.0,
        light_floor_mol_m2_d=floor_w_m2 * DLI_PER_W_M2,
    )
    return tree("bay", -20.0, limits=needs)


def short_of_light(one: Tree, sun_w_m2: Sequence[float], cuts: Sequence[int]) -> np.ndarray:
    """W/m2 that the yard lacks for the tree in each spell; the sun is given by day."""
    found = season(one)
    sun = np.repeat(np.asarray(sun_w_m2, dtype=np.float64), 24)
    found = replace(found, weather=Weather(found.weather.air_c, sun, "made by hand"))
    spells = tuple(Spell(n, day(a), day(b), "test") for n, (a, b) in enumerate(pairwise(cuts)))
    workshop = Workshop(found, compute_conditions(found), spells)
    (group,) = group_trees(found, start_of_season(found))
    yard = next(o.index for o in workshop.options if o.place_id == "yard/stand")
    return workshop.shortfalls(group)[Reason.TOO_DARK][yard] / DLI_PER_W_M2


def test_two_dull_days_do_not_send_a_tree_away() -> None:
    """60 W/m2 all along, but days 14 and 15 of 6 W/m2. A spell of just these two is judged over 14
    days that hold it: (12 x 60 + 2 x 6) / 14 = 52 W/m2, above a floor of 40; alone it would be 6.
    The fortnight after it has no dull day."""
    sun = [60.0] * DAYS
    sun[14:16] = [6.0, 6.0]
    short = short_of_light(evergreen(40.0), sun, [0, 14, 16, 30])
    assert np.allclose(short, [40 - 60, 40 - 732 / 14, 40 - 60], atol=0.5)


def test_a_full_spell_is_judged_by_its_own_days() -> None:
    """Fourteen dull days are dull whatever is around them."""
    sun = [60.0] * 14 + [30.0] * 14 + [60.0] * 14
    short = short_of_light(evergreen(40.0), sun, [0, 14, 28, 42])
    assert np.allclose(short, [-20, 10, -20], atol=0.5)


@given(
    sun=st.lists(st.floats(0, 100), min_size=DAYS, max_size=DAYS),
    cut=st.integers(15, 27),
    floor=st.floats(10, 90),
)
@settings(max_examples=25, deadline=None)
def test_no_piece_is_refused_where_the_whole_would_do(
    sun: list[float], cut: int, floor: float
) -> None:
    """Cut a spell anywhere: neither piece lacks more light than the whole did."""
    whole = short_of_light(evergreen(floor), sun, [0, 14, 28, 42])[1]
    first, second = short_of_light(evergreen(floor), sun, [0, 14, cut, 28, 42])[1:3]
    assert max(first, second) <= whole + 1e-9


def test_windows() -> None:
    """As long as the longest spell (14 days), all that hold the spell and lie in the winter."""
    found = season(tree("bay", -20.0))

    def windows(first: int, end: int) -> list[tuple[int, int]]:
        spell = Spell(0, day(first), day(end), "test")
        return [(w.start, w.stop) for w in judged_windows(found, spell)]

    assert windows(14, 28) == [(14, 28)]
    assert windows(14, 26) == [(12, 26), (13, 27), (14, 28)]
    assert windows(0, 3) == [(0, 14)]
    assert windows(40, 42) == [(28, 42)]
