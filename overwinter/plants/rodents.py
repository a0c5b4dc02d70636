"""Mice and voles: what they may cost a tree.

That unguarded pots are eaten in wintering houses, and that fine mesh keeps voles out, is read in
extension pages (docs/sources.md). Appeal and exposure on a scale of 0 to 1, the share a guard
leaves and the chance of loss are judgements: no trial gives them. No poison is planned for:
poisons kill pets, owls and children too and are for licensed people under local rules.
"""

from overwinter.model.site import Weights

WINTER_DAYS = 180.0
"""``Weights.rodent_share`` is a chance for this many days."""


def loss_share_per_day(left: float, weights: Weights) -> float:
    """Expected share of a tree's value lost a day; straight in time, so that days add up."""
    return left * weights.rodent_share / WINTER_DAYS
