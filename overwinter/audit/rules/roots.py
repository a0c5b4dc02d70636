"""Are the roots warm enough, on every day, for as hard as the tree is by then."""

from collections.abc import Mapping

import numpy as np

from overwinter.audit.hardening import TreeCourse
from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Finding, Rule

SLACK_K = 1e-6


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
            spare = course.spare_k[first : days.stop - course.first_day]
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
