"""Hardening state, killing temperature and working limit."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from overwinter.climate.sun import day_length_h
from overwinter.model.site import Margins
from overwinter.model.species import ChillModel, LeafHabit, Limits
from overwinter.model.tree import Condition
from overwinter.plants.hardiness import (
    air_floor_c,
    hardening,
    hardening_course,
    kill_temperature_c,
    margin_k,
    working_floor_c,
)

DAYS = 60
MEANS = arrays(np.float64, DAYS, elements=st.floats(-25, 30))
WARMER = arrays(np.float64, DAYS, elements=st.floats(0, 15))
LENGTHS = arrays(np.float64, DAYS, elements=st.floats(7, 17))


@st.composite
def limits_of_any_kind(draw):
    hardened = draw(st.floats(-25, 8))
    harden_below = draw(st.floats(3, 12))
    return Limits(
        root_kill_c=hardened, root_kill_young_c=hardened,
        root_kill_unhardened_c=hardened + draw(st.floats(0, 18)),
        air_floor_c=None, rest_ceiling_c=7.0, chill_need=700.0, chill_model=ChillModel.HOURS,
        light_floor_mol_m2_d=2.6, dark_below_c=7.0, leaf=LeafHabit.DECIDUOUS, rodent_appeal=0.5,
        harden_below_c=harden_below, harden_days=draw(st.floats(1, 60)),
        deharden_above_c=draw(st.floats(0, 15)),
        deharden_per_degree_day=draw(st.floats(0, 0.3)),
    )  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(limits_of_any_kind(), MEANS, WARMER, LENGTHS, st.floats(0, 1))
def test_a_warmer_history_never_leaves_a_tree_hardier(limits, mean, warmer, length, start):
    """What the program's bound rests on: monotone in temperature, day by day, for any limits."""
    cold = hardening_course(mean, limits, length, start)
    warm = hardening_course(mean + warmer, limits, length, start)
    assert (warm <= cold + 1e-12).all()


@settings(max_examples=100, deadline=None)
@given(limits_of_any_kind(), MEANS, LENGTHS, st.floats(0, 1), st.floats(0, 1))
def test_a_hardier_start_never_ends_less_hardy(limits, mean, length, one, other):
    """Monotone in the entry state too, and always a share between 0 and 1."""
    low, high = sorted((one, other))
    lesser = hardening_course(mean, limits, length, low)
    greater = hardening_course(mean, limits, length, high)
    assert (lesser <= greater + 1e-12).all()
    assert lesser.min() >= 0
    assert greater.max() <= 1


@settings(max_examples=50, deadline=None)
@given(limits_of_any_kind(), MEANS, LENGTHS, st.integers(1, DAYS - 1))
def test_stretches_join_up(limits, mean, length, cut):
    """Two stretches with the state handed on are the same as one: spells may be cut anywhere."""
    whole = hardening_course(mean, limits, length)
    first = hardening_course(mean[:cut], limits, length[:cut])
    second = hardening_course(mean[cut:], limits, length[cut:], first[-1])
    np.testing.assert_allclose(np.concatenate([first, second[1:]]), whole)


def test_the_state_is_that_at_the_start_of_the_day(maple):
    """A day's minimum is judged by what the days before it left, computed by hand."""
    mean, length = np.array([5.0, 5.0, 12.0, 5.0]), np.full(4, 10.0)
    gain, loss = 1 / maple.harden_days, maple.deharden_per_degree_day * (12 - 7)
    by_hand = [0.0, gain, 2 * gain, max(2 * gain - loss, 0.0), max(2 * gain - loss, 0.0) + gain]
    np.testing.assert_allclose(hardening_course(mean, maple, length), by_hand)
    np.testing.assert_allclose(hardening(mean, maple, length), by_hand[:-1])


def test_long_days_close_the_gate_unless_it_is_really_cold(maple):
    """Dirr & Smith 1988 (read): short days first; Kalberer et al. (read): real cold rehardens."""
    cool, cold = np.full(10, 5.0), np.full(10, 0.0)
    long, short = np.full(10, 14.0), np.full(10, 10.0)
    assert hardening_course(cool, maple, long)[-1] == 0.0
    assert hardening_course(cool, maple, short)[-1] == pytest.approx(10 / maple.harden_days)
    assert hardening_course(cold, maple, long)[-1] == pytest.approx(10 / maple.harden_days)


def test_hardened_by_january_not_before_december(maple):
    """Maximum hardiness usually by January (Dirr & Smith 1988, read).

    An invented winter at 42 degrees north, mean falling 10 degC in mid-October to -2 in
    mid-January: hardened in January, not yet at the end of November.
    """
    day = np.arange(120)
    mean = 10 - 12 * np.sin(np.clip((day - 14) / 92, 0, 1) * np.pi / 2)
    length = day_length_h(42.0, 274 + day)
    course = hardening_course(mean, maple, length)
    assert course[92] == 1.0  # 1 January
    assert 0.2 < course[60] < 1.0  # 30 November


def test_leading_axes_and_starts_broadcast(maple):
    """Options along leading axes with a state each give what each gives alone."""
    rng = np.random.default_rng(7)
    mean, length = rng.normal(5, 6, (3, 40)), np.full(40, 10.0)
    starts = np.array([[0.0], [0.5]]) * np.ones(3)
    together = hardening(mean, maple, length, starts)
    assert together.shape == (2, 3, 40)
    for row, start in enumerate((0.0, 0.5)):
        for option in range(3):
            alone = hardening(mean[option], maple, length, start)
            np.testing.assert_array_equal(together[row, option], alone)


def test_a_tropical_tree_stays_where_it_is(table):
    """Tropicals do not harden (UF/IFAS MG025, read): the killing temperature never moves."""
    limits = table["ficus-benjamina"].limits
    kill = kill_temperature_c(
        np.linspace(0, 1, 5), limits.root_kill_c, limits.root_kill_unhardened_c
    )
    assert np.ptp(kill) == 0.0


def test_limits_of_a_japanese_maple(maple, maple_tree):
    """Kill -10 degC hardened (Havis 1976, memory) and 3 K margin: kept above -7 at the roots.

    Margins for a weak (+2 K) and a strong tree (-1 K) are the site's defaults.
    """
    tree, margins = maple_tree(), Margins()
    kill, unhardened = tree.root_kill_hardened_c, maple.root_kill_unhardened_c
    floor = {c: float(working_floor_c(1.0, kill, unhardened, margins, c)) for c in Condition}
    assert floor == {Condition.WEAK: -5.0, Condition.ORDINARY: -7.0, Condition.STRONG: -8.0}
    assert float(working_floor_c(0.0, kill, unhardened, margins, Condition.ORDINARY)) == -2.0
    repotted = maple_tree(young_roots=True)
    assert repotted.root_kill_hardened_c == -7.0
    half = kill_temperature_c(0.5, repotted.root_kill_hardened_c, unhardened)
    assert float(half) == pytest.approx(-6.0)


def test_no_margin_is_ever_negative():
    """A grower may set the margin to nothing, but a strong tree is not let below its death."""
    assert margin_k(Margins(root_k=0.5), Condition.STRONG) == 0.0


def test_air_floor_is_none_where_roots_decide(table, maple):
    """A wintering maple has no air limit; a weeping fig has 10 degC (EP429, read) and a margin."""
    margins = Margins(air_k=1.0)
    assert air_floor_c(maple, margins) == -np.inf
    assert air_floor_c(table["ficus-benjamina"].limits, margins) == 11.0


def test_general_injury_threshold_lies_on_the_safe_side(table):
    """Trade article (read): 25 degF may injure the roots of most species.

    No frost-hardy row calls unhardened roots safe, margin included, below it.
    """
    for species in table.values():
        kill = species.limits.root_kill_unhardened_c
        floor = working_floor_c(0.0, kill, kill, Margins(), Condition.ORDINARY)
        assert float(floor) >= -3.9, species.key
