"""Follows trees through every winter of the sample: hardening, waking, and what harms them.

The same code follows the hypothetical tree that comes to an option at the beginning of each stage
(``restart``) and the real tree on its path through the places.
"""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from overwinter.model.site import Weights
from overwinter.model.species import Harm
from overwinter.model.stage import BoolArray, IntArray
from overwinter.plants import harm
from overwinter.plants.hardening import (
    SHORT_DAY_SHARE,
    WakingLimits,
    bud_break_share,
    hardened,
    hardening_ceiling,
    opening_today,
    short_day_share,
    waking_step,
    warmth_loss,
)
from overwinter.plants.harm import Array, loss_share_per_day
from overwinter.simulate.exposures import Calendar, KindArrays, Series

HARMS = (
    Harm.OLD_ROOTS,
    Harm.YOUNG_ROOTS,
    Harm.TOP,
    Harm.NEW_LEAVES,
    Harm.CHILLING,
    Harm.RESTLESS,
    Harm.DARK,
    Harm.SOFT,
    Harm.DRYING,
    Harm.RODENTS,
)
"""Harms that a stage does, in the order of the last axis of ``stage_hazards``. Too little chilling
is a matter of the whole winter: ``winter_hazard`` adds it."""


class State(NamedTuple):
    """A tree's state at the beginning of each day, float32, ``(..., winter, day)``."""

    hardening: Array
    """Of the roots, which follow the root zone: 0 in growth, 1 in full hardness."""
    top_hardening: Array
    """Of the top, which follows the air."""
    chill: Array
    """Chilling earned since the autumn equinox, in the kind's unit."""
    warmth_k_d: Array
    """Warmth towards bud break since the shortest day, K d."""
    bud: Array
    """0 in rest, 1 in leaf."""
    dose_k_h: Array
    """Degree-hours below the air floor, what a day mends taken off; of the day's end."""

    def of(self, kind: int) -> "State":
        """One of several kinds that were followed at once."""
        return State(*(part[kind] for part in self))


class Arrival(NamedTuple):
    """State with which a tree comes to a stage, by day of arrival, broadcast like ``State``."""

    hardening: Array
    top_hardening: Array
    chill: Array
    warmth_k_d: Array


def states(
    series: Series,
    kinds: KindArrays,
    calendar: Calendar,
    arrival: Arrival | None = None,
    restart: BoolArray | None = None,
) -> State:
    """Follow states day by day.

    series : shapes ``(n, winter, day)``; what belongs to roots may have another n than what
        belongs to the air (``Exposures.apart``), and so then have the states. With
        ``(1, n, winter, day)``, several kinds are followed at once: ``(kind, n, winter, day)``.
    kinds : shapes ``(n, 1)`` or ``(1, 1)``, of several kinds ``(kind, 1, 1)``.
    arrival, restart : with both, the state is taken from ``arrival`` on the days
        (``(winter, day)``) on which ``restart`` is set. Without, every tree starts in growth.
    """
    axes = series.air_mean_c.ndim
    length = _by_day(calendar.day_length_h, axes)
    rate = kinds.deharden_per_degree_day
    roots = _Hardening(series.core_mean_c, series.core_min_c, length, kinds, rate)
    top = _Hardening(series.air_mean_c, series.air_min_c, length, kinds, rate * _span_ratio(kinds))
    top.sleeps(calendar)
    chill_today = _days_first(series.chill) * _by_day(calendar.chills, axes)
    warmth_today = _days_first(series.warmth_k_d) * _by_day(calendar.wakes, axes)
    dose_today = _days_first(series.cold_dose_k_h)
    limits = WakingLimits(kinds.chill_need, kinds.bud_break_k_d)
    shapes = [
        np.broadcast_shapes(part.ceiling.shape, (1, *kinds.chill_need.shape))
        for part in (roots, top, top, top, top)
    ]
    days = shapes[0][0]
    hardening, top_hardening, chill, warmth, dose = (
        np.empty(shape, dtype=np.float32) for shape in shapes
    )
    a, b, c, f, d = (np.zeros(shape[1:], dtype=np.float32) for shape in shapes)
    came = None if arrival is None else [_days_first(part) for part in arrival]
    for day in range(days):
        if came is not None and restart is not None and restart[:, day].any():
            new = restart[:, day]
            a, b, c, f = (
                np.where(new, part[day], now) for part, now in zip(came, (a, b, c, f), strict=True)
            )
            d = np.where(new, np.float32(0.0), d)
        hardening[day], top_hardening[day], chill[day], warmth[day] = a, b, c, f
        a, b = roots.after(a, day), top.after(b, day)
        c, f = waking_step(c, f, chill_today[day], warmth_today[day], limits)
        d = d * np.float32(harm.RECOVERY_PER_DAY) + dose_today[day]
        dose[day] = d
    bud = bud_break_share(warmth, limits) * kinds.rests
    parts = (hardening, top_hardening, chill, warmth, bud, dose)
    return State(*(_days_last(part) for part in parts))


def _span_ratio(kinds: KindArrays) -> Array:
    """Kelvins that roots gain by hardening over those that the top gains, at most 1.

    Warmth costs about the same kelvins of hardness a degree-day in both, so a smaller share of the
    state where the span is wide.
    """
    roots = np.maximum(kinds.root_kill_unhardened_c - kinds.root_kill_c, 0.0)
    top = np.maximum(kinds.top_kill_unhardened_c - kinds.top_kill_c, 0.1)
    return np.asarray(np.minimum(roots / top, 1.0))


class _Hardening:
    """What hardening needs to know of each day, known before the days are walked."""

    def __init__(
        self, mean_c: Array, min_c: Array, length_h: Array, kinds: KindArrays, rate: Array
    ) -> None:
        mean = _days_first(mean_c)
        ceiling = hardening_ceiling(mean, _days_first(min_c), length_h, kinds.harden_below_c)
        self.ceiling: Array = np.asarray(ceiling, dtype=np.float32)
        loss = warmth_loss(mean, kinds.deharden_above_c, rate)
        self.loss = np.asarray(loss, dtype=np.float32)
        self.days = kinds.harden_days

    def sleeps(self, calendar: Calendar) -> None:
        """What sets tops apart: short days alone begin their hardening, and until the shortest day
        rest holds it through warm spells (vine buds then lose hardness above 12 to 14 degC only,
        after it above 3 to 7; Ferguson and others 2014, read in code that cites them)."""
        short = SHORT_DAY_SHARE * short_day_share(calendar.day_length_h).astype(np.float32)
        self.ceiling = np.maximum(self.ceiling, _by_day(short, self.ceiling.ndim))
        self.loss[~calendar.wakes] = 0.0

    def after(self, state: Array, day: int) -> Array:
        return hardened(state, self.ceiling[day], self.loss[day], self.days)


def _by_day(array: NDArray[Any], axes: int) -> NDArray[Any]:
    """``(day,)`` with ones behind, to go with arrays of so many axes whose first are the days."""
    return array.reshape(-1, *(1,) * (axes - 1))


def _days_first(array: Array) -> Array:
    return np.ascontiguousarray(np.moveaxis(array, -1, 0))


def _days_last(array: Array) -> Array:
    return np.ascontiguousarray(np.moveaxis(array, 0, -1))


class Margins(NamedTuple):
    """How far above its LT50 each part stands at the coldest of each day, K."""

    old_roots: Array
    young_roots: Array
    top: Array
    new_leaves: Array


def margins(series: Series, state: State, kinds: KindArrays) -> Margins:
    """Margins of ``(n, winter, day)``; ``kinds`` has two ones behind.

    Young roots are never hardier than old ones of the same tree. A bud's own limit slides from
    that of the hardened top to that of new leaves as its warmth adds up (apple buds by stages and
    Norway spruce by temperature sums, read; docs/species.md).
    """
    a = state.hardening
    old = kinds.root_kill_unhardened_c + a * (kinds.root_kill_c - kinds.root_kill_unhardened_c)
    top = kinds.top_kill_unhardened_c + state.top_hardening * (
        kinds.top_kill_c - kinds.top_kill_unhardened_c
    )
    opening = np.minimum(state.warmth_k_d / kinds.bud_break_k_d, 1.0) * kinds.rests
    leaf = kinds.top_kill_c + opening * (kinds.new_leaf_kill_c - kinds.top_kill_c)
    return Margins(
        old_roots=harm.frost_in_roots_c(series.core_min_c) - old,
        young_roots=harm.frost_in_roots_c(series.wall_min_c)
        - np.maximum(old, kinds.root_kill_young_c),
        top=series.air_min_c - top,
        new_leaves=series.air_min_c - leaf,
    )


def day_sums(
    series: Series, state: State, kinds: KindArrays, calendar: Calendar, weights: Weights
) -> tuple[Array, Array, Array, Array, Array]:
    """Hazards that add up day by day: rest, dark, soft, drying, rodents; ``(n, winter, day)``."""
    roofed = series.shelter_factor < 1.0
    above = np.maximum(series.air_mean_c - kinds.rest_ceiling_c, 0.0) * roofed
    restless = harm.RESTLESS_PER_K_D * above * calendar.short * (1.0 - state.bud)
    leaves = np.maximum(np.maximum(kinds.evergreen, calendar.leaves_of(kinds)), state.bud)
    in_leaf = leaves * (series.air_mean_c > kinds.dark_below_c)
    opening = np.maximum(harm.OPENING_MOL_M2_D - kinds.light_floor_mol_m2_d, 0.0) * state.bud
    need = kinds.light_floor_mol_m2_d + opening
    dark = in_leaf * harm.dark_hazard(series.dli_mol_m2_d / need)
    opened = np.minimum(opening_today(series.warmth_k_d, kinds.bud_break_k_d), 1.0 - state.bud)
    soft = harm.SOFT_SHARE * opened * (state.bud > 0.0) * roofed
    frozen = series.core_mean_c < harm.FROZEN_C
    sun = series.dli_mol_m2_d / harm.FULL_SUN_MOL_M2_D
    drying = harm.DRYING_PER_DAY * kinds.drying * frozen * sun * series.shelter_factor
    exposed = series.rodents * kinds.rodent_appeal
    rodents = loss_share_per_day(1.0, weights) * exposed * calendar.gnawed
    return restless, dark, soft, drying, np.broadcast_to(rodents, restless.shape)


def stage_hazards(
    series: Series,
    state: State,
    kinds: KindArrays,
    calendar: Calendar,
    weights: Weights,
    first_day: IntArray,
) -> Array:
    """Hazard of every harm in every stage, float32, ``(n, winter, stage, harm)``.

    What freezes or chills is judged by the worst of the stage, the rest adds up.

    kinds : shapes ``(n, 1, 1)`` or ``(1, 1, 1)``.
    first_day : ``(stage, winter)``.
    """
    reduce = Stages(first_day, state.dose_k_h.shape[-1])
    worst = worst_hazards(series, state, kinds, reduce)
    sums = day_sums(series, state, kinds, calendar, weights)
    return reduce.gathered(worst, sums)


def worst_hazards(
    series: Series, state: State, kinds: KindArrays, reduce: "Stages"
) -> tuple[Array, ...]:
    """What freezes or chills by the worst of each stage, ``(n, winter, stage)``: old and young
    roots by n of the roots; top, new leaves and chilling by n of the air."""
    m = margins(series, state, kinds)
    return (
        harm.freezing_hazard(reduce(np.minimum, m.old_roots)),
        harm.freezing_hazard(reduce(np.minimum, m.young_roots), kinds.young_share),
        harm.freezing_hazard(reduce(np.minimum, m.top)),
        harm.freezing_hazard(reduce(np.minimum, m.new_leaves), harm.FLUSH_SHARE),
        harm.chilling_hazard(reduce(np.maximum, state.dose_k_h), kinds.chill_injury_k_h),
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
        self.there = (ends > first_day).T
        """Stages that last at least a day, ``(winter, stage)``."""

    def __call__(self, reduction: np.ufunc, array: Array) -> Array:
        flat = np.ascontiguousarray(array).reshape(array.shape[0], -1)
        reduced = reduction.reduceat(flat, self.at, axis=1)
        return np.asarray(reduced.reshape(array.shape[0], *self.shape))

    def gathered(self, worst: Sequence[Array], sums: Sequence[Array]) -> Array:
        """Hazards in the order of ``HARMS``, ``(n, winter, stage, harm)``."""
        hazards = np.stack([*worst, *(self(np.add, part) for part in sums)], axis=-1)
        return np.asarray(hazards * self.there[..., None], dtype=np.float32)


def short_chill(state: State, kinds: KindArrays, owed: Array | float = 1.0) -> Array:
    """Share of the chilling owed that a winter did not give, ``(n, winter)``.

    ``owed`` is the share that a tree owes which joins in mid-winter.
    """
    earned = state.chill[..., -1]
    need = kinds.chill_need.reshape(-1, 1) * owed
    return np.asarray(np.where(need > 0, np.clip(1.0 - earned / np.maximum(need, 1.0), 0, 1), 0.0))
