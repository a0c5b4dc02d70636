"""A summary of the plan on one screen of 80 columns and 24 lines."""

from collections import Counter
from dataclasses import dataclass
from itertools import groupby, zip_longest

from overwinter.audit.report import AuditReport, PlaceUse
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.render.alike import tree_names
from overwinter.render.words import (
    away_words,
    clip,
    count,
    long_date,
    money,
    place_name,
    proven,
    short_date,
)

WIDTH = 80
HEIGHT = 24
LABEL = 12
SHELTERS_SHOWN = 4
NEAREST_SHOWN = 5
HALF = 39


@dataclass(frozen=True, slots=True)
class Style:
    """Bold headings where the screen can show them; plain text otherwise."""

    bold: bool = False

    def heading(self, text: str) -> str:
        """``text`` as a heading."""
        return f"\x1b[1m{text}\x1b[0m" if self.bold else text


def summary(season: Season, plan: Plan, report: AuditReport, style: Style | None = None) -> str:
    """The whole plan in at most ``HEIGHT`` - 1 lines, leaving one for the prompt.

    Figures are those of the audit, not those of the program.
    """
    style = style or Style()
    head = [
        *_title(season, style),
        *_row("Trees safe", _trees(season, plan)),
        *_home(season, report),
        *_row("Cost", _costs(season, report)),
        *_row("Proof", _proof(season, plan)),
        *_row("Carry days", _carry_days(season, plan)),
        "",
        *_heat(season, plan, report, style),
        "",
    ]
    room = min(NEAREST_SHOWN, HEIGHT - 1 - len(head) - 2)
    lines = [*head, *_tight_and_near(season, plan, report, style, room), _audited(report)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _title(season: Season, style: Style) -> list[str]:
    site = season.site
    dates = f"{long_date(site.starts)} to {long_date(site.ends)}"
    told = "invented" in site.name.lower()
    invented = " (an invented grower)" if site.invented and not told else ""
    name = clip(site.name, WIDTH - len(dates) - len(invented) - 2)
    return [style.heading(f"{name}, {dates}{invented}")]


def _row(label: str, text: str, lines: int = 2) -> list[str]:
    """``label`` and then ``text``, broken at blanks over at most ``lines`` lines."""
    room = WIDTH - LABEL
    found = [""]
    for word in text.split(" "):
        if found[-1] and len(found[-1]) + 1 + len(word) > room:
            found.append(word)
        else:
            found[-1] = f"{found[-1]} {word}".strip()
    if len(found) > lines:
        found = [*found[: lines - 1], " ".join(found[lines - 1 :])]
    heads = [label, *[""] * (len(found) - 1)]
    return [f"{head:<{LABEL}}{clip(line, room)}" for head, line in zip(heads, found, strict=True)]


def _trees(season: Season, plan: Plan) -> str:
    text = f"{len(plan.stays)} of {len(season.trees)}"
    if not plan.left_out:
        return f"{text}, none left out"
    names = [season.tree_by_id[left.tree_id].name for left in plan.left_out]
    left = count(len(names), "tree has", "trees have")
    return f"{text}; {left} no safe place (--table left-out): {tree_names(names)}"


def _home(season: Season, report: AuditReport) -> list[str]:
    if not report.away:
        return []
    return _row("Not home", f"{away_words(season, report.away)} (--table not-home)")


def _costs(season: Season, report: AuditReport) -> str:
    costs = report.costs
    parts = (
        ("heat", costs.heat),
        ("crowding", costs.crowding),
        ("rodents", costs.rodents),
        ("carries", costs.carries),
        ("carry days", costs.carry_days),
        ("cold risk", costs.risk),
        ("not home", costs.not_home),
        ("disturbance", costs.disturbance),
    )
    shown = [f"{name} {amount:.2f}" for name, amount in parts if abs(amount) >= 0.005]
    total = money(costs.total, season.site.currency)
    return f"{total}: {', '.join(shown)}" if shown else total


def _proof(season: Season, plan: Plan) -> str:
    proof = plan.proof
    rounds = count(proof.rounds, "round")
    text = proven(proof, season.site.currency)
    return f"{text} ({proof.solver}, {proof.termination}, {proof.seconds:.1f} s, {rounds})"


def _carry_days(season: Season, plan: Plan) -> str:
    per_day = Counter(carry.day for carry in plan.carries)
    text = f"{len(per_day)} of at most {season.site.carry_days_max}"
    if not per_day:
        return f"{text}: nothing is carried"
    days = [f"{short_date(day)} ({number})" for day, number in sorted(per_day.items())]
    return f"{text}: {', '.join(days)} trees"


def _heat(season: Season, plan: Plan, report: AuditReport, style: Style) -> list[str]:
    currency = season.site.currency
    rows = []
    for shelter_id, group in groupby(report.heat, key=lambda use: use.shelter_id):
        uses = list(group)
        bought = sum(use.purchased_kwh for use in uses)
        spent = sum(use.money for use in uses)
        keys = [key for key, _ in groupby(use.label for use in uses)]
        if bought > 0 or season.shelter_by_id[shelter_id].heaters:
            name = season.shelter_by_id[shelter_id].name
            rows.append((name, bought, spent, ", ".join(keys)))
    rows.sort(key=lambda row: -row[2])
    head = f"{'Heat':<24}{'bought, kWh':>12}{'cost, ' + clip(currency, 6):>13}  set to"
    lines = [style.heading(head)]
    if len(rows) > SHELTERS_SHOWN:
        rest = rows[SHELTERS_SHOWN - 1 :]
        others = (
            f"{len(rest)} others",
            sum(row[1] for row in rest),
            sum(row[2] for row in rest),
            "see --table heat",
        )
        rows = [*rows[: SHELTERS_SHOWN - 1], others]
    for name, bought, spent, keys_text in rows:
        settings = clip(keys_text, WIDTH - 51)
        lines.append(f"{clip(name, 23):<24}{bought:>12.0f}{spent:>13.2f}  {settings}")
    bought_all = sum(use.purchased_kwh for use in report.heat)
    spent_all = sum(use.money for use in report.heat)
    lines.append(f"{'all shelters':<24}{bought_all:>12.0f}{spent_all:>13.2f}")
    return lines


def _tight_and_near(
    season: Season, plan: Plan, report: AuditReport, style: Style, room: int
) -> list[str]:
    left = ["Tightest places, share of most allowed", *_tightest(season, plan, report)[:room]]
    right = ["Trees nearest their limit, to spare", *_nearest(season, report)[:room]]
    lines = [f"{one:<{HALF}}  {other}" for one, other in zip_longest(left, right, fillvalue="")]
    return [style.heading(lines[0]), *lines[1:]]


def _tightest(season: Season, plan: Plan, report: AuditReport) -> list[str]:
    fullest: dict[str, PlaceUse] = {}
    for use in report.uses:
        known = fullest.get(use.place_id)
        if known is None or use.share > known.share:
            fullest[use.place_id] = use
    uses = sorted(fullest.values(), key=lambda use: -use.share)[:NEAREST_SHOWN]
    lines = []
    for use in uses:
        when = short_date(plan.spells[use.spell].start)
        name = clip(place_name(season, use.place_id), HALF - 14)
        lines.append(f"{name:<{HALF - 13}}{use.share * 100:>4.0f} %{when:>7}")
    return lines


def _nearest(season: Season, report: AuditReport) -> list[str]:
    show = season.site.display
    margins = sorted(report.margins.values(), key=lambda m: (m.nearest_k, m.tree_id))
    lines = []
    for margin in margins[:NEAREST_SHOWN]:
        name = clip(season.tree_by_id[margin.tree_id].name, HALF - 18)
        spare = show.kelvin(margin.nearest_k)
        when = short_date(margin.nearest_when)
        lines.append(f"{name:<{HALF - 17}}{spare:>9}{when:>8}")
    return lines


def _audited(report: AuditReport) -> str:
    if report.passed:
        return f"Audited: all {len(report.rules_checked)} rules hold. More: overwinter show --help"
    return f"AUDIT REFUSED: {count(len(report.findings), 'finding')}; do not use this plan"
