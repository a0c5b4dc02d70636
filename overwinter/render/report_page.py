"""The whole winter as one HTML page: opens from a disk, on a phone, and prints."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from math import ceil

from overwinter.audit.audit import Found
from overwinter.audit.report import AuditReport, deciding_limits
from overwinter.model.plan import Plan, carry_key, plan_fingerprint
from overwinter.model.season import Season
from overwinter.model.species import LIMITS
from overwinter.model.stage import Stage
from overwinter.render import report_benches as chart
from overwinter.render import terminal
from overwinter.render.carry_words import damp_words, first_stage_used, setting_changes
from overwinter.render.cautions import CAUTIONS, LOCAL_CODES, season_cautions
from overwinter.render.table import Cell, alike_joined
from overwinter.render.tables import cures_words, dearest_table, more_words
from overwinter.render.templates import filled
from overwinter.render.words import (
    chance,
    count,
    kind_words,
    known_words,
    long_date,
    money,
    names_of,
    proven,
    sentence,
    usual_brief,
    usual_words,
    when_words,
    worth_words,
)
from overwinter.rules import RULES
from overwinter.search.explain import Elsewhere, winter_stage
from overwinter.shelters.damp import WetSurface
from overwinter.shelters.heater import setting_label

SHOWN = 8  # rows of the tables of risks and of close calls
KNOWN_SHOWN = 4
PRINTED = 70  # letters of a name in one printed line of the chart
SHORT = 0.98  # light or chilling below this share of what a tree needs is told


@dataclass(frozen=True)
class Told:
    """What a report tells beside the plan and its audit."""

    notices: Sequence[str] = ()
    next_best: Sequence[Elsewhere] | None = None  # None: not asked
    colder: Mapping[float, Found] = field(default_factory=dict)  # winters by so many K
    before: chart.Stays | None = None  # places by the plan before, in the stages of this one
    because: Sequence[str] = ()  # changed facts in words
    wet: Sequence[WetSurface] = ()  # faces that drip, of all shelters, wettest first
    done: Collection[str] = ()  # keys of carries that are marked


def report_page(season: Season, plan: Plan, report: AuditReport, told: Told | None = None) -> str:
    """One self-contained HTML page of a plan of sound structure."""
    told = told or Told()
    site = season.site
    rows, heaters = chart.tree_rows(season, plan), chart.heater_rows(season, plan)
    chosen = plan.fixed_stages or winter_stage(plan.stages)
    known = {one.tree_id for one in told.next_best or ()}
    return filled(
        "report.html",
        site=site,
        dates=f"{long_date(site.starts)} to {long_date(site.ends)}",
        fingerprint=plan_fingerprint(plan),
        told=told,
        tiles=_tiles(season, plan, report, told.done),
        stages=[_stage(season, plan, stage) for stage in plan.stages],
        chosen=chosen,
        shown=SHOWN,
        days=[*(one.usual.isoformat() for one in plan.stages), site.ends.isoformat()],
        coldest=chart.coldest_nights(season, plan),
        heaters=heaters,
        rows=rows,
        lines=len(heaters) + sum(ceil(len(row.name) / PRINTED) for row in rows),
        changed=() if told.before is None else chart.changed_rows(season, plan, told.before),
        no_longer=names_of(
            season, (one.tree_id for one in plan.left_out if one.tree_id in (told.before or ()))
        ),
        benches=chart.benches(season, plan),
        risks=_risks(season, plan, report),
        losses=terminal.loss_words(season, report),
        colder=[_colder(season, report, by_k, found) for by_k, found in told.colder.items()],
        short=_short(season, report),
        close=_close_calls(season, plan, told.next_best or ()),
        nowhere=names_of(
            season, (t for t in plan.stays if t not in known) if told.next_best is not None else ()
        ),
        not_safe=terminal.not_safe_words(season, plan, report),
        left_out=cures_words(season, plan.left_out),
        damp=_damp(season, plan, told.wet),
        trees=[(tree.name, tree.written or tree.species_key, tree.yours) for tree in season.trees],
        cautions=[CAUTIONS[key] for key in season_cautions(season)],
        local_codes=LOCAL_CODES,
        known=_known(season, report),
        assumptions=season.assumptions,
        warnings=(*season.assumed, *season.warnings),
        origin=season.winters.origin.rstrip("."),
    )


def _damp(season: Season, plan: Plan, wet: Sequence[WetSurface]) -> list[tuple[str, str]]:
    """Shelters in which trees stand and their wettest face drips, in words."""
    return [
        (shelter.name, words)
        for shelter in season.shelters
        if first_stage_used(season, plan, shelter.id) is not None
        and (words := damp_words(season, shelter.id, wet))
    ]


def _tiles(
    season: Season, plan: Plan, report: AuditReport, done: Collection[str]
) -> list[tuple[str, str, str]]:
    """The answer: heading, what is said large, and what is said below it."""
    site, risky = season.site, len(terminal.at_risk(report))
    currency, safe = site.currency, terminal.how_many_safe(season, plan, report)
    out = names_of(season, (one.tree_id for one in plan.left_out))
    trees = f"Without a place: {out}." if out else "Every tree has a place."
    if risky:
        by = terminal.told_by_words(report)
        trees = f"{risky} at risk: {terminal.AT_RISK_WORDS}, by {by}. {trees}"
    bill = f"{report.bill.mean:.0f} {currency} for heat" if report.bill.high > 0 else "no heat"
    begun = max((c.stage for c in plan.carries if carry_key(c) in done), default=0)
    left = {c.stage for c in plan.carries if carry_key(c) not in done}
    ahead = plan.stages[max(plan.fixed_stages, 1) :]
    ahead = tuple(one for one in ahead if one.index > begun or one.index in left)
    due = next((stage for stage in ahead if _work(season, plan, stage)), None)
    begins = "Nothing is left to do." if due is None else f"{sentence(usual_words(due))}."
    audit = f"Audited: all {len(RULES)} rules hold, day by day in every winter."
    if not report.passed:
        audit = f"AUDIT REFUSED: {count(len(report.findings), 'finding')}. Do not use this plan."
    return [
        ("Trees", f"{safe} of {len(season.trees)} safe", trees),
        ("Bill of a mean winter", bill, f"{sentence(terminal.bill_words(season, report))}."),
        (
            "Next",
            "nothing" if due is None else when_words(season, due),
            f"{begins} {_work(season, plan, due, done) if due else ''}".strip(),
        ),
        (
            "How good it is",
            "audited" if report.passed else "REFUSED",
            f"{audit} {sentence(proven(plan.proof, currency))}.",
        ),
    ]


def _work(season: Season, plan: Plan, stage: Stage, done: Collection[str] = ()) -> str:
    """``Carry 14 trees; Polytunnel: hold 2 °C.``; empty where nothing is left to do."""
    trees = sum(c.stage == stage.index and carry_key(c) not in done for c in plan.carries)
    words = [f"carry {count(trees, 'tree')}"] if trees else []
    words += [
        f"{season.shelter_by_id[change.shelter_id].name}: "
        f"{setting_label(change.after, season.site.display)}"
        for change in setting_changes(season, plan)
        if change.stage == stage.index
    ]
    return f"{sentence('; '.join(words))}." if words else ""


def _stage(season: Season, plan: Plan, stage: Stage) -> dict[str, object]:
    return {
        "mark": chart.sign_mark(season, stage),
        "day": usual_brief(stage),
        "when": when_words(season, stage),
        "days": usual_words(stage),
        "work": _work(season, plan, stage) or "Nothing is carried.",
    }


def _risks(season: Season, plan: Plan, report: AuditReport) -> list[tuple[Cell, ...]]:
    """The trees with the largest expected loss, alike ones together, and how large it is."""
    table = alike_joined(dearest_table(season, plan, report, chart.short_name))
    most = max((risk.loss for risk in report.risks.values()), default=1.0)
    losses = ((row, loss) for row in table.rows[:SHOWN] if isinstance(loss := row[3], float))
    return [(*row, round(100 * loss / most)) for row, loss in losses]


def _colder(season: Season, report: AuditReport, by_k: float, found: Found) -> dict[str, str]:
    """What colder winters would do: losses, heat, and the trees hit hardest."""
    more = {
        tree_id: (chance_then - report.risks[tree_id].chance) * season.tree_by_id[tree_id].value
        for tree_id, chance_then in found.chances.items()
        if tree_id in report.risks
    }
    hit = [tree_id for tree_id in sorted(more, key=lambda t: -more[t])[:5] if more[tree_id] >= 0.5]
    names = [f"{season.tree_by_id[t].name} ({chance(found.chances[t])})" for t in hit]
    return {
        "by": season.site.display.kelvin(by_k, 0),
        "loss": money(found.expected_loss, season.site.currency),
        "heat": money(found.heat, season.site.currency),
        "hit": ", ".join(names) or "no tree much",
    }


def _short(season: Season, report: AuditReport) -> list[str]:
    """Trees that get less light or chilling than they need."""
    told: dict[str, list[str]] = {}
    for risk in report.risks.values():
        for what, share in (("light", risk.light_share), ("chilling", risk.chill_share)):
            if share is not None and share < SHORT:
                words = f"{100 * share:.0f} % of the {what} needed"
                told.setdefault(words, []).append(risk.tree_id)
    return [f"{names_of(season, trees)}: {words}" for words, trees in told.items()]


def _known(season: Season, report: AuditReport) -> dict[str, object]:
    """How well the limits that decide in this plan are known, and what to find out first."""
    limits = deciding_limits(season, report)
    worth = worth_words(season, limits)
    return {
        "words": f"{sentence(known_words(limits))}. {sentence(worth)}{'.' if worth else ''}",
        "rows": [
            {
                "kind": sentence(kind_words(season, one)),
                "limit": LIMITS[one.name].words,
                "known": one.known.value,
                "at_stake": f"{one.at_stake:.2f}",
            }
            for one in limits[:KNOWN_SHOWN]
        ],
    }


def _close_calls(
    season: Season, plan: Plan, found: Sequence[Elsewhere]
) -> list[tuple[str, str, str, str]]:
    """Trees whose next-best place costs least: name, place, next-best place, money."""
    rows: dict[tuple[str, str, str], list[str]] = {}
    for one in sorted(found, key=lambda one: one.costs or 0.0):
        here, costs = plan.stays[one.tree_id][one.stage], more_words(one.costs or 0.0)
        if here is not None:
            key = chart.short_name(here), chart.short_name(one.place_id), costs
            rows.setdefault(key, []).append(one.tree_id)
    return [(names_of(season, trees), *key) for key, trees in rows.items()]
