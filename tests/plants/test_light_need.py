"""Light: who needs it, and meters to daily light integrals."""

import numpy as np
import pytest

from overwinter.plants.light_need import (
    LUX_PER_FOOT_CANDLE,
    LightKind,
    dli_mol_m2_d,
    dli_of_foot_candles,
    needs_light,
)


@pytest.mark.parametrize(
    ("foot_candles", "kind", "expected"),
    [
        (100, LightKind.SUN, 0.86),
        (100, LightKind.FLUORESCENT, 0.63),
        (75, LightKind.FLUORESCENT, 0.47),
        (200, LightKind.FLUORESCENT, 1.26),
        (500, LightKind.SUN, 4.31),
    ],
)
def test_foot_candles_to_daily_light(foot_candles, kind, expected):
    """Twelve hours; Thimijan & Heins 1983 factors and Purdue HO-238-W (read), by arithmetic."""
    assert dli_of_foot_candles(foot_candles, 12, kind) == pytest.approx(expected, abs=0.005)


def test_light_of_the_weeping_fig_study():
    """16 umol/(m2 s) for 12 h is 0.69 mol/(m2 d); 100 foot-candles are 1076 lux (definition)."""
    assert dli_mol_m2_d(16, 12) == pytest.approx(0.69, abs=0.005)
    assert round(100 * LUX_PER_FOOT_CANDLE) == 1076


def test_light_floors_are_those_of_the_one_table_shipped(table):
    """Illinois Extension (read): 150 and 300 foot-candles, 12 h of daylight, rounded to 0.1."""
    shipped = {s.limits.light_floor_mol_m2_d for s in table.values()}
    assert shipped == {round(dli_of_foot_candles(fc, 12, LightKind.SUN), 1) for fc in (150, 300)}


def test_leafless_trees_need_no_light(maple):
    """General practice (weak source): dormant deciduous trees may stand dark, awake ones not."""
    assert not needs_light(maple, True, 15.0)
    assert needs_light(maple, False, 15.0)
    assert not needs_light(maple, False, 5.0), "still cold: leafless"
    np.testing.assert_array_equal(
        needs_light(maple, np.array([True, False]), np.array([9.0, 9.0])), [False, True]
    )


def test_evergreens_need_light_only_when_mild(table):
    """US Forest Service (read): hardened conifers are stored dark near freezing."""
    pine = table["pinus-sylvestris"].limits
    np.testing.assert_array_equal(
        needs_light(pine, True, np.array([-3.0, 1.0, 5.0, 5.1, 12.0])),
        [False, False, False, True, True],
    )


def test_tropical_leaves_always_need_light(table):
    """At its own air floor a weeping fig is already lit."""
    fig = table["ficus-benjamina"].limits
    assert needs_light(fig, False, fig.air_floor_c)
