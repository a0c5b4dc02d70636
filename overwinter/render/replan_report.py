"""A re-plan beside the plan it replaces: what changes for which tree and why, and what it costs."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import date
from textwrap import wrap

from overwinter.audit.report import Finding, Rule
from overwinter.model.changes import Changes
from overwinter.model.plan import Costs
from overwinter.model.tree import numbered_name
from overwinter.planning.compare import Comparison, HeaterChange, TreeChange
from overwinter.planning.last_safe_date import LastSafeDate
from overwinter.planning.why import Cause
from overwinter.render.alike import tree_names
from overwinter.render.replan_words import (
    change_words,
    last_safe_words,
    path_words,
    tree_name,
    why_words,
)
from overwinter.render.terminal import WIDTH, Style
from overwinter.render.words import count, long_date, money, place_name, short_date
from overwinter.shelters.heater import setting_label

NAME, BESIDE = 18, 21
"""Widths of the columns; the rest is for the reason."""
DANGERS = (Rule.ROOTS, Rule.AIR, Rule.SWITCHING)
"""What of the past a grower must know: trees that may be hurt."""
SHOWN_MARGINS = 8


@dataclass(frozen=True)
class ReplanAnswer:
    """All that is told of a re-plan or of two plans of a history."""

    names: tuple[str, str]
    """The plans side by side: "plan 1", "plan 2"."""
    comparison: Comparison
    changes: tuple[Changes, Changes]
    whole_winter: tuple[float, float]
    """Costs of the whole winters, what has happened included, money; disturbance is not in them."""
    last_safe: tuple[LastSafeDate, ...] = ()
    notes: tuple[str, ...] = ()
    past: tuple[Finding, ...] = ()


def replan_report(answer: ReplanAnswer, style: Style | None = None) -> str:
    """The whole answer as text of ``WIDTH`` columns."""
    style = style or Style()
    blocks = [
        _head(answer, style),
        _sums(answer, style),
        _trees(answer, style),
        _heaters(answer, style),
        _margins(answer, style),
        _last_safe(answer, style),
        _past(answer, style),
    ]
    return "\n".join("\n".join(block) + "\n" for block in blocks if block)


def _head(answer: ReplanAnswer, style: Style) -> list[str]:
    season = answer.comparison.after.season
    old, new = answer.names
    first = long_date(answer.comparison.first)
    lines = [style.heading(f"{season.site.name}: {new} beside {old}, from {first} on")]
    because = change_words(season, answer.changes[1], answer.changes[0])
    lines += _row("Because", "; ".join(because) if because else "no fact changed")
    for note in answer.notes:
        lines += _row("Note", note)
    return lines


def _row(label: str, text: str) -> list[str]:
    lines = wrap(text, WIDTH - 12) or [""]
    return [f"{label if n == 0 else '':<12}{line}" for n, line in enumerate(lines)]


def _sums(answer: ReplanAnswer, style: Style) -> list[str]:
    found = answer.comparison
    currency = found.after.season.site.currency
    old, new = answer.names
    rows = [
        _sum("carries ahead", found.carries, 0),
        _sum("carry days ahead", carry_days(found), 0),
        _sum("heat bought, kWh", found.heat_kwh, 0),
    ]
    for part in fields(Costs):
        before, after = (getattr(costs, part.name) for costs in found.costs)
        if max(abs(before), abs(after)) >= 0.005:
            rows.append(_sum(f"{part.name.replace('_', ' ')}, {currency}", (before, after)))
    rows.append(_sum(f"in all, {currency}", (found.costs[0].total, found.costs[1].total)))
    rows.append(_sum(f"the whole winter, {currency}", answer.whole_winter))
    head = f"{'':<28}{old:>12}{new:>12}{'difference':>14}"
    extra = count(found.extra_carries, "carry", "carries")
    return [
        style.heading(head),
        *rows,
        f"{extra} to a place {old} would not have carried the tree to.",
    ]


def carry_days(found: Comparison) -> tuple[int, int]:
    """Carry days ahead, before and after."""
    return len(found.before.plan.carry_days), len(found.after.plan.carry_days)


def _sum(label: str, sums: tuple[float, float], digits: int = 2) -> str:
    before, after = sums
    apart = round(after, digits) - round(before, digits)
    return f"{label:<28}{before:>12.{digits}f}{after:>12.{digits}f}{apart + 0.0:>+14.{digits}f}"


def _trees(answer: ReplanAnswer, style: Style) -> list[str]:
    found = answer.comparison
    season = found.after.season
    kept, total = len(found.undisturbed), len(found.changed) + len(found.unchanged)
    days = len(found.undisturbed) - len(found.unchanged)
    on_other_days = f", {days} of them on other days" if days else ""
    lines = [f"{kept} of {count(total, 'tree')} undisturbed{on_other_days}."]
    if found.gone:
        lines += wrap(f"Gone: {tree_names(tree_name(season, one) for one in found.gone)}.", WIDTH)
    lines += _left_out(found)
    if not found.changed:
        return lines
    old, new = answer.names
    lines.append(style.heading(f"{'Tree':<{NAME}}{old:<{BESIDE}}{new:<{BESIDE}}why"))
    rows: dict[tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]], list[str]] = {}
    for change in found.changed:
        before, after = differing(found, change)
        why: tuple[str, ...] = (why_words(season, change.why),)
        cells = (before, after, why)
        rows.setdefault(cells, []).append(tree_name(season, change.tree_id))
    for cells, names in rows.items():
        lines += _beside([_with_number(names)], *cells)
    if any(change.why.cause is Cause.NO_CARRY_DAY for change in found.changed):
        days = season.site.carry_days_max
        lines.append(
            f"All {days} carry days are used; `--carry-days {days + 1}` would allow one more."
        )
    return lines


def _with_number(names: Sequence[str]) -> str:
    """``4 trees: Myrtle, Olives (all 3)``; without a number where the names give it."""
    told = tree_names(names)
    of_one_row = len({numbered_name(name)[0] for name in names}) == 1
    return told if of_one_row else f"{count(len(names), 'tree')}: {told}"


def _left_out(found: Comparison) -> list[str]:
    season = found.after.season
    ids = [left.tree_id for left in found.after.plan.left_out]
    if not ids:
        return []
    worth = money(sum(season.tree_by_id[one].value for one in ids), season.site.currency)
    names = tree_names(tree_name(season, one) for one in ids)
    text = f"Without a safe place, and not in the sums above: {names} (worth {worth})."
    return wrap(text, WIDTH)


def differing(found: Comparison, change: TreeChange) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """What is carried before and not after, and after and not before; both in words."""
    season = found.after.season
    both = {(c.day, c.target) for c in change.before} & {(c.day, c.target) for c in change.after}
    before = tuple(c for c in change.before if (c.day, c.target) not in both)
    after = tuple(c for c in change.after if (c.day, c.target) not in both)
    if change.tree_id not in found.after.plan.stays:
        return path_words(season, before), ("no safe place",)
    if change.tree_id not in found.before.plan.stays:
        return ("-",), path_words(season, after)
    return path_words(season, before), path_words(season, after)


def _beside(*cells: Sequence[str]) -> list[str]:
    """Cells of several lines beside each other, each broken to its column's width."""
    widths = (NAME, BESIDE, BESIDE, WIDTH - NAME - 2 * BESIDE)
    broken = [
        [line for text in cell for line in wrap(text, width - 1, subsequent_indent=" ")]
        for cell, width in zip(cells, widths, strict=True)
    ]
    height = max(map(len, broken))
    rows = []
    for number in range(height):
        parts = [
            f"{lines[number] if number < len(lines) else '':<{width}}"
            for lines, width in zip(broken, widths, strict=True)
        ]
        rows.append("".join(parts).rstrip())
    return rows


def _heaters(answer: ReplanAnswer, style: Style) -> list[str]:
    found = answer.comparison
    if not found.heaters:
        return []
    lines = [style.heading("Heaters set otherwise")]
    for change in found.heaters:
        name = found.after.season.shelter_by_id[change.shelter_id].name
        lines += wrap(name, WIDTH)
        for plan, words in zip(answer.names, heater_words(found, change), strict=True):
            lines += wrap(
                f"{plan}: {words}", WIDTH - 2, initial_indent="  ", subsequent_indent="    "
            )
    return lines


def heater_words(found: Comparison, change: HeaterChange) -> tuple[str, str]:
    """The settings of a shelter before and after: ``off; from 14 Dec step 30 W``."""
    display = found.after.season.site.display

    def words(steps: Sequence[tuple[date, str]]) -> str:
        told = []
        for number, (day, key) in enumerate(steps):
            since = "" if number == 0 else f"from {short_date(day)} "
            told.append(f"{since}{setting_label(key, display)}")
        return "; ".join(told)

    return words(change.before), words(change.after)


def _margins(answer: ReplanAnswer, style: Style) -> list[str]:
    found = answer.comparison
    if not found.margins:
        return []
    season = found.after.season
    show = season.site.display
    lines = [style.heading("Trees nearer to their limit than before, to spare")]
    alike: dict[tuple[str, str], list[str]] = {}
    for change in found.margins:
        margin = change.after
        where = place_name(season, margin.root_where) if margin.root_where else ""
        if margin.air_where and margin.nearest_k != margin.root_spare_k:
            where = place_name(season, margin.air_where)
        before, after = show.kelvin(change.before_k), show.kelvin(margin.nearest_k)
        name = tree_name(season, change.tree_id)
        words = f"{before} before, {after} now ({short_date(margin.nearest_when)}, {where})"
        alike.setdefault((numbered_name(name)[0], words), []).append(name)
    told = [(words, names) for (_, words), names in alike.items()]
    for words, names in told[:SHOWN_MARGINS]:
        text = f"{tree_names(names)}: {words}"
        lines += wrap(text, WIDTH - 2, initial_indent="  ", subsequent_indent="    ")
    if len(told) > SHOWN_MARGINS:
        more = sum(len(names) for _, names in told[SHOWN_MARGINS:])
        lines.append(f"  and {count(more, 'more tree', 'more trees')}")
    return lines


def _last_safe(answer: ReplanAnswer, style: Style) -> list[str]:
    if not answer.last_safe:
        return []
    lines = [style.heading("How long it may last")]
    for found in answer.last_safe:
        words = last_safe_words(answer.comparison.after.season, found)
        lines += wrap(words, WIDTH - 2, initial_indent="  ", subsequent_indent="  ")
    return lines


def _past(answer: ReplanAnswer, style: Style) -> list[str]:
    harms = [finding for finding in answer.past if finding.rule in DANGERS]
    if not harms:
        return []
    lines = [style.heading("What has happened already, by the weather used")]
    for finding in harms:
        when = "" if finding.when is None else f"{short_date(finding.when)}: "
        lines += wrap(
            f"{when}{finding.text}", WIDTH - 2, initial_indent="  ", subsequent_indent="    "
        )
    return lines
