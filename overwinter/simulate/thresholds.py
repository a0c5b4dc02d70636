"""The outdoor night temperatures at which groups of a collection are carried, either way. A sign is
judged by what it costs: the loss that comes before it in autumn or after it in spring, and the days
under cover that would have been safe outdoors."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Self

import numpy as np

from overwinter.climate.stages import (
    FORECAST_ERROR_K,
    WARM_SPELLS_PASS_DAYS,
    cold_night_days,
    coldest_day,
    forecast_minima_c,
    mild_week_days,
)
from overwinter.model.site import Site
from overwinter.model.stage import BoolArray, IntArray
from overwinter.plants import harm
from overwinter.plants.harm import Array
from overwinter.simulate.exposures import KindArrays, Series
from overwinter.simulate.follow import State, air_margins, root_margins
from overwinter.units import Display, celsius_to_fahrenheit, fahrenheit_to_celsius

UNSAFE_CHANCE = 0.005  # a night that takes one tree in two hundred is one too many to stay outdoors
MENDED = 4 * UNSAFE_CHANCE  # for chilled leaves, which a tree mends in a season: a judgement
YOUNG_LOST = 0.4  # of young roots, that may go in a night: a tree makes new ones (judgement)
MOST_THRESHOLDS = 5  # signs that a grower keeps in mind, each way; each adds a stage to the program
SPARED_DAYS = 0.4
"""A further sign must save as much as so many days under cover of every tree. A judgement: with 1.0
the plans of eleven winters cost 0.2 % more; with 0.4 signs lie about two weeks apart."""
FURTHER_TURN = 0.5
"""Share of the trees that go from a bed to a roof in autumn, or wake under cover: a judgement."""
DEAD_OF_WINTER_DAYS = 30
"""From so many days before the coldest day of the mean year on, about the winter solstice, no tree
that rests is carried (common practice, no source), but for a cold that most winters lack."""
COLDEST_C, WARMEST_C = -30.0, 15.0  # between these lie all signs


@dataclass(frozen=True)
class AtHome:
    """Every kind left at the summer stand all winter; all but the state ``(kind, winter, day)``."""

    state: State
    unsafe: BoolArray  # days on which it should not be there
    danger: Array  # hazard of each day alone
    deadly: Array  # the same for old roots only
    woken: Array  # the same for a tree that has woken under cover

    @classmethod
    def of(cls, series: Series, state: State, kinds: KindArrays) -> Self:
        """What each day does by itself; ``kinds`` has two ones behind."""
        old, young = root_margins(series, state.hardening, kinds)
        top, leaves = air_margins(series, state.top_hardening, state.warmth_k_d, kinds)
        deadly = harm.freezing_hazard(old)
        danger = (
            deadly
            + harm.freezing_hazard(young, kinds.young_share)
            + harm.freezing_hazard(top)
            + harm.freezing_hazard(leaves, harm.FLUSH_SHARE)
            + harm.dose_hazard(state.dose_k_h, kinds.chill_injury_k_h)
        )
        woken = (
            deadly
            + harm.freezing_hazard(series.air_min_c - kinds.top_kill_unhardened_c)
            + harm.freezing_hazard(series.air_min_c - kinds.new_leaf_kill_c, harm.FLUSH_SHARE)
        )
        unsafe = unsafe_days((old, young, top, leaves), state.dose_k_h, kinds)
        return cls(state, unsafe, danger, deadly, np.where(kinds.rests > 0, woken, danger))


def unsafe_days(margins_k: Sequence[Array], dose_k_h: Array, kinds: KindArrays) -> BoolArray:
    """Days at the summer stand on which a tree should not be there, ``(n, winter, day)``.
    ``margins_k``: of old roots, young roots, top and new leaves."""
    old, young, top, leaves = margins_k
    whole = harm.margin_at_chance(UNSAFE_CHANCE)
    flush = harm.margin_at_chance(UNSAFE_CHANCE, harm.FLUSH_SHARE)
    least = np.where(
        kinds.young_share > harm.YOUNG_ROOT_SHARE, whole, harm.margin_at_chance(YOUNG_LOST)
    )
    return np.asarray(
        (old < whole)
        | (top < whole)
        | (leaves < flush)
        | (young < least)
        | (dose_k_h > np.sqrt(MENDED) * kinds.chill_injury_k_h)
    )


@dataclass(frozen=True)
class Away:
    """Resting kinds away from the summer stand, hazard of each day, ``(kind, winter, day)``."""

    rests: BoolArray  # `(kind,)`
    sunk: Array | None  # of the cold, sunk in a bed; None where there is no bed
    roofed: Array  # of warmth, darkness and leaves that open, under the roofs without heat


def thresholds_c(
    home: AtHome,
    away: Away,
    outdoor_min_c: Array,
    site: Site,
    price: Array,
    day_price: Array,
    in_force: tuple[Sequence[float], Sequence[float]] = ((), ()),
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Night temperatures whose signs serve a collection best in autumn and in spring, degC.

    Autumn has two turns for a tree where there is a bed: from its stand into it, and from there
    under a roof, which should be cool by then. Spring has three: old roots are out of danger, all
    parts are, and those of a tree that has woken under cover.

    outdoor_min_c : ``(winter, day)``.
    price : of the loss of all trees of each kind, money.
    day_price : of a day under cover, of all trees of each kind, money.
    in_force : signs of autumn and of spring that stay, degC.
    """
    degrees = whole_degrees_c(site.display)
    turn, end = coldest_day(outdoor_min_c), outdoor_min_c.shape[1]
    forecast = forecast_minima_c(outdoor_min_c, site.seed)
    not_before = turn + WARM_SPELLS_PASS_DAYS
    autumn = np.array([cold_night_days(forecast[:, :turn], c) for c in degrees])
    spring = np.array([mild_week_days(outdoor_min_c, forecast, c, not_before) for c in degrees])
    waiting = day_price[:, None, None] * ~home.unsafe
    roofed = price[:, None, None] * away.roofed

    def costs(turns: Sequence[tuple[Array, Array]], days: slice, sign: IntArray) -> list[Array]:
        return [sign_costs(d[..., days], w[..., days], sign, price) for d, w in turns]

    turns: list[tuple[Array, Array]] = [(home.danger, waiting + roofed)]
    if away.sunk is not None:
        turns = [(home.danger, waiting), (away.sunk, roofed)]
    in_autumn = costs(turns, slice(turn), autumn)
    usual = np.median([cold_night_days(forecast[:, :not_before], c) for c in degrees], axis=1)
    late = usual > turn - DEAD_OF_WINTER_DAYS
    in_autumn[0][:, :-1][np.outer(away.rests, late & (usual < not_before))] = np.inf
    if away.sunk is not None:
        in_autumn[-1] *= FURTHER_TURN
        in_autumn[-1][:, :-1][:, late] = np.inf
    turns = [(one, waiting + roofed) for one in (home.danger, home.deadly)]
    turns.append((home.woken, waiting))
    in_spring = costs(turns, slice(None, turn - 1, -1), end - spring)
    in_spring[-1] *= FURTHER_TURN
    sign_price = SPARED_DAYS * float(day_price.sum())

    def chosen(costs: list[Array], signs: Sequence[float]) -> tuple[float, ...]:
        more = chosen_signs(np.concatenate(costs), sign_price, degrees, signs)
        return tuple(sorted([*signs, *(degrees[i] for i in more)]))

    return chosen(in_autumn, in_force[0]), chosen(in_spring, in_force[1])


def whole_degrees_c(display: Display) -> tuple[float, ...]:
    """Temperatures that may be a sign, rising: whole degrees in the grower's unit."""
    if not display.us:
        return tuple(float(c) for c in range(int(COLDEST_C), int(WARMEST_C) + 1))
    low, high = (round(celsius_to_fahrenheit(c)) for c in (COLDEST_C, WARMEST_C))
    return tuple(fahrenheit_to_celsius(float(f)) for f in range(low, high + 1))


def sign_costs(danger: Array, waiting: Array, sign: IntArray, price: Array) -> Array:
    """What each sign of autumn costs the trees of each kind, ``(kind, sign + 1)``, money a winter.

    The last column is that of no sign. For spring, days run backwards, and ``sign`` counts the days
    from it to the end.

    danger : hazard of each day before the sign, of which the worst counts, ``(kind, winter, day)``.
    waiting : money of each day after it, added up.
    sign : days before each sign, ``(sign, winter)``.
    """
    _, winters, days = danger.shape
    until = np.concatenate((sign, np.full((1, winters), days)))
    first = np.zeros((*danger.shape[:2], 1))
    worst = np.concatenate((first, np.maximum.accumulate(danger, axis=2)), axis=2)
    waited = np.concatenate((first, waiting.cumsum(axis=2)), axis=2)
    winter = np.arange(winters)
    lost = 1.0 - np.exp(-worst[:, winter, until]).mean(axis=2)
    spent = (waited[:, winter, -1][:, None] - waited[:, winter, until]).mean(axis=2)
    return np.asarray(price[:, None] * lost + spent)


def chosen_signs(
    costs: Array, sign_price: float, degrees_c: Sequence[float], in_force_c: Sequence[float] = ()
) -> list[int]:
    """At most ``MOST_THRESHOLDS`` signs, rising, so that all kinds by their best sign cost least.

    One is added, dropped or put in place of another as long as that saves anything; of degrees that
    come on the same days the warmest. No two are nearer than a forecast errs: the new one stays.

    costs : ``(kind, sign + 1)``; the last is that of no sign, which every kind may take.
    in_force_c : signs that stay: lists that were printed with them still hold.

    Returns the others.
    """
    none = costs.shape[1] - 1
    stay = [min(range(none), key=lambda i: abs(degrees_c[i] - c)) for c in in_force_c]
    near = (any(abs(c - one) < FORECAST_ERROR_K for one in in_force_c) for c in degrees_c)
    free = [i for i, other in enumerate(near) if not other][::-1]
    most = MOST_THRESHOLDS - len(stay)
    chosen: list[int] = []

    def total(signs: list[int]) -> float:
        least = costs[:, [*stay, *signs, none]].min(axis=1)
        return float(least.sum()) + sign_price * len(signs)

    def beside(i: int, signs: list[int]) -> list[int]:
        return [j for j in signs if abs(degrees_c[i] - degrees_c[j]) >= FORECAST_ERROR_K] + [i]

    while True:
        others = [i for i in free if i not in chosen]
        fewer = [[i for i in chosen if i != drop] for drop in chosen]
        grow = [*fewer, chosen] if len(chosen) < most else fewer
        tries = fewer + [beside(i, kept) for kept in grow for i in others]
        best = min(tries, key=total, default=chosen)
        if total(best) >= total(chosen) - 1e-9:
            return sorted(chosen)
        chosen = best
