"""Winters drawn from five public typical years, beside those years and their heads."""

import numpy as np
import pytest
from drawn import calendar_days, correlation, draw, spells
from test_generator import JULY, YEAR
from tmy3 import typical_year

from overwinter.climate.coldest_night import quantile
from overwinter.climate.records import DayRecord, normals_of_record
from overwinter.climate.series import smooth_year
from overwinter.model.season import WinterRecipe, Winters

PRINTED = {
    "Chicago": (-23.7, (-27.0, -29.6, -32.2, -35.5)),
    "Golden": (-22.9, (-25.7, -27.9, -30.1, -32.8)),
    "Dulles": (-17.2, (-20.4, -23.1, -25.7, -29.0)),
    "Tampa": (-0.7, (-2.8, -4.5, -6.2, -8.3)),
    "San Francisco": (1.8, (0.8, -0.1, -0.9, -1.9)),
}
"""Mean yearly lowest temperature and lowest in 5, 10, 20, 50 years, from the files' heads, degC."""
COUNT = 2000
pytestmark = pytest.mark.energyplus


@pytest.fixture(scope="module", params=PRINTED)
def place(request: pytest.FixtureRequest) -> tuple[str, DayRecord, Winters]:
    """A place's typical year and 2,000 years drawn from it, from 1 July."""
    record = typical_year(request.param)
    assert record.coldest is not None
    normals = normals_of_record(record)
    assert normals.sun_mj_m2_d is not None
    recipe = WinterRecipe(
        tuple(normals.mean_min_c),
        tuple(normals.mean_max_c),
        tuple(normals.sun_mj_m2_d),
        record.coldest.mean_c,
        record.coldest.spread_k,
    )
    return request.param, record, draw(recipe, COUNT, starts=JULY, days=YEAR)


def test_return_values_of_the_heads(place: tuple[str, DayRecord, Winters]) -> None:
    """2- to 50-year minima within 0.3 K."""
    # The 2-year value is not printed: a Gumbel law through the printed mean and deviation.
    name, record, winters = place
    assert record.coldest is not None
    assert record.coldest.mean_c == PRINTED[name][0]
    printed = [float(quantile(record.coldest, 1 / 2.0)), *PRINTED[name][1]]
    found = np.quantile(winters.air_c.min(axis=1), 1 / np.array([2.0, 5, 10, 20, 50]))
    assert found == pytest.approx(printed, abs=0.3)


def test_memory_and_cold_spells(place: tuple[str, DayRecord, Winters]) -> None:
    """Lag-one correlation, and spells of the coldest 30 % of midwinter nights."""
    # One year has a dozen spells: its mean length must lie where 98 % of drawn winters' means do.
    _, record, winters = place
    usual = np.roll(smooth_year(normals_of_record(record).mean_min_c), -182)[122:273]
    measured = np.roll(record.min_c, -182)[None, 122:273]
    drawn = calendar_days(winters).min(axis=-1)[:, 122:273]
    assert correlation(drawn - usual, 1) == pytest.approx(
        correlation(measured - usual, 1), abs=0.12
    )
    assert (drawn - usual).std() == pytest.approx((measured - usual).std(), rel=0.35)
    below = float(np.quantile(measured[:, 30:120], 0.3))
    means = [spells(one[None] < below) for one in drawn]
    least, most = np.quantile([one.mean() for one in means if one.size], [0.01, 0.99])
    assert least < spells(measured < below).mean() < most
