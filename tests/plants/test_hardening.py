"""Hardening by the published stages, held against courses it was not made from."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from overwinter.plants.hardening import hardened, hardening_ceiling, warmth_loss

DAYS, BELOW_C, ABOVE_C, RATE = np.float64(30.0), 10.0, 5.0, 0.01
"""A hardy conifer of the table."""


def step(state, mean_c, low_c, day_h: float):
    """The state after a day, by the three rules that ``simulate.follow`` runs."""
    mean, low = np.float64(mean_c), np.float64(low_c)
    ceiling = hardening_ceiling(mean, low, day_h, BELOW_C)
    return hardened(np.float64(state), ceiling, warmth_loss(mean, ABOVE_C, RATE), DAYS)


def course(mean_c: float, days: int, day_h: float, low_c: float | None = None, start: float = 0.0):
    states = [np.float64(start)]
    for _ in range(days):
        states.append(step(states[-1], mean_c, mean_c if low_c is None else low_c, day_h))
    return np.array(states)


def test_warm_roots_do_not_harden_in_short_days_and_cold_ones_do_in_long_days() -> None:
    # Scots pine roots: only low temperature hardened them, short days at warmth did not; shoots
    # and roots reached their maximum in cold (Smit-Spinks and others 1985, abstract read).
    warm_short = course(20.0, 42, 8.0)[-1]
    cold_long = course(2.0, 42, 16.0)[-1]
    cold_short = course(2.0, 42, 8.0)[-1]
    assert warm_short == 0.0
    assert cold_long == pytest.approx(cold_short) == pytest.approx(0.8)


def test_hardening_rises_when_daily_means_come_to_five_to_ten_degrees() -> None:
    # Scots pine and Norway spruce in Finland: the rate rises about mid September, as daily means
    # fall to 5 to 10 degC (Repo 1992, abstract read). Day length of 62 N then: 12.6 h.
    at = {mean: course(mean, 10, 12.6)[-1] for mean in (16.0, 10.0, 7.5, 5.0)}
    assert at[16.0] < 0.02 < at[10.0] < at[7.5] < at[5.0]
    assert at[5.0] > 2 * at[10.0]


def test_six_degrees_in_winter_soften_slowly() -> None:
    # Scots pine saplings, hard in winter, at a constant 6 degC: gradual dehardening (Leinonen,
    # Repo & Hanninen 1997, abstract read): not gone in a fortnight, less after two months.
    soft = course(6.0, 60, 8.0, start=1.0)
    assert soft[14] > 0.8
    assert soft[60] < soft[14] < 1.0


def test_full_hardness_takes_cold_and_then_frost() -> None:
    # Full hardening takes 0 to 4.4 degC and then nights below freezing (Rutgers NJAES FS528).
    assert course(6.5, 90, 9.0)[-1] < 0.7
    assert course(2.0, 90, 9.0)[-1] == pytest.approx(0.8)
    frost = course(-1.0, 30, 9.0, low_c=-3.0)
    assert frost[-1] == pytest.approx(1.0)
    assert frost[15] == pytest.approx(0.5)


def test_white_spruce_is_not_hard_after_a_mild_month() -> None:
    # What the first edition had wrong: 30 short days at 6.5 degC made it hard to -20 degC.
    state = course(6.5, 30, 9.0)[-1]
    assert -6.0 + state * (-23.3 + 6.0) > -17.5


def test_warm_room_softens_within_weeks() -> None:
    # Container stock cycled 0 to 21 degC for up to 16 days lost root hardiness (HortScience
    # abstract, read; no rate): here half a winter's hardness goes in 16 days of a mean of 10.5.
    lost = course(10.5, 16, 9.0, start=1.0)
    assert 0.05 < lost[-1] < 0.5


conditions = st.tuples(
    st.floats(-25, 30), st.floats(0, 10), st.floats(7, 17), st.floats(0, 1), st.floats(0, 5)
)


@given(conditions)
def test_a_warmer_day_never_leaves_a_tree_harder(case: tuple[float, ...]) -> None:
    mean, swing, day_h, state, warmer = case
    one = step(state, mean, mean - swing, day_h)
    mild = step(state, mean + warmer, mean + warmer - swing, day_h)
    assert mild <= one + 1e-12
    assert 0.0 <= one <= 1.0


@given(conditions)
def test_no_cliffs(case: tuple[float, ...]) -> None:
    # A hundredth of a kelvin never moves a day's ceiling by more than a hundredth.
    mean, swing, day_h, _, _ = case
    ceilings = [
        hardening_ceiling(np.float64(mean + d), np.float64(mean + d - swing), day_h, 10.0)
        for d in (0.0, 0.01)
    ]
    assert abs(ceilings[0] - ceilings[1]) < 0.01


@given(conditions, st.floats(0, 1))
def test_a_harder_tree_stays_harder(case: tuple[float, ...], more: float) -> None:
    mean, swing, day_h, state, _ = case
    harder = min(state + more, 1.0)
    day = (mean, mean - swing, day_h)
    assert step(harder, *day) >= step(state, *day) - 1e-12


def test_ramps_at_their_ends() -> None:
    """Each stage at the ends of its ramp, as docs/species.md gives them."""

    def ceiling(mean_c: float, low_c: float, day_h: float) -> float:
        return float(hardening_ceiling(np.float64(mean_c), np.float64(low_c), day_h, 10.0))

    assert ceiling(12.0, 5.0, 14.0) == 0.0  # long days, not cold
    assert ceiling(10.0, 5.0, 12.0) == pytest.approx(0.3)  # short days, wholly cool
    assert ceiling(14.0, 5.0, 12.0) == pytest.approx(0.15)  # halfway of 8 K above
    assert ceiling(10.0, 5.0, 13.0) == pytest.approx(0.15)  # halfway of 14 to 12 h
    assert ceiling(18.0, 5.0, 8.0) == 0.0
    assert ceiling(4.4, 2.0, 16.0) == pytest.approx(0.8)
    assert ceiling(7.2, 2.0, 16.0) == pytest.approx(0.4)
    assert ceiling(2.0, -2.0, 8.0) == pytest.approx(1.0)
    assert ceiling(2.0, -0.5, 8.0) == pytest.approx(0.9)  # halfway of 1 to -2 degC
    assert ceiling(2.0, -1.9, 8.0) < 1.0


def test_rates_of_gain_and_loss() -> None:
    """A thirtieth of the ceiling a day; a hundredth for each kelvin and day above 5 degC."""
    gained = course(2.0, 1, 8.0)
    assert gained[0] == 0.0
    assert gained[1] == pytest.approx(0.8 / 30)
    lost = course(15.0, 1, 16.0, start=0.9)
    assert lost[1] == pytest.approx(0.9 - 0.1)
    assert course(5.0, 1, 16.0, start=0.9)[1] == pytest.approx(0.9)
