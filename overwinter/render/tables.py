"""The tables of a plan."""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from itertools import groupby

from overwinter.audit.audit import Found
from overwinter.audit.report import AuditReport, PlaceUse, TreeRisk
from overwinter.model.plan import LeftOut, Plan
from overwinter.model.season import Season
from overwinter.model.species import Harm
from overwinter.model.stage import Stage
from overwinter.render.carry_words import layout_of, position_words
from overwinter.render.table import Cell, Column, Table, texts
from overwinter.render.words import (
    amount_words,
    chance,
    long_date,
    place_name,
    range_words,
    short_date,
    sign_brief,
    sign_words,
    stage_number,
    stage_numbers,
    stages_span,
    tree_names,
)
from overwinter.search.explain import Elsewhere
from overwinter.shelters.damp import WetSurface
from overwinter.shelters.heater import setting_label


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
        *texts("begins when", "usually", "most years"),
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
            where = place_name(season, place_id)
            spot = _spot(season, plan, tree.id, place_id, stages[0].index)
            rows.append((tree.name, stage_numbers(stages), stages_span(stages), where, spot))
    columns = texts("tree", "stages", "usual days", "place", "spot")
    return Table("stays", "Trees, stay by stay", columns, tuple(rows))


def _spot(season: Season, plan: Plan, tree_id: str, place_id: str, stage: int) -> str | None:
    layout = layout_of(plan, place_id, stage).get(tree_id)
    return position_words(season.places[place_id], layout, season.site.display) or None


def on_table(season: Season, plan: Plan, day: date, trees: Iterable[str] = ()) -> Table:
    """Where everything usually is on one day, place by place; or where some trees are."""
    stage = stage_on(plan, day)
    asked = frozenset(trees)
    standing: dict[str, list[str]] = defaultdict(list)
    for tree in season.trees:
        place_id = plan.stays.get(tree.id, (None,) * len(plan.stages))[stage.index]
        if place_id is not None and (not asked or tree.name in asked):
            standing[place_id].append(tree.id)
    names = {tree.id: tree.name for tree in season.trees}
    title = (
        f"On {long_date(day)}, in most winters stage {stage.index + 1}: "
        f"{sign_brief(season, stage)} (usually {stages_span([stage])})"
    )
    if asked:
        rows: list[tuple[Cell, ...]] = [
            (names[t], place_name(season, p), _spot(season, plan, t, p, stage.index))
            for p in season.places
            for t in standing[p]
        ]
        columns = (Column("tree"), Column("place"), Column("spot"))
        return Table("on", title, columns, tuple(rows))
    rows = [
        (place_name(season, p), len(standing[p]), tree_names(names[t] for t in standing[p]))
        for p in season.places
        if standing[p]
    ]
    columns = (Column("place"), Column("trees", digits=0), Column("which"))
    return Table("on", title, columns, tuple(rows))


def stage_on(plan: Plan, day: date) -> Stage:
    """The stage that a day usually lies in; the first or the last for a day before or after."""
    begun = [stage for stage in plan.stages if stage.usual <= day]
    return begun[-1] if begun else plan.stages[0]


def carries_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """Every carry, by stage and place carried to."""
    order = {place_id: number for number, place_id in enumerate(season.places)}
    carries = sorted(plan.carries, key=lambda c: (c.stage, c.day, order[c.target], c.tree_id))
    takes_two = season.site.weights.takes_two
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
            2 if takes_two(tree.weight_kg) else 1,
        )
        for carry in carries
        for tree, stage in ((season.tree_by_id[carry.tree_id], plan.stages[carry.stage]),)
    )
    columns = (
        Column("stage", digits=0),
        *texts("when", "usual day", "most years", "tree", "from", "to"),
        Column("weight", weight.unit, weight.digits),
        Column("people", digits=0),
    )
    return Table("carries", "Carries, stage by stage", columns, rows)


def heat_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What each heated shelter is set to and what it burns, mean over the winters.

    Stages that follow each other on one setting are one row.
    """
    display = season.site.display
    rows = []
    for shelter_id, uses in groupby(report.heat, key=lambda use: use.shelter_id):
        settings = plan.settings[shelter_id]
        if not season.shelter_by_id[shelter_id].heaters:
            continue
        for setting, group in groupby(uses, key=lambda use: settings[use.stage]):
            some = list(group)
            stages = [plan.stages[use.stage] for use in some]
            rows.append(
                (
                    season.shelter_by_id[shelter_id].name,
                    stage_numbers(stages),
                    stages_span(stages),
                    setting_label(setting, display),
                    sum(use.purchased_kwh for use in some),
                    sum(use.from_kwh for use in some),
                    sum(use.to_kwh for use in some),
                    sum(use.money for use in some),
                )
            )
    columns = (
        *texts("shelter", "stages", "usual days", "set to"),
        Column("bought", "kWh", 0),
        Column("from", "kWh", 0),
        Column("to", "kWh", 0),
        Column("cost", season.site.currency, 2),
    )
    title = "Heaters, mean over the winters; from and to: as U-values and wind may be"
    return Table("heat", title, columns, tuple(rows))


def damp_table(season: Season, plan: Plan, found: Sequence[WetSurface]) -> Table:
    """Where water forms on cold faces inside, and what would help."""
    rows = tuple(
        (
            season.shelter_by_id[one.shelter_id].name,
            one.surface,
            one.hours,
            stage_number(plan.stages[one.stage]),
            one.insulated_hours,
            one.floor_covered_hours,
            one.aired_hours,
            one.airing_kwh,
            one.airing_money,
        )
        for one in found
    )
    columns = (
        *texts("shelter", "drips from"),
        Column("as it is", "h", 0),
        Column("mostly in stage"),
        Column("insulated", "h", 0),
        Column("floor covered", "h", 0),
        Column("aired twice as much", "h", 0),
        Column("heat for it", "kWh", 0),
        Column("bought", season.site.currency, 2),
    )
    title = "Damp: hours a winter with water on a cold face (25 mm of foam; a second pane or film)"
    return Table("damp", title, columns, rows)


def places_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """How full each place is; stages that follow each other with the same trees are one row."""
    area, load = season.site.display.area_scale, season.site.display.weight_scale
    rows = []

    def there(use: PlaceUse) -> list[str]:
        return [t for t, stays in plan.stays.items() if stays[use.stage] == use.place_id]

    for place_id, uses in groupby(report.uses, key=lambda use: use.place_id):
        for _, group in groupby(uses, key=there):
            some = list(group)
            stages, use = [plan.stages[one.stage] for one in some], some[0]
            rows.append(
                (
                    place_name(season, place_id),
                    stage_numbers(stages),
                    stages_span(stages),
                    use.trees,
                    use.share * 100.0,
                    use.footprint_m2 * area.factor,
                    use.load_kg * load.factor,
                )
            )
    columns = (
        *texts("place", "stages", "usual days"),
        Column("trees", digits=0),
        Column("of the most allowed", "%", 0),
        Column("footprints", area.unit, area.digits),
        Column("load", load.unit, load.digits),
    )
    return Table("places", "How full the places are", columns, tuple(rows))


def risks_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What a winter may do to each tree, dearest first."""
    display = season.site.display
    rows = []
    for risk in sorted(report.risks.values(), key=lambda one: (-one.loss, one.tree_id)):
        rows.append(
            (
                season.tree_by_id[risk.tree_id].name,
                chance(risk.chance),
                risk.loss,
                None if risk.worst is None else risk.worst.value,
                worst_words(season, plan, risk),
                display.temperature(risk.coldest_root_c),
                None if risk.chill_share is None else risk.chill_share * 100.0,
                None if risk.light_share is None else risk.light_share * 100.0,
            )
        )
    columns = (
        *texts("tree", "chance of loss"),
        Column("expected loss", season.site.currency, 2),
        *texts("mostly", "mostly when and where", "roots fall to"),
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
        *texts("tree", "chance of loss stated", "found"),
        Column("money stated", currency, 2),
        Column("money found", currency, 2),
    )
    title = f"Stated, and found in {found.winters} winters drawn afresh with seed {found.seed}"
    return Table("found", title, columns, tuple(rows))


def worst_words(
    season: Season, plan: Plan, risk: TreeRisk, name: Callable[[str], str] | None = None
) -> str | None:
    """``stage 5, Polytunnel, floor``: when and where most is at stake; None: nowhere, or always."""
    most = max(risk.by_stage, default=0.0)
    if risk.worst is Harm.SHORT_CHILL or most <= 0.0:
        return None
    at = risk.by_stage.index(most)
    place_id = plan.stays[risk.tree_id][at]
    if place_id is None:
        return None
    return f"stage {at + 1}, {name(place_id) if name else place_name(season, place_id)}"


def left_out_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What would give each tree that is left out a place, and what every place lacks for it."""
    display, stand = season.site.display, dict[str, list[str]]()
    for left in plan.left_out:
        tree = season.tree_by_id[left.tree_id]
        # of a winter under way only its marks know
        at = "where it is" if plan.fixed_stages else f"at {place_name(season, season.home(tree))}"
        stand.setdefault(at, []).append(tree.name)
    stays = "; ".join(f"{tree_names(names)} (stays {at} until then)" for at, names in stand.items())
    title = f"Without a place: {stays}. What each place lacks:" if stays else "Without a place"
    rows = tuple(
        (
            season.tree_by_id[left.tree_id].name,
            cure_words(season, left),
            place_name(season, lack.place_id),
            lack.reason,
            amount_words(lack.amount, lack.unit, display) or None,
            stage_number(plan.stages[lack.stage]),
        )
        for left in plan.left_out
        for lack in left.lacks
    )
    columns = texts("tree", "what would help", "place", "lacks", "by", "worst stage")
    return Table("left-out", title, columns, rows)


def cure_words(season: Season, left: LeftOut) -> str:
    """``more room (it would stand at Cellar, floor)``."""
    if left.cure_place is None:
        return left.cure.value
    return f"{left.cure.value} (it would stand at {place_name(season, left.cure_place)})"


def why_table(season: Season, plan: Plan, found: Sequence[Elsewhere]) -> Table:
    """Each other place for some trees: what it costs more than the plan, or what speaks against."""
    columns = (
        *texts("tree", "place", "what speaks against it"),
        Column("costs more", season.site.currency, 2),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            season.tree_by_id[one.tree_id].name,
            place_name(season, one.place_id),
            elsewhere_words(season, one),
            one.costs,
        )
        for one in found
    ]
    names = tree_names(dict.fromkeys(str(row[0]) for row in rows))
    stage = plan.stages[found[0].stage if found else 0]
    where = dict.fromkeys(plan.stays[one.tree_id][stage.index] for one in found)
    places = " and ".join(place_name(season, p) for p in where if p is not None)
    title = (
        f"{names}: {places} in stage {stage.index + 1} (usually {stages_span([stage])}). "
        "Elsewhere, in a winter:"
    )
    alone = len({one.tree_id for one in found}) == 1
    if alone:
        return Table("why", title, columns[1:], tuple(row[1:] for row in rows))
    return Table("why", title, columns, tuple(rows))


def elsewhere_words(season: Season, one: Elsewhere) -> str:
    """What it would take to have a tree elsewhere, in a few words."""
    display = season.site.display
    if one.lacks is None:
        if one.costs is not None and one.costs < 0.0:
            return "nothing: cheaper, by less than the plan may be from the best"
        return "only what it costs"
    amount = amount_words(one.lacks.amount, one.lacks.unit, display)
    words = ", ".join(filter(None, [one.lacks.reason, amount]))
    if one.lacks.harm is not None:
        words += f" ({one.lacks.harm.value})"
    if one.setting is not None:
        words += f"; with the heater on {setting_label(one.setting, display)}, at least"
    elif one.others_move:
        words += "; if others make way, at least"
    return words


COST_PARTS = (
    ("heat", "heat", "energy bought"),
    ("losses", "expected losses", "value x chance of loss, times your caution"),
    ("carries", "carries", "every carry, heavy ones more"),
    ("cover", "days under cover", "days a tree could have spent outdoors safely"),
    ("crowding", "crowding", "places filled beyond the comfortable share"),
    ("disturbance", "changes of plan", "carries that the plan before did not have"),
    ("not_home", "not home at the end", "trees still under cover when the plan ends"),
    ("left_out", "left out", "trees without a place"),
)
"""Field of ``Costs``, its name, and what it stands for; the first is the bill."""


def costs_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """The bill, then what stands for worry and work, as the audit reckons them."""
    costs = report.costs.in_cents()
    parts = [(name, float(getattr(costs, field))) for field, name, _ in COST_PARTS]
    rows = (
        *parts,
        ("heat in one winter of ten is less than", report.bill.low),
        ("heat in one winter of ten is more than", report.bill.high),
        ("the whole, mean over the winters", costs.total),
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
