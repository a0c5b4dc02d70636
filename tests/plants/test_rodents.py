"""Mice and voles."""

import pytest

from overwinter.model.site import Weights
from overwinter.plants.harm import (
    loss_share_per_day,
)

WEIGHTS = Weights()


def test_loss_over_a_winter_is_the_weight():
    """Appeal 1 at exposure 1 for 180 days loses the share the site's weights say."""
    assert loss_share_per_day(1.0, WEIGHTS) * 180 == pytest.approx(WEIGHTS.rodent_share)
