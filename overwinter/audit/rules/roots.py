"""Are the roots warm enough, on every day, for as hard as the tree is by then."""

from collections.abc import Mapping

import numpy as np

from overwinter.audit.hardening import TreeCourse
from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule

SLACK_K = 1e-6
LINGERS_DAYS = 3
"""Roots that were too cold when the winter was planned anew may take this long to warm up
wherever they are carried: three time constants of the largest pots."""


def check_roots(ledger: Ledger, courses: Mapping[str, TreeCourse]) -> list[Finding]:
    """By tree and spell, the day on which its roots fall furthest below the working floor."""
    found = []
    for tree in ledger.trees:
        course = courses.get(tree.id)
        if course is None or float(course.spare_k.min()) >= -SLACK_K:
            continue
        for spell in ledger.spells:
            days = ledger.days(spell)
            if days.stop <= course.first_day:
                continue
            first = max(days.start - course.first_day, 0)
            if days.start >= ledger.fixed_days > 0:
                first = max(first, first_judged(ledger, course) - course.first_day)
            spare = course.spare_k[first : days.stop - course.first_day]
            if spare.size == 0:
                continue
            worst = first + int(np.argmin(spare))
            short = -float(course.spare_k[worst])
            place = ledger.place_of(tree, spell.index)
            if short <= SLACK_K or place is None:
                continue
            text = (
                f"roots of {tree.name} at {place.id} fall to {course.root_min_c[worst]:.1f} °C, "
                f"working floor {course.floor_c[worst]:.1f} °C"
            )
            when = ledger.season.date_of(ledger.first_day + course.first_day + worst)
            found.append(
                Finding(Rule.ROOTS, tree.id, place.id, when, short, "K", text, spell.index)
            )
    return found


def first_judged(ledger: Ledger, course: TreeCourse) -> int:
    """First planned day on which a breach is the plan's own and not the past's.

    Later than the first free day only where roots are still too cold from what has happened.
    """
    fixed = ledger.fixed_days
    day = max(fixed - course.first_day, 0)
    if day == 0:
        return course.first_day
    too_cold = course.spare_k < -SLACK_K
    if not too_cold[day - 1]:
        return fixed
    last = min(day + LINGERS_DAYS, too_cold.size)
    while day < last and too_cold[day]:
        day += 1
    return course.first_day + day
