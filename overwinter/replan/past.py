"""What really happened, by the marks, and which stages of the winter have begun."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial

from overwinter.model.changes import Mark, Start, start_of_season
from overwinter.model.plan import Carry, Plan, carry_key
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions
from overwinter.model.stage import Sign, Stage, StageDays
from overwinter.problems import Problem
from overwinter.search.plan_winter import plan_stages
from overwinter.shelters.heater import OFF
from overwinter.simulate.begun import stages_anew
from overwinter.simulate.harm_table import passed_over


def first_free_day(today: date, marks: Sequence[Mark]) -> date:
    """First day that can still be planned: today, or tomorrow if something was carried today."""
    return today + timedelta(days=1) if any(mark.day >= today for mark in marks) else today


def stands(season: Season, marks: Sequence[Mark]) -> dict[str, str | None]:
    """Where every tree stands after all marks; None: it has not joined."""
    at = {tree_id: stays[-1] for tree_id, stays in start_of_season(season).stays.items()}
    for mark in sorted(marks, key=lambda one: one.day):
        if mark.tree_id in at:
            at[mark.tree_id] = mark.target
    return at


def marks_by_carry(season: Season, marks: Sequence[Mark]) -> dict[str, Mark]:
    """The mark that stands for a carry, by the carry's key. A mark without a key stands for the
    carry that it is exactly: day, tree, source and target. Of several marks of one tree on one day
    the last counts."""
    last = {(mark.day, mark.tree_id): mark for mark in marks}
    at = {tree_id: stays[-1] for tree_id, stays in start_of_season(season).stays.items()}
    found = {}
    for mark in sorted(last.values(), key=lambda one: one.day):
        if mark.tree_id in at and at[mark.tree_id] != mark.target:
            # the number of the stage is no part of a carry's key
            carry = Carry(0, mark.day, mark.tree_id, at[mark.tree_id], mark.target)
            found[carry_key(carry)] = mark
            at[mark.tree_id] = mark.target
    return found | {mark.carry_key: mark for mark in marks if mark.carry_key is not None}


def open_carries(season: Season, plan: Plan, marks: Sequence[Mark]) -> tuple[Carry, ...]:
    """Carries of the plan that lie ahead of it and that no mark stands for, by stage."""
    done = marks_by_carry(season, marks)
    return tuple(
        carry
        for carry in plan.carries
        if carry.stage >= plan.fixed_stages
        and carry.tree_id in season.tree_by_id
        and carry_key(carry) not in done
    )


def still_to_come(
    season: Season, plan: Plan, marks: Sequence[Mark], first: date
) -> tuple[Carry, ...]:
    """Open carries from ``first`` on; of those due before, each tree's last if it is not there."""
    carries, at = open_carries(season, plan, marks), stands(season, marks)
    last = {carry.tree_id: carry for carry in carries if carry.day < first}
    return tuple(
        one
        for one in carries
        if one.day >= first or (one is last[one.tree_id] and one.target != at[one.tree_id])
    )


def begun_stages(
    season: Season, plan: Plan, marks: Sequence[Mark], first: date
) -> tuple[Stage, ...]:
    """Stages of the plan in force that have begun before ``first``, by the days of this winter. A
    stage has begun when one of its carries is marked, when a later one has begun, or on its usual
    day; but not while all its carries wait undone, for then its sign has not come."""
    marked = _marked_days(season, plan, marks)
    waiting = {carry.stage for carry in open_carries(season, plan, marks)} - set(marked)
    count, held = 1, False
    for stage in plan.stages[1:]:
        fixed = stage.index < plan.fixed_stages
        held |= stage.sign is not Sign.CALENDAR and stage.index in waiting
        if fixed or stage.index in marked or (stage.usual < first and not held):
            count = stage.index + 1
    last, begun = max(first - timedelta(days=1), season.site.starts), list[Stage]()
    for stage in reversed(plan.stages[:count]):
        calendar = stage.sign is Sign.CALENDAR or stage.index < plan.fixed_stages
        last = min(last, stage.usual if calendar else marked.get(stage.index, stage.usual))
        day = last if stage.index else season.site.starts
        begun.insert(0, replace(stage, early=day, usual=day, late=day))
    return tuple(begun)


def _marked_days(season: Season, plan: Plan, marks: Sequence[Mark]) -> dict[int, date]:
    """First day on which a carry of each stage was marked."""
    done = marks_by_carry(season, marks)
    found: dict[int, date] = {}
    for carry in plan.carries:
        mark = done.get(carry_key(carry))
        if mark is not None and carry.stage >= plan.fixed_stages:
            found[carry.stage] = min(found.get(carry.stage, mark.day), mark.day)
    return found


def start_from(
    season: Season, plan: Plan, marks: Sequence[Mark], begun: Sequence[Stage], first: date
) -> Start:
    """What the rest of the winter begins from.

    season : with all changes laid over it.
    plan : in force; its fixed stages and its heater settings so far are taken as they are, but no
        shelter was heated that was still closed.
    first : first day that is still free.
    """
    stays, now = _stays(season, plan, marks, begun), len(begun) - 1
    # spots as the plan has them, of trees that stand where it says
    layouts = {
        place_id: tuple(
            one for one in by_stage.get(now, ()) if stays.get(one.tree_id, (None,))[-1] == place_id
        )
        for place_id, by_stage in plan.layouts.items()
    }
    # places to which the plan would carry a tree, or would have by now
    targets = {
        tree.id: frozenset(filter(None, plan.stays.get(tree.id, ())[now:])) for tree in season.trees
    }
    ends = [*(one.usual for one in begun[1:]), first]
    settings = {
        shelter_id: tuple(
            OFF if end <= (season.shelter_by_id[shelter_id].opens or date.min) else setting
            for setting, end in zip(some, ends, strict=False)
        )
        for shelter_id, some in plan.settings.items()
    }
    return Start(len(begun), stays, settings, layouts, targets)


def _stays(
    season: Season, plan: Plan, marks: Sequence[Mark], begun: Sequence[Stage]
) -> dict[str, tuple[str | None, ...]]:
    stage_of = {carry_key(carry): carry.stage for carry in plan.carries}
    by_carry = {id(mark): key for key, mark in marks_by_carry(season, marks).items()}
    at: list[dict[str, str]] = [{} for _ in begun]
    for mark in sorted(marks, key=lambda one: one.day):
        by_day = max(k for k, one in enumerate(begun) if k == 0 or one.usual <= mark.day)
        stage = stage_of.get(by_carry.get(id(mark), ""), by_day)
        at[min(max(stage, 1), len(begun) - 1)][mark.tree_id] = mark.target
    now = stands(season, marks)
    stays = {}
    for tree_id, start in start_of_season(season).stays.items():
        place = start[0]
        path: list[str | None] = []
        for k in range(len(begun)):
            place = at[k].get(tree_id, place)
            settled = plan.stays.get(tree_id) if k < plan.fixed_stages else None
            path.append(place if settled is None else settled[k])
        # wherever the marks were counted, it stands today where they say
        path[-1] = now[tree_id] if len(path) > 1 else path[-1]
        stays[tree_id] = tuple(path)
    return stays


def stages_of(season: Season, conditions: Conditions, plan: Plan) -> StageDays:
    """The stages that a plan was made with, found again from its season."""
    passed = passed_over(season, plan.stages)
    if not plan.fixed_stages:
        return plan_stages(season, conditions, passed=passed)
    first, begun = plan.stages[plan.fixed_stages].usual, plan.stages[: plan.fixed_stages]
    return stages_anew(season, conditions.outdoor_min_c, begun, first, plan.stages, passed)


def mark_tree(
    season: Season,
    plan: Plan,
    marks: Sequence[Mark],
    tree_id: str,
    day: date | None,
    target: str | None,
    today: date,
) -> Mark | Problem:
    """Mark one tree: its next open carry, or a place it was put without one; or why it cannot be.

    day : When; None: on the day of the plan, or today if that is still ahead.
    target : Where it was really put; None: as planned.
    """
    mine = [carry for carry in open_carries(season, plan, marks) if carry.tree_id == tree_id]
    planned = next((carry for carry in mine if target in (None, carry.target)), None)
    if planned is None and mine and (day is None or mine[0].day <= day):
        planned = mine[0]
    come = max([today, *(mark.day for mark in marks)])
    fault = partial(Problem, tree_id, None, None)
    if planned is not None and day is None and plan.stages[planned.stage].early > come:
        fix = "If it was carried, say with --day DATE when."
        found = f"next carry due about {planned.day}"
        return fault(found, f"one whose sign may have come by {come}", fix)
    if planned is not None:
        key = carry_key(planned)
        mark = Mark(day or min(planned.day, come), tree_id, target or planned.target, key)
    elif target is None:
        fix = "Say with --to PLACE and --day DATE where it was put."
        return fault("no open carry", "a tree the plan still carries", fix)
    elif day is None:
        fix = "Say with --day DATE when it was put there."
        return fault("no carry to that place", "a day", fix)
    else:
        mark = Mark(day, tree_id, target)
    site = season.site
    if site.starts <= mark.day <= site.ends:
        return mark
    return fault(f"'{mark.day}'", f"a day of this winter, {site.starts} to {site.ends}")


def due_on(season: Season, plan: Plan, marks: Sequence[Mark], day: date) -> tuple[Carry, ...]:
    """Open carries of the last carry day up to ``day``."""
    due = [carry for carry in open_carries(season, plan, marks) if carry.day <= day]
    last = max((carry.day for carry in due), default=None)
    return tuple(carry for carry in due if carry.day == last)
