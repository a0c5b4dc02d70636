"""The published dynamic model of bud hardiness, the reference our simple state is held against.

Ferguson et al. 2011, Ann. Bot. 107:389-396 (abstract read) and Ferguson et al. 2014, Am. J. Enol.
Vitic. 65:59-71 (parameters read in public code that cites it; the paper was not read). It is of
buds of a vine: its shape is what we lean on, its numbers are not those of roots in pots. No plan
is computed from it.
"""

from dataclasses import dataclass

import numpy as np

from overwinter.model.shelter import FloatArray

CHILLING_BASE_C = 10.0
"""Chilling adds up as min(0, mean - 10), degC d."""


@dataclass(frozen=True, slots=True)
class Phase:
    """One phase of dormancy: threshold (degC) and rates of gain and loss (1/d)."""

    threshold_c: float
    gain: float
    loss: float


@dataclass(frozen=True, slots=True)
class BudCultivar:
    """Parameters of one cultivar; hardiness is the temperature that kills half the buds, degC."""

    start_c: float
    tenderest_c: float
    hardiest_c: float
    endodormant: Phase
    ecodormant: Phase
    theta: float
    boundary: float
    """Chilling sum (degC d, negative) at which endodormancy ends."""


CULTIVARS = {
    "Cabernet Sauvignon": BudCultivar(
        -10.3, -1.2, -25.1, Phase(13, 0.12, 0.08), Phase(5, 0.10, 0.10), 7, -700
    ),
    "Chardonnay": BudCultivar(
        -11.8, -1.2, -25.7, Phase(14, 0.10, 0.10), Phase(3, 0.02, 0.08), 7, -600
    ),
    "Riesling": BudCultivar(
        -12.6, -1.2, -26.1, Phase(12, 0.14, 0.02), Phase(5, 0.10, 0.12), 7, -700
    ),
    "Merlot": BudCultivar(-10.3, -1.2, -25.0, Phase(13, 0.10, 0.04), Phase(5, 0.02, 0.10), 7, -500),
    "Concord": BudCultivar(
        -12.8, -2.5, -29.5, Phase(13, 0.12, 0.02), Phase(3, 0.10, 0.10), 3, -600
    ),
}


@dataclass(frozen=True)
class BudCourse:
    """Hardiness after each day (degC) and the day, counted from 1, after which buds only wait."""

    hardiness_c: FloatArray
    ecodormant_after_day: int | None


def bud_hardiness(mean_c: FloatArray, cultivar: BudCultivar) -> BudCourse:
    """Run the model over daily mean air temperatures ``(day,)``, degC, from early autumn."""
    hardiness, chilling = cultivar.start_c, 0.0
    phase, switched = cultivar.endodormant, None
    course = np.empty(len(mean_c))
    for day, mean in enumerate(np.asarray(mean_c, dtype=np.float64)):
        chilling += min(0.0, float(mean) - CHILLING_BASE_C)
        hardiness = _after_one_day(hardiness, float(mean), phase, cultivar, chilling < 0.0)
        course[day] = hardiness
        if switched is None and chilling <= cultivar.boundary:
            phase, switched = cultivar.ecodormant, day + 1
    return BudCourse(course, switched)


def _after_one_day(
    hardiness: float, mean: float, phase: Phase, cultivar: BudCultivar, chilled: bool
) -> float:
    span = cultivar.tenderest_c - cultivar.hardiest_c
    above_hardiest = (hardiness - cultivar.hardiest_c) / span
    below_tenderest = (cultivar.tenderest_c - hardiness) / span
    gain = min(0.0, mean - phase.threshold_c) * phase.gain * (1.0 - below_tenderest)
    loss = 0.0
    if chilled:  # no hardiness is lost before the first chilling
        warmth = max(0.0, mean - phase.threshold_c)
        loss = warmth * phase.loss * (1.0 - above_hardiest**cultivar.theta)
    return min(max(hardiness + gain + loss, cultivar.hardiest_c), cultivar.tenderest_c)
