"""The tables of a plan: the same rows for the screen, for CSV and for ``--json``."""

import csv
import io
from collections import Counter
from collections.abc import Callable, Container, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from overwinter.audit.report import AuditReport
from overwinter.audit.second_sample import Found
from overwinter.model.plan import LeftOut, Plan
from overwinter.model.season import Season
from overwinter.model.tree import numbered_name
from overwinter.render.alike import tree_names
from overwinter.render.stage_words import (
    range_words,
    sign_brief,
    sign_words,
    stage_number,
    stages_span,
)
from overwinter.render.words import amount_words, chance, place_name, short_date
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

    def only_trees(self, names: Container[str]) -> "Table":
        """Rows about these trees alone; a table that is not about trees stays as it is."""
        at = _tree_column(self.columns)
        if at is None:
            return self
        return replace(self, rows=tuple(row for row in self.rows if row[at] in names))


def _tree_column(columns: Sequence[Column]) -> int | None:
    return next((n for n, column in enumerate(columns) if column.name == "tree"), None)


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


def stages_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """The signs of the winter in their order, with the days on which they usually come."""
    carried = Counter(carry.stage for carry in plan.carries)
    rows = tuple(
        (
            stage.index + 1,
            sign_words(season, stage),
            short_date(stage.usual),
            range_words(stage),
            carried[stage.index],
        )
        for stage in plan.stages
    )
    columns = (
        Column("stage", digits=0),
        Column("begins when"),
        Column("usually"),
        Column("most years"),
        Column("carries", digits=0),
    )
    return Table("stages", "Stages of the winter", columns, rows)


def stays_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """Where each tree is: one row for each stay, neighbouring stages at one place joined."""
    rows: list[tuple[Cell, ...]] = []
    for tree in season.trees:
        pairs = zip(plan.stages, plan.stays.get(tree.id, ()), strict=False)
        for place_id, group in groupby(pairs, key=lambda pair: pair[1]):
            if place_id is None:
                continue
            stages = [stage for stage, _ in group]
            numbers = f"{stages[0].index + 1}"
            if len(stages) > 1:
                numbers += f" to {stages[-1].index + 1}"
            rows.append((tree.name, numbers, stages_span(stages), place_name(season, place_id)))
    columns = (Column("tree"), Column("stages"), Column("usual days"), Column("place"))
    return Table("stays", "Trees, stay by stay", columns, tuple(rows))


def carries_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """Every carry, by stage and place carried to."""
    order = {place_id: number for number, place_id in enumerate(season.places)}
    carries = sorted(plan.carries, key=lambda c: (c.stage, c.day, order[c.target], c.tree_id))
    two = season.site.weights.two_person_kg
    weight = season.site.display.weight_scale
    rows = tuple(
        (
            carry.stage + 1,
            sign_brief(season, stage),
            carry.day.isoformat(),
            range_words(stage),
            tree.name,
            place_name(season, carry.source) if carry.source else "joins",
            place_name(season, carry.target),
            tree.weight_kg * weight.factor,
            2 if tree.weight_kg >= two else 1,
        )
        for carry in carries
        for tree, stage in ((season.tree_by_id[carry.tree_id], plan.stages[carry.stage]),)
    )
    columns = (
        Column("stage", digits=0),
        Column("when"),
        Column("usual day"),
        Column("most years"),
        Column("tree"),
        Column("from"),
        Column("to"),
        Column("weight", weight.unit, weight.digits),
        Column("people", digits=0),
    )
    return Table("carries", "Carries, stage by stage", columns, rows)


def heat_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What each heated shelter is set to and what it burns, mean over the winters."""
    display = season.site.display
    rows = tuple(
        (
            season.shelter_by_id[use.shelter_id].name,
            stage_number(plan.stages[use.stage]),
            setting_label(plan.settings[use.shelter_id][use.stage], display),
            use.purchased_kwh,
            use.money,
        )
        for use in report.heat
        if season.shelter_by_id[use.shelter_id].heaters
    )
    columns = (
        Column("shelter"),
        Column("stage"),
        Column("setting"),
        Column("bought", "kWh", 0),
        Column("cost", season.site.currency, 2),
    )
    return Table("heat", "Heat, stage by stage, mean over the winters", columns, rows)


def places_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """How full each place is in each stage."""
    area, load = season.site.display.area_scale, season.site.display.weight_scale
    rows = tuple(
        (
            place_name(season, use.place_id),
            stage_number(plan.stages[use.stage]),
            use.trees,
            use.share * 100.0,
            use.footprint_m2 * area.factor,
            use.load_kg * load.factor,
        )
        for use in report.uses
    )
    columns = (
        Column("place"),
        Column("stage"),
        Column("trees", digits=0),
        Column("of the most allowed", "%", 0),
        Column("footprints", area.unit, area.digits),
        Column("load", load.unit, load.digits),
    )
    return Table("places", "Places, stage by stage", columns, rows)


def risks_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What a winter may do to each tree, dearest first."""
    display = season.site.display
    rows = []
    for risk in sorted(report.risks.values(), key=lambda one: (-one.loss, one.tree_id)):
        at = worst_stage(risk.by_stage)
        place_id = None if at is None else plan.stays[risk.tree_id][at]
        rows.append(
            (
                season.tree_by_id[risk.tree_id].name,
                chance(risk.chance),
                risk.loss,
                None if risk.worst is None else risk.worst.value,
                None if at is None else stage_number(plan.stages[at]),
                None if place_id is None else place_name(season, place_id),
                display.temperature(risk.coldest_root_c),
                None if risk.chill_share is None else risk.chill_share * 100.0,
                None if risk.light_share is None else risk.light_share * 100.0,
            )
        )
    columns = (
        Column("tree"),
        Column("chance of loss in a winter"),
        Column("expected loss", season.site.currency, 2),
        Column("mostly"),
        Column("worst stage"),
        Column("then at"),
        Column("roots fall to"),
        Column("chilling of what it owes", "%", 0),
        Column("light of what it needs", "%", 0),
    )
    return Table("risks", "Risks, dearest first", columns, tuple(rows))


def found_table(season: Season, report: AuditReport, found: Found) -> Table:
    """Chances and bill the plan states beside those found in fresh winters, largest loss first."""
    rows = [
        (
            season.tree_by_id[tree_id].name,
            chance(report.risks[tree_id].chance),
            chance(found_chance),
            report.risks[tree_id].loss,
            found_chance * season.tree_by_id[tree_id].value,
        )
        for tree_id, found_chance in found.chances.items()
    ]
    rows.sort(key=lambda row: (-row[4], row[0]))
    rows.append(("all trees", "", "", report.expected_loss, found.expected_loss))
    rows.append(("heat", "", "", report.bill.mean, found.heat))
    currency = season.site.currency
    columns = (
        Column("tree"),
        Column("chance of loss stated"),
        Column("found"),
        Column("money stated", currency, 2),
        Column("money found", currency, 2),
    )
    title = f"Stated, and found in {found.winters} winters drawn afresh with seed {found.seed}"
    return Table("found", title, columns, tuple(rows))


def worst_stage(by_stage: Sequence[float]) -> int | None:
    """Stage with the largest chance; None where no stage has one."""
    if not by_stage or max(by_stage) <= 0.0:
        return None
    return max(range(len(by_stage)), key=lambda number: by_stage[number])


def left_out_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What would give each tree that is left out a place, and what every place lacks for it."""
    display = season.site.display
    rows = tuple(
        (
            season.tree_by_id[left.tree_id].name,
            cure_words(season, left),
            place_name(season, lack.place_id),
            lack.reason.value,
            amount_words(lack.amount, lack.unit, display) or None,
            stage_number(plan.stages[lack.stage]),
        )
        for left in plan.left_out
        for lack in left.lacks
    )
    columns = (
        Column("tree"),
        Column("what would help"),
        Column("place"),
        Column("lacks"),
        Column("by"),
        Column("worst stage"),
    )
    return Table("left-out", "Trees left out, and what each place lacks for them", columns, rows)


def cure_words(season: Season, left: LeftOut) -> str:
    """``more room (it would stand at Cellar, floor)``."""
    if left.cure_place is None:
        return left.cure.value
    return f"{left.cure.value} (it would stand at {place_name(season, left.cure_place)})"


COST_PARTS = (
    ("heat", "heat", "energy bought"),
    ("losses", "expected losses", "value x chance of loss, times your caution"),
    ("carries", "carries", "each tree carried once"),
    ("cover", "days under cover", "days a tree could have spent outdoors safely"),
    ("crowding", "crowding", "places filled beyond the comfortable share"),
    ("disturbance", "disturbance", "carries the plan in force did not have"),
    ("not_home", "not home at the end", "trees still under cover when the plan ends"),
    ("left_out", "left out", "trees without a place"),
)
"""Field of ``Costs``, its name, and what it stands for; the first is the bill."""


def costs_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """The bill, then what stands for worry and work, as the audit reckons them."""
    parts = [(name, float(getattr(report.costs, field))) for field, name, _ in COST_PARTS]
    rows = (
        *parts,
        ("heat in one winter of ten is less than", report.bill.low),
        ("heat in one winter of ten is more than", report.bill.high),
        ("the whole, mean over the winters", report.costs.total),
    )
    columns = (Column("part"), Column("a winter", season.site.currency, 2))
    return Table("costs", "What the plan costs in a winter", columns, rows)


TABLES: Mapping[str, Callable[[Season, Plan, AuditReport], Table]] = {
    "stages": stages_table,
    "stays": stays_table,
    "carries": carries_table,
    "heat": heat_table,
    "places": places_table,
    "risks": risks_table,
    "left-out": left_out_table,
    "costs": costs_table,
}
"""Every table by the name it is asked for with."""


def alike_joined(table: Table) -> Table:
    """The table with one row for trees of one row of the tree list that differ in nothing else.

    It stands where the first of them stood.
    """
    at = _tree_column(table.columns)
    if at is None:
        return table
    joined: dict[tuple[str, ...], list[tuple[Cell, ...]]] = {}
    for row in table.rows:
        shown = [column.show(cell) for column, cell in zip(table.columns, row, strict=True)]
        shown[at] = numbered_name(shown[at])[0]
        joined.setdefault(tuple(shown), []).append(row)
    rows = tuple(
        (*some[0][:at], tree_names(str(row[at]) for row in some), *some[0][at + 1 :])
        for some in joined.values()
    )
    return replace(table, rows=rows)
