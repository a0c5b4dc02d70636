"""The outdoor night temperatures at which groups of a collection are carried, either way.

A sign is judged by what it costs: the loss that comes before it in autumn or after it in spring,
and the days under cover that would have been safe outdoors.
"""

from dataclasses import dataclass
from typing import Self

import numpy as np

from overwinter.climate.stages import (
    WARM_SPELLS_PASS_DAYS,
    cold_night_days,
    coldest_day,
    forecast_minima_c,
    mild_week_days,
)
from overwinter.model.site import Site
from overwinter.model.stage import BoolArray, IntArray
from overwinter.plants.harm import (
    FLUSH_SHARE,
    YOUNG_ROOT_SHARE,
    Array,
    chilling_hazard,
    freezing_hazard,
    margin_at_chance,
)
from overwinter.simulate.exposures import KindArrays, Series
from overwinter.simulate.follow import Margins, State, margins
from overwinter.units import Display, celsius_to_fahrenheit, fahrenheit_to_celsius

UNSAFE_CHANCE = 0.005
"""A night that takes one tree in two hundred is one too many to stay outdoors."""
MENDED = 4 * UNSAFE_CHANCE
"""For what a tree mends in a season, young roots at the wall and chilled leaves: a judgement."""
MOST_THRESHOLDS = 5
"""Signs that a grower keeps in mind, each way; each adds a stage to the program."""
SPARED_DAYS = 0.4
"""A further sign must save as much as so many days under cover of every tree. A judgement: with 1.0
the plans of eleven winters cost 0.2 % more; with 0.4 signs lie about two weeks apart."""
COLDEST_C, WARMEST_C = -30.0, 15.0
"""Between these lie all signs."""


@dataclass(frozen=True)
class AtHome:
    """Every kind left at the summer stand all winter; all but the state ``(kind, winter, day)``."""

    state: State
    unsafe: BoolArray
    """Days on which it should not be there."""
    danger: Array
    """Hazard of each day alone."""
    deadly: Array
    """The same for old roots only."""

    @classmethod
    def of(cls, series: Series, state: State, kinds: KindArrays) -> Self:
        """What each day does by itself; ``kinds`` has two ones behind."""
        margin = margins(series, state, kinds)
        deadly = freezing_hazard(margin.old_roots)
        danger = (
            deadly
            + freezing_hazard(margin.young_roots, kinds.young_share)
            + freezing_hazard(margin.top)
            + freezing_hazard(margin.new_leaves, FLUSH_SHARE)
            + chilling_hazard(state.dose_k_h, kinds.chill_injury_k_h)
        )
        return cls(state, unsafe_days(series, state, margin, kinds), danger, deadly)


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


def thresholds_c(
    home: AtHome, outdoor_min_c: Array, site: Site, price: Array, day_price: Array
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Night temperatures whose signs serve a collection best in autumn and in spring, degC.

    Spring has two turns for a tree: old roots are out of danger, then all parts are.

    Parameters
    ----------
    outdoor_min_c : ``(winter, day)``.
    price : of the loss of all trees of each kind, money.
    day_price : of a day under cover, of all trees of each kind, money.
    """
    degrees = whole_degrees_c(site.display)
    turn, end = coldest_day(outdoor_min_c), outdoor_min_c.shape[1]
    forecast = forecast_minima_c(outdoor_min_c, site.seed)
    not_before = turn + WARM_SPELLS_PASS_DAYS
    autumn = np.array([cold_night_days(forecast[:, :turn], c) for c in degrees])
    spring = np.array([mild_week_days(outdoor_min_c, forecast, c, not_before) for c in degrees])
    before, after = slice(turn), slice(None, turn - 1, -1)
    safe = ~home.unsafe
    sign_price = SPARED_DAYS * float(day_price.sum())
    in_autumn = sign_costs(home.danger[..., before], safe[..., before], autumn, price, day_price)
    in_spring = [
        sign_costs(part[..., after], safe[..., after], end - spring, price, day_price)
        for part in (home.danger, home.deadly)
    ]
    return (
        tuple(degrees[i] for i in chosen_signs(in_autumn, sign_price)),
        tuple(degrees[i] for i in chosen_signs(np.concatenate(in_spring), sign_price)),
    )


def whole_degrees_c(display: Display) -> tuple[float, ...]:
    """Temperatures that may be a sign, rising: whole degrees in the grower's unit."""
    if not display.us:
        return tuple(float(c) for c in range(int(COLDEST_C), int(WARMEST_C) + 1))
    low, high = (round(celsius_to_fahrenheit(c)) for c in (COLDEST_C, WARMEST_C))
    return tuple(fahrenheit_to_celsius(float(f)) for f in range(low, high + 1))


def sign_costs(
    danger: Array, safe: BoolArray, sign: IntArray, price: Array, day_price: Array
) -> Array:
    """What each sign of autumn costs the trees of each kind, ``(kind, sign + 1)``, money a winter.

    The last column is that of no sign. For spring, days run backwards, and ``sign`` counts the days
    from it to the end.

    Parameters
    ----------
    danger : hazard of each day at the summer stand, ``(kind, winter, day)``.
    safe : days on which trees would be safe there.
    sign : days before each sign, ``(sign, winter)``.
    """
    _, winters, days = danger.shape
    until = np.concatenate((sign, np.full((1, winters), days)))
    first = np.zeros((*danger.shape[:2], 1))
    worst = np.concatenate((first, np.maximum.accumulate(danger, axis=2)), axis=2)
    spare = np.concatenate((first, safe.cumsum(axis=2)), axis=2)
    winter = np.arange(winters)
    lost = 1.0 - np.exp(-worst[:, winter, until]).mean(axis=2)
    covered = (spare[:, winter, -1][:, None] - spare[:, winter, until]).mean(axis=2)
    return np.asarray(price[:, None] * lost + day_price[:, None] * covered)


def chosen_signs(costs: Array, sign_price: float) -> list[int]:
    """At most ``MOST_THRESHOLDS`` signs, rising, so that all kinds by their best sign cost least.

    One is added, dropped or put in place of another as long as that saves anything.

    Parameters
    ----------
    costs : ``(kind, sign + 1)``; the last is that of no sign, which every kind may take.
    """
    none = costs.shape[1] - 1
    chosen: list[int] = []

    def total(signs: list[int]) -> float:
        return float(costs[:, [*signs, none]].min(axis=1).sum()) + sign_price * len(signs)

    while True:
        others = [i for i in range(none) if i not in chosen]
        fewer = [[i for i in chosen if i != drop] for drop in chosen]
        grow = [*fewer, chosen] if len(chosen) < MOST_THRESHOLDS else fewer
        tries = fewer + [[*kept, i] for kept in grow for i in others]
        best = min(tries, key=total)
        if total(best) >= total(chosen) - 1e-9:
            return sorted(chosen)
        chosen = best
