"""Dose responses: from the cold, warmth and dark that a tree meets to its chance of being lost.

Every harm is a hazard, minus the logarithm of the chance to come through it, so that harms add up.
A chance counts as a share of the tree's value: one that only costs a flush of leaves counts a part.

The shape of the freezing curve (logistic about an LT50) is the usual one for survival after a
freezing test. Its steepness and every share and rate below are judgements unless a source is named:
no trial on potted trees gives them. docs/risk.md shows what each of them does.
"""

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.model.tree import Condition

Array = FloatArray  # float32 where many winters are held at once

FREEZING_SLOPE_K = float(3.0 / np.log(99.0))
"""Slope of the logistic: 3 K above the LT50 one tree in a hundred is lost (a judgement; freezing
tests of container stock run from little to full damage within some 5 K)."""
SAP_FREEZES_C, UNFROZEN_K = -1.0, 10.0
"""So much further from its LT50 is a root a kelvin above the freezing point of its sap: ten kelvins
leave one chance in ten million."""
CONDITION_SHIFT_K = {Condition.WEAK: 2.0, Condition.ORDINARY: 0.0, Condition.STRONG: -1.0}
"""A weak tree dies at warmer, a strong one at colder temperatures: a judgement."""

YOUNG_ROOT_SHARE = 0.02
"""Share of the value lost with the young roots at the wall: the tree makes new ones in spring, and
growers cut a third of all roots away at each repotting. The wall counted is the one under the night
sky and in the shade, where about half of them stand; hardy trees are left out until November, as
growers leave them (common practice, no source)."""
ALL_YOUNG_SHARE = 0.6  # the same in the first winter after repotting, when it has hardly any others
FLUSH_SHARE = 0.05  # share of the value lost with a flush of leaves: a tree in health makes another
RECOVERY_PER_DAY = 0.8
"""What is left a day later of a dose of chilling: a night of warmth mends most of it."""
RESTLESS_PER_K_D = 0.0002
"""Hazard of each degree-day above the rest ceiling in the shortest days under a roof (outdoors the
climate is as warm as it is, and the chilling that lacks counts): a winter in a room 5 K too
warm costs one tree in twelve, besides the chilling it lacks."""
DARK_HALF_D, DARK_AT_C, DARK_Q10 = 150.0, 10.0, 2.0
"""Days of an evergreen in the dark of which half are lost. A day counts by what is breathed away,
twice as much for each 10 K, and by the square of the light that lacks, as leaves adapt to somewhat
less: judgements, from what is read in docs/species.md."""
SOFT_SHARE = 0.03
"""Share of the value lost with leaves that open under a roof, long, soft and not used to sun and
wind: a judgement. Growers take trees out before their buds break (common practice, no source)."""
DIM_PER_DAY = 0.004
"""Hazard of each day in the dark while leaves open or fall, which no reserves stand for: a winter
of it costs half of them (a judgement). It falls with the square of the light that lacks too."""
OPENING_MOL_M2_D = 10.0
"""Daily light below which leaves that open in spring grow long and soft: the least that greenhouse
crops of good quality are given is 10 to 12 (from memory)."""
DRYING_PER_DAY = 0.0005
"""Hazard of each day of full sun on thin evergreen leaves over frozen roots, in the wind. That
shoots in the sun lose more water than shaded ones is read (red spruce, Tree Physiol. 8:23-36)."""
SHELTERED_DRYING = 0.3  # share of that under cover, out of the wind
FULL_SUN_MOL_M2_D = 20.0  # daily light of a clear late-winter day at 40 to 45 degrees north
SHORT_CHILL_SHARE = 0.5  # of the value without any chilling: it wakes late, weak, in part
FROZEN_C = -1.0  # a root zone colder than this on the mean of a day gives no water


def frost_in_roots_c(root_zone_c: Array) -> Array:
    """Root zone as the freezing curve sees it, degC: at 0 nothing is frozen and no root dies of it.
    The sap of roots freezes at about -1 degC (from memory); from there on frost counts in full."""
    unfrozen = np.clip(root_zone_c - SAP_FREEZES_C, 0.0, 1.0)
    return np.asarray(root_zone_c + UNFROZEN_K * unfrozen)


def freezing_hazard(margin_k: Array, share: Array | float = 1.0) -> Array:
    """Hazard of a moment ``margin_k`` above the LT50, K, with ``share`` of the value at stake."""
    chance = 1.0 / (1.0 + np.exp(np.clip(margin_k / FREEZING_SLOPE_K, -30.0, 30.0)))
    return np.asarray(-np.log1p(-np.minimum(share * chance, 0.9999)))


def margin_at_chance(chance: float, share: float = 1.0) -> float:
    """Margin (K) above the LT50 at which ``share`` times the chance is ``chance``."""
    return float(FREEZING_SLOPE_K * np.log(share / chance - 1.0))


def dose_hazard(dose: Array, half: Array | float) -> Array:
    """Hazard of a dose of chilling or darkness: half are lost at ``half``, 1 % at a tenth of it."""
    return np.asarray(np.log1p((dose / half) ** 2))


def short_chill_hazard(missing_share: Array) -> Array:
    """Hazard of a winter in which ``missing_share`` (0 to 1) of the chilling owed was missing."""
    return np.asarray(-np.log1p(-SHORT_CHILL_SHARE * np.clip(missing_share, 0.0, 1.0) ** 2))


# That unguarded pots are eaten in wintering houses, and that fine mesh keeps voles out, is read in
# extension pages (docs/sources.md). Appeal and exposure on a scale of 0 to 1, the share a guard
# leaves and the chance of loss are judgements: no trial gives them. No poison is planned for:
# poisons kill pets, owls and children too and are for licensed people under local rules.

WINTER_DAYS = 180.0  # for which `Weights.rodent_share` is a chance; days add up
