"""What the weather of every option does to one kind of tree, spell by spell."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from overwinter.model.conditions import Conditions, RootZone
from overwinter.model.season import Season, Spell
from overwinter.model.shelter import FloatArray
from overwinter.model.site import Site
from overwinter.model.species import ChillModel, Limits
from overwinter.model.tree import Tree
from overwinter.plants.hardiness import (
    daily_change,
    hardening,
    hardening_course,
    kill_temperature_c,
    margin_k,
)
from overwinter.plants.light_need import needs_light
from overwinter.plants.rest import rest_days
from overwinter.spells import day_slice, judged_windows
from overwinter.suitability.stacked import Stacked

ENTRY_GRID = np.linspace(0.0, 1.0, 17)
"""Hardening states between which what follows from entry with them is interpolated."""
NEVER = 2.0
"""Stands for an entry state that no tree reaches."""
ROUNDING = 1e-9
"""Of hardening states."""


@dataclass(frozen=True)
class Response:
    """How a spell in an option answers the hardening a tree comes with.

    It leaves with ``clip(entry + change, low, high)``.
    """

    change: FloatArray
    """``(option, spell)``, as ``low`` and ``high``."""
    low: FloatArray
    high: FloatArray
    soft: FloatArray
    """``(step, option, spell)``, a step of ``ENTRY_GRID``: distance from loss at its lower end, in
    scales of the cold tail, on the day that decides in its middle."""
    hard: FloatArray
    """The same at its upper end."""
    slope: FloatArray
    """How much the distance grows at most with the entry state."""


@dataclass(frozen=True)
class Physiology:
    """By option and spell; shortfalls in the units of ``UNITS``, 0 or less is allowed."""

    roots_k: FloatArray
    air_k: FloatArray
    rest_k: FloatArray
    light_mol_m2_d: FloatArray
    chill: FloatArray
    tail_chance: FloatArray
    """Chance of loss in the cold tail of the spell."""
    entry_least: FloatArray
    exit_most: FloatArray
    hardening_most: FloatArray
    """(day,): hardening at the start of the day in the coldest history there can be."""
    response: Response


RestAndLight = Callable[[Limits, Spell], tuple[FloatArray, FloatArray]]


def best_history(
    coldest_mean_c: FloatArray, tree: Tree, start: float, conditions: Conditions, first: int
) -> FloatArray:
    """Upper bound on hardening at the start of each day, ``(day,)``.

    ``coldest_mean_c`` is the coldest daily mean root zone among the places the tree could be in;
    hardening never falls by being colder (``plants.hardiness``), so no real history exceeds this.
    """
    state = np.zeros(coldest_mean_c.size)
    state[first:] = hardening(
        coldest_mean_c[first:], tree.limits, conditions.day_length_h[first:], start
    )
    return state


def spell_margin_k(root: RootZone, state: FloatArray, tree: Tree, days: slice) -> FloatArray:
    """Distance of the coldest roots from the killing temperature, by day, ``(..., option, day)``.

    ``state`` is the hardening at the start of each day, shape ``(..., option, day)``.
    """
    kill = kill_temperature_c(state, tree.root_kill_hardened_c, tree.limits.root_kill_unhardened_c)
    return root.min_c[:, days] - kill


def physiology(
    season: Season,
    conditions: Conditions,
    stacked: Stacked,
    spells: tuple[Spell, ...],
    tree: Tree,
    start_hardening: float,
    reachable: np.ndarray,
    pot: float,
    shortfalls: RestAndLight,
) -> Physiology:
    """All weather-dependent findings for one kind of tree.

    ``reachable`` (option, day) marks where the tree could be at all as far as the fixed rules go;
    ``shortfalls`` is ``rest_and_light``, for this weather and perhaps with what it knows already.
    """
    root = stacked.root[pot]
    first = season.day_index(spells[0].start)
    if tree.joins is not None:
        first = max(first, season.day_index(tree.joins))
    mean = np.where(reachable, root.mean_c, np.inf).min(axis=0)
    mean = np.where(np.isfinite(mean), mean, conditions.outdoor_mean_c)
    state = best_history(mean, tree, start_hardening, conditions, first)
    by_spell = [
        _one_spell(season, conditions, stacked, root, tree, state, spell, shortfalls)
        for spell in spells
    ]
    roots, air, rest, light, chill, tail, leaves, entry, *parts = (
        np.stack(column, axis=-1) for column in zip(*by_spell, strict=True)
    )
    found = (roots, air, rest, light, chill, tail, entry, leaves)
    return Physiology(*found, state, Response(*parts))


def _one_spell(
    season: Season,
    conditions: Conditions,
    stacked: Stacked,
    root: RootZone,
    tree: Tree,
    state: FloatArray,
    spell: Spell,
    shortfalls: RestAndLight,
) -> tuple[FloatArray, ...]:
    limits = tree.limits
    days = day_slice(season, spell)
    day_length = conditions.day_length_h[days]
    mean = root.mean_c[:, days]
    # as it enters, and from the states that hold between them whatever it may have
    entries = np.array([state[days.start], 0.0, 1.0])[:, None]
    states, *ends = hardening_course(mean, limits, day_length, entries)
    margin = spell_margin_k(root, states[:, :-1], tree, days)
    wanted = margin_k(season.site.margins, tree.condition)
    air = stacked.air_min_c[:, days].min(axis=1)
    air_k = (
        np.full(air.shape, -np.inf)
        if limits.air_floor_c is None
        else limits.air_floor_c + season.site.margins.air_k - air
    )
    rest_k, light = shortfalls(limits, spell)
    chill_days = (
        stacked.chill_hours if limits.chill_model is ChillModel.HOURS else stacked.utah_units
    )
    return (
        (wanted - margin).max(axis=1),
        air_k,
        rest_k,
        light,
        chill_days[:, days].sum(axis=1),
        tail_chance(season.site, conditions, root, margin, days),
        states[:, -1],
        *_after_entry(season.site, conditions, root, tree, days, *ends),
    )


def rest_and_light(
    season: Season, conditions: Conditions, stacked: Stacked, limits: Limits, spell: Spell
) -> tuple[FloatArray, FloatArray]:
    """Shortfalls of coolness (K) and light (mol/(m2 d)) of a spell, ``(option,)`` each.

    Over the stretch of days that is kindest to each option; 1 K weighs as much as 1 mol there,
    which matters only for what is told of a refusal.
    """
    none = np.full(len(stacked.air_mean_c), -np.inf)
    if limits.rest_ceiling_c is None and limits.light_floor_mol_m2_d <= 0:
        return none, none
    rest = rest_days(limits, conditions.outdoor_mean_c, conditions.day_length_h)
    best_rest, best_light, least = none, none, np.full(none.shape, np.inf)
    for days in judged_windows(season, spell):
        air, dli = stacked.means(days)
        resting = bool(rest[days].all())
        rest_k = none
        if resting and limits.rest_ceiling_c is not None:
            outdoor = float(conditions.outdoor_mean_c[days].mean())
            rest_k = air - max(limits.rest_ceiling_c, outdoor)
        needed = needs_light(limits, resting, air)
        light = np.where(needed, limits.light_floor_mol_m2_d - dli, -np.inf)
        worse = np.maximum(rest_k, light)
        kinder = worse < least
        best_rest = np.where(kinder, rest_k, best_rest)
        best_light = np.where(kinder, light, best_light)
        least = np.where(kinder, worse, least)
    return best_rest, best_light


def tail_chance(
    site: Site, conditions: Conditions, root: RootZone, margin: FloatArray, days: slice
) -> FloatArray:
    """Chance that a winter colder than the weather used kills, by option.

    ``margin`` ``(..., option, day)`` is turned into kelvins of outdoor air by how far the roots
    fall in the colder winter; beyond the weather used the cold tail is exponential.
    """
    least = np.maximum(margin * _scales_per_k(site, conditions, root, days), 0.0).min(axis=-1)
    chance: FloatArray = site.weights.tail_chance * np.exp(-least)
    return chance


def _scales_per_k(site: Site, conditions: Conditions, root: RootZone, days: slice) -> FloatArray:
    """Scales of the cold tail that 1 K of margin is worth, ``(option, day)``."""
    drop = np.maximum(root.min_c[:, days] - root.cold_min_c[:, days], 0.1)
    scales: FloatArray = conditions.colder_by_k / drop / site.weights.tail_scale_k
    return scales


def _after_entry(
    site: Site,
    conditions: Conditions,
    root: RootZone,
    tree: Tree,
    days: slice,
    low: FloatArray,
    high: FloatArray,
) -> tuple[FloatArray, ...]:
    """What a spell makes of the hardening a tree enters it with, by option.

    Day after day the state goes up or down by what the day is worth and is held within 0 and 1, so
    after any number of days it is the entry state plus a sum, held within what the entry states 0
    and 1 have become, ``low`` and ``high`` ``(option, day + 1)``.

    Returns
    -------
    Least entry state, then the parts of ``Response``, without the spell.
    """
    mean, length = root.mean_c[:, days], conditions.day_length_h[days]
    change = np.zeros_like(low)
    change[:, 1:] = np.cumsum(daily_change(mean, tree.limits, length), axis=1)
    before = change[:, :-1], low[:, :-1], high[:, :-1]
    scales = _scales_per_k(site, conditions, root, days)

    def distance(entry: FloatArray) -> FloatArray:
        """From loss, in scales of the tail, ``(entry, option, day)``."""
        states = np.clip(entry[:, None, None] + before[0], before[1], before[2])
        return np.maximum(spell_margin_k(root, states, tree, days) * scales, 0.0)

    day = distance((ENTRY_GRID[1:] + ENTRY_GRID[:-1]) / 2.0).argmin(axis=-1)[..., None]
    at_grid = distance(ENTRY_GRID)
    soft, hard = (np.take_along_axis(d, day, axis=-1)[..., 0] for d in (at_grid[:-1], at_grid[1:]))
    per_state = scales * (tree.limits.root_kill_unhardened_c - tree.root_kill_hardened_c)
    slope = per_state[np.arange(len(per_state)), day[..., 0]]
    least = _entry_least(root, tree, site, days, *before)
    return least, change[:, -1], low[:, -1], high[:, -1], soft, hard, slope


def _entry_least(
    root: RootZone,
    tree: Tree,
    site: Site,
    days: slice,
    change: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> FloatArray:
    """Least hardening on the first day with which a tree stands a spell, ``(option,)``."""
    unhardened, hardened = tree.limits.root_kill_unhardened_c, tree.root_kill_hardened_c
    short_k = unhardened + margin_k(site.margins, tree.condition) - root.min_c[:, days]
    if unhardened > hardened:
        needed = short_k / (unhardened - hardened)
    else:
        needed = np.where(short_k > 0.0, NEVER, 0.0)
    entry = np.where(needed > low, needed - change, 0.0)
    entry = np.where(needed > high + ROUNDING, NEVER, entry)
    least: FloatArray = np.clip(entry.max(axis=1) - ROUNDING, 0.0, NEVER)
    return least
