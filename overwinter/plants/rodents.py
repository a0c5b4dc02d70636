"""Mice and voles: what a guard leaves of the danger, what is refused, what a tree may cost.

That unguarded pots are eaten in wintering houses, and that fine mesh keeps voles out, is read in
extension pages (docs/sources.md). Appeal and exposure on a scale of 0 to 1, the share a guard
leaves and the chance of loss are judgements: no trial gives them. No poison is planned for:
poisons kill pets, owls and children too and are for licensed people under local rules.
"""

from overwinter.model.site import Weights
from overwinter.units import METRES_PER_INCH

WINTER_DAYS = 180.0
"""``Weights.rodent_share`` is a chance for this many days."""

GUARD_MESH_M = 0.25 * METRES_PER_INCH
"""Widest mesh that keeps voles out (extension, wildlife damage management, read)."""
GUARD_BURIED_M = 3.0 * METRES_PER_INCH
"""Depth of the buried edge; 2 to 3 in (same), the deeper."""
GUARD_ABOVE_VOLES_M = 12.0 * METRES_PER_INCH
"""Height of a fence against voles (same)."""
GUARD_ABOVE_RABBITS_M = 18.0 * METRES_PER_INCH
"""Height of a guard above the snow where rabbits come (same)."""


def exposure_left(appeal: float, exposure: float, guarded: bool, weights: Weights) -> float:
    """Appeal times the exposure that guards leave, 0 to 1: what the limit is set on."""
    return appeal * exposure * (weights.guard_leaves if guarded else 1.0)


def loss_share_per_day(left: float, weights: Weights) -> float:
    """Expected share of a tree's value lost a day; straight in time, so that spells add up."""
    return left * weights.rodent_share / WINTER_DAYS


def guard_height_m(snow_m: float, rabbits: bool) -> float:
    """How high a guard must stand over the soil when ``snow_m`` of snow may lie, m.

    Above the deepest snow, drifts included: voles walk under it, rabbits sit on it.
    """
    if rabbits:
        return snow_m + GUARD_ABOVE_RABBITS_M
    return max(snow_m, GUARD_ABOVE_VOLES_M)
