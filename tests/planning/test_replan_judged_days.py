"""A spell cut short by an opening or a re-plan is not judged by its few days alone."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
from replan_winters import STARTS, day, limits, season, tree

from overwinter.domain.plan import Reason
from overwinter.domain.season import Spell, Weather
from overwinter.domain.species import LeafHabit
from overwinter.domain.start import start_of_season
from overwinter.shelters.conditions import compute_conditions
from overwinter.spells import judged_days
from overwinter.suitability.compute import Workshop
from overwinter.suitability.groups import group_trees

DLI_PER_W_M2 = 24 * 3600 * 2.06e-6
"""mol/(m2 d) of 1 W/m2 all day, as ``shelters.light`` has it; here only ratios count."""


def test_two_dull_days_do_not_send_a_tree_away() -> None:
    """Fortnights of 60 W/m2, but days 14 and 15 of 6 W/m2. A spell of just these two days is judged
    over 14 days: (12 x 60 + 2 x 6) / 14 = 52 W/m2, above a floor of 40; alone it would be 6."""
    found = season(tree("bay", -20.0))
    sun = np.full(found.hours, 60.0)
    sun[14 * 24 : 16 * 24] = 6.0
    evergreen = replace(
        limits(-20.0),
        leaf=LeafHabit.EVERGREEN,
        dark_below_c=-99.0,
        light_floor_mol_m2_d=40.0 * DLI_PER_W_M2,
    )
    found = replace(
        found,
        weather=Weather(found.weather.air_c, sun, "made by hand"),
        trees=(tree("bay", -20.0, limits=evergreen),),
    )
    spells = tuple(
        Spell(n, day(a), day(b), "test") for n, (a, b) in enumerate([(0, 14), (14, 16), (16, 30)])
    )
    workshop = Workshop(found, compute_conditions(found), spells)
    (group,) = group_trees(found, start_of_season(found))
    yard = next(o.index for o in workshop.options if o.place_id == "yard/stand")
    short = workshop.shortfalls(group)[Reason.TOO_DARK][yard] / DLI_PER_W_M2
    assert np.allclose(short, [40 - 60, 40 - 732 / 14, 40 - 60], atol=0.5)


def test_what_is_left_of_a_spell_is_judged_as_the_whole_was() -> None:
    """Cut by a re-plan at any day, the rest of a spell looks back over the same days."""
    found = season(tree("bay", -20.0))
    whole = judged_days(found, Spell(0, day(14), day(28), "test"))
    assert whole == slice(14, 28)
    for cut in range(15, 28):
        assert judged_days(found, Spell(0, day(cut), day(28), "test")) == whole
    first = judged_days(found, Spell(0, STARTS, STARTS + timedelta(days=3), "test"))
    assert first == slice(0, 3)  # nothing is known of the days before
