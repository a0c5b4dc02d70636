"""The audit of a plan: every tree followed along its true path, then every rule and cost."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from overwinter.audit.report import AT_RISK, AuditReport, Bill, HeatUse, PlaceUse, TreeRisk
from overwinter.climate.generator import fresh_winters
from overwinter.climate.series import by_day
from overwinter.model.changes import Start
from overwinter.model.plan import Costs, Plan
from overwinter.model.season import Season, Winters
from overwinter.model.shelter import Conditions, FloatArray
from overwinter.model.site import AWAY_OUTDOORS
from overwinter.model.species import Harm
from overwinter.model.stage import BoolArray, IntArray, StageDays
from overwinter.model.tree import Tree
from overwinter.plants.harm import short_chill_hazard
from overwinter.problems import UserError
from overwinter.rules import RULES
from overwinter.rules.carrying import worth
from overwinter.rules.rule import Finding, Ledger
from overwinter.shelters.conditions import compute_conditions
from overwinter.simulate.begun import stages_anew, stages_with
from overwinter.simulate.exposures import Key, Kind, KindArrays, Series, key_of, kind_of
from overwinter.simulate.follow import HARMS, State, lasting, short_chill, stage_hazards, states
from overwinter.simulate.harm_table import Follower, calendar_of, passed_over, stage_sums

MOST_CELLS = 1_000_000  # `(path, winter, day)` at once: some 60 arrays of 4 bytes are 240 MB
AT_ONCE = 60  # winters simulated at once under the settings of one plan, to save memory


class _Path(NamedTuple):
    """What decides the harm to a tree: its kind, what it owes, and its option in each stage."""

    kind: int
    owed: float
    options: tuple[int, ...]  # at the summer stand before it joins
    joins: int  # first stage in which it is there


def risks(ledger: Ledger, follower: Follower) -> dict[str, TreeRisk]:
    """What the winters do to every placed tree; what is alike is followed once."""
    path_of = {tree.id: _path(ledger, follower, tree) for tree in ledger.placed}
    groups: dict[Key, list[_Path]] = defaultdict(list)
    for path in dict.fromkeys(path_of.values()):
        groups[key_of(follower.kinds[path.kind])].append(path)
    size = max(1, MOST_CELLS // ledger.stage_days.stage_of_day.size)
    followed: dict[_Path, TreeRisk] = {}
    for key, paths in groups.items():
        for start in range(0, len(paths), size):
            some = paths[start : start + size]
            options: IntArray = np.array([path.options for path in some], dtype=np.intp)
            series = follower.exposures.series(options[:, ledger.stage_days.stage_of_day], key)
            followed |= zip(some, _follow(ledger, follower, series, some), strict=True)
    return {
        tree.id: replace(risk, tree_id=tree.id, loss=tree.value * risk.chance)
        for tree in ledger.placed
        for risk in (followed[path_of[tree.id]],)
    }


def _path(ledger: Ledger, follower: Follower, tree: Tree) -> _Path:
    index, path, settings = follower.exposures.index, ledger.plan.stays[tree.id], ledger.setting
    options = tuple(
        index[ledger.season.site.summer_place, 0]
        if place_id is None
        else index[place_id, settings[ledger.season.shelter_of(place_id).id][stage]]
        for stage, place_id in enumerate(path)
    )
    joins = next((k for k, place_id in enumerate(path) if place_id is not None), len(path))
    owed = 1.0
    if joins == len(path):
        owed = 0.0  # it joins after the last stage began
    elif tree.joins is not None:
        gone = ledger.season.day_index(tree.joins) / ledger.season.days
        owed = round(max(0.0, 1.0 - gone), 3)
    return _Path(follower.kind_index[kind_of(tree)], owed, options, joins)


def _follow(
    ledger: Ledger, follower: Follower, series: Series, paths: Sequence[_Path]
) -> list[TreeRisk]:
    """Risks of nameless trees of no value."""
    calendar = follower.calendar
    arrays = follower.arrays.of(np.array([path.kind for path in paths]))
    state = states(series, arrays, calendar)
    weights, days = ledger.season.site.weights, ledger.stage_days
    hazards = stage_hazards(series, state, arrays, calendar, weights, days.first_day)
    hazards = hazards.astype(np.float64)
    joins = np.array([path.joins for path in paths])
    hazards *= (np.arange(hazards.shape[2]) >= joins[:, None])[:, None, :, None]
    owed = np.array([path.owed for path in paths], dtype=np.float32)[:, None]
    short = short_chill_hazard(short_chill(state, arrays, owed)).astype(np.float64)
    lasts = np.array([lasting(follower.kinds[path.kind]) for path in paths])
    for_good = np.einsum("nwsh,nh->nws", hazards, lasts)
    by_stage = _lost(for_good)
    for past in (hazards, for_good):  # what is past in a re-plan is done
        past[:, :, : ledger.plan.fixed_stages] = 0.0
    chance = _lost(hazards.sum(axis=(2, 3)) + short)
    lost = _lost(for_good.sum(axis=2) + short)
    by_both = hazards.mean(axis=1)
    by_harm = _lost(np.concatenate((hazards.sum(axis=2), short[..., None]), axis=2))
    there = days.stage_of_day >= np.maximum(joins, ledger.plan.fixed_stages)[:, None, None]
    coldest = np.where(there, series.core_min_c, np.inf).min(axis=2)
    need = arrays.chill_need[..., 0] * owed
    earned = (state.chill[..., -1] / np.maximum(need, 1e-6)).mean(axis=1)
    light = _light_share(series, state, arrays, there)
    return [
        TreeRisk(
            tree_id="",
            chance=float(chance[i]),
            lost=float(lost[i]),
            by_harm=dict(zip((*HARMS, Harm.SHORT_CHILL), by_harm[i].tolist(), strict=True)),
            by_stage=tuple(by_stage[i].tolist()),
            loss=0.0,
            coldest_root_c=float(np.quantile(coldest[i], AT_RISK)),
            chill_share=float(earned[i]) if need[i, 0] > 0 else None,
            light_share=None if np.isnan(light[i]) else float(light[i]),
            worst_stage=_worst_stage(by_both[i], by_harm[i]),
        )
        for i in range(len(paths))
    ]


def _worst_stage(hazard: FloatArray, by_harm: FloatArray) -> int | None:
    """The stage, of ``hazard`` ``(stage, harm)``, that does most of the likeliest harm."""
    worst = int(by_harm.argmax())
    if worst == len(HARMS) or by_harm[worst] <= 0.0:
        return None
    return int(hazard[:, worst].argmax())


def _lost(hazard: FloatArray) -> FloatArray:
    """Mean over the winters (axis 1) of the chance that goes with a hazard."""
    return np.asarray((1.0 - np.exp(-hazard)).mean(axis=1))


def _light_share(series: Series, state: State, kinds: KindArrays, there: BoolArray) -> FloatArray:
    """Mean share of the light needed on days in leaf and warm, ``(n,)``; nan: no such day."""
    in_leaf = np.maximum(kinds.evergreen, state.bud) * (series.air_mean_c > kinds.dark_below_c)
    weight = np.where(there, in_leaf, 0.0)
    share = np.minimum(series.dli_mol_m2_d / kinds.light_floor_mol_m2_d, 1.0)
    days = weight.sum(axis=(1, 2))
    light = (weight * share).sum(axis=(1, 2)) / np.maximum(days, 1e-9)
    return np.asarray(np.where(days > 0, light, np.nan))


def audit(
    season: Season,
    conditions: Conditions,
    stage_days: StageDays,
    plan: Plan,
    start: Start | None = None,
) -> AuditReport:
    """Check a plan against its season over all winters of the sample.

    The physics (air, roots, hardening, harm) is shared with the plan; no refusal, cost or table of
    the program is.

    start : what the plan began from; None: not known, so what its fixed stages say is believed.

    A plan of unsound structure is reported at once, with the other rules unchecked.
    """
    ledger = Ledger(season, conditions, stage_days, plan, start)
    broken = _broken(ledger, first=True)
    if broken:
        return AuditReport(broken, plan.costs, whole=False)
    follower = Follower(season, conditions)
    found = risks(ledger, follower)
    uses, bill = heat(ledger)
    safe = stage_sums((~follower.home.unsafe).astype(np.float64), stage_days).mean(axis=1)
    paid = costs(ledger, bill, found, dict(zip(follower.kinds, safe, strict=True)))
    first = ledger.free_stages.start
    lost = {t: (risk.lost, max(risk.by_stage[first:])) for t, risk in found.items()}
    findings = _broken(replace(ledger, lost=lost, costs=paid), first=False)
    return AuditReport(findings, paid, bill, found, uses, place_uses(ledger))


def _broken(ledger: Ledger, first: bool) -> tuple[Finding, ...]:
    rules = [rule for rule in RULES if rule.first is first]
    return tuple(Finding(rule, *fault) for rule in rules for fault in rule.check(ledger))


def heat(ledger: Ledger) -> tuple[tuple[HeatUse, ...], Bill]:
    """Heat by shelter and stage, mean over the winters, and the bill over the winters."""
    stage_of_day = ledger.stage_days.stage_of_day
    winters: FloatArray = np.zeros(len(stage_of_day))
    unsure, uses = np.zeros(2), []
    for shelter_id, settings in ledger.setting.items():
        shelter = ledger.conditions.shelters[shelter_id]
        for stage in ledger.stages:
            setting, days = settings[stage], stage_of_day == stage
            money = (shelter.money[setting] * days).sum(axis=1)
            kwh = (shelter.purchased_kwh[setting] * days).sum(axis=1)
            winters += money
            if not shelter.settings[setting].is_off:
                mean_kwh, (below, above) = float(kwh.mean()), shelter.heat_unsure
                ends_kwh = (mean_kwh * (1 - below), mean_kwh * (1 + above))
                uses.append(HeatUse(shelter_id, stage, mean_kwh, float(money.mean()), *ends_kwh))
                unsure += float(money.mean()) * np.array(shelter.heat_unsure)
    mean = float(winters.mean())
    # Winters and walls are independent; one shelter's walls are taken to be as odd as another's.
    by_winter = np.abs(np.percentile(winters, (10, 90)) - mean)
    below, above = np.hypot(by_winter, unsure)
    return tuple(uses), Bill(mean, max(0.0, mean - float(below)), mean + float(above))


def costs(
    ledger: Ledger, bill: Bill, risks: Mapping[str, TreeRisk], safe_days: Mapping[Kind, FloatArray]
) -> Costs:
    """All parts. The price of leaving a tree out is the plan's own figure, and so is that of
    disturbance where the plan in force before is not known. ``safe_days``: of each kind, days of
    each stage that would be safe at the summer stand."""
    weights = ledger.season.site.weights
    last = [(ledger.plan.stays[tree.id][-1], ledger.season.home(tree)) for tree in ledger.placed]
    return Costs(
        heat=bill.mean,
        losses=weights.caution * sum(risk.loss for risk in risks.values()),
        carries=_carries(ledger),
        cover=weights.cover_day * _days_away(ledger, safe_days),
        crowding=_crowding(ledger),
        disturbance=_disturbance(ledger),
        not_home=weights.not_home * sum(place not in (home, None) for place, home in last),
        left_out=ledger.plan.costs.left_out,
    )


def _carries(ledger: Ledger) -> float:
    weights, trees = ledger.season.site.weights, ledger.season.tree_by_id

    def price(tree_id: str) -> float:
        heavy = trees[tree_id].weight_kg >= weights.two_person_kg
        return weights.two_person_carry if heavy else weights.carry

    carried = sum(
        times * price(tree_id) * worth(ledger, tree_id, target)
        for (_, tree_id, source, target), times in ledger.moves.items()
        if source is not None
    )
    shifted = sum(price(one.tree_id) for one in ledger.plan.shifts if one.tree_id in trees)
    return carried + weights.shift * shifted


def _disturbance(ledger: Ledger) -> float:
    if ledger.start is None and ledger.plan.fixed_stages > 0:
        return ledger.plan.costs.disturbance
    known = None if ledger.start is None else ledger.start.known_targets
    if known is None:
        return 0.0
    new = [
        stage >= ledger.free_stages.start
        and source is not None
        and target not in known.get(tree_id, frozenset())
        for stage, tree_id, source, target in ledger.moves
    ]
    return ledger.season.site.weights.extra_carry * sum(new)


def _days_away(ledger: Ledger, safe_days: Mapping[Kind, FloatArray]) -> float:
    """Days under cover on which a tree would have been safe at home; outdoors a day counts less."""
    total = 0.0
    for tree in ledger.placed:
        home, safe = ledger.season.home(tree), safe_days[kind_of(tree)]
        for stage, place_id in enumerate(ledger.plan.stays[tree.id]):
            if place_id not in (None, home):
                outdoors = ledger.season.shelter_of(str(place_id)).open_air
                total += float(safe[stage]) * (AWAY_OUTDOORS if outdoors else 1.0)
    return total


def _crowding(ledger: Ledger) -> float:
    weights = ledger.season.site.weights
    total, days = 0.0, ledger.stage_days.end_day - ledger.stage_days.first_day
    for (place_id, stage), trees in ledger.occupants.items():
        comfortable = weights.comfortable_share * ledger.season.places[place_id].area_m2
        over = max(0.0, sum(tree.footprint_m2 for tree in trees) - comfortable)
        if not ledger.season.shelter_of(place_id).open_air:
            total += over * float(days[stage].mean())
    return weights.crowding_per_m2_day * total


def place_uses(ledger: Ledger) -> tuple[PlaceUse, ...]:
    """How full every occupied place is in every stage."""
    fullest = ledger.season.site.weights.fullest_share
    uses = []
    for place_id, place in ledger.season.places.items():
        for stage in range(len(ledger.stages)):
            trees = ledger.occupants.get((place_id, stage), ())
            if trees:
                area = sum(tree.footprint_m2 for tree in trees)
                share = area / (fullest * place.area_m2)
                load = sum(tree.weight_kg for tree in trees)
                uses.append(PlaceUse(place_id, stage, len(trees), area, share, load))
    return tuple(uses)


@dataclass(frozen=True)
class Found:
    """What fresh winters do to a plan, means over them."""

    winters: int
    seed: int
    chances: Mapping[str, float]  # by placed tree: share of its value lost in a winter
    expected_loss: float  # over all trees, money a winter, without caution
    heat: float  # money for heat a winter


def second_sample(season: Season, plan: Plan, winters: int, seed: int) -> Found:
    """Follow a plan through winters drawn afresh from the recipe of its season. The signs keep
    their temperatures; the days on which they come are found anew. Raises ``UserError``: The season
    has no recipe."""
    return _through(season, plan, fresh_winters(season, winters, seed), seed)


def with_unseen(season: Season, plan: Plan, report: AuditReport) -> AuditReport:
    """A report with the risks of winters that the plan was not made from. In those it was made from
    it looks better than it is: out of many plans the search picks one that suits them by chance. It
    stays as it is where no others can be drawn."""
    if season.recipe is None or not report.whole:
        return report
    ((_, found, _),) = _followed(season, plan, *_unseen(season))
    planned = {tree_id: risk.lost for tree_id, risk in report.risks.items()}
    return replace(report, risks=found, unseen=AT_ONCE, planned=planned)


def _unseen(season: Season) -> tuple[Winters, int]:
    """Winters beside those of the sample, where such can be drawn, and their seed."""
    seed = season.site.seed
    if season.recipe is None:
        return season.winters, seed
    return fresh_winters(season, AT_ONCE, seed + 1), seed + 1


def colder(season: Season, plan: Plan, by_k: float) -> Found:
    """Follow a plan through the winters that its risks speak of, every hour of them colder by
    ``by_k``."""
    drawn, seed = _unseen(season)
    return _through(season, plan, replace(drawn, air_c=drawn.air_c - by_k), seed)


def _through(season: Season, plan: Plan, drawn: Winters, seed: int) -> Found:
    chances: dict[str, float] = defaultdict(float)
    heated = 0.0
    for share, found, money in _followed(season, plan, drawn, seed):
        for tree_id, risk in found.items():
            chances[tree_id] += share * risk.chance
        heated += share * money
    loss = sum(season.tree_by_id[tree_id].value * chance for tree_id, chance in chances.items())
    return Found(drawn.count, seed, chances, loss, heated)


def _followed(
    season: Season, plan: Plan, drawn: Winters, seed: int
) -> Iterator[tuple[float, dict[str, TreeRisk], float]]:
    """Part by part of some winters: what share of them it is, the risks, and money for heat."""
    days = stages_in(season, plan, by_day(drawn.air_c).min(axis=-1), seed)
    for start in range(0, drawn.count, AT_ONCE):
        some = slice(start, min(start + AT_ONCE, drawn.count))
        air, sun, snow = (one[some] for one in (drawn.air_c, drawn.sun_w_m2, drawn.snow_m))
        sample = Winters(air, sun, snow, drawn.names[some], drawn.origin)
        part = replace(season, winters=sample)
        part_days = StageDays(days.stages, days.first_day[:, some], days.days)
        ledger = Ledger(part, compute_conditions(part, plan.settings), part_days, plan)
        found = risks(ledger, Follower(part, ledger.conditions))
        yield sample.count / drawn.count, found, heat(ledger)[1].mean


def stages_in(season: Season, plan: Plan, outdoor_min_c: FloatArray, seed: int) -> StageDays:
    """The plan's stages in other winters, in the plan's order. ``outdoor_min_c``: coldest of each
    night, degC, ``(winter, day)``. ``seed``: of the errors of the forecasts."""
    passed, fixed = passed_over(season, plan.stages), plan.fixed_stages
    if fixed:
        begun, first = plan.stages[:fixed], plan.stages[fixed].usual
        found = stages_anew(season, outdoor_min_c, begun, first, plan.stages, passed, seed)
    else:
        calendar = calendar_of(season, passed)
        found = stages_with(season, outdoor_min_c, plan.stages, calendar, seed)
    here, wanted = (
        [repr((s.sign, s.threshold_c, s.happenings)) for s in some]
        for some in (found.stages, plan.stages)
    )
    if sorted(here) != sorted(wanted):
        raise UserError("The inputs have other dates than the plan was made with; plan again.")
    # stages that are alike, as days on which it was planned anew, stay in their order
    rows = np.empty(len(here), dtype=np.intp)
    rows[np.argsort(wanted, kind="stable")] = np.argsort(here, kind="stable")
    # a day of the calendar may lie elsewhere among the signs in those winters
    first_day = np.maximum.accumulate(found.first_day[rows], axis=0)
    return StageDays(plan.stages, first_day, found.days)
