"""The audit of a whole plan: every limit and every cost recomputed along each tree's true path."""

from collections.abc import Mapping

import numpy as np

from overwinter.audit.away import trees_away
from overwinter.audit.hardening import TreeCourse, cold_tail_loss, tree_courses
from overwinter.audit.ledger import Ledger
from overwinter.audit.report import AuditReport, Finding, Rule, TreeMargin
from overwinter.audit.roots import root_paths
from overwinter.audit.rules import (
    air,
    carrying,
    costs,
    heaters,
    permission,
    room,
    roots,
    structure,
    switching,
)
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Costs, Plan
from overwinter.model.season import Season
from overwinter.model.start import Start, start_of_season

LEDGER_CHECKS = {
    Rule.OPEN: permission.check_open,
    Rule.HEADROOM: room.check_headroom,
    Rule.WIDTH: room.check_width,
    Rule.AREA: room.check_area,
    Rule.LOAD: room.check_load,
    Rule.LAYOUT: room.check_layouts,
    Rule.RODENTS: permission.check_rodents,
    Rule.QUARANTINE: permission.check_quarantine,
    Rule.PINNED: permission.check_pins,
    Rule.FORBIDDEN: permission.check_forbidden,
    Rule.HOLDS: heaters.check_holds,
    Rule.BREAKER: heaters.check_breakers,
    Rule.CARRIES: carrying.check_carries,
    Rule.CARRY_DAY: carrying.check_carry_day,
    Rule.CARRIES_PER_DAY: carrying.check_carries_per_day,
    Rule.CARRY_DAYS: carrying.check_carry_days,
}
"""Rules that need nothing but the plan laid out over its spells."""

OF_THE_PAST = frozenset(Rule) - {
    *structure.RULES,
    Rule.LAYOUT,
    Rule.CHILL,
    Rule.CARRIES,
    Rule.CARRY_DAY,
    Rule.CARRY_DAYS,
    Rule.COSTS,
}
"""Rules that a winter may already have broken when it is planned anew; a plan can't mend that. The
others say whether the plan tells the past as it was, or hold over the winter as a whole."""


def audit(
    season: Season, conditions: Conditions, plan: Plan, start: Start | None = None
) -> AuditReport:
    """Check a plan against its season.

    Parameters
    ----------
    season, conditions, plan
        The inputs, the hourly series and what is to be checked. Daily series and anything the
        integer program was built from are not looked at.
    start : Start, optional
        Where a plan made in mid-winter begins; by default everything is at its summer stand.

    Returns
    -------
    AuditReport
        All findings, in the order of ``Rule``. A plan of unsound structure is reported at once,
        with the other rules unchecked.
    """
    start = start or start_of_season(season)
    broken = structure.check_structure(season, conditions, plan, start)
    if broken:
        return AuditReport(tuple(broken), Costs(), rules_checked=structure.RULES)
    return _audit_sound(Ledger(season, conditions, plan, start))


def _audit_sound(ledger: Ledger) -> AuditReport:
    book = air.AirBook(ledger)
    day_length_h = book.day_length_h[ledger.first_day :]
    paths = root_paths(ledger, ledger.air, ledger.cold_air)
    courses = tree_courses(ledger, paths, day_length_h)
    chill = air.chill_earned(book)
    true_costs = costs.recompute_costs(ledger, cold_tail_loss(ledger, courses))
    real = switching.real_air_c(ledger)
    found: dict[Rule, list[Finding]] = {
        **{rule: check(ledger) for rule, check in LEDGER_CHECKS.items()},
        Rule.ROOTS: roots.check_roots(ledger, courses),
        Rule.AIR: air.check_air(book),
        Rule.REST: air.check_rest(book),
        Rule.CHILL: air.check_chill(book, chill),
        Rule.LIGHT: air.check_light(book),
        Rule.COSTS: costs.check_costs(ledger, true_costs),
        Rule.SWITCHING: switching.check_switching(ledger, real, day_length_h),
    }
    in_order = [finding for rule in Rule for finding in found.get(rule, ())]
    past = [finding for finding in in_order if _is_past(ledger, finding)]
    return AuditReport(
        findings=tuple(finding for finding in in_order if finding not in past),
        past=tuple(past),
        costs=true_costs,
        margins=tree_margins(ledger, book, courses, chill),
        heat=costs.heat_uses(ledger),
        uses=room.place_uses(ledger),
        transient=switching.worst_transient(ledger, real),
        away=trees_away(ledger),
        risk_difference=ledger.plan.costs.risk - true_costs.risk,
        rules_checked=tuple(rule for rule in Rule if rule in found or rule in structure.RULES),
    )


def _is_past(ledger: Ledger, finding: Finding) -> bool:
    """Whether a finding is a fact: broken by life before the plan was made anew."""
    fixed = ledger.plan.fixed_until
    if fixed is None or finding.when is None or finding.rule not in OF_THE_PAST:
        return False
    return finding.when < fixed


def tree_margins(
    ledger: Ledger,
    book: air.AirBook,
    courses: Mapping[str, TreeCourse],
    chill: Mapping[str, float],
) -> Mapping[str, TreeMargin]:
    """By tree that is there on any day: how near it comes to each limit."""
    light, air_spare = air.light_needs(book), air.air_spare(book)
    margins = {}
    for tree in ledger.trees:
        course = courses.get(tree.id)
        if course is None:
            continue
        worst = int(np.argmin(course.spare_k))
        day = course.first_day + worst
        spare_k, air_day, air_where = air_spare.get(tree.id, (None, None, None))
        need = light.get(tree.id)
        margins[tree.id] = TreeMargin(
            tree_id=tree.id,
            root_spare_k=float(course.spare_k[worst]),
            root_when=ledger.season.date_of(ledger.first_day + day),
            root_where=_where(ledger, tree.id, day),
            root_min_c=float(course.root_min_c[worst]),
            root_floor_c=float(course.floor_c[worst]),
            air_spare_k=spare_k,
            air_when=None if air_day is None else ledger.season.date_of(ledger.first_day + air_day),
            air_where=air_where,
            light_ratio=None if need is None else need.ratio,
            light_spell=None if need is None else need.spell,
            chill_earned=chill[tree.id],
            chill_owed=tree.limits.chill_need,
            chill_unit=air.CHILL_UNIT[tree.limits.chill_model],
        )
    return margins


def _where(ledger: Ledger, tree_id: str, day: int) -> str:
    for spell in ledger.spells:
        days = ledger.days(spell)
        if days.start <= day < days.stop:
            return ledger.plan.stays[tree_id][spell.index] or ""
    return ""
