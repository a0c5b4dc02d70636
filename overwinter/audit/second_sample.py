"""A plan audited on winters that it was not made from: what it says beside what is found."""

from dataclasses import dataclass, replace

from overwinter.audit.audit import audit
from overwinter.audit.report import AuditReport
from overwinter.climate.generator import fresh_winters
from overwinter.climate.stages import make_stages
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import Sign, StageDays
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.harm_table import calendar_of


@dataclass(frozen=True)
class SecondSample:
    """The same plan on other winters."""

    winters: int
    seed: int
    report: AuditReport
    """Chances, bill and costs as found there; findings about costs are of no account."""


def audit_on(season: Season, plan: Plan, winters: int, seed: int) -> SecondSample:
    """Follow a plan through fresh winters of the season's own recipe.

    The signs keep their temperatures; the days on which they come are found anew.

    Raises
    ------
    ValueError
        The plan was made in mid-winter: its past is not of those winters.
    """
    if plan.fixed_stages:
        raise ValueError("a plan made in mid-winter can't be audited on other winters")
    fresh = replace(season, winters=fresh_winters(season, winters, seed))
    conditions = compute_conditions(fresh)
    return SecondSample(
        winters,
        seed,
        audit(fresh, conditions, _stage_days(fresh, plan, conditions.outdoor_min_c, seed), plan),
    )


def _stage_days(season: Season, plan: Plan, outdoor_min_c: FloatArray, seed: int) -> StageDays:
    thresholds = {
        sign: [s.threshold_c for s in plan.stages if s.sign is sign and s.threshold_c is not None]
        for sign in (Sign.COLD_NIGHT, Sign.MILD_WEEK)
    }
    found = make_stages(
        outdoor_min_c,
        season.site.starts,
        thresholds[Sign.COLD_NIGHT],
        thresholds[Sign.MILD_WEEK],
        calendar_of(season),
        seed,
    )
    order = [(s.sign, s.threshold_c, s.happenings) for s in plan.stages]
    here = [(s.sign, s.threshold_c, s.happenings) for s in found.stages]
    rows = [here.index(stage) for stage in order]
    first = found.first_day[rows]
    for k in range(1, len(first)):  # other winters may put a calendar day elsewhere in the order
        first[k] = first[k].clip(min=first[k - 1])
    return StageDays(plan.stages, first, found.days)
