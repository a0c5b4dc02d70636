"""The outdoor night temperatures at which groups of a collection stop being safe outdoors."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from overwinter.plants.harm import FLUSH_SHARE, YOUNG_ROOT_SHARE, Array, margin_at_chance
from overwinter.simulate.exposures import Series
from overwinter.simulate.follow import Margins, State
from overwinter.simulate.kinds import KindArrays
from overwinter.units import Display, celsius_to_fahrenheit, fahrenheit_to_celsius

BoolArray = NDArray[np.bool_]

UNSAFE_CHANCE = 0.005
"""A night that takes one tree in two hundred is one too many to stay outdoors."""
MENDED = 4 * UNSAFE_CHANCE
"""For what a tree mends in a season, young roots at the wall and chilled leaves: a judgement."""
MOST_THRESHOLDS = 4
"""Signs that a grower keeps in mind, each way; each adds a stage to the program."""
FORECAST_ALLOWANCE_K = 1.5
"""A threshold lies one usual forecast error above the night that it warns of."""
DOSE_NIGHTS = 3
"""The coldest of so many nights is what made a day unsafe: a dose of chilling builds up."""
SPARED_K = 0.1
"""A further threshold must save at least so much of waiting under cover, K in the mean of trees."""


def unsafe_days(series: Series, state: State, margin: Margins, kinds: KindArrays) -> BoolArray:
    """Days at the summer stand on which a tree should not be there, ``(n, winter, day)``."""
    whole = margin_at_chance(UNSAFE_CHANCE)
    flush = margin_at_chance(UNSAFE_CHANCE, FLUSH_SHARE)
    young = np.where(
        kinds.young_share > YOUNG_ROOT_SHARE, whole, margin_at_chance(MENDED, YOUNG_ROOT_SHARE)
    )
    dose = np.sqrt(MENDED) * kinds.half_dose_k_h
    return np.asarray(
        (margin.old_roots < whole)
        | (margin.top < whole)
        | (margin.new_leaves < flush)
        | (margin.young_roots < young)
        | (state.dose_k_h > dose)
    )


def critical_nights_c(
    unsafe: BoolArray, outdoor_min_c: Array, from_day: int, until_day: int, last: bool
) -> NDArray[np.float64]:
    """Outdoor minimum of the first (or last) unsafe night between two days, median of the winters.

    Parameters
    ----------
    unsafe : ``(n, winter, day)``.
    outdoor_min_c : ``(winter, day)``.

    Returns
    -------
    ``(n,)``, degC; nan for a kind that is safe in more than half of the winters.
    """
    window = unsafe[:, :, from_day:until_day]
    minima = np.minimum.reduce([_earlier(outdoor_min_c, days) for days in range(DOSE_NIGHTS)])
    minima = minima[:, from_day:until_day]
    if last:
        window, minima = window[:, :, ::-1], minima[:, ::-1]
    at = window.argmax(axis=2)
    night = np.take_along_axis(np.broadcast_to(minima, window.shape), at[:, :, None], axis=2)[
        ..., 0
    ]
    night = np.where(window.any(axis=2), night, np.nan)
    found = np.isfinite(night).mean(axis=1) >= 0.5
    out = np.full(len(unsafe), np.nan)
    if found.any():
        out[found] = np.nanmedian(night[found], axis=1)
    return out


def _earlier(nights_c: Array, days: int) -> Array:
    """The nights so many days before, the first one repeated."""
    until = nights_c.shape[1] - days
    return np.concatenate((nights_c[:, :1].repeat(days, axis=1), nights_c[:, :until]), axis=1)


def merged_thresholds_c(
    critical_c: Sequence[float], weights: Sequence[float], display: Display
) -> tuple[float, ...]:
    """At most ``MOST_THRESHOLDS`` whole degrees that warn every kind in time, at the least waiting.

    Each threshold stands for the kinds at or below it, down to the next; the waiting it costs them
    is weight x distance. Found exactly, by dynamic programming over the sorted values.

    Parameters
    ----------
    critical_c : of each kind, degC; nan for those that need no warning.
    weights : trees of each kind.
    """
    pairs = [
        (_up_to_whole(c + FORECAST_ALLOWANCE_K, display), w)
        for c, w in zip(critical_c, weights, strict=True)
        if np.isfinite(c)
    ]
    trees: dict[float, float] = {}
    for value, weight in pairs:
        trees[value] = trees.get(value, 0.0) + weight
    values = sorted(trees, reverse=True)
    n = len(values)
    best: dict[tuple[int, int], tuple[float, tuple[float, ...]]] = {(0, 0): (0.0, ())}
    for used in range(1, MOST_THRESHOLDS + 1):
        for end in range(1, n + 1):
            tries = []
            for start in range(end):
                before = best.get((used - 1, start))
                if before is not None:
                    waiting = sum(trees[v] * (values[start] - v) for v in values[start:end])
                    tries.append((before[0] + waiting, (*before[1], values[start])))
            if tries:
                best[used, end] = min(tries)
    total = sum(trees.values())
    ends = [
        (cost + SPARED_K * total * used, chosen)
        for (used, end), (cost, chosen) in best.items()
        if end == n
    ]
    return min(ends)[1] if ends and n else ()


def _up_to_whole(value_c: float, display: Display) -> float:
    """The next whole degree above, in the grower's unit."""
    if not display.us:
        return float(np.ceil(value_c))
    return fahrenheit_to_celsius(float(np.ceil(celsius_to_fahrenheit(value_c))))
