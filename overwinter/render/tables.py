"""The tables of a plan."""

from collections import Counter
from collections.abc import Callable, Container, Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date, timedelta
from itertools import groupby

from overwinter.audit.audit import Found
from overwinter.audit.report import AT_RISK, AuditReport, HeatUse, PlaceUse, TreeRisk
from overwinter.model.plan import Carry, Costs, Cure, Lack, LeftOut, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterSetting, Place
from overwinter.model.stage import Stage
from overwinter.model.tree import Tree
from overwinter.render.carry_words import foam_words, layout_of, position_words
from overwinter.render.table import TREE, Cell, Columns, Figure, T, Table
from overwinter.render.words import (
    amount_words,
    chance,
    is_fixed,
    long_date,
    lost_words,
    money,
    names_of,
    range_words,
    sign_brief,
    stage_number,
    stage_numbers,
    stages_span,
    tree_names,
    usual_brief,
)
from overwinter.rules import misfits
from overwinter.search.explain import Elsewhere
from overwinter.shelters.damp import WetSurface
from overwinter.shelters.heater import setting_label

LEAST_MONEY = 0.005  # less is shown as 0.00
COST_PARTS = (  # field of `Costs`, its name, what it stands for; the bill first
    ("heat", "heat", "energy bought"),
    ("losses", "expected losses", "value x chance of loss, times your caution"),
    ("carries", "carries", "every carry, heavy ones more"),
    ("cover", "days under cover", "days a tree could have spent outdoors safely"),
    ("crowding", "crowding", "places filled beyond the comfortable share"),
    ("disturbance", "changes of plan", "carries that the plan before did not have"),
    ("not_home", "not home at the end", "trees still under cover when the plan ends"),
    ("left_out", "left out", "trees without a place"),
)


def stages_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """The signs of the winter in their order, with the days on which they usually come."""
    carried = Counter(carry.stage for carry in plan.carries)
    columns: Columns[Stage] = {
        "stage": lambda stage: stage.index + 1,
        "begins when": lambda stage: sign_brief(season, stage),
        "usually": usual_brief,
        "most years": lambda stage: "" if is_fixed(stage) else range_words(stage),
        "carries": lambda stage: carried[stage.index],
    }
    return Table.of("stages", "Stages of the winter", plan.stages, columns)


def stays_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """Where each tree is: one row for each stay, neighbouring stages at one place joined."""
    stays = (
        (tree, place_id, [stage for stage, _ in group])
        for tree in season.trees
        for place_id, group in groupby(_along(plan, tree.id), key=lambda pair: pair[1])
        if place_id is not None
    )
    columns: Columns[tuple[Tree, str, list[Stage]]] = {
        TREE: lambda stay: stay[0].name,
        **_when(season, lambda stay: stay[2]),
        "place": lambda stay: season.place_name(stay[1]),
        "spot": lambda stay: _spot(season, plan, stay[0].id, stay[1], stay[2][0].index),
    }
    return Table.of("stays", "Trees, stay by stay", stays, columns)


def _when(season: Season, stages: Callable[[T], Sequence[Stage]]) -> Columns[T]:
    return {
        "stages": lambda one: stage_numbers(stages(one)),
        "usual days": lambda one: stages_span(season, stages(one)),
    }


def _along(plan: Plan, tree_id: str) -> Iterable[tuple[Stage, str | None]]:
    """The stages with the place of a tree in each; nothing for one that is left out."""
    return zip(plan.stages, plan.stays.get(tree_id, ()), strict=False)


def placements_table(season: Season, plan: Plan) -> Table:
    """For scripts: a row for each tree and stage in which it stands somewhere, in the order of the
    tree list, then of the stages, which are counted from 1; the end is the usual last day."""
    stands = (
        (tree, stage, season.places[place_id])
        for tree in season.trees
        for stage, place_id in _along(plan, tree.id)
        if place_id is not None
    )

    def setting(stage: Stage, place: Place) -> str:
        settings = plan.settings.get(place.shelter_id, ())[stage.index : stage.index + 1]
        return "".join(setting_label(one, season.site.display) for one in settings)

    columns: Columns[tuple[Tree, Stage, Place]] = {
        TREE: lambda stand: stand[0].name,
        "species": lambda stand: stand[0].species_key,
        "stage": lambda stand: stand[1].index + 1,
        "stage_usually_begins": lambda stand: stand[1].usual,
        "stage_usually_ends": lambda stand: stand[1].until - timedelta(days=1),
        "shelter": lambda stand: season.shelter_by_id[stand[2].shelter_id].name,
        "place": lambda stand: stand[2].name,
        "place_id": lambda stand: stand[2].id,
        "heater_setting": lambda stand: setting(stand[1], stand[2]),
    }
    return Table.of("placements", "Placements", stands, columns)


def _spot(season: Season, plan: Plan, tree_id: str, place_id: str, stage: int) -> str | None:
    layout = layout_of(plan, place_id, stage).get(tree_id)
    return position_words(layout, season.site.display) or None


def on_table(season: Season, plan: Plan, day: date, trees: Container[str] = ()) -> Table:
    """Where everything usually is on one day, place by place; or where some trees are."""
    stage = stage_on(plan, day)
    standing: dict[str, list[Tree]] = {place_id: [] for place_id in season.places}
    for tree in season.trees:
        place_id = plan.stays.get(tree.id, (None,) * len(plan.stages))[stage.index]
        if place_id is not None and (not trees or tree.name in trees):
            standing[place_id].append(tree)
    title = (
        f"On {long_date(day)}, in most winters stage {stage.index + 1}: "
        f"{sign_brief(season, stage)} (usually {stages_span(season, [stage])})"
    )
    if trees:
        each: Columns[tuple[str, Tree]] = {
            TREE: lambda one: one[1].name,
            "place": lambda one: season.place_name(one[0]),
            "spot": lambda one: _spot(season, plan, one[1].id, one[0], stage.index),
        }
        stands = ((place_id, tree) for place_id, some in standing.items() for tree in some)
        return Table.of("on", title, stands, each)
    columns: Columns[tuple[str, list[Tree]]] = {
        "place": lambda one: season.place_name(one[0]),
        "trees": lambda one: len(one[1]),
        "which": lambda one: tree_names(tree.name for tree in one[1]),
    }
    return Table.of("on", title, filter(lambda one: one[1], standing.items()), columns)


def stage_on(plan: Plan, day: date) -> Stage:
    """The stage that a day usually lies in; the first or the last for a day before or after."""
    begun = [stage for stage in plan.stages if stage.usual <= day]
    return begun[-1] if begun else plan.stages[0]


def carries_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """Every carry, by stage and place carried to."""
    order = {place_id: number for number, place_id in enumerate(season.places)}
    carries = sorted(plan.carries, key=lambda c: (c.stage, c.day, order[c.target], c.tree_id))
    trees, stages, weight = season.tree_by_id, plan.stages, season.site.display.weight_scale
    takes_two = season.site.weights.takes_two
    columns: Columns[Carry] = {
        "stage": lambda c: c.stage + 1,
        "when": lambda c: sign_brief(season, stages[c.stage]),
        "usual day": lambda c: c.day,
        "most years": lambda c: range_words(stages[c.stage]),
        TREE: lambda c: trees[c.tree_id].name,
        "from": lambda c: season.place_name(c.source) if c.source else "joins",
        "to": lambda c: season.place_name(c.target),
        f"weight, {weight.unit}": lambda c: Figure(
            trees[c.tree_id].weight_kg * weight.factor, weight.digits
        ),
        "people": lambda c: 2 if takes_two(trees[c.tree_id].weight_kg) else 1,
    }
    return Table.of("carries", "Carries, stage by stage", carries, columns)


def heat_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What each heated shelter is set to and burns, mean; stages on one setting are one row."""

    def setting(use: HeatUse) -> HeaterSetting:
        return plan.settings[use.shelter_id][use.stage]

    heated = [use for use in report.heat if season.shelter_by_id[use.shelter_id].heaters]
    same = groupby(heated, key=lambda use: (use.shelter_id, setting(use)))
    columns: Columns[list[HeatUse]] = {
        "shelter": lambda uses: season.shelter_by_id[uses[0].shelter_id].name,
        **_when(season, lambda uses: [plan.stages[use.stage] for use in uses]),
        "set to": lambda uses: setting_label(setting(uses[0]), season.site.display),
        "bought, kWh": lambda uses: Figure(sum(use.purchased_kwh for use in uses), 0),
        "from, kWh": lambda uses: Figure(sum(use.from_kwh for use in uses), 0),
        "to, kWh": lambda uses: Figure(sum(use.to_kwh for use in uses), 0),
        f"cost, {season.site.currency}": lambda uses: Figure(sum(use.money for use in uses)),
    }
    title = "Heaters, mean over the winters; from, to: if walls and wind are not as told"
    return Table.of("heat", title, (list(uses) for _, uses in same), columns)


def damp_table(season: Season, plan: Plan, found: Sequence[WetSurface]) -> Table:
    """Where water forms on cold faces inside, and what would help."""

    def held(one: WetSurface, figure: Figure) -> Cell:
        """Where no thermostat pays for it, more outdoor air also cools: its gain is not known."""
        return figure if one.airing_money else None

    columns: Columns[WetSurface] = {
        "shelter": lambda one: season.shelter_by_id[one.shelter_id].name,
        "drips from": lambda one: one.surface,
        "as it is, h": lambda one: Figure(one.hours, 0),
        "mostly in stage": lambda one: stage_number(plan.stages[one.stage]),
        "insulated, h": lambda one: Figure(one.insulated_hours, 0),
        "floor covered, h": lambda one: Figure(one.floor_covered_hours, 0),
        "aired twice as much, h": lambda one: held(one, Figure(one.aired_hours, 0)),
        "heat for it, kWh": lambda one: held(one, Figure(one.airing_kwh, 0)),
        f"bought, {season.site.currency}": lambda one: held(one, Figure(one.airing_money)),
    }
    foam = foam_words(season.site.display)
    title = f"Damp: hours a winter with water on a cold face (insulated: {foam}, or a second pane)"
    return Table.of("damp", title, found, columns)


def places_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """How full each place is; stages that follow each other with the same trees are one row."""
    area, load = season.site.display.area_scale, season.site.display.weight_scale

    def there(use: PlaceUse) -> tuple[str, list[str]]:
        some = [t for t, stays in plan.stays.items() if stays[use.stage] == use.place_id]
        return use.place_id, some

    columns: Columns[list[PlaceUse]] = {
        "place": lambda uses: season.place_name(uses[0].place_id),
        **_when(season, lambda uses: [plan.stages[use.stage] for use in uses]),
        "trees": lambda uses: uses[0].trees,
        "of the most allowed, %": lambda uses: Figure(uses[0].share * 100.0, 0),
        f"footprints, {area.unit}": lambda uses: Figure(
            uses[0].footprint_m2 * area.factor, area.digits
        ),
        f"load, {load.unit}": lambda uses: Figure(uses[0].load_kg * load.factor, load.digits),
    }
    same = (list(uses) for _, uses in groupby(report.uses, key=there))
    return Table.of("places", "How full the places are", same, columns)


def by_loss(report: AuditReport) -> list[TreeRisk]:
    """What may happen to each tree, dearest first."""
    return sorted(report.risks.values(), key=lambda one: (-one.loss, one.tree_id))


def risks_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What a winter may do to each tree, dearest first."""
    display = season.site.display

    def percent(share: float | None) -> Figure | None:
        return None if share is None else Figure(share * 100.0, 0)

    columns: Columns[TreeRisk] = {
        **_dearest(season, plan, season.place_name),
        f"roots in 1 winter of {1 / AT_RISK:.0f}, {display.degree}": lambda risk: Figure(
            display.degrees(risk.coldest_root_c), 1
        ),
        "chilling, %": lambda risk: percent(risk.chill_share),
        "light, %": lambda risk: percent(risk.light_share),
    }
    title = (
        "Risks of each tree, dearest first. Chance and loss count fine roots and new leaves, which "
        "mend; lost: what does not. Loss: value x chance. Roots: the core of their ball at its "
        f"coldest, not below {display.temperature(0.0, 0)} until its water is frozen. Chilling, "
        "light: share of the need"
    )
    return Table.of("risks", title, by_loss(report), columns)


def dearest_table(
    season: Season, plan: Plan, report: AuditReport, name: Callable[[str], str] | None = None
) -> Table:
    """The same of trees that may be lost, those at risk first, in few words."""
    some = (risk for risk in by_loss(report) if risk.worst is not None)
    first = sorted(some, key=lambda risk: -risk.lost if risk.lost >= AT_RISK else 0.0)
    columns = _dearest(season, plan, name or season.place_name)
    return Table.of("dearest", "Worst risks", first, columns)


def _dearest(season: Season, plan: Plan, name: Callable[[str], str]) -> Columns[TreeRisk]:
    def mostly(risk: TreeRisk) -> str | None:
        """``old roots frozen, stage 5, Polytunnel, floor``; a harm of all winter has no place."""
        at = risk.worst_stage
        place_id = None if at is None else plan.stays[risk.tree_id][at]
        where = None if at is None or place_id is None else f"stage {at + 1}, {name(place_id)}"
        return ", ".join(filter(None, (risk.worst, where))) or None

    return {
        TREE: lambda risk: season.tree_by_id[risk.tree_id].name,
        "chance": lambda risk: chance(risk.chance),
        "lost": lambda risk: chance(risk.lost),
        f"loss, {season.site.currency}": lambda risk: Figure(risk.loss),
        "mostly, when and where": mostly,
    }


def found_table(season: Season, report: AuditReport, found: Found) -> Table:
    """Chances and bill the plan states beside those found in fresh winters, largest loss first."""
    risks, trees = report.risks, season.tree_by_id
    rows = [
        (trees[t].name, chance(risks[t].chance), chance(then), risks[t].loss, then * trees[t].value)
        for t, then in found.chances.items()
    ]
    rows.sort(key=lambda row: (-row[4], row[0]))
    rows.append(("all trees", "", "", report.expected_loss, found.expected_loss))
    rows.append(("heat", "", "", report.bill.mean, found.heat))
    columns: Columns[tuple[str, str, str, float, float]] = {
        TREE: lambda row: row[0],
        "chance of loss stated": lambda row: row[1],
        "found": lambda row: row[2],
        f"money stated, {season.site.currency}": lambda row: Figure(row[3]),
        f"money found, {season.site.currency}": lambda row: Figure(row[4]),
    }
    title = f"Stated, and found in {found.winters} winters drawn afresh with seed {found.seed}"
    return Table.of("found", title, rows, columns)


def left_out_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """What would give each tree that is left out a place, and what every place lacks for it."""
    display = season.site.display
    stand = dict[str, list[str]]()
    for left in plan.left_out:
        tree = season.tree_by_id[left.tree_id]
        # of a winter under way only its marks know
        at = "in place" if plan.fixed_stages else f"at {season.place_name(season.home(tree))}"
        stand.setdefault(at, []).append(tree.name)
    stays = "; ".join(
        f"{tree_names(names)} (stay{'s' * (len(names) == 1)} {at})" for at, names in stand.items()
    )
    helps = cures_words(season, plan.left_out)
    title = f"Without a place: {stays}. What would help: {helps}. What each place lacks:"
    if not plan.left_out:
        title = "Without a place"
    columns: Columns[tuple[LeftOut, Lack]] = {
        TREE: lambda one: season.tree_by_id[one[0].tree_id].name,
        "place": lambda one: season.place_name(one[1].place_id),
        "lacks": lambda one: one[1].reason,
        "how much": lambda one: amount_words(one[1].amount, one[1].unit, display) or None,
        "worst stage": lambda one: stage_number(plan.stages[one[1].stage]),
    }
    lacks = ((left, lack) for left in plan.left_out for lack in left.lacks)
    return Table.of("left-out", title, lacks, columns)


def cures_words(season: Season, left_out: Sequence[LeftOut]) -> str:
    """``more room (it would stand at Shed, bench): Elms (all 3); ...``: what would help whom."""
    trees: dict[str, list[str]] = {}
    for left in left_out:
        trees.setdefault(cure_words(season, left), []).append(left.tree_id)
    return "; ".join(f"{cure}: {names_of(season, some)}" for cure, some in trees.items())


def cure_words(season: Season, left: LeftOut) -> str:
    """``a larger or stronger place (for Cellar, floor it is too tall by 12 cm)``."""
    if left.cure_place is None:
        return left.cure.value
    name, place = season.place_name(left.cure_place), season.places[left.cure_place]
    over = [
        f"{rule.lacks} by {amount_words(by, rule.unit, season.site.display)}"
        for rule, by in misfits(season, season.tree_by_id[left.tree_id], place)
        if rule.cure is Cure.SIZE
    ]
    where = f"for {name} it is {' and '.join(over)}" if over else f"it would stand at {name}"
    return f"{left.cure.value} ({where})"


def why_table(season: Season, plan: Plan, report: AuditReport, found: Sequence[Elsewhere]) -> Table:
    """Each other place for some trees: what it costs more than the plan, or what speaks against."""
    name = {one.tree_id: season.tree_by_id[one.tree_id].name for one in found}
    columns: Columns[Elsewhere] = {
        **({TREE: lambda one: name[one.tree_id]} if len(name) > 1 else {}),
        "place": lambda one: season.place_name(one.place_id),
        "what speaks against it": lambda one: elsewhere_words(season, one),
        f"costs more, {season.site.currency}": lambda one: (
            None if one.costs is None else Figure(one.costs)
        ),
    }
    stage = plan.stages[found[0].stage if found else 0]
    where = dict.fromkeys(plan.stays[tree_id][stage.index] for tree_id in name)
    places = " and ".join(season.place_name(p) for p in where if p is not None)
    title = (
        f"{tree_names(name.values())}: {places} in stage {stage.index + 1} "
        f"(usually {stages_span(season, [stage])}); {lost_words(report, list(name))}. "
        "Elsewhere in this stage. Costs are of the whole winter; a tree lost in more than"
        f" {chance(season.site.weights.most_chance)} of the winters of the plan is not safe:"
    )
    return Table.of("why", title, found, columns)


def elsewhere_words(season: Season, one: Elsewhere) -> str:
    """What it would take to have a tree elsewhere, in a few words."""
    display = season.site.display
    if one.lacks is None:
        less = 0.0 if one.costs is None else -one.costs
        if less >= LEAST_MONEY:
            return f"nothing: cheaper by {money(less, season.site.currency)}; the search missed it"
        return "only what it costs"
    amount = amount_words(one.lacks.amount, one.lacks.unit, display)
    words = ", ".join(filter(None, [one.lacks.reason, amount]))
    if one.lacks.harm is not None:
        words += f" in this stage ({one.lacks.harm.value})"
    if one.setting is not None:
        on = "off" if one.setting.is_off else f"on {setting_label(one.setting, display)}"
        words += f"; with the heater {on} it costs at least so much"
    elif one.others_move:
        words += "; if others make way it costs at least so much"
    return words


def more_words(costs: float) -> str:
    """What a tree elsewhere costs more, or less, in few figures: ``2.50``, ``0.16 less``."""
    return f"{-costs:.2f} less" if costs <= -LEAST_MONEY else f"{costs + 0.0:.2f}"


def costs_values(costs: Costs) -> dict[str, float]:
    """Parts and sums by name, for a script."""
    return {**asdict(costs), "worry": costs.worry, "total": costs.total}


def costs_table(season: Season, plan: Plan, report: AuditReport) -> Table:
    """The bill, then what stands for worry and work, as the audit reckons them."""
    costs = report.costs.in_cents()
    parts = {name: float(getattr(costs, field)) for field, name, _ in COST_PARTS}
    parts["the whole, mean over the winters"] = costs.total
    parts["heat in one winter of ten is less than"] = report.bill.low
    parts["heat in one winter of ten is more than"] = report.bill.high
    rows = tuple((name, Figure(amount)) for name, amount in parts.items())
    headings = ("part", f"a winter, {season.site.currency}")
    return Table("costs", "What the plan costs in a winter", headings, rows)


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
