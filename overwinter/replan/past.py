"""What has really happened by a day: which stages began, where every tree was, what was heated."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

from overwinter.model.changes import Mark
from overwinter.model.fingerprint import carry_key
from overwinter.model.plan import Layout, Plan
from overwinter.model.season import Season
from overwinter.model.stage import Sign
from overwinter.model.start import Start, start_of_season
from overwinter.replan.marks import marks_by_carry, open_carries, stands
from overwinter.replan.stages import Begun


def begun_stages(
    season: Season, plan: Plan, marks: Sequence[Mark], first: date
) -> tuple[Begun, ...]:
    """Stages of the plan in force that have begun before ``first``, and when they really did.

    A stage has begun when one of its carries is marked, when a later one has begun, or on its
    usual day; but not while all its carries wait undone, for then its sign has not come.
    """
    marked = _marked_days(season, plan, marks)
    waiting = {carry.stage for carry in open_carries(season, plan, marks)} - set(marked)
    count, held = 1, False
    for stage in plan.stages[1:]:
        fixed = stage.index < plan.fixed_stages
        held |= stage.sign is not Sign.CALENDAR and stage.index in waiting
        if fixed or stage.index in marked or (stage.usual < first and not held):
            count = stage.index + 1
    last = max(first - timedelta(days=1), season.site.starts)
    days = []
    for stage in reversed(plan.stages[:count]):
        calendar = stage.sign is Sign.CALENDAR or stage.index < plan.fixed_stages
        day = stage.usual if calendar else marked.get(stage.index, stage.usual)
        last = min(last, day)
        days.append(last)
    days.reverse()
    days[0] = season.site.starts
    return tuple(Begun(s, day) for s, day in zip(plan.stages[:count], days, strict=True))


def _marked_days(season: Season, plan: Plan, marks: Sequence[Mark]) -> dict[int, date]:
    """First day on which a carry of each stage was marked."""
    done = marks_by_carry(season, marks)
    found: dict[int, date] = {}
    for carry in plan.carries:
        mark = done.get(carry_key(carry))
        if mark is not None and carry.stage >= plan.fixed_stages:
            found[carry.stage] = min(found.get(carry.stage, mark.day), mark.day)
    return found


def start_from(season: Season, plan: Plan, marks: Sequence[Mark], begun: Sequence[Begun]) -> Start:
    """What the rest of the winter begins from.

    Parameters
    ----------
    season : with all changes laid over it.
    plan : in force; its fixed stages and its heater settings so far are taken as they are.
    """
    stays = _stays(season, plan, marks, begun)
    return Start(
        fixed_stages=len(begun),
        stays=stays,
        settings={
            shelter_id: settings[: len(begun)] for shelter_id, settings in plan.settings.items()
        },
        layouts=_layouts(plan, stays, len(begun) - 1),
        known_targets=_known_targets(season, plan, len(begun)),
    )


def _stays(
    season: Season, plan: Plan, marks: Sequence[Mark], begun: Sequence[Begun]
) -> dict[str, tuple[str | None, ...]]:
    stage_of = {carry_key(carry): carry.stage for carry in plan.carries}
    by_carry = {id(mark): key for key, mark in marks_by_carry(season, marks).items()}
    at: list[dict[str, str]] = [{} for _ in begun]
    for mark in sorted(marks, key=lambda one: one.day):
        by_day = max(k for k, one in enumerate(begun) if k == 0 or one.day <= mark.day)
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


def _layouts(
    plan: Plan, stays: Mapping[str, tuple[str | None, ...]], now: int
) -> dict[str, tuple[Layout, ...]]:
    """Spots as the plan in force has them, of trees that stand where it says."""
    return {
        place_id: tuple(
            one for one in by_stage.get(now, ()) if stays.get(one.tree_id, (None,))[-1] == place_id
        )
        for place_id, by_stage in plan.layouts.items()
    }


def _known_targets(season: Season, plan: Plan, begun: int) -> Mapping[str, frozenset[str]]:
    """Places to which the plan in force would carry a tree, or would have by now."""
    none: tuple[str | None, ...] = ()
    return {
        tree.id: frozenset(
            place for place in plan.stays.get(tree.id, none)[begun - 1 :] if place is not None
        )
        for tree in season.trees
    }
