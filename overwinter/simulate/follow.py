"""Follows trees through every winter of the sample: hardening, waking, and what harms them. The
same code follows the hypothetical tree that comes to an option at the beginning of each stage
(``Came``) and the real tree on its path through the places."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from overwinter.model.site import Weights
from overwinter.model.species import Harm
from overwinter.model.stage import BoolArray, IntArray
from overwinter.plants import harm
from overwinter.plants.hardening import (
    SHORT_DAY_SHARE,
    SPREAD,
    bud_break_share,
    hardened,
    hardening_ceiling,
    short_day_share,
    waking_warmth,
    warmth_loss,
)
from overwinter.plants.harm import Array
from overwinter.simulate.exposures import Calendar, Kind, KindArrays, Series

HARMS = tuple(harm for harm in Harm if harm is not Harm.SHORT_CHILL)
"""Harms that a stage does, in the order of the last axis of ``stage_hazards``. Too little chilling
is a matter of the whole winter: ``winter_hazard`` adds it."""
MENDS = frozenset({Harm.YOUNG_ROOTS, Harm.NEW_LEAVES, Harm.SOFT})
"""What a tree mends in a season; not its young roots where it has hardly any others."""
SHORT_DAY_H = 10.0  # days short enough for rest
BARK_SEASON_H = 11.0  # mice on bark from late October to February: common practice, no source
_Anew = tuple[Array, BoolArray] | None  # what a part of the state is on arrival, and the days of it


def lasting(kind: Kind) -> Array:
    """Which of ``HARMS`` are for good, 1 or 0, ``(harm,)``."""
    young = {Harm.YOUNG_ROOTS} if kind.young_roots else set()
    return np.array([harm in young or harm not in MENDS for harm in HARMS], dtype=np.float32)


class State(NamedTuple):
    """A tree's state at the beginning of each day, float32, ``(..., winter, day)``."""

    hardening: Array  # of the roots, which follow the root zone: 0 in growth, 1 in full hardness
    top_hardening: Array  # of the top, which follows the air
    chill: Array  # chilling earned since the autumn equinox, in the kind's unit
    warmth_k_d: Array  # warmth towards bud break since the shortest day, K d
    bud: Array  # 0 in rest, 1 in leaf
    dose_k_h: Array  # degree-hours below the air floor, less what mends, at the day's end
    dark_d: Array  # days in the dark, as long as at ``harm.DARK_AT_C``; no winter mends them

    def only(self, i: int) -> "State":
        """Of one of the trees."""
        return State(*(part[i : i + 1] for part in self))


class Came(NamedTuple):
    """Trees that come to each stage in some state."""

    state: State  # by day of arrival, broadcast
    on: BoolArray  # days on which they come, the first among them, `(winter, day)`


def states(
    series: Series, kinds: KindArrays, calendar: Calendar, came: Came | None = None
) -> State:
    """Follow states day by day; without ``came`` every tree starts in growth. ``series``: shapes
    ``(n, winter, day)``. ``kinds``: shapes ``(n, 1, 1)`` or ``(1, 1, 1)``."""
    roots = root_hardening(series, kinds, calendar, came)
    air = air_states(series, kinds, calendar, came)
    today, _ = dark_days(series, air[-1], kinds, calendar, series.dli_mol_m2_d)
    dark_d = _summed(today, came and (came.state.dark_d, came.on))
    return State(roots, *air, dose_k_h(series, came), dark_d)


def root_hardening(
    series: Series, kinds: KindArrays, calendar: Calendar, came: Came | None = None
) -> Array:
    """Of the roots, which follow the root zone."""
    mean, length = series.core_mean_c, calendar.day_length_h
    ceiling = hardening_ceiling(mean, series.core_min_c, length, kinds.harden_below_c)
    loss = warmth_loss(mean, kinds.deharden_above_c, kinds.deharden_per_degree_day)
    return _hardening(ceiling, loss, kinds, came and (came.state.hardening, came.on))


def air_states(
    series: Series, kinds: KindArrays, calendar: Calendar, came: Came | None = None
) -> tuple[Array, Array, Array, Array]:
    """Top, chilling, warmth and buds, which follow the air."""
    chill_today = np.maximum(series.chill, 0.0) * calendar.chills
    chill = _summed(chill_today, came and (came.state.chill, came.on))
    today = series.warmth_k_d * calendar.wakes
    warmer = waking_warmth(chill + chill_today, today, kinds.chill_need)
    warmth = _summed(warmer, came and (came.state.warmth_k_d, came.on))
    bud = bud_break_share(warmth, kinds.bud_break_k_d) * kinds.rests
    return _top_hardening(series, kinds, calendar, came), chill, warmth, bud


def _top_hardening(
    series: Series, kinds: KindArrays, calendar: Calendar, came: Came | None
) -> Array:
    """What sets tops apart: short days alone begin their hardening, and until the shortest day
    rest holds it through warm spells (vine buds then lose hardness above 12 to 14 degC only,
    after it above 3 to 7; Ferguson and others 2014, read in code that cites them)."""
    mean, length = series.air_mean_c, calendar.day_length_h
    ceiling = hardening_ceiling(mean, series.air_min_c, length, kinds.harden_below_c)
    ceiling = np.maximum(ceiling, SHORT_DAY_SHARE * short_day_share(length))
    # warmth costs roots and top the same kelvins a degree-day: a smaller share of a wide span
    roots = np.maximum(kinds.root_kill_unhardened_c - kinds.root_kill_c, 0.0)
    top = np.maximum(kinds.top_kill_unhardened_c - kinds.top_kill_c, 0.1)
    rate = kinds.deharden_per_degree_day * np.minimum(roots / top, 1.0)
    loss = warmth_loss(mean, kinds.deharden_above_c, rate) * calendar.wakes
    return _hardening(ceiling, loss, kinds, came and (came.state.top_hardening, came.on))


def _hardening(ceiling: Array, loss: Array, kinds: KindArrays, anew: _Anew) -> Array:
    ceiling, loss, days = _days_first(ceiling), _days_first(loss), kinds.harden_days[..., 0]
    found = np.empty(np.broadcast_shapes(ceiling.shape, (1, *days.shape)), dtype=np.float32)
    come = {}
    if anew is not None:
        came, on = anew
        come = {k: (on[:, k], came[..., k]) for k in np.flatnonzero(on.any(axis=0)).tolist()}
    now: Array = np.zeros_like(found[0])
    for day, today in enumerate(found):
        if day in come:
            now = np.where(*come[day], now)
        today[...] = now
        now = hardened(now, ceiling[day], loss[day], days)
    return _days_last(found)


def _summed(today: Array, anew: _Anew) -> Array:
    """Sum of all days before each, from the last arrival on."""
    before = np.cumsum(today, axis=-1, dtype=np.float32)
    before = np.concatenate((np.zeros_like(before[..., :1]), before[..., :-1]), axis=-1)
    if anew is None:
        return before
    came, on = anew
    winter, day = np.indices(on.shape)
    last = np.maximum.accumulate(np.where(on, day, 0), axis=-1)
    return np.asarray(before + (came - before)[..., winter, last])


def dose_k_h(series: Series, came: Came | None = None) -> Array:
    """Degree-hours below the air floor that are not mended; nobody comes with any."""
    today = _days_first(series.cold_dose_k_h)
    found, now = np.empty_like(today), np.zeros_like(today[0])
    for day, after in enumerate(found):
        if came is not None:
            now = np.where(came.on[:, day], np.float32(0.0), now)
        np.multiply(now, np.float32(harm.RECOVERY_PER_DAY), out=after)
        after += today[day]
        now = after
    return _days_last(found)


def _days_first(array: Array) -> Array:
    return np.ascontiguousarray(np.moveaxis(array, -1, 0))


def _days_last(array: Array) -> Array:
    return np.ascontiguousarray(np.moveaxis(array, 0, -1))


def root_margins(series: Series, hardening: Array, kinds: KindArrays) -> tuple[Array, Array]:
    """How far above their LT50 old and young roots stand at the coldest of each day, K. Young roots
    are never hardier than old ones of the same tree."""
    span_k = kinds.root_kill_c - kinds.root_kill_unhardened_c
    old = kinds.root_kill_unhardened_c + hardening * span_k
    young = np.maximum(old, kinds.root_kill_young_c)
    inside_c, wall_c = map(harm.frost_in_roots_c, (series.core_min_c, series.wall_min_c))
    return inside_c - old, wall_c - young


def air_margins(
    series: Series, top_hardening: Array, warmth_k_d: Array, kinds: KindArrays
) -> tuple[Array, Array]:
    """The same of the top and of new leaves. A bud's own limit slides from that of the hardened top
    to that of new leaves as its warmth adds up (apple buds by stages and Norway spruce by
    temperature sums, read; docs/species.md)."""
    span_k = kinds.top_kill_c - kinds.top_kill_unhardened_c
    top = kinds.top_kill_unhardened_c + top_hardening * span_k
    opening = np.minimum(warmth_k_d / kinds.bud_break_k_d, 1.0) * kinds.rests
    leaf = kinds.top_kill_c + opening * (kinds.new_leaf_kill_c - kinds.top_kill_c)
    return series.air_min_c - top, series.air_min_c - leaf


def day_sums(
    series: Series, state: State, kinds: KindArrays, calendar: Calendar, weights: Weights
) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Dose of dark, hazards of rest, dim, soft, drying, rodents by day, ``(n, winter, day)``."""
    restless, soft = roofed_days(series, state.bud, kinds, calendar)
    today, dim = dark_days(series, state.bud, kinds, calendar, series.dli_mol_m2_d)
    rodents = kinds.rodent_appeal * rodent_days(series, calendar, weights)
    drying = kinds.drying * drying_days(series)
    return today, restless, dim, soft, drying, np.broadcast_to(rodents, restless.shape)


def roofed_days(
    series: Series, bud: Array, kinds: KindArrays, calendar: Calendar
) -> tuple[Array, Array]:
    """Of warmth that breaks the rest, and of leaves that open, under a roof."""
    roofed = series.shelter_factor < 1.0
    above = np.maximum(series.air_mean_c - kinds.rest_ceiling_c, 0.0) * roofed
    restless = harm.RESTLESS_PER_K_D * above * (calendar.day_length_h < SHORT_DAY_H) * (1.0 - bud)
    opened = series.warmth_k_d / (2.0 * SPREAD * kinds.bud_break_k_d)
    opened = np.minimum(opened, 1.0 - bud)
    return restless, harm.SOFT_SHARE * opened * (bud > 0.0) * roofed


def dark_days(
    series: Series,
    bud: Array,
    kinds: KindArrays,
    calendar: Calendar,
    dli_mol_m2_d: Array,
    air_of: IntArray | slice = slice(None),
) -> tuple[Array, Array]:
    """Of too little light and warm: dose of evergreen leaves, d, and hazard of leaves that open or
    fall. ``air_of`` leads from each light to its air."""
    floor, warm = kinds.light_floor_mol_m2_d, series.air_mean_c > kinds.dark_below_c
    breathed = np.exp2(math.log2(harm.DARK_Q10) / 10.0 * (series.air_mean_c - harm.DARK_AT_C))
    passing = np.maximum(calendar.leaves_of(kinds) * (1.0 - kinds.evergreen), bud)
    need = (floor + np.maximum(harm.OPENING_MOL_M2_D - floor, 0.0) * bud)[air_of]
    lack, more = (np.maximum(1.0 - dli_mol_m2_d / least, 0.0) ** 2 for least in (floor, need))
    dose = (kinds.evergreen * warm * breathed)[air_of] * lack
    return dose, (harm.DIM_PER_DAY * passing * warm)[air_of] * more


def dark_hazard(dark_d: Array, today: Array, reduce: "Stages") -> Array:
    """Of what is ``today`` in each stage, upon what was before it: ``dark_d`` never falls."""
    before = reduce(np.minimum, dark_d)
    after = harm.dose_hazard(before + reduce(np.add, today), harm.DARK_HALF_D)
    return np.asarray(after - harm.dose_hazard(before, harm.DARK_HALF_D))


def drying_days(series: Series) -> Array:
    """Of sun and wind over frozen roots, for a kind that dries as fast as any."""
    frozen = series.core_mean_c < harm.FROZEN_C
    sun = series.dli_mol_m2_d / harm.FULL_SUN_MOL_M2_D
    return harm.DRYING_PER_DAY * frozen * sun * series.shelter_factor


def rodent_days(series: Series, calendar: Calendar, weights: Weights) -> Array:
    """Of mice, for the kind that they like best."""
    gnawed = calendar.day_length_h < BARK_SEASON_H
    return weights.rodent_share / harm.WINTER_DAYS * series.rodents * gnawed


def stage_hazards(
    series: Series,
    state: State,
    kinds: KindArrays,
    calendar: Calendar,
    weights: Weights,
    first_day: IntArray,
) -> Array:
    """Hazard of every harm in every stage, float32, ``(n, winter, stage, harm)``. What freezes or
    chills is judged by the worst of the stage, the rest adds up. ``kinds``: shapes ``(n, 1, 1)`` or
    ``(1, 1, 1)``. ``first_day``: ``(stage, winter)``."""
    reduce = Stages(first_day, state.dose_k_h.shape[-1])
    roots = root_hazards(series, state.hardening, kinds, reduce)
    worst = (*roots, *air_hazards(series, state, kinds, reduce))
    today, *sums = day_sums(series, state, kinds, calendar, weights)
    restless, dim, *more = (reduce(np.add, part) for part in sums)
    dark = dim + dark_hazard(state.dark_d, today, reduce)
    return reduce.gathered([*worst, restless, dark, *more])


def root_hazards(
    series: Series, hardening: Array, kinds: KindArrays, reduce: "Stages"
) -> tuple[Array, Array]:
    """Of frost in old and in young roots, by the worst of each stage, ``(n, winter, stage)``."""
    old, young = root_margins(series, hardening, kinds)
    return (
        harm.freezing_hazard(reduce(np.minimum, old)),
        harm.freezing_hazard(reduce(np.minimum, young), kinds.young_share),
    )


def air_hazards(
    series: Series, state: State, kinds: KindArrays, reduce: "Stages"
) -> tuple[Array, Array, Array]:
    """Of frost in the top and in new leaves and of chilling, by the worst of each stage."""
    top, leaves = air_margins(series, state.top_hardening, state.warmth_k_d, kinds)
    return (
        harm.freezing_hazard(reduce(np.minimum, top)),
        harm.freezing_hazard(reduce(np.minimum, leaves), harm.FLUSH_SHARE),
        harm.dose_hazard(reduce(np.maximum, state.dose_k_h), kinds.chill_injury_k_h),
    )


class Stages:
    """Reduces ``(n, winter, day)`` over the days of each stage to ``(n, winter, stage)``."""

    def __init__(self, first_day: IntArray, days: int) -> None:
        stages, winters = first_day.shape
        offset = np.arange(winters)[None, :] * days
        last = winters * days - 1
        self.at = np.minimum(first_day + offset, last).T.reshape(-1)
        self.shape = (winters, stages)
        ends = np.concatenate((first_day[1:], np.full((1, winters), days)))
        self.there = (ends > first_day).T  # stages that last at least a day, `(winter, stage)`

    def __call__(self, reduction: np.ufunc, array: Array) -> Array:
        flat = np.ascontiguousarray(array).reshape(array.shape[0], -1)
        reduced = reduction.reduceat(flat, self.at, axis=1)
        return np.asarray(reduced.reshape(array.shape[0], *self.shape))

    def gathered(self, parts: Sequence[Array]) -> Array:
        """Hazards of ``(n, winter, stage)`` in the order of ``HARMS``, the harms last."""
        return np.asarray(np.stack(parts, axis=-1) * self.there[..., None], dtype=np.float32)


def short_chill(state: State, kinds: KindArrays, owed: Array | float = 1.0) -> Array:
    """Share of the chilling ``owed`` that a winter did not give, ``(n, winter)``."""
    earned = state.chill[..., -1]
    need = kinds.chill_need[..., 0] * owed
    return np.asarray(np.where(need > 0, np.clip(1.0 - earned / np.maximum(need, 1.0), 0, 1), 0.0))
