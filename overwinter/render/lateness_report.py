"""What each week costs that a shelter opens late, 80 columns wide."""

from textwrap import wrap

from overwinter.model.season import Season
from overwinter.render.alike import tree_names
from overwinter.render.table import WIDTH
from overwinter.render.terminal import Style
from overwinter.render.words import (
    chance,
    count,
    long_date,
    money,
    place_name,
    sentence,
    short_date,
)
from overwinter.replan.lateness import Late, Lateness

LITTLE = 0.005
"""Share of the whole that the search cannot tell apart; what changes by less changes nothing."""
FEW = 5
HEAD = f"{'it opens':<14}{'heat':>11}{'losses':>11}{'carries':>11}{'other':>11}{'in all':>11}"


def lateness_report(found: Lateness, style: Style | None = None) -> str:
    """Money more than if it opened as planned, and what goes otherwise."""
    style = style or Style()
    base = found.days[0]
    season = base.outcome.season
    name, currency = season.shelter_by_id[found.shelter_id].name, season.site.currency
    title = f"{name} late: what it costs, planned anew from {long_date(found.first)}"
    lines = [style.heading(part) for part in wrap(title, WIDTH)]
    lines += wrap(
        f"{currency} a winter more than {money(base.costs.total, currency)}, which it costs if it "
        f"opens on {long_date(base.opens or season.site.ends)}. Losses: value x chance x caution "
        f"{season.site.weights.caution:g}.",
        WIDTH,
    )
    lines += ["", HEAD]
    for late in found.days:
        lines.append(_sums(late, base))
    lines.append("")
    said: dict[str, str] = {}
    for late in found.days[1:]:
        words = _words(found, late, season)
        said[words] = f"{said[words]}, {_when(late)}" if words in said else _when(late)
    for words, days in said.items():
        lines += wrap(f"{days}: {words}.", WIDTH, subsequent_indent="    ")
    return "\n".join(lines) + "\n"


def _when(late: Late) -> str:
    return "not at all" if late.opens is None else short_date(late.opens)


def _parts(late: Late, base: Late) -> tuple[float, float, float, float]:
    """Heat, losses, carries and all else, more than in time; they add up to the whole."""
    now, then = late.costs, base.costs
    heat, losses, carries = (
        now.heat - then.heat,
        now.losses - then.losses,
        now.carries + now.disturbance - then.carries - then.disturbance,
    )
    return heat, losses, carries, now.total - then.total - heat - losses - carries


def _sums(late: Late, base: Late) -> str:
    parts = _parts(late, base)
    whole = late.costs.total - base.costs.total
    cells = "".join(f"{round(part, 2) + 0.0:>11.2f}" for part in (*parts, whole))
    return f"{_when(late):<14}{cells}"


def _words(found: Lateness, late: Late, season: Season) -> str:
    """``4 trees go otherwise; until it opens: Bedroom (Fig, Olive)`` and who is likelier lost."""
    base = found.days[0]
    more = late.costs.total - base.costs.total
    said = []
    if late.waiting:
        by_place: dict[str, list[str]] = {}
        for tree_id, place in late.waiting:
            by_place.setdefault(place, []).append(season.tree_by_id[tree_id].name)
        places = "; ".join(
            f"{place_name(season, place)} ({_named(trees)})" for place, trees in by_place.items()
        )
        words = count(len(late.waiting), "tree goes", "trees go")
        said.append(f"{words} otherwise; until it opens: {places}")
    if late.chances:
        said.append(
            "likelier to be lost: "
            + ", ".join(
                f"{season.tree_by_id[tree_id].name} {chance(now)} (else {chance(then)})"
                for tree_id, then, now in late.chances[:FEW]
            )
        )
    out = [one.tree_id for one in late.outcome.plan.left_out]
    if out:
        said.append(f"without a safe place: {_named(out)}")
    if not said:
        little = more <= LITTLE * base.costs.total
        said.append("nothing changes" if little else "trees wait where they are")
    return ". ".join(map(sentence, said))


def _named(trees: list[str]) -> str:
    more = len(trees) - FEW
    return tree_names(trees[:FEW]) + (f" and {more} more" if more > 0 else "")


def lateness_json(found: Lateness) -> dict[str, object]:
    """The same as plain values; money is more than if it opens as planned."""
    base = found.days[0]

    def one(late: Late) -> dict[str, object]:
        heat, losses, carries, other = _parts(late, base)
        return {
            "opens": None if late.opens is None else late.opens.isoformat(),
            "heat": heat,
            "losses": losses,
            "carries": carries,
            "other": other,
            "total": late.costs.total - base.costs.total,
            "waiting": dict(late.waiting),
            "chances": {tree: {"in_time": a, "late": b} for tree, a, b in late.chances},
            "left_out": [left.tree_id for left in late.outcome.plan.left_out],
        }

    return {
        "shelter": found.shelter_id,
        "from": found.first.isoformat(),
        "currency": base.outcome.season.site.currency,
        "total_in_time": base.costs.total,
        "days": [one(late) for late in found.days],
    }
