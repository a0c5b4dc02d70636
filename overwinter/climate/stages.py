"""From signs to the days on which each stage begins in every winter.

Autumn stages begin the day before the first night forecast at or below a temperature, in falling
order; spring stages once such nights are behind and none is forecast, in rising order. Calendar
days take their place by date against the medians of the others and hold them on their side.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from overwinter.model.shelter import FloatArray
from overwinter.model.stage import RARE, BoolArray, Happening, IntArray, Sign, Stage, StageDays

FORECAST_ERROR_K = 1.5
"""Standard deviation of the error of tomorrow's forecast minimum: a judgement; published errors of
day-ahead minima run from about 1.5 to 2.5 K (from memory)."""
QUIET_NIGHTS_BEHIND, QUIET_NIGHTS_AHEAD = 3, 7  # without cold, seen and forecast (a week)
WARM_SPELLS_PASS_DAYS = 40
"""Warm spells do not last until so many days after the coldest day of the mean year, about the
first of March in the middle latitudes: common practice, no source."""
SMOOTH_DAYS = 31
EARLY, USUAL, LATE = 10, 50, 90  # percentiles of the days shown


@dataclass(frozen=True)
class _Boundary:
    """One beginning: its day by winter, ``(winter,)``, as found and, for the calendar, fixed."""

    sign: Sign
    threshold_c: float | None
    happenings: tuple[Happening, ...]
    days: IntArray
    at_latest: int | None = None  # day that ended the wait for the sign in some winters


def coldest_day(outdoor_min_c: FloatArray) -> int:
    """Index of the day about which the mean of all winters is coldest."""
    mean = np.asarray(outdoor_min_c).mean(axis=0)
    half = SMOOTH_DAYS // 2
    padded = np.pad(mean, half, mode="edge")
    return int(np.argmin(np.convolve(padded, np.ones(SMOOTH_DAYS) / SMOOTH_DAYS, mode="valid")))


def forecast_minima_c(outdoor_min_c: FloatArray, seed: int) -> FloatArray:
    """Tomorrow's minima as they are forecast, ``(winter, day)``, reproducible from a seed."""
    error = np.random.default_rng(seed).standard_normal(outdoor_min_c.shape)
    return np.asarray(outdoor_min_c + FORECAST_ERROR_K * error)


def cold_night_days(forecast_c: FloatArray, threshold_c: float) -> IntArray:
    """First day whose coming night is forecast so cold, ``(winter,)``; ``days`` where none is."""
    cold = np.asarray(forecast_c) <= threshold_c
    days = cold.shape[1]
    return np.asarray(np.where(cold.any(axis=1), cold.argmax(axis=1), days), dtype=np.intp)


def mild_week_days(
    outdoor_min_c: FloatArray, forecast_c: FloatArray, threshold_c: float, not_before: int
) -> IntArray:
    """First day with milder nights close behind and ahead, ``(winter,)``; ``days`` for none."""
    winters, days = outdoor_min_c.shape

    def cold_before(cold: BoolArray) -> IntArray:
        return np.concatenate((np.zeros((winters, 1), dtype=np.intp), cold.cumsum(axis=1)), axis=1)

    day = np.arange(days)
    behind, ahead = (cold_before(air_c <= threshold_c) for air_c in (outdoor_min_c, forecast_c))
    first = np.maximum(day - QUIET_NIGHTS_BEHIND, 0)
    until = np.minimum(day + QUIET_NIGHTS_AHEAD, days)
    quiet = (behind[:, day] == behind[:, first]) & (ahead[:, until] == ahead[:, day])
    quiet &= day >= not_before
    return np.asarray(np.where(quiet.any(axis=1), quiet.argmax(axis=1), days), dtype=np.intp)


def make_stages(
    outdoor_min_c: FloatArray,
    starts: date,
    autumn_c: Sequence[float],
    spring_c: Sequence[float],
    calendar: Mapping[date, tuple[Happening, ...]],
    seed: int,
) -> StageDays:
    """All stages of a season over a sample of winters.

    outdoor_min_c : ``(winter, day)``, coldest of each night, degC.
    autumn_c, spring_c : thresholds, degC; any order.
    calendar : what happens on which day within the plan; the first day counts as the start.
    seed : of the forecasts' errors.
    """
    winters, days = outdoor_min_c.shape
    forecast = forecast_minima_c(outdoor_min_c, seed)
    not_before = coldest_day(outdoor_min_c) + WARM_SPELLS_PASS_DAYS
    spring = [
        _Boundary(Sign.MILD_WEEK, t, (), mild_week_days(outdoor_min_c, forecast, t, not_before))
        for t in sorted(set(spring_c))
    ]
    # a cold that does not come before spring begins is waited for no longer: its stage has no day
    first = spring[0].days if spring else np.full(winters, not_before)
    autumn = []
    for t in sorted(set(autumn_c), reverse=True):
        cold = cold_night_days(forecast[:, :not_before], t)
        autumn.append(_Boundary(Sign.COLD_NIGHT, t, (), np.where(cold < not_before, cold, first)))
    ordered = autumn + spring
    for day in sorted(calendar):
        index = (day - starts).days
        if 0 < index < days:
            fixed = np.full(winters, index, dtype=np.intp)
            ordered = _inserted(ordered, _Boundary(Sign.CALENDAR, None, calendar[day], fixed))
    start = _Boundary(Sign.START, None, calendar.get(starts, ()), np.zeros(winters, dtype=np.intp))
    # a sign that does not come begins its stage on the last day, so that trees still go home
    last = days - 1
    every = [start, *(_until(b, last) if b.sign is Sign.MILD_WEEK else b for b in ordered)]
    found = np.stack([boundary.days for boundary in every]).clip(max=last)
    first_day = np.maximum.accumulate(found, axis=0)
    return StageDays(_stages(every, first_day, starts, days, not_before), first_day, days)


def _inserted(ordered: list[_Boundary], new: _Boundary) -> list[_Boundary]:
    """``new`` at its place by the medians; the others held on their sides of it."""
    fixed = new.days
    before = [b for b in ordered if np.median(b.days) <= fixed[0]]
    after = ordered[len(before) :]
    held = [_until(b, int(fixed[0])) for b in before]
    return [*held, new, *(replace(b, days=np.maximum(b.days, fixed)) for b in after)]


def _until(boundary: _Boundary, day: int) -> _Boundary:
    """A boundary that is waited for until a day at most."""
    if (boundary.days <= day).all():
        return boundary
    return replace(boundary, days=np.minimum(boundary.days, day), at_latest=day)


def _stages(
    boundaries: list[_Boundary], first_day: IntArray, starts: date, days: int, not_before: int
) -> tuple[Stage, ...]:
    early, usual, late = (
        np.percentile(first_day, q, axis=1, method="nearest").astype(int)
        for q in (EARLY, USUAL, LATE)
    )
    until = [*usual[1:], days]
    mild = [i for i, boundary in enumerate(boundaries) if boundary.sign is Sign.MILD_WEEK]
    before_spring = first_day < (first_day[mild[0]] if mild else days)
    comes = before_spring.mean(axis=1)
    # The day from which a rare cold may come is told of the winters that bring it.
    for i in np.flatnonzero((comes > 0) & (comes < RARE)):
        early[i] = np.percentile(first_day[i, before_spring[i]], EARLY, method="nearest")

    def day(index: int) -> date:
        return starts + timedelta(days=int(index))

    return tuple(
        Stage(
            index=i,
            sign=boundary.sign,
            threshold_c=boundary.threshold_c,
            happenings=boundary.happenings,
            early=day(early[i]),
            usual=day(usual[i]),
            late=day(late[i]),
            until=day(until[i]),
            comes=float(comes[i]) if boundary.sign is Sign.COLD_NIGHT else 1.0,
            not_before=day(not_before) if boundary.sign is Sign.MILD_WEEK else None,
            at_latest=None if boundary.at_latest is None else day(boundary.at_latest),
        )
        for i, boundary in enumerate(boundaries)
    )
