"""Two plans side by side from a day on: what changes for which tree, and what it costs."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from overwinter.audit.report import TreeMargin
from overwinter.model.plan import Carry, Costs
from overwinter.planning.merge import View, carries_by_tree
from overwinter.planning.past import setting_on
from overwinter.planning.why import Cause, Explainer, Why

NOT_PLACED = (Cause.LEFT_OUT, Cause.FOUND_A_PLACE, Cause.JOINED)
"""Trees that one of both plans has nowhere."""
LEAST_SHRINK_K = 0.05
"""A margin that shrinks by less is rounding to a grower."""


@dataclass(frozen=True, slots=True)
class TreeChange:
    """What a plan asks of one tree from the day on, before and after."""

    tree_id: str
    before: tuple[Carry, ...]
    after: tuple[Carry, ...]
    why: Why
    extra: int
    """Carries to places that the plan before would not have carried it to any more."""

    @property
    def only_days(self) -> bool:
        """The same places in the same order, on other days."""
        return self.why.cause not in NOT_PLACED and _places(self.before) == _places(self.after)


@dataclass(frozen=True, slots=True)
class MarginChange:
    """A tree that comes nearer to what kills it."""

    tree_id: str
    before_k: float
    after: TreeMargin

    @property
    def lost_k(self) -> float:
        """By how much its margin shrinks, K."""
        return self.before_k - self.after.nearest_k


@dataclass(frozen=True, slots=True)
class HeaterChange:
    """A shelter that is heated otherwise: (from day, setting) before and after."""

    shelter_id: str
    before: tuple[tuple[date, str], ...]
    after: tuple[tuple[date, str], ...]


@dataclass(frozen=True)
class Comparison:
    """Everything that differs from ``first`` on. Costs and heat are of that stretch alone."""

    first: date
    before: View
    after: View
    changed: tuple[TreeChange, ...]
    """In the order of the tree list."""
    unchanged: tuple[str, ...]
    """Trees with the same carries on the same days."""
    gone: tuple[str, ...]
    """Trees only the plan before knew."""
    heaters: tuple[HeaterChange, ...]
    margins: tuple[MarginChange, ...]
    """Trees whose margin shrinks, the most first."""

    @property
    def costs(self) -> tuple[Costs, Costs]:
        """Before and after, money."""
        return self.before.report.costs, self.after.report.costs

    @property
    def heat_kwh(self) -> tuple[float, float]:
        """Energy bought, kWh, before and after."""
        before, after = (
            sum(use.purchased_kwh for use in view.report.heat) for view in (self.before, self.after)
        )
        return before, after

    @property
    def extra_carries(self) -> int:
        """Carries to places where the plan before would not have carried the tree."""
        return sum(change.extra for change in self.changed)

    @property
    def carries(self) -> tuple[int, int]:
        """How many carries, before and after."""
        return len(self.before.plan.carries), len(self.after.plan.carries)

    @property
    def undisturbed(self) -> tuple[str, ...]:
        """Trees that go to the same places in the same order, be it on other days."""
        return self.unchanged + tuple(c.tree_id for c in self.changed if c.only_days)


def compare(
    before: View,
    after: View,
    first: date,
    expected: Mapping[str, tuple[Carry, ...]] | None = None,
) -> Comparison:
    """Compare two plans from ``first`` on.

    Parameters
    ----------
    expected
        By tree: carries that the plan before still had open on ``first``, those included that were
        due and were not done. By default those of ``before``.
    """
    old = carries_by_tree(before.plan.carries) if expected is None else expected
    new = carries_by_tree(after.plan.carries)
    explainer = Explainer(before, after)
    changed, unchanged = [], []
    for tree in after.season.trees:
        mine, its = old.get(tree.id, ()), new.get(tree.id, ())
        if _same(mine, its) and _placed(before, tree.id) == _placed(after, tree.id):
            unchanged.append(tree.id)
            continue
        extra = 0 if tree.id not in before.season.tree_by_id else extra_carries(mine, its)
        why = explainer.why(tree.id, mine, its)
        changed.append(TreeChange(tree.id, mine, its, why, extra))
    return Comparison(
        first=first,
        before=before,
        after=after,
        changed=tuple(changed),
        unchanged=tuple(unchanged),
        gone=tuple(t.id for t in before.season.trees if t.id not in after.season.tree_by_id),
        heaters=_heaters(before, after, first),
        margins=_margins(before, after),
    )


def extra_carries(old: Sequence[Carry], new: Sequence[Carry]) -> int:
    """Carries of one tree to a place the old plan would not have carried it to."""
    known = {carry.target for carry in old}
    return sum(carry.target not in known for carry in new)


def _places(carries: Sequence[Carry]) -> list[str]:
    return [carry.target for carry in carries]


def _same(old: Sequence[Carry], new: Sequence[Carry]) -> bool:
    return Counter((c.day, c.target) for c in old) == Counter((c.day, c.target) for c in new)


def _placed(view: View, tree_id: str) -> bool:
    return tree_id in view.plan.stays


def _heaters(before: View, after: View, first: date) -> tuple[HeaterChange, ...]:
    changes = []
    for shelter in after.season.shelters:
        old, new = (_settings(view, shelter.id, first) for view in (before, after))
        if old != new:
            changes.append(HeaterChange(shelter.id, old, new))
    return tuple(changes)


def _settings(view: View, shelter_id: str, first: date) -> tuple[tuple[date, str], ...]:
    """Setting from each day on which it changes."""
    days = [
        (max(s.start, first), setting_on(view.plan, shelter_id, s.start)) for s in view.plan.spells
    ]
    return tuple(
        next(group)
        for key, group in groupby(((d, k or "off") for d, k in days), key=lambda p: p[1])
    )


def _margins(before: View, after: View) -> tuple[MarginChange, ...]:
    changes = []
    for tree_id, margin in after.report.margins.items():
        old = before.report.margins.get(tree_id)
        if old is not None and margin.nearest_k < old.nearest_k - LEAST_SHRINK_K:
            changes.append(MarginChange(tree_id, old.nearest_k, margin))
    return tuple(sorted(changes, key=lambda change: (-change.lost_k, change.tree_id)))
