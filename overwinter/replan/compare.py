"""Two plans side by side from a day on: what changes for which tree, and what it costs."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from overwinter.model.plan import Carry, Costs, Plan
from overwinter.model.shelter import HeaterSetting


@dataclass(frozen=True, slots=True)
class TreeChange:
    """What a plan asks of one tree from the day on, before and after."""

    tree_id: str
    before: tuple[Carry, ...]
    after: tuple[Carry, ...]


@dataclass(frozen=True, slots=True)
class HeaterChange:
    """A shelter that is heated otherwise from the day on: settings in order, before and after."""

    shelter_id: str
    before: tuple[HeaterSetting, ...]
    after: tuple[HeaterSetting, ...]


@dataclass(frozen=True)
class Comparison:
    """Everything that differs from ``first`` on; costs are of the whole winter."""

    first: date
    changed: tuple[TreeChange, ...]
    """Trees that go to other places, or in another order."""
    unchanged: int
    """How many trees keep their places, be it at other signs."""
    gone: tuple[str, ...]
    """Trees that only the plan before knew."""
    left_out: tuple[str, ...]
    """Trees without a place in the plan after."""
    heaters: tuple[HeaterChange, ...]
    carries: tuple[int, int]
    """How many from ``first`` on, before and after."""
    costs: tuple[Costs, Costs]
    """Money a winter, before and after, each by its own reckoning."""


def compare(
    before: Plan, after: Plan, first: date, still: Sequence[Carry] | None = None
) -> Comparison:
    """Compare two plans from ``first`` on.

    Parameters
    ----------
    still : carries of ``before`` that nobody has done yet; None: those with a day from ``first``
        on.
    """
    old = _by_tree(_ahead(before, first) if still is None else still)
    new = _by_tree(_ahead(after, first))
    left_out = tuple(one.tree_id for one in after.left_out)
    trees = dict.fromkeys((*after.stays, *left_out))
    changed = [
        TreeChange(tree_id, old.get(tree_id, ()), new.get(tree_id, ()))
        for tree_id in trees
        if _targets(old.get(tree_id, ())) != _targets(new.get(tree_id, ()))
        or (tree_id in before.stays) != (tree_id in after.stays)
    ]
    known = dict.fromkeys((*before.stays, *(one.tree_id for one in before.left_out)))
    return Comparison(
        first=first,
        changed=tuple(changed),
        unchanged=len(trees) - len(changed),
        gone=tuple(tree_id for tree_id in known if tree_id not in trees),
        left_out=left_out,
        heaters=_heaters(before, after, first),
        carries=(sum(map(len, old.values())), sum(map(len, new.values()))),
        costs=(before.costs, after.costs),
    )


def _ahead(plan: Plan, first: date) -> list[Carry]:
    return [c for c in plan.carries if c.day >= first and c.stage >= plan.fixed_stages]


def _by_tree(carries: Sequence[Carry]) -> dict[str, tuple[Carry, ...]]:
    found: dict[str, tuple[Carry, ...]] = {}
    for carry in carries:
        found[carry.tree_id] = (*found.get(carry.tree_id, ()), carry)
    return found


def _targets(carries: tuple[Carry, ...]) -> list[str]:
    return [carry.target for carry in carries]


def _heaters(before: Plan, after: Plan, first: date) -> tuple[HeaterChange, ...]:
    pairs = [
        HeaterChange(s, _settings_from(before, s, first), _settings_from(after, s, first))
        for s in after.settings
    ]
    return tuple(pair for pair in pairs if pair.before != pair.after)


def _settings_from(plan: Plan, shelter_id: str, first: date) -> tuple[HeaterSetting, ...]:
    """Settings from ``first`` on, each once where it follows itself."""
    found: list[HeaterSetting] = []
    for stage, setting in zip(plan.stages, plan.settings.get(shelter_id, ()), strict=False):
        if stage.until > first and found[-1:] != [setting]:
            found.append(setting)
    return tuple(found)
