"""The stages of a winter that has begun: what has come, then today, then the signs still to come.

What has come keeps the day of its sign in each winter of the sample, at the latest today. Were it
put on its real day in every winter, trees would be told hurt by nights that never were: a sample
winter that is colder before that day than the real one was.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from overwinter.climate.stages import EARLY, LATE, USUAL, make_stages
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions
from overwinter.model.stage import Happening, HappeningKind, IntArray, Sign, Stage, StageDays
from overwinter.search.plan_winter import plan_stages
from overwinter.simulate.harm_table import calendar_of


@dataclass(frozen=True, slots=True)
class Begun:
    """A stage that has begun, and the day on which it did."""

    stage: Stage
    day: date


def stages_anew(
    season: Season,
    conditions: Conditions,
    begun: Sequence[Begun],
    first: date,
    signs: Sequence[Stage],
) -> StageDays:
    """Stages that have begun, one that begins on ``first``, and those still to come.

    Parameters
    ----------
    season : with all changes laid over it.
    begun : in order, never falling.
    first : first day that is still free; no later stage begins before it.
    signs : stages with the signs to wait for, those that have come among them or not. They are
        best those of the plan in force: lists that were printed then still hold.
    """
    found = _stages(season, conditions, signs, calendar_of(season))
    winters = found.first_day.shape[1]
    today = season.day_index(first)
    ahead = [
        (stage, np.maximum(days, today))
        for stage, days in zip(found.stages, found.first_day, strict=True)
        if _lies_ahead(stage, [one.stage for one in begun], first)
    ]
    on_first = tuple(
        what
        for stage in found.stages
        if stage.sign is Sign.CALENDAR and stage.usual == first
        for what in stage.happenings
    )
    anew = (Happening(HappeningKind.PLANNED_ANEW, ""), *on_first)
    now = Stage(0, Sign.CALENDAR, None, anew, first, first, first, first)
    come = _stages(season, conditions, [one.stage for one in begun], {})
    days_of = {(s.sign, s.threshold_c): come.first_day[s.index] for s in come.stages[1:]}
    past = [
        days_of.get((one.stage.sign, one.stage.threshold_c), season.day_index(one.day))
        for one in begun
    ]
    days = [*(np.minimum(days, today) for days in past), today, *(days for _, days in ahead)]
    rows = np.stack([np.broadcast_to(row, winters) for row in days])
    first_day = np.maximum.accumulate(rows, axis=0).astype(np.intp)
    told = [replace(one.stage, early=one.day, usual=one.day, late=one.day) for one in begun]
    return _dated(season, told, [now, *(stage for stage, _ in ahead)], first_day)


def stages_of(season: Season, conditions: Conditions, plan: Plan) -> StageDays:
    """The stages that a plan was made with, found again from its season."""
    if not plan.fixed_stages:
        return plan_stages(season, conditions)
    begun = [Begun(stage, stage.usual) for stage in plan.stages[: plan.fixed_stages]]
    first = plan.stages[plan.fixed_stages].usual
    return stages_anew(season, conditions, begun, first, plan.stages)


def _lies_ahead(stage: Stage, begun: Sequence[Stage], first: date) -> bool:
    """Whether a stage can still begin after ``first``.

    A milder sign of autumn has come with a harder one; spring ends autumn.
    """
    if stage.sign is Sign.START:
        return False
    if stage.sign is Sign.CALENDAR:
        return stage.usual > first
    assert stage.threshold_c is not None
    cold = [s.threshold_c for s in begun if s.sign is Sign.COLD_NIGHT and s.threshold_c is not None]
    mild = [s.threshold_c for s in begun if s.sign is Sign.MILD_WEEK and s.threshold_c is not None]
    if stage.sign is Sign.COLD_NIGHT:
        return not mild and stage.threshold_c < min(cold, default=np.inf)
    return stage.threshold_c > max(mild, default=-np.inf)


def _stages(
    season: Season,
    conditions: Conditions,
    signs: Sequence[Stage],
    calendar: Mapping[date, tuple[Happening, ...]],
) -> StageDays:
    """Stages with the given signs and a calendar, in each winter of the sample."""
    cold, mild = (
        [s.threshold_c for s in signs if s.sign is sign and s.threshold_c is not None]
        for sign in (Sign.COLD_NIGHT, Sign.MILD_WEEK)
    )
    site = season.site
    return make_stages(conditions.outdoor_min_c, site.starts, cold, mild, calendar, site.seed)


def _dated(
    season: Season, begun: Sequence[Stage], ahead: Sequence[Stage], first_day: IntArray
) -> StageDays:
    """All stages numbered; those ahead with the days on which they usually begin."""
    rows = first_day[len(begun) :]
    early, usual, late = (
        [season.date_of(int(day)) for day in np.percentile(rows, q, axis=1, method="nearest")]
        for q in (EARLY, USUAL, LATE)
    )
    stages = [
        *begun,
        *(
            replace(stage, early=early[i], usual=usual[i], late=late[i])
            for i, stage in enumerate(ahead)
        ),
    ]
    until = [*(stage.usual for stage in stages[1:]), season.site.ends + timedelta(days=1)]
    numbered = (replace(stage, index=i, until=until[i]) for i, stage in enumerate(stages))
    return StageDays(tuple(numbered), first_day, season.days)
