"""Hardiness zones, and the law of the coldest night of a winter: a Gumbel law by mean and spread.
This is how the heads of EPW files and the climate design tables behind them reckon their lowest
temperatures in 5, 10, 20 and 50 years (checked in the tests against four such heads)."""

import re
from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.units import fahrenheit_to_celsius

HALF_F = 5.0
COLDEST_F = -60.0
_ZONE = re.compile(r"(?:usda|zone|hardiness|klimazone|\s)*([1-9]|1[0-3])([ab]?)")


def zone_middle_c(zone: str) -> float:
    """Middle of the band of a USDA zone such as ``"6a"`` or ``"6"``, degC. The scale is the mean
    yearly minimum in zones of 10 degF and halves of 5 (USDA Plant Hardiness Zone Map, read); zone z
    begins at -60 + 10 (z - 1) degF."""
    match = _ZONE.fullmatch(zone.strip().lower())
    if match is None:
        raise ValueError(f"not a hardiness zone from 1a to 13b: {zone!r}")
    begins_f = COLDEST_F + 2 * HALF_F * (int(match[1]) - 1)
    return fahrenheit_to_celsius(begins_f + HALF_F * {"a": 0.5, "": 1.0, "b": 1.5}[match[2]])


EULER_MASCHERONI = 0.5772156649
GUMBEL_SCALE = float(np.sqrt(6) / np.pi)  # scale of a Gumbel law of unit standard deviation

BELOW_MEAN_MIN_K = 3.0
BELOW_PER_SWING = 0.44
"""Without anything better the mean coldest night lies this far below the coldest month's mean
minimum: 3 K + 0.44 x (warmest less coldest month's mean minimum). Least squares through the means
in five EPW heads (San Francisco, Golden, Tampa, Chicago, Dulles); it misses them by -1.7 to +2.9
K, and a record of 88 winters at Clemson by 0.2 K."""
SPREAD_SHARE = 0.3
"""Spread of coldest nights as a share of how far their mean lies below the coldest month's mean
minimum: 0.24 to 0.36 in the same five heads, 0.25 at Clemson."""
WIDEST_SPREAD_K = 4.0
"""Most that the rule gives, a judgement: heads of EPW files have 3.4 K at Northway, where the rule
would give 5, and 3.8 to 4.6 K at Golden, Chicago and Dulles."""
RULE_COUNTS_WINTERS = 4.0  # winters that weigh as much: the mean of 4 that spread by 4 K is 2 K off
LEAST_ROOM_K = 3.0
"""The mean coldest night lies further than this below the coldest month's mean minimum: 4.9 K at
San Francisco, the least of the five heads."""
SMALLEST_K = 0.1  # less than a thermometer tells
FURTHEST_MILD = 1.6  # the mildest of 100 winters lies this many spreads above the mean


@dataclass(frozen=True, slots=True)
class ColdestNight:
    """Mean and standard deviation of the coldest nights of winters, degC and K."""

    mean_c: float
    spread_k: float


def quantile(law: ColdestNight, share: FloatArray) -> FloatArray:
    """Temperature that this share of winters (0 to 1) falls below, degC."""
    reduced = np.log(-np.log(1 - np.asarray(share, dtype=np.float64)))
    return np.asarray(law.mean_c + law.spread_k * GUMBEL_SCALE * (EULER_MASCHERONI + reduced))


def spread_by_rule(mean_c: float, mean_min_c: FloatArray) -> float:
    """Spread, K, where nothing but the mean and the monthly mean minima is known."""
    return min(WIDEST_SPREAD_K, SPREAD_SHARE * max(0.0, float(np.min(mean_min_c)) - mean_c))


def law_by_rule(mean_min_c: FloatArray) -> ColdestNight:
    """The law where nothing but the mean minima of the twelve months (degC) is known."""
    below_k = BELOW_MEAN_MIN_K + BELOW_PER_SWING * float(np.ptp(mean_min_c))
    mean_c = float(np.min(mean_min_c)) - below_k
    return ColdestNight(mean_c, spread_by_rule(mean_c, mean_min_c))


def law_of_record(coldest_c: FloatArray, mean_min_c: FloatArray) -> ColdestNight:
    """The law from measured coldest nights (one a winter, degC), leaning on the rule when few."""
    rule, count = law_by_rule(mean_min_c), coldest_c.size
    trust = count / (count + RULE_COUNTS_WINTERS)
    mean_c = trust * float(coldest_c.mean()) + (1 - trust) * rule.mean_c if count else rule.mean_c
    spread_k = spread_by_rule(mean_c, mean_min_c)
    if count > 1:
        spread_k += trust * (float(coldest_c.std(ddof=1)) - spread_k)
    return ColdestNight(mean_c, spread_k)


def goes_with(law: ColdestNight, mean_min_c: FloatArray) -> bool:
    """Whether even a mild winter has a night colder than the coldest month's mean minimum."""
    room_k = float(np.min(mean_min_c)) - law.mean_c
    return law.spread_k > 0 and room_k > max(LEAST_ROOM_K, FURTHEST_MILD * law.spread_k)


def made_to_go_with(law: ColdestNight, mean_min_c: FloatArray) -> ColdestNight:
    """The law, moved no further than it must be to go with the normals."""
    usual_c = float(np.min(mean_min_c))
    mean_c = min(law.mean_c, usual_c - LEAST_ROOM_K - SMALLEST_K)
    most_k = (usual_c - mean_c - SMALLEST_K) / FURTHEST_MILD
    return ColdestNight(mean_c, float(np.clip(law.spread_k, SMALLEST_K, most_k)))
