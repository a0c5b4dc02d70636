"""The outdoor night temperatures at which groups of a collection are carried, either way.

A sign is judged by what it spares: the coldest one of autumn that comes in time, and the first one
of spring after which little is to be feared, in all but a share of the winters.
"""

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from overwinter.climate.stages import cold_night_days, mild_week_days
from overwinter.model.stage import BoolArray, IntArray
from overwinter.plants.harm import FLUSH_SHARE, YOUNG_ROOT_SHARE, Array, margin_at_chance
from overwinter.simulate.exposures import KindArrays, Series
from overwinter.simulate.follow import Margins, State
from overwinter.units import Display, celsius_to_fahrenheit, fahrenheit_to_celsius

UNSAFE_CHANCE = 0.005
"""A night that takes one tree in two hundred is one too many to stay outdoors."""
MENDED = 4 * UNSAFE_CHANCE
"""For what a tree mends in a season, young roots at the wall and chilled leaves: a judgement."""
MOST_THRESHOLDS = 5
"""Signs that a grower keeps in mind, each way; each adds a stage to the program."""
CAUGHT_OUT = 0.2
"""Share of winters in which an unsafe night may come before the sign of autumn or after that of
spring: growers expect such a night now and then, and shuffle (a judgement)."""
SPARED_DAYS = 1.0
"""A further threshold must save at least so many days under cover, in the mean of the trees."""
COLDEST_C, WARMEST_C = -30.0, 15.0
"""Between these lie all signs."""


def unsafe_days(series: Series, state: State, margin: Margins, kinds: KindArrays) -> BoolArray:
    """Days at the summer stand on which a tree should not be there, ``(n, winter, day)``."""
    whole = margin_at_chance(UNSAFE_CHANCE)
    flush = margin_at_chance(UNSAFE_CHANCE, FLUSH_SHARE)
    young = np.where(
        kinds.young_share > YOUNG_ROOT_SHARE, whole, margin_at_chance(MENDED, YOUNG_ROOT_SHARE)
    )
    dose = np.sqrt(MENDED) * kinds.chill_injury_k_h
    return np.asarray(
        (margin.old_roots < whole)
        | (margin.top < whole)
        | (margin.new_leaves < flush)
        | (margin.young_roots < young)
        | (state.dose_k_h > dose)
    )


def whole_degrees_c(display: Display) -> tuple[float, ...]:
    """Temperatures that may be a sign, rising: whole degrees in the grower's unit."""
    if not display.us:
        return tuple(float(c) for c in range(int(COLDEST_C), int(WARMEST_C) + 1))
    low, high = (round(celsius_to_fahrenheit(c)) for c in (COLDEST_C, WARMEST_C))
    return tuple(fahrenheit_to_celsius(float(f)) for f in range(low, high + 1))


def autumn_signs(
    unsafe: BoolArray, forecast_c: Array, turn: int, degrees_c: Sequence[float]
) -> tuple[list[float], dict[float, float]]:
    """The coldest night forecast that calls each kind in before the first unsafe day.

    Parameters
    ----------
    unsafe : ``(kind, winter, day)``. forecast_c : ``(winter, day)``. turn : the coldest day.
    degrees_c : rising.

    Returns
    -------
    The threshold of each kind, nan where most winters do without; the usual day of each threshold.
    """
    before = unsafe[:, :, :turn]
    days = {c: cold_night_days(forecast_c[:, :turn], c) for c in degrees_c}
    first = np.where(before.any(axis=2), before.argmax(axis=2), turn)

    def caught(kind: int, sign: IntArray) -> float:
        return float((first[kind] < sign).mean())

    return _chosen(before, days, caught, degrees_c)


def spring_signs(
    unsafe: BoolArray,
    outdoor_min_c: Array,
    forecast_c: Array,
    turn: int,
    not_before: int,
    degrees_c: Sequence[float],
) -> tuple[list[float], dict[float, float]]:
    """The coldest mild week after which each kind meets no unsafe day; as ``autumn_signs``."""
    _, days = outdoor_min_c.shape
    after = unsafe[:, :, turn:]
    found = {c: mild_week_days(outdoor_min_c, forecast_c, c, not_before) for c in degrees_c}
    last = np.where(after.any(axis=2), days - 1 - after[:, :, ::-1].argmax(axis=2), -1)

    def caught(kind: int, sign: IntArray) -> float:
        return float((last[kind] >= sign).mean())

    return _chosen(after, found, caught, degrees_c)


def _chosen(
    unsafe: BoolArray,
    days: Mapping[float, IntArray],
    caught: Callable[[int, IntArray], float],
    degrees_c: Sequence[float],
) -> tuple[list[float], dict[float, float]]:
    usual = {c: float(np.median(sign)) for c, sign in days.items()}
    needed = unsafe.any(axis=2).mean(axis=1) >= 0.5
    chosen = [
        next((c for c in degrees_c if caught(kind, days[c]) <= CAUGHT_OUT), degrees_c[-1])
        if needed[kind]
        else float("nan")
        for kind in range(len(unsafe))
    ]
    return chosen, usual


def merged_thresholds_c(
    needed_c: Sequence[float], trees: Sequence[float], usual_day: Mapping[float, float]
) -> tuple[float, ...]:
    """At most ``MOST_THRESHOLDS`` temperatures that warn every kind in time, at the least waiting.

    Each threshold stands for the kinds at or below it, down to the next; the waiting that costs
    them is trees x days between the signs. Found exactly, by dynamic programming.

    Parameters
    ----------
    needed_c : of each kind, degC; nan for those that need no warning.
    trees : of each kind.
    usual_day : on which the sign of each temperature comes.
    """
    counts: dict[float, float] = {}
    for value, count in zip(needed_c, trees, strict=True):
        if np.isfinite(value):
            counts[value] = counts.get(value, 0.0) + count
    values = sorted(counts, reverse=True)
    n = len(values)
    best: dict[tuple[int, int], tuple[float, tuple[float, ...]]] = {(0, 0): (0.0, ())}
    for used in range(1, MOST_THRESHOLDS + 1):
        for end in range(1, n + 1):
            tries = []
            for start in range(end):
                before = best.get((used - 1, start))
                if before is not None:
                    sign = values[start]
                    waiting = sum(
                        counts[v] * abs(usual_day[sign] - usual_day[v]) for v in values[start:end]
                    )
                    tries.append((before[0] + waiting, (*before[1], sign)))
            if tries:
                best[used, end] = min(tries)
    total = sum(counts.values())
    ends = [
        (cost + SPARED_DAYS * total * used, chosen)
        for (used, end), (cost, chosen) in best.items()
        if end == n
    ]
    return min(ends)[1] if ends and n else ()
