"""Trees that are not back at the summer place when the plan ends, and why.

Each is followed home on the first day of the last spell, by the rules that hold for one tree.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from overwinter.audit.hardening import tree_courses
from overwinter.audit.ledger import Ledger
from overwinter.audit.report import Away, AwayWhy, Finding, Rule
from overwinter.audit.roots import root_paths
from overwinter.audit.rules import air, permission, room, roots
from overwinter.model.plan import Plan

OF_ONE_TREE = (
    permission.check_open,
    room.check_headroom,
    room.check_width,
    permission.check_rodents,
    permission.check_pins,
    permission.check_forbidden,
)
OF_WEATHER = frozenset({Rule.ROOTS, Rule.AIR, Rule.REST, Rule.LIGHT, Rule.CHILL})


def trees_away(ledger: Ledger) -> tuple[Away, ...]:
    """By the tree list; a tree that has not joined by then is not away."""
    plan, site = ledger.plan, ledger.season.site
    where = {key: path[-1] for key, path in plan.stays.items() if path}
    away = frozenset(key for key, place in where.items() if place not in (None, site.summer_place))
    if not away:
        return ()
    refused = {finding.subject: finding for finding in reversed(_refusals(ledger, away))}
    day = ledger.spells[-1].start
    carried = Counter(carry.day for carry in plan.carries)
    no_carry = carried[day] >= site.carries_per_day or (
        not carried[day] and len(carried) >= site.carry_days_max
    )
    otherwise = AwayWhy.NO_CARRY if no_carry else AwayWhy.DEARER
    return tuple(
        Away(
            tree.id,
            where[tree.id] or "",
            _why(refused[tree.id].rule) if tree.id in refused else otherwise,
            refused[tree.id].rule if tree.id in refused else None,
            day,
        )
        for tree in ledger.trees
        if tree.id in away
    )


def _why(rule: Rule) -> AwayWhy:
    return AwayWhy.NOT_SAFE if rule in OF_WEATHER else AwayWhy.REFUSED


def _refusals(ledger: Ledger, away: frozenset[str]) -> list[Finding]:
    """What is broken by trees that go home for the last spell, on that day or later."""
    last = ledger.spells[-1]
    everybody = _taken_home(ledger, away, ledger.plan.stays)
    only = _taken_home(ledger, away, [key for key in ledger.plan.stays if key in away])
    book = air.AirBook(only)
    days = book.day_length_h[only.first_day :]
    courses = tree_courses(only, root_paths(only, only.air, None), days)
    found = [finding for check in OF_ONE_TREE for finding in check(only)]
    found += roots.check_roots(only, courses)
    found += [*air.check_air(book), *air.check_rest(book), *air.check_light(book)]
    found += air.check_chill(book, air.chill_earned(book))
    found += permission.check_quarantine(everybody)
    return [finding for finding in found if finding.when is None or finding.when >= last.start]


def _taken_home(ledger: Ledger, away: frozenset[str], some: Iterable[str]) -> Ledger:
    plan, home = ledger.plan, ledger.season.site.summer_place
    stays = {key: (*plan.stays[key][:-1], home) if key in away else plan.stays[key] for key in some}
    there: Plan = replace(plan, stays=stays)
    return Ledger(ledger.season, ledger.conditions, there, ledger.start)
