"""Is the plan whole: its spells, its trees, its places, its heater settings."""

from collections import Counter
from datetime import date, timedelta
from itertools import pairwise

from overwinter.audit.ledger import setting_keys
from overwinter.audit.report import Finding, Rule
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season, Spell
from overwinter.model.start import Start
from overwinter.model.tree import Tree

RULES = (Rule.SPELLS, Rule.ACCOUNTED, Rule.STAYS, Rule.KNOWN_PLACE, Rule.SETTING)


def check_structure(
    season: Season, conditions: Conditions, plan: Plan, start: Start
) -> list[Finding]:
    """Whatever makes the plan unfit to be laid out over the hours."""
    return [
        *check_spells(season, plan, start.day),
        *check_accounted(season, plan),
        *check_stays(season, plan),
        *check_known_places(season, plan),
        *check_settings(season, conditions, plan),
    ]


def check_spells(season: Season, plan: Plan, first: date) -> list[Finding]:
    """Spells are numbered in order, none is empty, and together they tile ``first`` to the end."""

    def broken(when: date, days: float, text: str) -> Finding:
        return Finding(Rule.SPELLS, None, None, when, days, "days", text)

    spells = plan.spells
    if not spells:
        return [broken(first, season.days, "the plan has no spells")]
    found = []
    for number, spell in enumerate(spells):
        if spell.index != number:
            found.append(
                broken(spell.start, abs(spell.index - number), f"spell {number} is numbered wrong")
            )
        if spell.days < 1:
            found.append(broken(spell.start, 1 - spell.days, f"spell {number} is empty"))
    for before, after in pairwise(spells):
        if before.end != after.start:
            gap = abs((after.start - before.end).days)
            found.append(broken(before.end, gap, f"gap or overlap after spell {before.index}"))
    after_last = season.site.ends + timedelta(days=1)
    for seen, wanted, what in (
        (spells[0].start, first, "begins"),
        (spells[-1].end, after_last, "ends"),
    ):
        if seen != wanted:
            found.append(
                broken(
                    seen,
                    abs((seen - wanted).days),
                    f"the first or last spell {what} on {seen} instead of {wanted}",
                )
            )
    return found


def check_accounted(season: Season, plan: Plan) -> list[Finding]:
    """Each tree has stays or is left out, not both, and none is unknown or named twice."""
    times = Counter([*plan.stays, *(left.tree_id for left in plan.left_out)])
    found = []
    for tree in season.trees:
        if times[tree.id] != 1:
            words = "neither placed nor left out" if times[tree.id] == 0 else "named twice"
            found.append(_about(Rule.ACCOUNTED, tree.id, f"{tree.name} is {words}"))
    found += [
        _about(Rule.ACCOUNTED, tree_id, f"no tree is called {tree_id}")
        for tree_id in times
        if tree_id not in season.tree_by_id
    ]
    return found


def check_stays(season: Season, plan: Plan) -> list[Finding]:
    """One entry per spell: none before a tree joins, a place from its joining day on."""
    found = []
    for tree_id, stays in plan.stays.items():
        if len(stays) != len(plan.spells):
            text = f"{tree_id} has {len(stays)} stays for {len(plan.spells)} spells"
            found.append(_about(Rule.STAYS, tree_id, text))
            continue
        tree = season.tree_by_id.get(tree_id)
        if tree is None:
            continue
        for spell, place in zip(plan.spells, stays, strict=True):
            text = _presence(tree, spell, place)
            if text:
                found.append(
                    Finding(
                        Rule.STAYS, tree_id, place, spell.start, 1.0, "spell", text, spell.index
                    )
                )
    return found


def _presence(tree: Tree, spell: Spell, place: str | None) -> str:
    if tree.joins is None or tree.joins <= spell.start:
        return "" if place is not None else f"{tree.name} stands nowhere from {spell.start}"
    if tree.joins >= spell.end:
        return "" if place is None else f"{tree.name} is placed before it joins on {tree.joins}"
    return f"no spell begins on {tree.joins}, when {tree.name} joins"


def check_known_places(season: Season, plan: Plan) -> list[Finding]:
    """Every place named exists."""
    return [
        Finding(Rule.KNOWN_PLACE, tree_id, place, None, 1.0, "place", f"no place is called {place}")
        for tree_id, stays in plan.stays.items()
        for place in dict.fromkeys(stays)
        if place is not None and place not in season.places
    ]


def check_settings(season: Season, conditions: Conditions, plan: Plan) -> list[Finding]:
    """Every shelter has, in every spell, a heater setting that exists there."""
    found = [
        _about(Rule.SETTING, key, f"no shelter is called {key}")
        for key in plan.settings
        if key not in season.shelter_by_id
    ]
    for shelter in season.shelters:
        keys = setting_keys(plan, conditions, shelter.id)
        if keys is None or len(keys) != len(plan.spells):
            text = f"{shelter.name} has no heater setting for every spell"
            found.append(_about(Rule.SETTING, shelter.id, text))
            continue
        known = {setting.key for setting in conditions.shelters[shelter.id].settings}
        for spell, key in zip(plan.spells, keys, strict=True):
            if key not in known:
                text = f"{shelter.name} has no heater setting “{key}”"
                found.append(
                    Finding(
                        Rule.SETTING,
                        shelter.id,
                        shelter.id,
                        spell.start,
                        1.0,
                        "setting",
                        text,
                        spell.index,
                    )
                )
    return found


def _about(rule: Rule, subject: str, text: str) -> Finding:
    return Finding(rule, subject, None, None, 1.0, "item", text)
