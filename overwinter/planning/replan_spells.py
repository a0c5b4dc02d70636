"""Spells of a winter that is planned anew: the old ones as far as they still serve.

A plan that needs no change must come out unchanged, so every cut of the plan in force stays. What
the changed facts call for is added: new openings and closings, and the days on which trees can no
longer stay outdoors, or can go back, where no old cut does for them.
"""

from datetime import date

from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan
from overwinter.model.season import Season, Spell
from overwinter.spells import (
    CLOSES,
    OPENS,
    TOGETHER_DAYS,
    fixed_cuts,
    kinds_of_trees,
    spells_between,
    unsafe_days,
)


def replan_spells(
    season: Season, conditions: Conditions, plan: Plan, first: date
) -> tuple[Spell, ...]:
    """The spells from ``first`` to the end of the season, numbered from 0."""
    begin = season.day_index(first)
    chosen = {begin: "planned anew"}
    fixed = {cut.day: cut.why for cut in fixed_cuts(season) if cut.day > begin}
    dated = {f"{shelter.name} {does}" for shelter in season.shelters for does in (OPENS, CLOSES)}
    for spell in plan.spells:
        day = season.day_index(spell.start)
        if begin < day < season.days:
            no_more = spell.why in dated and spell.why != fixed.get(day)
            chosen[day] = "as in the plan before" if no_more else spell.why
    for day, why in fixed.items():
        chosen.setdefault(day, why)
    for day, why in _outdoor_cuts(season, conditions, chosen):
        if begin < day < season.days:
            chosen.setdefault(day, why)
    return spells_between(season, chosen)


def _outdoor_cuts(
    season: Season, conditions: Conditions, known: dict[int, str]
) -> list[tuple[int, str]]:
    """Days that trees must be in by, or may be out again, and that no known cut serves."""
    spans = {
        span: tree.name
        for tree in kinds_of_trees(season)
        if (span := unsafe_days(season, conditions, tree)) is not None
    }
    new: dict[int, str] = {}

    def served(first: int, last: int) -> bool:
        return any(first <= day <= last for day in (*known, *new))

    for leave in sorted({span[0] for span in spans}):
        if not served(leave - TOGETHER_DAYS, leave):
            name = next(name for span, name in spans.items() if span[0] == leave)
            new[leave] = f"too cold outdoors for {name}"
    for back in sorted({span[1] + 1 for span in spans}, reverse=True):
        if not served(back, back + TOGETHER_DAYS):
            name = next(name for span, name in spans.items() if span[1] + 1 == back)
            new[back] = f"{name} can go out again"
    return sorted(new.items())
