"""What has really happened by a day: where every tree was, what was heated, how hardened it is."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from overwinter.audit.hardening import cold_tail_loss, tree_courses
from overwinter.audit.ledger import Ledger
from overwinter.audit.roots import path_key, root_paths
from overwinter.audit.rules.costs import recompute_costs
from overwinter.model.changes import Mark
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Carry, Costs, Plan, Proof
from overwinter.model.season import Season, Spell
from overwinter.model.species import ChillModel
from overwinter.model.start import Start, TreeStart, start_of_season
from overwinter.model.tree import Tree
from overwinter.planning.changes import broken_heaters, unheated_key
from overwinter.planning.marks import real_carries
from overwinter.plants.hardiness import hardening_course
from overwinter.spells import day_slice

NO_PROOF = Proof("", "", 0.0, None, None, 0.0, 0)
"""Of a stretch that was not sought but happened."""


@dataclass(frozen=True)
class Past:
    """The winter before the first free day; no spells where that is the season's first."""

    spells: tuple[Spell, ...]
    settings: Mapping[str, tuple[str, ...]]
    stays: Mapping[str, tuple[str | None, ...]]
    carries: tuple[Carry, ...]


def past_of(
    season: Season, conditions: Conditions, plan: Plan, marks: Sequence[Mark], first: date
) -> Past:
    """The winter as it was before ``first``.

    Parameters
    ----------
    season
        With all changes laid over it.
    plan
        The plan in force, for what was heated.
    """
    before = [mark for mark in marks if mark.day < first]
    carries = real_carries(season, before)
    spells = _past_spells(season, plan, carries, first)
    return Past(
        spells=spells,
        settings=_past_settings(season, conditions, plan, spells),
        stays={tree.id: _stays_of(season, tree, carries, spells) for tree in season.trees},
        carries=carries,
    )


def _past_spells(
    season: Season, plan: Plan, carries: Sequence[Carry], first: date
) -> tuple[Spell, ...]:
    why = {season.site.starts: "the plan begins"}
    for spell in plan.spells:
        why.setdefault(spell.start, spell.why)
    for tree in season.trees:
        if tree.joins is not None:
            why.setdefault(tree.joins, f"{tree.name} joins")
    for carry in carries:
        why.setdefault(carry.day, "carried on that day")
    for shelter in season.shelters:
        for heater in shelter.heaters:
            if heater.broken_from is not None:
                why.setdefault(heater.broken_from, f"{heater.name} of {shelter.name} breaks")
    days = sorted(day for day in why if season.site.starts <= day < first)
    return tuple(
        Spell(number, start, end, why[start])
        for number, (start, end) in enumerate(pairwise([*days, first]))
    )


def _past_settings(
    season: Season, conditions: Conditions, plan: Plan, spells: tuple[Spell, ...]
) -> dict[str, tuple[str, ...]]:
    settings = {}
    for shelter in season.shelters:
        found = conditions.shelters[shelter.id]
        keys = []
        for spell in spells:
            key = setting_on(plan, shelter.id, spell.start) or found.settings[0].key
            keys.append(unheated_key(found, key, broken_heaters(shelter, spell.start)))
        settings[shelter.id] = tuple(keys)
    return settings


def setting_on(plan: Plan, shelter_id: str, day: date) -> str | None:
    """Setting of a shelter on a day; None where the plan says nothing."""
    keys = plan.settings.get(shelter_id)
    if keys is None:
        return None
    number = spell_on(plan, day)
    return None if number is None else keys[number]


def spell_on(plan: Plan, day: date) -> int | None:
    """Index of the plan's spell a day lies in."""
    return next((s.index for s in plan.spells if s.start <= day < s.end), None)


def place_on(plan: Plan, tree_id: str, day: date) -> str | None:
    """Where the plan has a tree on a day; None where it has it nowhere."""
    path, number = plan.stays.get(tree_id), spell_on(plan, day)
    return None if path is None or number is None else path[number]


def _stays_of(
    season: Season, tree: Tree, carries: Sequence[Carry], spells: tuple[Spell, ...]
) -> tuple[str | None, ...]:
    mine = [carry for carry in carries if carry.tree_id == tree.id]
    first = None if tree.joins is not None else tree.stands_at or season.site.summer_place
    stays = []
    for spell in spells:
        here = first
        for carry in mine:
            if carry.day <= spell.start:
                here = carry.target
        stays.append(here)
    return tuple(stays)


def start_after(
    season: Season,
    conditions: Conditions,
    past: Past,
    first: date,
    known_targets: Mapping[str, frozenset[str] | None],
    carry_days_left: int,
) -> Start:
    """Where every tree is on ``first``, and what it has behind it on its true path."""
    begin = start_of_season(season).trees
    if not past.spells:
        trees = {
            tree_id: TreeStart(start.place, known_targets=known_targets.get(tree_id))
            for tree_id, start in begin.items()
        }
        return Start(first, trees, carry_days_left)
    states = _hardening(season, conditions, past, first)
    trees = {
        tree.id: TreeStart(
            place=past.stays[tree.id][-1],
            hardening=states.get(tree.id, 0.0),
            chill=_chill(season, conditions, past, tree),
            known_targets=known_targets.get(tree.id),
        )
        for tree in season.trees
    }
    settings = {shelter_id: keys[-1] for shelter_id, keys in past.settings.items()}
    return Start(first, trees, carry_days_left, settings)


def _hardening(season: Season, conditions: Conditions, past: Past, first: date) -> dict[str, float]:
    """Hardening on the morning of ``first`` of every tree that is there, roots followed by hour."""
    ledger = Ledger(
        season, conditions, _standing_still(season, past, first), start_of_season(season)
    )
    paths = root_paths(ledger, ledger.air, None)
    until = season.day_index(first)
    states = {}
    for tree in ledger.trees:
        mean_c = paths[path_key(ledger, tree)].mean_c[:until]
        there = np.flatnonzero(np.isfinite(mean_c))
        if there.size == 0:
            continue
        days = slice(int(there[0]), until)
        course = hardening_course(mean_c[days], tree.limits, conditions.day_length_h[days])
        states[tree.id] = float(course[-1])
    return states


def past_costs(
    season: Season, conditions: Conditions, past: Past, first: date, tree_ids: Collection[str]
) -> Costs:
    """What the winter has cost up to ``first``, of the trees named, by the audit's own sums.

    The program never priced what happened; only the audit follows trees where they really stood.
    """
    if not past.spells:
        return Costs()
    past = replace(
        past,
        stays={key: path for key, path in past.stays.items() if key in tree_ids},
        carries=tuple(carry for carry in past.carries if carry.tree_id in tree_ids),
    )
    begin = start_of_season(season)
    still = _standing_still(season, past, first)
    whole = Ledger(season, conditions, still, begin)
    paths = root_paths(whole, whole.air, whole.cold_air)
    courses = tree_courses(whole, paths, conditions.day_length_h)
    behind = {key: path[: len(past.spells)] for key, path in still.stays.items()}
    settings = {key: keys[: len(past.spells)] for key, keys in still.settings.items()}
    only = replace(still, spells=past.spells, stays=behind, settings=settings)
    ledger = Ledger(season, conditions, only, begin)
    costs = recompute_costs(ledger, cold_tail_loss(ledger, courses))
    return replace(costs, not_home=0.0)


def _standing_still(season: Season, past: Past, first: date) -> Plan:
    """The past, and then nothing is touched until the end."""
    end = season.site.ends + timedelta(days=1)
    rest = (Spell(len(past.spells), first, end, "left as it is"),) if first < end else ()
    again = len(rest)
    return Plan(
        spells=(*past.spells, *rest),
        settings={key: (*keys, *keys[-1:] * again) for key, keys in past.settings.items()},
        stays={key: (*stays, *stays[-1:] * again) for key, stays in past.stays.items()},
        carries=past.carries,
        left_out=(),
        costs=Costs(),
        proof=NO_PROOF,
    )


def _chill(season: Season, conditions: Conditions, past: Past, tree: Tree) -> float:
    earned = 0.0
    for spell, place_id in zip(past.spells, past.stays[tree.id], strict=True):
        if place_id is None:
            continue
        place = conditions.places[place_id]
        shelter_id = season.places[place_id].shelter_id
        keys = [setting.key for setting in conditions.shelters[shelter_id].settings]
        column = keys.index(past.settings[shelter_id][spell.index])
        hours = tree.limits.chill_model is ChillModel.HOURS
        series = place.chill_hours if hours else place.utah_units
        earned += float(series[column, day_slice(season, spell)].sum())
    return earned
