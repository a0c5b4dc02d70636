"""Season in, audited plan out."""

from dataclasses import dataclass
from datetime import date

from overwinter.audit.report import AuditReport, Rule
from overwinter.model.conditions import Conditions
from overwinter.model.plan import Plan, Proof
from overwinter.model.season import Season
from overwinter.model.start import start_of_season
from overwinter.planning.costs import carries_of, true_costs
from overwinter.planning.idle_heaters import settled_heaters
from overwinter.planning.options import OnProgress, PlanOptions, Progress
from overwinter.planning.search import Found, Search
from overwinter.planning.told_costs import as_audited, judged
from overwinter.program.read_back import Placement
from overwinter.shelters.conditions import compute_conditions
from overwinter.solvers.report import Termination
from overwinter.spells import cut_spells

SAME = 1e-6
"""Gaps no farther apart are the same."""


@dataclass(frozen=True)
class Outcome:
    """A plan with all it was made from and what the audit found."""

    season: Season
    conditions: Conditions
    plan: Plan
    report: AuditReport


def plan_winter(
    season: Season,
    options: PlanOptions | None = None,
    on_progress: OnProgress | None = None,
) -> Outcome:
    """Plan a whole winter.

    Raises
    ------
    NoPlan
        The search was stopped before a first plan was found.
    """
    if on_progress is not None:
        on_progress(Progress("weather and shelters", 0.0))
    conditions = compute_conditions(season)
    spells = cut_spells(season, conditions)
    start = start_of_season(season)
    search = Search(season, conditions, start, spells, options or PlanOptions(), on_progress)
    with search.work.noting_ctrl_c():
        found = search.run()
    plan, report = to_plan(season, conditions, found)
    return Outcome(season, conditions, as_audited(plan, report), report)


def warmed_too_late(plan: Plan, report: AuditReport) -> set[tuple[str, str, date]]:
    """Trees, places and first days of spells for which a heater warms up too late, by an audit.

    The search takes every setting as if it had been in force before; the audit knows how long a
    shelter takes to warm up.
    """
    return {
        (str(finding.subject), finding.where, plan.spells[finding.spell].start)
        for finding in report.findings
        if finding.rule is Rule.SWITCHING
        and finding.where is not None
        and finding.spell is not None
    }


def proof_of(found: Found, objective: float) -> Proof:
    """How far the plan may be from the best one."""
    bound = found.bound
    gap = None
    if bound is not None:
        bound = min(bound, objective)
        gap = (objective - bound) / max(abs(objective), 1e-9)
    return Proof(
        solver=f"{found.report.solver} {found.report.version}",
        termination=_ending(found, gap),
        objective=objective,
        bound=bound,
        gap=gap,
        seconds=found.seconds,
        rounds=found.rounds,
        misfits=found.misfits,
    )


def _ending(found: Found, gap: float | None) -> str:
    """Why the search ended, in words."""
    reached = gap is not None and gap <= found.gap_asked + SAME
    if found.ended_by is Termination.INTERRUPTED or (found.ended_by and not reached):
        return str(found.ended_by)
    if not reached:
        return f"{found.gap_asked * 100:g} % was asked"
    best = gap is not None and gap <= SAME
    return str(Termination.OPTIMAL if best else Termination.GAP_REACHED)


def to_plan(season: Season, conditions: Conditions, found: Found) -> tuple[Plan, AuditReport]:
    """The plan of a finished search, its heaters turned no more than is worth it, and its audit.

    Parameters
    ----------
    conditions
        With the settings of broken heaters, which the search did not use.
    """
    most = _spare_money(found)
    settled = settled_heaters(found.data, found.workshop, found.placement, most)
    start = found.data.start
    calm = judged(season, conditions, plan_of(season, found, settled), start)
    if settled is found.placement or calm[1].passed:
        return calm
    # what the search does not know, such as roots while a room warms up, might not like it
    plan = judged(season, conditions, plan_of(season, found, found.placement), start)
    return plan if plan[1].passed else calm


def _spare_money(found: Found) -> float:
    """What a plan may become dearer by and still be proven within the gap asked, money."""
    objective = found.report.objective
    if objective is None or found.bound is None:
        return 0.0
    money = objective - found.left_out_money
    return max(found.gap_asked * abs(money) - (money - found.bound), 0.0)


def plan_of(season: Season, found: Found, placement: Placement) -> Plan:
    """A placement as a plan, costed and with how far the search has proven it."""
    carries = carries_of(season, found.data, placement)
    costs = true_costs(found.data, found.workshop, placement, carries)
    return Plan(
        spells=found.data.spells,
        settings=setting_keys(found.workshop.conditions, placement),
        stays=dict(placement.stays),
        carries=carries,
        left_out=found.left_out,
        costs=costs,
        proof=proof_of(found, costs.total),
        layouts=found.layouts,
    )


def setting_keys(conditions: Conditions, placement: Placement) -> dict[str, tuple[str, ...]]:
    """A placement's settings by their keys; ``conditions`` with the settings it chose from."""
    return {
        shelter_id: tuple(conditions.shelters[shelter_id].settings[s].key for s in chosen)
        for shelter_id, chosen in placement.settings.items()
    }
