"""Which carry of the plan a mark stands for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from overwinter.model.changes import Mark
from overwinter.model.fingerprint import carry_key
from overwinter.model.plan import Carry, Plan
from overwinter.model.season import Season
from overwinter.replan.marks import open_carries


@dataclass(frozen=True, slots=True)
class Fault:
    """A tree that cannot be marked so."""

    tree_id: str
    found: str
    expected: str
    fix: str = ""


def mark_tree(
    season: Season,
    plan: Plan,
    marks: Sequence[Mark],
    tree_id: str,
    day: date | None,
    target: str | None,
    note: str = "",
) -> Mark | Fault:
    """Mark one tree: its next open carry, or a place it was put without one.

    Parameters
    ----------
    day
        When; None: on the day of the plan.
    target
        Where it was really put; None: as planned.
    """
    mine = [carry for carry in open_carries(season, plan, marks) if carry.tree_id == tree_id]
    if target is None:
        if not mine:
            fix = "Say with --to PLACE and --day DATE where it was put."
            return Fault(tree_id, "no open carry", "a tree the plan still carries", fix)
        return _mark(season, mine[0], day or mine[0].day, mine[0].target, note)
    stands_for = next((c for c in mine if c.target == target), mine[0] if mine else None)
    if stands_for is not None and (stands_for.target == target or _due(stands_for, day)):
        return _mark(season, stands_for, day or stands_for.day, target, note)
    if day is None:
        fix = "Say with --day DATE when it was put there."
        return Fault(tree_id, "no carry to that place", "a day", fix)
    return _checked(season, Mark(day, tree_id, target, None, note=note))


def _due(carry: Carry, day: date | None) -> bool:
    return day is None or carry.day <= day


def _mark(season: Season, carry: Carry, day: date, target: str, note: str) -> Mark | Fault:
    return _checked(season, Mark(day, carry.tree_id, target, carry_key(carry), note=note))


def _checked(season: Season, mark: Mark) -> Mark | Fault:
    site = season.site
    if not site.starts <= mark.day <= site.ends:
        expected = f"a day of this winter, {site.starts} to {site.ends}"
        return Fault(mark.tree_id, str(mark.day), expected)
    return mark


def due_on(season: Season, plan: Plan, marks: Sequence[Mark], day: date) -> tuple[Carry, ...]:
    """Open carries of the last carry day up to ``day``."""
    due = [carry for carry in open_carries(season, plan, marks) if carry.day <= day]
    last = max((carry.day for carry in due), default=None)
    return tuple(carry for carry in due if carry.day == last)
