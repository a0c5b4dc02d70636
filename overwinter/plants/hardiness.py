"""How cold the roots may get: hardening state, killing temperature, working limit.

The state a in [0, 1] starts low in autumn, rises day by day in cold root zones and falls with
warmth. Each day, in this order of reading::

    gain = 1 / harden_days                     if the mean is below harden_below_c and the day is
                                               short, or far below it whatever the day length
    loss = deharden_per_degree_day * max(0, mean - deharden_above_c)
    a'   = min(1, max(0, a + gain - loss))

Backed by sources: hardening needs short days and then cold (Dirr & Smith 1988, read); warmth
undoes it and some cold brings it back, less so late in winter (Kalberer et al. 2005-2007,
abstracts read); a warm root zone keeps roots from hardening (Havis et al., abstract read). Whether
roots heed day length is disputed (Rutgers FS528 says no, an abstract by Johnson & Havis 1977 says
long days hinder them, both read): so long days close the gate, unless it is really cold. The
*shape* of gain and loss follows the published model of vine buds (``plants.bud_hardiness``), but
the straight lines and the figures for roots of potted trees are our own choice on the safe side:
no rate for them was found. See docs/species.md.

The gain never rises and the loss never falls with temperature, so a warmer history never leaves a
tree hardier: the program relies on that bound, and tests/plants hold it.
"""

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.model.site import Margins
from overwinter.model.species import Limits
from overwinter.model.tree import Condition

SHORT_DAY_H = 12.0
"""Days shorter than this let a tree harden; custom, about the equinoxes."""
REALLY_COLD_K = 5.0
"""A mean this far below ``harden_below_c`` hardens whatever the day length; our choice."""


def daily_change(root_mean_c: FloatArray, limits: Limits, day_length_h: FloatArray) -> FloatArray:
    """Change of the hardening state by each day, before it is held within 0 and 1.

    Parameters
    ----------
    root_mean_c : ``(..., day)``, daily mean root zone, degC.
    day_length_h : ``(day,)``, h.

    Returns
    -------
    ``(..., day)``, 1/d; never larger for a warmer day.
    """
    mean = np.asarray(root_mean_c, dtype=np.float64)
    short = np.asarray(day_length_h) < SHORT_DAY_H
    hardens = (mean < limits.harden_below_c) & short
    hardens |= mean < limits.harden_below_c - REALLY_COLD_K
    loss = limits.deharden_per_degree_day * np.maximum(mean - limits.deharden_above_c, 0.0)
    change: FloatArray = hardens / limits.harden_days - loss
    return change


def hardening_course(
    root_mean_c: FloatArray,
    limits: Limits,
    day_length_h: FloatArray,
    start: FloatArray | float = 0.0,
) -> FloatArray:
    """Hardening state at the start of each day and after the last, ``(..., day + 1)``.

    Element d is what days before d left, so the minimum of day d is judged by element d;
    ``course[..., -1]`` goes on as ``start`` of the next stretch.

    Parameters
    ----------
    root_mean_c : ``(..., day)``, daily mean root zone, degC.
    day_length_h : ``(day,)``, h.
    start : state before the first day, 0 to 1; broadcast over the leading axes.
    """
    change = daily_change(root_mean_c, limits, day_length_h)
    lead = np.broadcast_shapes(change.shape[:-1], np.shape(start))
    days = change.shape[-1]
    course = np.empty((*lead, days + 1))
    course[..., 0] = np.clip(start, 0.0, 1.0)
    # days first, so that a day's states lie together; minimum and maximum dispatch faster than clip
    by_day = np.ascontiguousarray(np.moveaxis(np.broadcast_to(change, (*lead, days)), -1, 0))
    state = course[..., 0].copy()
    for day in range(days):
        state = np.minimum(np.maximum(state + by_day[day], 0.0), 1.0)
        course[..., day + 1] = state
    return course


def hardening(
    root_mean_c: FloatArray,
    limits: Limits,
    day_length_h: FloatArray,
    start: FloatArray | float = 0.0,
) -> FloatArray:
    """Hardening state at the start of each day, ``(..., day)``; see ``hardening_course``."""
    return hardening_course(root_mean_c, limits, day_length_h, start)[..., :-1]


def kill_temperature_c(
    state: FloatArray | float, hardened_c: float, unhardened_c: float
) -> FloatArray:
    """Root-killing temperature at a hardening state, degC, shape of ``state``.

    A straight line between the unhardened (0) and the hardened value (1). For roots still young
    from repotting, ``hardened_c`` is ``Tree.root_kill_hardened_c``, which knows that.
    """
    a = np.asarray(state, dtype=np.float64)
    kill: FloatArray = unhardened_c + a * (hardened_c - unhardened_c)
    return kill


def margin_k(margins: Margins, condition: Condition) -> float:
    """What stands between the killing temperature and the working limit, K, never below 0."""
    extra = {
        Condition.WEAK: margins.weak_extra_k,
        Condition.ORDINARY: 0.0,
        Condition.STRONG: -margins.strong_less_k,
    }
    return max(margins.root_k + extra[condition], 0.0)


def working_floor_c(
    state: FloatArray | float,
    hardened_c: float,
    unhardened_c: float,
    margins: Margins,
    condition: Condition,
) -> FloatArray:
    """Root-zone temperature a tree must not fall below, degC, shape of ``state``."""
    return kill_temperature_c(state, hardened_c, unhardened_c) + margin_k(margins, condition)


def air_floor_c(limits: Limits, margins: Margins) -> float:
    """Air temperature a tree must not fall below, degC; ``-inf`` where only its roots decide."""
    return -np.inf if limits.air_floor_c is None else limits.air_floor_c + margins.air_k
