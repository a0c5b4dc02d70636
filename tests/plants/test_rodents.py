"""Mice and voles."""

import pytest

from overwinter.model.site import Weights
from overwinter.plants.rodents import (
    GUARD_BURIED_M,
    GUARD_MESH_M,
    exposure_left,
    guard_height_m,
    loss_share_per_day,
)

WEIGHTS = Weights()


def test_a_guard_leaves_a_tenth():
    """The default of the site's weights, a judgement."""
    assert exposure_left(0.9, 1.0, False, WEIGHTS) == pytest.approx(0.9)
    assert exposure_left(0.9, 1.0, True, WEIGHTS) == pytest.approx(0.09)
    assert exposure_left(0.9, 0.0, False, WEIGHTS) == 0.0


def test_loss_over_a_winter_is_the_weight():
    """Appeal 1 at exposure 1 for 180 days loses the share the site's weights say."""
    assert loss_share_per_day(1.0, WEIGHTS) * 180 == pytest.approx(WEIGHTS.rodent_share)


def test_guard_dimensions():
    """Extension, wildlife damage management (read): 1/4 in mesh, 12 in high, 18 in with rabbits.

    Over 20 in of snow where rabbits come: 38 in.
    """
    assert round(GUARD_MESH_M, 5) == 0.00635
    assert 0.051 <= GUARD_BURIED_M <= 0.0763
    assert guard_height_m(0.0, False) == pytest.approx(0.305, abs=0.001)
    assert guard_height_m(0.0, True) == pytest.approx(0.457, abs=0.001)
    assert guard_height_m(20 * 0.0254, True) == pytest.approx(38 * 0.0254)
    assert guard_height_m(0.6, False) == 0.6
