"""The tables of a plan: the same rows for the screen, for CSV and for ``--json``."""

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from overwinter.audit.report import AuditReport
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.render.words import amount_words, place_name, short_date, spell_dates
from overwinter.shelters.heater import setting_label

Cell = str | int | float | None


@dataclass(frozen=True, slots=True)
class Column:
    """A heading with its unit; ``digits`` is set for numbers, which stand on the right."""

    name: str
    unit: str = ""
    digits: int | None = None

    @property
    def heading(self) -> str:
        """Name and unit."""
        return f"{self.name}, {self.unit}" if self.unit else self.name

    def show(self, cell: Cell) -> str:
        """One cell as text."""
        if cell is None:
            return "-"
        if isinstance(cell, float) and self.digits is not None:
            return f"{round(cell, self.digits) + 0.0:.{self.digits}f}"
        return str(cell)


@dataclass(frozen=True)
class Table:
    """A titled table of raw values."""

    name: str
    title: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def records(self) -> list[dict[str, Cell]]:
        """Rows as mappings from heading to value."""
        headings = [column.heading for column in self.columns]
        return [dict(zip(headings, row, strict=True)) for row in self.rows]


def render(table: Table) -> str:
    """A table as plain text, columns aligned by spaces; readable on screen and in a pipe."""
    body = [
        [column.show(cell) for column, cell in zip(table.columns, row, strict=True)]
        for row in table.rows
    ]
    headings = [column.heading for column in table.columns]
    if not body:
        return f"{table.title}\n  none\n"
    widths = [max(map(len, cells)) for cells in zip(headings, *body, strict=True)]

    def line(cells: Sequence[str]) -> str:
        padded = [
            cell.rjust(width) if column.digits is not None else cell.ljust(width)
            for cell, width, column in zip(cells, widths, table.columns, strict=True)
        ]
        return ("  " + "  ".join(padded)).rstrip()

    rule = "  " + "  ".join("-" * width for width in widths)
    return "\n".join([table.title, line(headings), rule, *map(line, body), ""])


def csv_text(table: Table) -> str:
    """A table as CSV with a heading row; numbers rounded as on the screen."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow([column.heading for column in table.columns])
    for row in table.rows:
        cells = zip(table.columns, row, strict=True)
        writer.writerow(["" if cell is None else column.show(cell) for column, cell in cells])
    return text.getvalue()


def places_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """How full each place is in each spell."""
    area, load = season.site.display.area_scale, season.site.display.weight_scale
    rows = tuple(
        (
            place_name(season, use.place_id),
            spell_dates(plan.spells[use.spell]),
            use.trees,
            use.share * 100.0,
            use.footprint_m2 * area.factor,
            use.load_kg * load.factor,
        )
        for use in report.uses
    )
    columns = (
        Column("place"),
        Column("spell"),
        Column("trees", digits=0),
        Column("of the most allowed", "%", 0),
        Column("footprints", area.unit, area.digits),
        Column("load", load.unit, load.digits),
    )
    return Table("places", "Places, spell by spell", columns, rows)


def trees_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """Where each tree is: one row for each stay, neighbouring spells at one place joined."""
    rows: list[tuple[Cell, ...]] = []
    for tree in season.trees:
        stays = plan.stays.get(tree.id, ())
        pairs = zip(plan.spells, stays, strict=False)
        for place_id, group in groupby(pairs, key=lambda pair: pair[1]):
            if place_id is None:
                continue
            spells = [spell for spell, _ in group]
            dates = f"{short_date(spells[0].start)} to {spell_dates(spells[-1]).split(' to ')[1]}"
            rows.append((tree.name, dates, place_name(season, place_id)))
    columns = (Column("tree"), Column("dates"), Column("place"))
    return Table("trees", "Trees, stay by stay", columns, tuple(rows))


def carries_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """Every carry, by day and shelter carried to."""
    order = {place_id: number for number, place_id in enumerate(season.places)}
    carries = sorted(plan.carries, key=lambda c: (c.day, order[c.target], c.tree_id))
    two = season.site.weights.two_person_kg
    weight = season.site.display.weight_scale
    rows = tuple(
        (
            carry.day.isoformat(),
            tree.name,
            place_name(season, carry.source) if carry.source else "joins",
            place_name(season, carry.target),
            tree.weight_kg * weight.factor,
            2 if tree.weight_kg >= two else 1,
        )
        for carry in carries
        for tree in (season.tree_by_id[carry.tree_id],)
    )
    columns = (
        Column("day"),
        Column("tree"),
        Column("from"),
        Column("to"),
        Column("weight", weight.unit, weight.digits),
        Column("people", digits=0),
    )
    return Table("carries", "Carries, day by day", columns, rows)


def heat_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What each shelter is set to and what it burns, spell by spell."""
    rows = tuple(
        (
            season.shelter_by_id[use.shelter_id].name,
            spell_dates(plan.spells[use.spell]),
            use.label,
            use.delivered_kwh,
            use.purchased_kwh,
            use.money,
        )
        for use in report.heat
        if len(season.shelter_by_id[use.shelter_id].heaters) > 0 or use.purchased_kwh > 0
    )
    columns = (
        Column("shelter"),
        Column("spell"),
        Column("setting"),
        Column("delivered", "kWh", 1),
        Column("bought", "kWh", 1),
        Column("cost", season.site.currency, 2),
    )
    return Table("heat", "Heat, spell by spell", columns, rows)


def margins_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """How near each tree comes to its limits, the nearest first."""
    show = season.site.display
    margins = sorted(report.margins.values(), key=lambda m: (m.nearest_k, m.tree_id))
    rows = tuple(
        (
            season.tree_by_id[margin.tree_id].name,
            show.kelvin(margin.root_spare_k),
            show.temperature(margin.root_min_c),
            show.temperature(margin.root_floor_c),
            short_date(margin.root_when),
            place_name(season, margin.root_where),
            None if margin.air_spare_k is None else show.kelvin(margin.air_spare_k),
            None if margin.light_ratio is None else margin.light_ratio,
            margin.chill_earned,
            margin.chill_owed,
            margin.chill_unit,
        )
        for margin in margins
    )
    columns = (
        Column("tree"),
        Column("roots to spare"),
        Column("roots at"),
        Column("working floor"),
        Column("on"),
        Column("at"),
        Column("air to spare"),
        Column("light / need", digits=2),
        Column("chilling earned", digits=0),
        Column("owed", digits=0),
        Column("in"),
    )
    return Table("margins", "Margins, nearest to a limit first", columns, rows)


def left_out_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What every place lacks for every tree that is left out, nearest first."""
    display = season.site.display
    rows = tuple(
        (
            season.tree_by_id[left.tree_id].name,
            place_name(season, lack.place_id),
            setting_label(lack.setting, display),
            spell_dates(plan.spells[lack.spell]),
            lack.reason.value,
            amount_words(lack.shortfall, lack.unit, display) or None,
        )
        for left in plan.left_out
        for lack in left.lacks
    )
    columns = (
        Column("tree"),
        Column("place"),
        Column("setting"),
        Column("worst spell"),
        Column("lacks"),
        Column("by"),
    )
    return Table("left-out", "Trees left out, and what each place lacks for them", columns, rows)


def not_home_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """Trees that are not back at the summer place when the plan ends, and why."""
    rows = tuple(
        (
            season.tree_by_id[one.tree_id].name,
            place_name(season, one.place_id),
            one.why.value,
            None if one.rule is None else one.rule.value,
            short_date(one.from_day),
        )
        for one in report.away
    )
    columns = (
        Column("tree"),
        Column("stands at"),
        Column("not carried home because"),
        Column("rule it would break there"),
        Column("from"),
    )
    return Table("not-home", "Trees not home when the plan ends", columns, rows)


def costs_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """The objective, part by part, as the audit recomputed it."""
    costs = report.costs
    parts = (
        ("heat", costs.heat),
        ("crowding", costs.crowding),
        ("rodents", costs.rodents),
        ("carries", costs.carries),
        ("carry days", costs.carry_days),
        ("cold-tail risk", costs.risk),
        ("not home when the plan ends", costs.not_home),
        ("disturbance", costs.disturbance),
        ("all", costs.total),
    )
    columns = (Column("part"), Column("cost", season.site.currency, 2))
    return Table("costs", "What the plan costs", columns, parts)


TABLES: Mapping[str, Callable[[Season, Plan, AuditReport], Table]] = {
    "places": places_table,
    "trees": trees_table,
    "carries": carries_table,
    "heat": heat_table,
    "margins": margins_table,
    "left-out": left_out_table,
    "not-home": not_home_table,
    "costs": costs_table,
}
"""Every table by the name it is asked for with."""
