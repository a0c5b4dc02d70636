"""What the audit reckons of a plan by itself: who is where, costs and heat."""

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from overwinter.audit.report import Bill, HeatUse, TreeRisk
from overwinter.model.changes import Start
from overwinter.model.plan import Costs, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import (
    Conditions,
    FloatArray,
    HeaterSetting,
    Place,
    PlaceKind,
    Shelter,
)
from overwinter.model.site import AWAY_OUTDOORS
from overwinter.model.stage import StageDays
from overwinter.model.tree import Tree
from overwinter.simulate.exposures import Kind, kind_of

SUNK_WORTH = 2.0
"""Carries that sinking a tree is worth: as docs/carry-lists.md has it, written again so that a slip
in what the search uses is found."""


@dataclass(frozen=True)
class Ledger:
    """One plan to audit. All but the rules of structure take for granted that those hold."""

    season: Season
    conditions: Conditions
    stage_days: StageDays
    plan: Plan
    start: Start | None
    """Where the plan began, if anybody knows."""

    @property
    def stages(self) -> range:
        """Indices of all stages."""
        return range(len(self.stage_days.stages))

    @property
    def free_stages(self) -> range:
        """Stages that the plan could choose; what was before is a fact."""
        begun = 1 if self.start is None else self.start.fixed_stages
        return range(max(1, begun, self.plan.fixed_stages), len(self.stages))

    @property
    def winters(self) -> int:
        """How many winters."""
        return int(self.stage_days.first_day.shape[1])

    @cached_property
    def mean_days(self) -> FloatArray:
        """Length of each stage, days, mean over the winters, ``(stage,)``."""
        lengths = self.stage_days.end_day - self.stage_days.first_day
        return np.asarray(lengths.mean(axis=1))

    @cached_property
    def placed(self) -> tuple[Tree, ...]:
        """Trees that have a place, in the order of the season."""
        return tuple(tree for tree in self.season.trees if tree.id in self.plan.stays)

    def home(self, tree: Tree) -> str:
        """Id of the place where a tree belongs in summer."""
        return tree.stands_at or self.season.site.summer_place

    def work(self, tree_id: str, target: str) -> float:
        """Carries that bringing a tree to a place is worth in time and money."""
        sunk = self.season.places[target].kind is PlaceKind.SUNK
        away = target != self.home(self.season.tree_by_id[tree_id])
        return SUNK_WORTH if sunk and away else 1.0

    def shelter_of(self, place_id: str) -> Shelter:
        """The shelter that a place is in."""
        return self.season.shelter_by_id[self.season.places[place_id].shelter_id]

    def joined(self, tree: Tree, stage: int) -> bool:
        """Whether a tree is there in a stage: it has joined in every winter when the stage begins,
        and a tree that joins does so after the first stage began."""
        if tree.joins is None:
            return True
        day = self.season.day_index(tree.joins)
        return stage > 0 and bool((self.stage_days.first_day[stage] >= day).all())

    @cached_property
    def occupants(self) -> Mapping[tuple[str, int], tuple[Tree, ...]]:
        """Trees by (place, stage), facts included."""
        found: dict[tuple[str, int], list[Tree]] = {}
        for tree in self.placed:
            for stage, place_id in enumerate(self.plan.stays[tree.id]):
                if place_id is not None:
                    found.setdefault((place_id, stage), []).append(tree)
        return {key: tuple(trees) for key, trees in found.items()}

    def chosen_stays(self) -> Iterator[tuple[Tree, Place, range]]:
        """Each tree with each place it is given, and the stages of one unbroken stay there."""
        for tree in self.placed:
            path = self.plan.stays[tree.id]
            begin = self.free_stages.start
            for stage in range(begin + 1, len(path) + 1):
                if stage == len(path) or path[stage] != path[begin]:
                    place_id = path[begin]
                    if place_id is not None:
                        yield tree, self.season.places[place_id], range(begin, stage)
                    begin = stage

    def settings_known(self, shelter_id: str) -> tuple[HeaterSetting, ...]:
        """Every setting the shelter's heaters offer, off first."""
        return self.conditions.shelters[shelter_id].settings

    @cached_property
    def setting(self) -> Mapping[str, tuple[int, ...]]:
        """Index of each shelter's setting in each stage."""
        return {
            shelter_id: tuple(self.settings_known(shelter_id).index(s) for s in settings)
            for shelter_id, settings in self.plan.settings.items()
        }


Move = tuple[int, str, str | None, str]
"""Stage, tree, source (None: it joins), target."""


def moves(ledger: Ledger) -> Counter[Move]:
    """Changes of place in the stays; joining is one."""
    return Counter(
        (stage, tree.id, path[stage - 1], place_id)
        for tree in ledger.placed
        for path in (ledger.plan.stays[tree.id],)
        for stage in range(1, len(ledger.stages))
        for place_id in (path[stage],)
        if place_id is not None and place_id != path[stage - 1]
    )


def heat(ledger: Ledger) -> tuple[tuple[HeatUse, ...], Bill]:
    """Heat by shelter and stage, mean over the winters, and the bill over the winters."""
    stage_of_day = ledger.stage_days.stage_of_day
    winters: FloatArray = np.zeros(ledger.winters)
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
    ledger: Ledger,
    bill: Bill,
    risks: Mapping[str, TreeRisk],
    safe_days: Mapping[Kind, FloatArray],
) -> Costs:
    """All parts. The price of leaving a tree out is the plan's own figure, and so is that of
    disturbance where the plan in force before is not known.

    Parameters
    ----------
    safe_days : of each kind, days of each stage that would be safe at the summer stand.
    """
    weights = ledger.season.site.weights
    last = [(ledger.plan.stays[tree.id][-1], ledger.home(tree)) for tree in ledger.placed]
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
        times * price(tree_id) * ledger.work(tree_id, target)
        for (_, tree_id, source, target), times in moves(ledger).items()
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
        for stage, tree_id, source, target in moves(ledger)
    ]
    return ledger.season.site.weights.extra_carry * sum(new)


def _days_away(ledger: Ledger, safe_days: Mapping[Kind, FloatArray]) -> float:
    """Days under cover on which a tree would have been safe at home; outdoors a day counts less."""
    total = 0.0
    for tree in ledger.placed:
        home, safe = ledger.home(tree), safe_days[kind_of(tree)]
        for stage, place_id in enumerate(ledger.plan.stays[tree.id]):
            if place_id not in (None, home):
                outdoors = ledger.shelter_of(str(place_id)).open_air
                total += float(safe[stage]) * (AWAY_OUTDOORS if outdoors else 1.0)
    return total


def _crowding(ledger: Ledger) -> float:
    weights = ledger.season.site.weights
    total = 0.0
    for (place_id, stage), trees in ledger.occupants.items():
        comfortable = weights.comfortable_share * ledger.season.places[place_id].area_m2
        over = max(0.0, sum(tree.footprint_m2 for tree in trees) - comfortable)
        if not ledger.shelter_of(place_id).open_air:
            total += over * float(ledger.mean_days[stage])
    return weights.crowding_per_m2_day * total
