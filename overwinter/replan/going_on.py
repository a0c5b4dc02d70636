"""The plan in force, simply gone on with although facts have changed; two plans side by side."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport
from overwinter.benches.winter import shifts_between
from overwinter.model.changes import Mark, Start
from overwinter.model.plan import Carry, Costs, Layout, Plan, carries_of_stays
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions, HeaterSetting
from overwinter.model.stage import HappeningKind, Sign, Stage, StageDays
from overwinter.model.tree import Tree
from overwinter.replan.past import still_to_come
from overwinter.rules.doors import there
from overwinter.rules.figures import COSTS, PROOF
from overwinter.rules.rule import Finding

OWN_FIGURES = (COSTS, PROOF)
"""What the plan says of itself was reckoned before the facts changed, so it cannot agree."""


@dataclass(frozen=True)
class Facts:
    """A winter as it is known on one day: what a plan of its rest is judged by."""

    season: Season  # with the changed facts laid over it
    conditions: Conditions
    stage_days: StageDays
    start: Start


@dataclass(frozen=True)
class GoneOn:
    """The plan in force on the stages of the new one."""

    plan: Plan
    report: AuditReport
    broken: tuple[Finding, ...]  # rules that it breaks now

    @property
    def costs(self) -> Costs | None:
        """By the audit; None: it is no whole plan any more."""
        return self.report.costs if self.report.whole else None


def go_on(plan: Plan, facts: Facts) -> GoneOn:
    """Audit the plan in force against what is known now. Each of its carries still ahead happens at
    its own sign, or when what its day stands for has been put off, then; where a sign is gone, at
    the next that is no other tree's own day. A tree that stands elsewhere than planned stays there
    until its next carry."""
    season, start, stages = facts.season, facts.start, facts.stage_days.stages
    fixed = start.fixed_stages
    old = _old_stages(plan.stages, stages, fixed)
    known = [tree for tree in season.trees if tree.id in plan.stays]
    paths = [_path(t.id, plan.stays[t.id], start.stays[t.id], old, stages) for t in known]
    stays = {t.id: _once_there(path, t, facts) for t, path in zip(known, paths, strict=True)}
    off = {h: shelter.settings[0] for h, shelter in facts.conditions.shelters.items()}
    past = {h: start.settings.get(h, (off[h],) * fixed) for h in off}
    settings = {
        h: (*past[h], *(plan.settings[h][k] if h in plan.settings else off[h] for k in old[fixed:]))
        for h in off
    }
    layouts = _layouts(plan, old, fixed, stays)
    if start.layouts:
        for place_id, by_stage in layouts.items():
            by_stage[fixed - 1] = start.layouts.get(place_id, ())
    left_out = tuple(one for one in plan.left_out if one.tree_id in season.tree_by_id)
    moved = Plan(
        stages=stages,
        settings=settings,
        stays=stays,
        carries=carries_of_stays(stages, stays),
        left_out=left_out,
        costs=replace(plan.costs, left_out=plan.costs.left_out if left_out else 0.0),
        proof=plan.proof,
        layouts=layouts,
        shifts=tuple(shift for one in layouts for shift in shifts_between(one, layouts[one])),
        fixed_stages=fixed,
        unsafe=tuple(tree_id for tree_id in plan.unsafe if tree_id in stays),
    )
    report = audit(season, facts.conditions, facts.stage_days, moved, start)
    most = season.site.weights.most_chance  # what made a tree not safe may be past
    safe = {tree_id for tree_id, risk in report.risks.items() if risk.lost <= most}
    moved = replace(moved, unsafe=tuple(t for t in moved.unsafe if t not in safe))
    broken = tuple(one for one in report.findings if one.rule not in OWN_FIGURES)
    return GoneOn(moved, report, broken)


def stays_by(plan: Plan, after: Plan) -> dict[str, tuple[str | None, ...]]:
    """Where each tree would be by a plan in the stages of the one after it, which has begun; of
    trees that this one knows, placed or left out."""
    fixed = after.fixed_stages
    old = _old_stages(plan.stages, after.stages, fixed)
    both = (t for t in after.tree_ids if t in plan.stays)
    was = {t: after.stays.get(t, plan.stays[t])[:fixed] for t in both}
    return {t: _path(t, plan.stays[t], was[t], old, after.stages) for t in was}


def _old_stages(old: Sequence[Stage], new: Sequence[Stage], fixed: int) -> tuple[int, ...]:
    """For each new stage the old one whose stays hold in it."""
    found = list(range(fixed))
    for stage in new[fixed:]:
        same = [one.index for one in old[fixed:] if _same_sign(one, stage)]
        found.append(max(found[-1], *same) if same else found[-1])
    return tuple(found)


def _same_sign(one: Stage, other: Stage) -> bool:
    if one.sign is not other.sign:
        return False
    if one.sign is Sign.CALENDAR:
        shared = set(one.happenings) & set(other.happenings)
        return one.usual == other.usual or any(
            what.kind is not HappeningKind.PLANNED_ANEW for what in shared
        )
    return one.threshold_c == other.threshold_c


def _path(
    tree_id: str,
    planned: Sequence[str | None],
    was: Sequence[str | None],
    old: Sequence[int],
    stages: Sequence[Stage],
) -> tuple[str | None, ...]:
    path, fixed = list(was), len(was)
    before, due = planned[fixed - 1], path[-1]
    for k in range(fixed, len(stages)):
        if planned[old[k]] != before:
            before = due = planned[old[k]]
        path.append(due if stages[k].is_for(tree_id) else path[-1])
    return tuple(path)


def _once_there(path: tuple[str | None, ...], tree: Tree, facts: Facts) -> tuple[str | None, ...]:
    """The path of a tree that joins, whose day may stand elsewhere among the signs now."""
    if tree.joins is None:
        return path
    first = facts.start.fixed_stages
    later = list(path)
    for k in range(first, len(path)):
        if not there(facts.season, tree, facts.stage_days, k):
            later[k] = None
        elif later[k] is None:
            later[k] = next((place for place in path[k:] if place is not None), None)
    return tuple(later)


def _layouts(
    plan: Plan, old: Sequence[int], fixed: int, stays: Mapping[str, object]
) -> dict[str, dict[int, tuple[Layout, ...]]]:
    """As drawn, without the trees that are gone."""
    return {
        place: {
            k: tuple(one for one in by_stage[old[k]] if one.tree_id in stays)
            for k in range(fixed, len(old))
            if old[k] in by_stage
        }
        for place, by_stage in plan.layouts.items()
    }


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
    changed: tuple[TreeChange, ...]  # trees that go to other places, or in another order
    other_days: tuple[TreeChange, ...]
    """Trees that go to the same places in the same order, but at another sign or day."""
    unchanged: int  # how many trees keep their places, those with other days among them
    gone: tuple[str, ...]  # trees that only the plan before knew
    left_out: tuple[str, ...]  # trees without a place in the plan after
    heaters: tuple[HeaterChange, ...]
    carries: tuple[int, int]  # how many from `first` on, before and after
    costs: tuple[Costs, Costs]  # money a winter, before and after, each by its own reckoning


def compare(
    season: Season, before: Plan, after: Plan, first: date, marks: Sequence[Mark] = ()
) -> Comparison:
    """Compare what two plans ask for from ``first`` on and what these marks do not say is done."""
    old, new = defaultdict[str, list[Carry]](list), defaultdict[str, list[Carry]](list)
    for plan, by_tree in ((before, old), (after, new)):
        for carry in still_to_come(season, plan, marks, first):
            by_tree[carry.tree_id].append(carry)
    left_out = tuple(one.tree_id for one in after.left_out)
    trees = dict.fromkeys((*after.stays, *left_out))
    changed, other_days = list[TreeChange](), list[TreeChange]()
    for tree_id in trees:
        change = TreeChange(tree_id, tuple(old[tree_id]), tuple(new[tree_id]))
        pairs = list(zip(change.before, change.after, strict=False))
        if (
            len(change.before) != len(change.after)
            or any(one.target != other.target for one, other in pairs)
            or (tree_id in before.stays) != (tree_id in after.stays)
        ):
            changed.append(change)
        elif any(moved(before.stages[a.stage], after.stages[b.stage]) for a, b in pairs):
            other_days.append(change)
    known = dict.fromkeys(before.tree_ids)
    heaters = [
        HeaterChange(s, _settings_from(before, s, first), _settings_from(after, s, first))
        for s in after.settings
    ]
    return Comparison(
        first=first,
        changed=tuple(changed),
        other_days=tuple(other_days),
        unchanged=len(trees) - len(changed),
        gone=tuple(tree_id for tree_id in known if tree_id not in trees),
        left_out=left_out,
        heaters=tuple(one for one in heaters if one.before != one.after),
        carries=(sum(map(len, old.values())), sum(map(len, new.values()))),
        costs=(before.costs, after.costs),
    )


def moved(one: Stage, other: Stage) -> bool:
    """Whether stages of two plans wait for other signs, or begin on other days of the calendar."""
    if (one.sign, one.threshold_c) != (other.sign, other.threshold_c):
        return True
    return one.sign is Sign.CALENDAR and one.usual != other.usual


def _settings_from(plan: Plan, shelter_id: str, first: date) -> tuple[HeaterSetting, ...]:
    """Settings from ``first`` on, each once where it follows itself."""
    found: list[HeaterSetting] = []
    for stage, setting in zip(plan.stages, plan.settings.get(shelter_id, ()), strict=False):
        if stage.until > first and found[-1:] != [setting]:
            found.append(setting)
    return tuple(found)
