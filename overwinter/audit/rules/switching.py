"""What the air really does when heaters are switched between spells.

The plan's figures take each setting as if it had been held all winter. Here each heated shelter is
simulated once with its real schedule, the heaters set a day before a spell that is kept warmer.
"""

import numpy as np

from overwinter.audit.hardening import TreeCourse, tree_courses
from overwinter.audit.ledger import IndexArray, Ledger
from overwinter.audit.report import Finding, Rule, Transient
from overwinter.audit.roots import root_paths
from overwinter.audit.rules.roots import first_judged
from overwinter.model.shelter import FloatArray, HeaterSetting
from overwinter.shelters.conditions import simulate_schedule
from overwinter.units import HOURS_PER_DAY

AHEAD_H = 24
"""Heaters are turned up this long before the trees come."""
SLACK_K = 1e-6


def real_schedule(ledger: Ledger, shelter_id: str) -> IndexArray:
    """Setting of a shelter at each hour of the season, turned up ``AHEAD_H`` early.

    What was not turned up in the past is not turned up there now.
    """
    settings = ledger.conditions.shelters[shelter_id].settings
    columns = ledger.setting_index[shelter_id]
    planned = columns[ledger.spell_of_hour].copy()
    fixed = ledger.plan.fixed_until or ledger.start.day
    for spell in ledger.spells[1:]:
        now, before = columns[spell.index], columns[spell.index - 1]
        if warmth(settings[now]) > warmth(settings[before]):
            start = ledger.hours(spell).start
            free = ledger.fixed_days * HOURS_PER_DAY if spell.start >= fixed else 0
            planned[max(start - AHEAD_H, free) : start] = now
    past = np.full(ledger.first_day * HOURS_PER_DAY, columns[0], dtype=np.intp)
    return np.concatenate((past, planned))


def warmth(setting: HeaterSetting) -> tuple[float, float]:
    """Orders settings by how warm they keep a shelter."""
    hold = float("-inf") if setting.hold_c is None else setting.hold_c
    return hold, setting.fixed_w


def real_air_c(ledger: Ledger) -> dict[str, FloatArray]:
    """Air of every shelter whose setting changes, simulated with its schedule, by planned hour."""
    found = {}
    for shelter_id, columns in ledger.setting_index.items():
        if np.unique(columns).size > 1:
            shelter = ledger.season.shelter_by_id[shelter_id]
            air, _ = simulate_schedule(ledger.season, shelter, real_schedule(ledger, shelter_id))
            found[shelter_id] = air[ledger.first_day * HOURS_PER_DAY :]
    return found


def worst_transient(ledger: Ledger, real: dict[str, FloatArray]) -> Transient | None:
    """Where the real air falls furthest below that the plan was made with."""
    worst = None
    for shelter_id, air in real.items():
        below = ledger.air[shelter_id].hourly_c - air
        hour = int(below.argmax())
        if worst is None or below[hour] > worst.below_k:
            when = ledger.season.date_of(ledger.first_day + hour // HOURS_PER_DAY)
            worst = Transient(shelter_id, when, float(below[hour]))
    return worst


def check_switching(
    ledger: Ledger, real: dict[str, FloatArray], day_length_h: FloatArray
) -> list[Finding]:
    """With the real schedule no tree's roots fall below what kills them."""
    if not real:
        return []
    courses_of_air = {key: ledger.course(air) for key, air in real.items()}
    paths = root_paths(ledger, {**ledger.air, **courses_of_air}, None)
    courses = tree_courses(ledger, paths, day_length_h)
    found = []
    for tree_id, course in courses.items():
        short = course.kill_c - course.root_min_c
        short[: first_judged(ledger, course) - course.first_day] = -np.inf
        day = int(short.argmax())
        if short[day] > SLACK_K and _touched(ledger, tree_id, real):
            found.append(_finding(ledger, tree_id, course, day, float(short[day])))
    return found


def _touched(ledger: Ledger, tree_id: str, real: dict[str, FloatArray]) -> bool:
    """Whether a tree ever stands in a shelter whose heating changes; else roots are judged
    already."""
    places = [place for place in ledger.plan.stays[tree_id] if place is not None]
    return any(ledger.season.places[place].shelter_id in real for place in places)


def _finding(ledger: Ledger, tree_id: str, course: TreeCourse, day: int, short_k: float) -> Finding:
    index = course.first_day + day
    when = ledger.season.date_of(ledger.first_day + index)
    spell = int(ledger.spell_of_hour[index * HOURS_PER_DAY])
    place = ledger.plan.stays[tree_id][spell]
    name = ledger.season.tree_by_id[tree_id].name
    text = f"when the heating is switched, roots of {name} fall below what kills them"
    return Finding(Rule.SWITCHING, tree_id, place, when, short_k, "K", text, spell)
