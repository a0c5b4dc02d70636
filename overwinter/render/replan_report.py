"""A new plan beside the one before, for the terminal or for a script."""

from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import wrap

from overwinter.model.changes import Changes
from overwinter.model.plan import Costs, Plan
from overwinter.model.season import Season
from overwinter.packaged import packaged_toml
from overwinter.render.table import TREE, WIDTH, Cell, Figure, Table, alike_joined
from overwinter.render.tables import COST_PARTS, costs_values
from overwinter.render.terminal import block, bold, labelled
from overwinter.render.words import (
    count,
    long_date,
    money,
    proven,
    short_date,
    sign_brief,
    tree_names,
    usual_brief,
)
from overwinter.replan.going_on import Comparison, TreeChange, moved
from overwinter.replan.lateness import Late, Lateness
from overwinter.rules.rule import Finding
from overwinter.shelters.heater import setting_label

BROKEN_SHOWN = 5
NO_LONGER_SAFE = "No longer in a safe place, as none is left"
NOT_YET_SAFE = "In a place now, but in none that is safe"
SAID = packaged_toml("sentences.toml")["changed"]
NO_LONGER = packaged_toml("sentences.toml")["no_longer"]
TOLD = ("first", "carries", "unchanged", "gone", "left_out", "changed", "other_days", "heaters")
"""Fields of ``Comparison`` that a script gets."""
PARTS = ("heat", "losses", "carries", "other", "in all")  # of the cost of being late


@dataclass(frozen=True)
class ReplanAnswer:
    """All that is told of a re-plan, or of two plans of a history."""

    season: Season  # with the facts of the plan after
    names: tuple[str, str]  # the plans side by side: "plan 1", "plan 2"
    plans: tuple[Plan, Plan]
    comparison: Comparison
    because: tuple[str, ...]  # changed facts in words
    gone_on: Costs | None = None  # the plan before gone on with; None: not reckoned
    broken: tuple[Finding, ...] = ()  # rules that it would break then
    kept: bool = False  # whether the plan after is the plan before, gone on with
    gap: float = 0.0  # it then was not looked for what is better by no more than this share


def change_words(season: Season, new: Changes, old: Changes, before: Plan) -> tuple[str, ...]:
    """Each changed fact, and each tree, in words that the plan before did not have."""
    shelters = {shelter.id: shelter.name for shelter in season.shelters}

    def name(subject: str | tuple[str, str]) -> str:
        if isinstance(subject, str):
            return shelters.get(subject, subject)
        shelter_id, heater = subject
        return f"{heater} of {shelters.get(shelter_id, shelter_id)}"

    words = []
    for fact, said in SAID.items():
        now, was = getattr(new, fact), getattr(old, fact)
        words += [said.format(name(k), long_date(d)) for k, d in now.items() if was.get(k) != d]
        if fact in NO_LONGER:
            words += [NO_LONGER[fact].format(name(k)) for k in was if k not in now]
    known = {*before.tree_ids, *old.gone, *new.gone}
    added = [tree.name for tree in season.trees if tree.id not in known]
    return (*words, *[f"added: {tree_names(added)}"] * bool(added))


def replan_report(answer: ReplanAnswer) -> str:
    """The whole answer as text of ``WIDTH`` columns."""
    blocks = [_head(answer), _sums(answer), _trees(answer), _other_days(answer), _ways(answer)]
    return "\n".join("\n".join(block) + "\n" for block in blocks if block)


def _head(answer: ReplanAnswer) -> list[str]:
    old, new = answer.names
    first = long_date(answer.comparison.first)
    lines = [bold(f"{answer.season.site.name}: {new} beside {old}, from {first} on")]
    lines += labelled("Because", "; ".join(answer.because) or "no fact changed")
    if answer.kept:
        by = f" by more than {100 * answer.gap:g} %" if answer.gap else ""
        proof = proven(answer.plans[1].proof, answer.season.site.currency)
        lines += labelled("So", f"{old} is kept: nothing better{by} was found; {proof}")
    faults = tuple(dict.fromkeys(finding.text for finding in answer.broken))
    for fault in faults[:BROKEN_SHOWN]:
        lines += labelled(f"With {old}", fault)
    more = len(faults) - BROKEN_SHOWN
    if more > 0:
        lines += labelled("", f"and {count(more, 'more fault')}")
    return lines


def _sums(answer: ReplanAnswer) -> list[str]:
    """Each plan by its own reckoning, and between them the plan before by the facts known now."""
    found, currency = answer.comparison, answer.season.site.currency
    old, new = answer.names
    shown = [(old, found.costs[0], found.carries[0]), (new, found.costs[1], found.carries[1])]
    if answer.gone_on is not None and not answer.broken and not answer.kept:
        shown.insert(1, (f"{old} if kept", answer.gone_on, found.carries[0]))
    rows: list[tuple[Cell, ...]] = []
    for part, label in (*((part, label) for part, label, _ in COST_PARTS), ("total", "in all")):
        amounts = [Figure(getattr(costs.in_cents(), part)) for _, costs, _ in shown]
        if part == "total" or any(abs(amount) >= 0.005 for amount in amounts):
            rows.append((label, *amounts))
    here = answer.season.tree_by_id
    old_out, new_out = (sum(t.tree_id in here for t in plan.left_out) for plan in answer.plans)
    if old_out or new_out:  # what leaving a tree out is priced at changes with the facts
        rows.append(("trees left out", *[old_out] * (len(shown) - 1), new_out))
    rows.append(("carries still to come", *(carries for _, _, carries in shown)))
    headings = (f"{currency} a winter, mean", *(name for name, _, _ in shown))
    lines = block(Table("", "", headings, tuple(rows)))[:-1]
    before, after = (costs.in_cents().total for costs in found.costs)
    if answer.kept and after < before:
        said = f"what trees risked before {long_date(found.first)} is past and no longer counts"
        said += ", nor do trees that are gone" if found.gone else ""
        lines += ["", *wrap(f"Nothing was gained by waiting: {said}.", WIDTH)]
    return lines


def _trees(answer: ReplanAnswer) -> list[str]:
    found, season = answer.comparison, answer.season
    total = len(found.changed) + found.unchanged
    days = f", {len(found.other_days)} of them on other days" if found.other_days else ""
    lines = [f"{found.unchanged} of {count(total, 'tree')} keep their places{days}."]
    if found.gone:
        lines += wrap(f"Gone: {tree_names(found.gone)}.", WIDTH)
    if found.left_out:
        worth = money(sum(season.tree_by_id[t].value for t in found.left_out), season.site.currency)
        names = tree_names(_name(season, t) for t in found.left_out)
        lines += wrap(f"Without a safe place: {names} (worth {worth}).", WIDTH)
    before, after = answer.plans
    unsafe, placed = set(after.unsafe) - set(before.unsafe), set(before.stays)
    for said, trees in ((NO_LONGER_SAFE, unsafe & placed), (NOT_YET_SAFE, unsafe - placed)):
        if trees:
            names = tree_names(_name(season, tree_id) for tree_id in sorted(trees))
            lines += wrap(f"{said}: {names}.", WIDTH)
    return lines


def _other_days(answer: ReplanAnswer) -> list[str]:
    """A line for the trees that come to one place on another day than before."""
    season, groups = answer.season, dict[tuple[str, str], list[str]]()
    for one in answer.comparison.other_days:
        for old, new in zip(one.before, one.after, strict=True):
            stages = [
                plan.stages[carry.stage]
                for plan, carry in zip(answer.plans, (old, new), strict=True)
            ]
            if moved(*stages):
                said = (f"{usual_brief(on)} ({sign_brief(season, on)})" for on in stages)
                key = season.place_name(new.target), " -> ".join(said)
                groups.setdefault(key, []).append(_name(season, one.tree_id))
    lines = ["The same places, but on other days:"] if groups else []
    for (place, days), trees in groups.items():
        lines += wrap(f"{tree_names(trees)} to {place}: {days}", WIDTH, subsequent_indent="    ")
    return lines


def _ways(answer: ReplanAnswer) -> list[str]:
    """What goes otherwise, trees and heaters, by the one plan and by the other."""
    season, found = answer.season, answer.comparison
    rows: list[tuple[Cell, ...]] = [
        (_name(season, one.tree_id), *_ways_of(answer, one)) for one in found.changed
    ]
    for heater in found.heaters:
        name = season.shelter_by_id[heater.shelter_id].name
        ways = [
            [setting_label(s, season.site.display) for s in w]
            for w in (heater.before, heater.after)
        ]
        rows.append((f"heating of {name}", *map(", then ".join, ways)))
    return block(alike_joined(Table("", "", (TREE, *answer.names), tuple(rows))))[:-1]


def _name(season: Season, tree_id: str) -> str:
    return season.tree_by_id[tree_id].name if tree_id in season.tree_by_id else tree_id


def _ways_of(answer: ReplanAnswer, change: TreeChange) -> Iterator[str]:
    """``Shed, Bench (first night of -3 °C or colder), then ...`` by each, to where they meet."""
    season = answer.season
    ways = [
        [
            f"{season.place_name(one.target)} ({sign_brief(season, plan.stages[one.stage])})"
            for one in carries
        ]
        for plan, carries in zip(answer.plans, (change.before, change.after), strict=True)
    ]
    same = False
    while all(ways) and ways[0][-1] == ways[1][-1]:
        ways, same = [way[:-1] for way in ways], True
    for plan, way in zip(answer.plans, ways, strict=True):
        if change.tree_id in plan.stays:
            yield ", then ".join(way) or ("stays, then the same" if same else "stays where it is")
        else:
            known = change.tree_id in {one.tree_id for one in plan.left_out}
            yield "no safe place" if known else "does not know it"


def replan_json(answer: ReplanAnswer) -> dict[str, object]:
    """Everything ``replan_report`` tells, for a script."""
    found = answer.comparison
    sides = {"before": found.costs[0], "gone_on": answer.gone_on, "after": found.costs[1]}
    return {
        "before": answer.names[0],
        "after": answer.names[1],
        "because": answer.because,
        "kept": answer.kept,
        "gap_asked": answer.gap,
        "gap_proven": answer.plans[1].proof.gap,
        "currency": answer.season.site.currency,
        "costs": {name: one and costs_values(one) for name, one in sides.items()},
        "broken_by_going_on": [
            {"rule": one.rule.name, "by": one.by_how_much, "unit": one.unit, "text": one.text}
            for one in answer.broken
        ],
        **{name: getattr(found, name) for name in TOLD},
    }


def lateness_report(found: Lateness) -> str:
    """Money more than if it opened as planned, and what goes otherwise."""
    base = found.days[0]
    season = base.outcome.season
    name, currency = season.shelter_by_id[found.shelter_id].name, season.site.currency
    title = f"{name} late: what it costs, planned anew from {long_date(found.first)}"
    lines = [bold(part) for part in wrap(title, WIDTH)]
    lines += wrap(
        f"{currency} a winter more than {money(base.costs.total, currency)}, which it costs if it "
        f"opens on {long_date(base.opens or season.site.ends)}. Losses: value x chance x caution "
        f"{season.site.weights.caution:g}.",
        WIDTH,
    )
    rows: list[tuple[Cell, ...]] = [
        (_when(late), *map(Figure, _parts(late, base)), len(late.outcome.plan.left_out))
        for late in found.days
    ]
    lines += ["", *block(Table("", "", ("it opens", *PARTS, "left out"), tuple(rows)))]
    ask = f"Which trees then go where: --late {found.shelter_id}=DATE --what-if"
    return "\n".join([*lines, *wrap(ask, WIDTH)]) + "\n"


def _when(late: Late) -> str:
    return "not at all" if late.opens is None else short_date(late.opens)


def _parts(late: Late, base: Late) -> tuple[float, float, float, float, float]:
    """Heat, losses, carries, all else and the whole, money more than in time."""
    now, then = late.costs, base.costs
    heat, losses = now.heat - then.heat, now.losses - then.losses
    carries = now.carries + now.disturbance - then.carries - then.disturbance
    total = now.total - then.total
    return heat, losses, carries, total - heat - losses - carries, total


def lateness_json(found: Lateness) -> dict[str, object]:
    """The same for a script; money is more than if it opens as planned."""
    base = found.days[0]
    return {
        "shelter": found.shelter_id,
        "first": found.first,
        "currency": base.outcome.season.site.currency,
        "total_in_time": base.costs.total,
        "days": [
            {
                "opens": late.opens,
                **dict(zip(PARTS, _parts(late, base), strict=True)),
                "left_out": late.outcome.plan.left_out,
            }
            for late in found.days
        ],
    }
