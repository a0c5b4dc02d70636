"""The stages of a winter that is given, and of one that has begun.

What has come keeps the day of its sign in each winter of the sample, at the latest today. Were it
put on its real day in every winter, trees would be told hurt by nights that never were: a sample
winter that is colder before that day than the real one was.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from overwinter.climate.stages import EARLY, LATE, USUAL, make_stages
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import Happening, HappeningKind, IntArray, Sign, Stage, StageDays
from overwinter.simulate.harm_table import calendar_of


def stages_with(
    season: Season,
    outdoor_min_c: FloatArray,
    signs: Sequence[Stage],
    calendar: Mapping[date, tuple[Happening, ...]],
    seed: int,
) -> StageDays:
    """Stages with the signs of some stages and a calendar; minima in degC, ``(winter, day)``."""
    return make_stages(outdoor_min_c, season.site.starts, *thresholds_of(signs), calendar, seed)


def thresholds_of(signs: Sequence[Stage]) -> tuple[list[float], list[float]]:
    """Temperatures of the cold nights and of the mild weeks that begin stages, degC."""
    cold, mild = (
        [s.threshold_c for s in signs if s.sign is sign and s.threshold_c is not None]
        for sign in (Sign.COLD_NIGHT, Sign.MILD_WEEK)
    )
    return cold, mild


def stages_anew(
    season: Season,
    outdoor_min_c: FloatArray,
    begun: Sequence[Stage],
    first: date,
    signs: Sequence[Stage],
    passed: Collection[str] = (),
    seed: int | None = None,
) -> StageDays:
    """Stages that have begun, one that begins on ``first``, and those still to come.

    season : with all changes laid over it.
    outdoor_min_c : coldest of each night, degC, ``(winter, day)``.
    begun : in order, never falling.
    first : first day that is still free; no later stage begins before it.
    signs : stages with the signs to wait for, those that have come among them or not. They are
        best those of the plan in force: lists that were printed then still hold.
    passed : shelters whose days begin no stage.
    seed : of the errors of the forecasts; None: the season's.
    """
    seed = season.site.seed if seed is None else seed
    calendar = {day: what for day, what in calendar_of(season, passed).items() if day >= first}
    found = stages_with(season, outdoor_min_c, signs, calendar, seed)
    come = stages_with(season, outdoor_min_c, begun, {}, seed)
    today = season.day_index(first)
    ahead = [stage for stage in found.stages if _lies_ahead(stage, begun, first)]
    on_first = tuple(
        what
        for stage in found.stages
        if stage.sign is Sign.CALENDAR and stage.usual == first
        for what in stage.happenings
    )
    anew = (Happening(HappeningKind.PLANNED_ANEW, ""), *on_first)
    now = Stage(0, Sign.CALENDAR, None, anew, first, first, first, first)
    days_of = {(s.sign, s.threshold_c): come.first_day[s.index] for s in come.stages[1:]}
    past = [days_of.get((one.sign, one.threshold_c), season.day_index(one.usual)) for one in begun]
    days = [*(np.minimum(day, today) for day in past), today]
    days += [np.maximum(found.first_day[stage.index], today) for stage in ahead]
    rows = np.stack([np.broadcast_to(row, found.first_day.shape[1]) for row in days])
    first_day = np.maximum.accumulate(rows, axis=0).astype(np.intp)
    return _dated(season, begun, [now, *ahead], first_day)


def _lies_ahead(stage: Stage, begun: Sequence[Stage], first: date) -> bool:
    """Whether a stage can still begin after ``first``. A milder sign of autumn has come with a
    harder one; spring ends autumn."""
    if stage.sign is Sign.START:
        return False
    if stage.sign is Sign.CALENDAR:
        return stage.usual > first
    assert stage.threshold_c is not None
    cold, mild = thresholds_of(begun)
    if stage.sign is Sign.COLD_NIGHT:
        return not mild and stage.threshold_c < min(cold, default=np.inf)
    return stage.threshold_c > max(mild, default=-np.inf)


def _dated(
    season: Season, begun: Sequence[Stage], ahead: Sequence[Stage], first_day: IntArray
) -> StageDays:
    """All stages numbered; those ahead with the days on which they usually begin."""
    rows = first_day[len(begun) :]
    early, usual, late = (
        [season.date_of(int(day)) for day in np.percentile(rows, q, axis=1, method="nearest")]
        for q in (EARLY, USUAL, LATE)
    )
    stages = [*begun]
    for stage, a, b, c in zip(ahead, early, usual, late, strict=True):
        stages.append(replace(stage, early=a, usual=b, late=c))
    until = [*(stage.usual for stage in stages[1:]), season.site.ends + timedelta(days=1)]
    numbered = (replace(stage, index=i, until=until[i]) for i, stage in enumerate(stages))
    return StageDays(tuple(numbered), first_day, season.days)
