"""A summary of the plan, 80 columns wide: the bill first, then the stages, then the risks."""

from collections import Counter
from dataclasses import replace
from textwrap import wrap

from overwinter.audit.report import AT_RISK, AuditReport, TreeRisk, deciding_limits
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.render.carry_words import setting_changes
from overwinter.render.table import WIDTH, Table, alike_joined, render
from overwinter.render.tables import COST_PARTS, dearest_table, heat_table, stages_table
from overwinter.render.words import (
    chance,
    clip,
    count,
    known_words,
    long_date,
    lost_words,
    money,
    names_of,
    proven,
    short_date,
    tree_names,
    worth_words,
)
from overwinter.rules import RULES

LABEL = 12
RISKS_SHOWN = 5
NAMED = 12  # trees that are left out and named
AT_RISK_WORDS = f"lost in at least 1 winter in {1 / AT_RISK:.0f}"


def bold(text: str) -> str:
    """``text`` as a heading; where a screen cannot show it, the marks are taken out in printing."""
    return f"\x1b[1m{text}\x1b[0m"


def summary(season: Season, plan: Plan, report: AuditReport) -> str:
    """The whole plan on a screen. Figures are those of the audit, not those of the search."""
    lines = [
        *_title(season),
        *(line for fact in facts(season, plan, report).items() for line in labelled(*fact)),
        "",
        *_stages(season, plan, report),
        *_heat(season, plan, report),
        *_risks(season, plan, report),
        f"Audited: all {len(RULES)} rules hold. More: overwinter show --help"
        if report.passed
        else f"AUDIT REFUSED: {count(len(report.findings), 'finding')}; do not use this plan",
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def facts(season: Season, plan: Plan, report: AuditReport) -> dict[str, str]:
    """The plan in a sentence or two each, by label; what there is nothing to say of is left out."""
    limits = deciding_limits(season, report)
    cures = Counter(left.cure for left in plan.left_out).most_common()
    known: dict[str, list[str]] = {}
    for one in season.assumptions:
        known.setdefault(one.assumed_key, []).append(f"{one.tree} ({one.written})")
    taken = "; ".join(f"{tree_names(trees)} as {key}" for key, trees in known.items())
    currency = season.site.currency
    whole = f"{money(report.costs.in_cents().total, currency)}; {proven(plan.proof, currency)}"
    rests_on = [known_words(limits), worth_words(season, limits)] if limits else []
    told = {
        "Trees": _trees(season, plan, report),
        "Not safe": not_safe_words(season, plan, report),
        "Would help": "; ".join(f"{cure.value}: {count(n, 'tree')}" for cure, n in cures),
        "Bill": bill_words(season, report),
        "Dear heat": _dear_heat(season, plan, report),
        "Losses": loss_words(season, report),
        "Worry, work": _worry(season, plan, report),
        "The whole": whole,
        "Carries": _carries(season, plan),
        "Rests on": "; ".join(filter(None, rests_on)),
        "Weather": season.winters.origin,
        "Taken as": f"{taken}; why: overwinter check" if taken else "",
    }
    return {label: text for label, text in told.items() if text}


def labelled(label: str, text: str) -> list[str]:
    """``label`` and then ``text``, folded beside it."""
    lines = wrap(text, WIDTH - LABEL) or [""]
    return [f"{label if n == 0 else '':<{LABEL}}{line}" for n, line in enumerate(lines)]


def at_risk(report: AuditReport) -> list[TreeRisk]:
    """Trees lost in at least one winter of fifty."""
    return [risk for risk in report.risks.values() if risk.lost >= AT_RISK]


def how_many_safe(season: Season, plan: Plan, report: AuditReport) -> int:
    """Trees that are neither at risk nor named as not safe."""
    most = season.site.weights.most_chance
    sound = {t for t, one in report.risks.items() if one.lost < AT_RISK and one.lost <= most}
    return len(sound.difference(plan.unsafe))


def loss_words(season: Season, report: AuditReport) -> str:
    """``6.00 EUR expected in a mean winter, by 60 winters that the plan was not made from``."""
    loss = money(report.expected_loss, season.site.currency)
    return f"{loss} expected in a mean winter, by {told_by_words(report)}"


def told_by_words(report: AuditReport) -> str:
    """The winters of which risks are told."""
    if report.unseen:
        return f"{report.unseen} winters that the plan was not made from"
    return "the winters that the plan was made from, which flatter it"


def bill_words(season: Season, report: AuditReport) -> str:
    """``heat 346.00 USD in a mean winter, in one winter of ten more than 420.00 USD``."""
    if report.bill.high <= 0.0:
        return "nothing is heated"
    mean = money(report.bill.mean, season.site.currency)
    low, high = (money(one, season.site.currency) for one in (report.bill.low, report.bill.high))
    return (
        f"heat {mean} in a mean winter; in one winter of ten less than {low}, "
        f"in one of ten more than {high}"
    )


def not_safe_words(season: Season, plan: Plan, report: AuditReport) -> str:
    """Trees that are lost too often, and others that are so only in winters that the plan was not
    made from, likeliest first; empty: none."""
    most = season.site.weights.most_chance
    ranked = sorted(report.risks, key=lambda t: -report.risks[t].lost)
    unsafe = [t for t in ranked if t in plan.unsafe]
    often = [t for t in ranked if report.risks[t].lost > most and t not in unsafe]
    ends = [f"no safe place was found for {'it' if len(unsafe) == 1 else 'them'}"]
    ends += [
        f"{chance(most)} (most_chance) is allowed; what would help: overwinter show --why"
        f' "{season.tree_by_id[tree_id].name}"{_on(plan, report.risks[tree_id])}'
        for tree_id in often[:1]
    ]
    return ". ".join(
        f"{names_of(season, trees, NAMED)}: {lost_words(report, trees)}; {end}"
        for trees, end in zip((unsafe, often), ends, strict=False)
        if trees
    )


def _on(plan: Plan, risk: TreeRisk) -> str:
    """``--on`` the day of the stage that most often takes a tree for good; in deep winter, empty:
    the stage has no usual days, or it is a harm of the whole winter."""
    ahead = plan.stages[max(plan.fixed_stages, 1) :]
    worst = max(ahead, key=lambda stage: risk.by_stage[stage.index], default=None)
    if worst is None or worst.days == 0 or risk.worst_stage is None:
        return ""
    return f" --on {worst.usual}"


def _title(season: Season) -> list[str]:
    site = season.site
    dates = f"{long_date(site.starts)} to {long_date(site.ends)}"
    invented = " (an invented grower)" if site.invented else ""
    name = clip(site.name, WIDTH - len(dates) - len(invented) - 2)
    return [bold(f"{name}, {dates}{invented}")]


def _trees(season: Season, plan: Plan, report: AuditReport) -> str:
    risky = len(at_risk(report))
    parts = [f"{how_many_safe(season, plan, report)} of {len(season.trees)} safe"]
    if risky:
        parts.append(f"{risky} at risk ({AT_RISK_WORDS})")
    if not plan.left_out:
        return ", ".join([*parts, "none left out"])
    names = names_of(season, (left.tree_id for left in plan.left_out), NAMED)
    parts.append(f"{len(plan.left_out)} left out (--table left-out): {names}")
    return ", ".join(parts)


def _dear_heat(season: Season, plan: Plan, report: AuditReport) -> str:
    """Shelters whose heat costs more in a mean winter than the trees it is for are worth: nobody is
    left out to save heat, but a grower should know."""
    currency, told = season.site.currency, []
    for shelter in season.shelters:
        used = [use for use in report.heat if use.shelter_id == shelter.id]
        spots, stages = {place.id for place in shelter.places}, {use.stage for use in used}
        trees = [t for t, path in plan.stays.items() if any(path[k] in spots for k in stages)]
        worth, spent = sum(season.tree_by_id[t].value for t in trees), sum(u.money for u in used)
        if spent > worth:
            said = f"{shelter.name}: {money(spent, currency)} for {count(len(trees), 'tree')} worth"
            told.append(f"{said} {money(worth, currency)}; is there a warmer place?")
    return " ".join(told)


def _worry(season: Season, plan: Plan, report: AuditReport) -> str:
    costs, currency = report.costs.in_cents(), season.site.currency
    caution = season.site.weights.caution
    base = ", in the winters it was made from" if report.unseen else ""
    more = {
        "losses": f" (your caution counts each {caution:g} times{base})",
        "left_out": " (a price, not money: so high that no tree is left out to save)",
    }
    shown = [
        f"{name} {money(amount, currency)}{more.get(field, '')}"
        for field, name, _ in COST_PARTS[1:]
        if abs(amount := getattr(costs, field)) >= 0.005
    ]
    return f"{money(costs.worry, currency)}: {', '.join(shown)}" if shown else "nothing"


def _carries(season: Season, plan: Plan) -> str:
    home = season.site.summer_place
    away = sum(stays[-1] != home for stays in plan.stays.values())
    left = f"; {count(away, 'tree')} not home on {short_date(season.site.ends)}" if away else ""
    if not plan.carries:
        return f"nothing is carried{left}"
    stages = len({carry.stage for carry in plan.carries})
    mean = len(plan.carries) / max(len(plan.stays), 1)
    return f"{len(plan.carries)} at {count(stages, 'sign')}, {mean:.1f} a tree{left}"


def _stages(season: Season, plan: Plan, report: AuditReport) -> list[str]:
    """The stages in which there is something to do."""
    set_anew = {change.stage + 1 for change in setting_changes(season, plan)}
    table = stages_table(season, plan, report)
    rows = ((*row[:-1], row[-1] or "heater") for row in table.rows if row[-1] or row[0] in set_anew)
    return block(replace(table, rows=tuple(rows)))


def _heat(season: Season, plan: Plan, report: AuditReport) -> list[str]:
    """What each heated shelter is set to; nothing where none is."""
    table = heat_table(season, plan, report)
    cost = table.headings[-1]
    return block(table.only_columns("shelter", "set to", "stages", "bought, kWh", cost))


def _risks(season: Season, plan: Plan, report: AuditReport) -> list[str]:
    """The trees that cost most sleep: chance, money, and what, where and when it is."""
    table = alike_joined(dearest_table(season, plan, report))
    headings = ("worst risks", *table.headings[1:])
    return block(replace(table, headings=headings, rows=table.rows[:RISKS_SHOWN]))


def block(table: Table) -> list[str]:
    """A table without a title, and a blank line; nothing without rows."""
    if not table.rows:
        return []
    lines = [line[2:] for line in render(table, WIDTH + 2).splitlines()]
    at = next(n for n, line in enumerate(lines) if line.startswith("---"))
    return [*map(bold, lines[1:at]), *lines[at + 1 :], ""]
