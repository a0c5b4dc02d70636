"""The winter as the program sees it: groups of trees, options, stages, and money."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from overwinter.climate.sun import carrying_minutes
from overwinter.model.changes import Start
from overwinter.model.season import Season
from overwinter.model.shelter import Conditions, FloatArray, Shelter
from overwinter.model.site import AWAY_OUTDOORS, EVEN_CHANCE
from overwinter.model.stage import BoolArray, IntArray, StageDays
from overwinter.model.tree import Tree
from overwinter.rules import misfits
from overwinter.rules.doors import closed_days, in_quarantine, there
from overwinter.search.programmes import Programme, programmes_of
from overwinter.simulate.exposures import kind_of
from overwinter.simulate.harm_table import Follower, HarmTable, stage_sums

OFTEN = 10.0  # what keeps even a seedling from being carried for a few days outdoors: a judgement
FEW_TREES = 20  # collections up to which every tree is a group of its own


@dataclass(frozen=True)
class Group:
    """Trees alike in everything that a place, a carry or the money can see."""

    tree: Tree  # stands for any of them
    tree_ids: tuple[str, ...]
    kind: int
    start: tuple[str | None, ...]  # place in each fixed stage
    owed: float  # share of its chilling that it owes: less for a tree that joins in mid-winter

    @property
    def count(self) -> int:
        """How many trees."""
        return len(self.tree_ids)


class PathChance(NamedTuple):
    """What winters do to a tree on a path, means over them."""

    whole: float  # share of its value that it loses
    lost: float  # chance that it is lost for good
    lost_by_stage: FloatArray
    """The same, ``(stage,)``, without what counts for the whole winter: too little chilling."""


@dataclass(frozen=True)
class Problem:
    """One winter to plan; arrays over ``(group, option, stage)`` unless said."""

    season: Season
    conditions: Conditions
    follower: Follower
    stage_days: StageDays
    hands_min: FloatArray
    """Minutes that the household can carry at the beginning of each stage, ``(stage,)``."""
    start: Start
    table: HarmTable
    groups: tuple[Group, ...]
    cost: FloatArray
    """Money of one tree's stage at an option: expected loss times caution, and cover."""
    lost: FloatArray  # chance that it is lost for good in the stage
    is_open: Mapping[str, BoolArray]
    """By place: the stages in which its shelter can be used in every winter, ``(stage,)``."""
    suits: BoolArray  # whether doors are open and the tree may stand there
    most_chance: FloatArray  # `(group,)`: chance of loss in a stage from which a place is refused
    there: BoolArray  # `(group, stage)`: whether it has joined
    apart: BoolArray  # `(group, stage)`: whether it is in quarantine
    may_move: BoolArray  # `(group, stage)`: whether it may be carried at the beginning of the stage
    heat: Mapping[str, FloatArray]  # by shelter, `(setting, stage)`: mean money of heat
    programmes: Mapping[str, tuple[Programme, ...]]
    days: FloatArray  # mean length of each stage, days, `(stage,)`
    most_out: IntArray  # `(group,)`: how many of its trees may be left out
    left_out: FloatArray  # price of leaving out one tree of each group
    sunk: FloatArray
    """Money of carries and cover that one tree of each group has had. A tree that is left out is
    not reckoned with at all, so that is not paid for it."""
    exact: bool
    """Whether each tree is a group, and only settings that do the same harm are alike. Chilling
    and carries are sums over a group, so a group is priced a little too cheaply otherwise."""
    followed: dict[bytes, PathChance] = field(default_factory=dict, compare=False, repr=False)
    """By path: what true paths have shown so far."""

    @cached_property
    def allowed(self) -> BoolArray:
        """Whether a tree may be there."""
        return self.suits & (self.lost <= self.most_chance[:, None, None])

    def hoping(self) -> "Problem":
        """The same, with groups that are safe nowhere on any setting refused only where they are
        lost more likely than kept. No tree that can be safe is left out for one of theirs."""
        safe = self.allowed.any(axis=1) | ~self.there
        never = ~safe[:, self.first :].all(axis=1)
        even = np.maximum(self.most_chance, EVEN_CHANCE)
        dearest = float(self.left_out[never].max(initial=0.0))
        return replace(
            self,
            most_chance=np.where(never, even, self.most_chance),
            left_out=self.left_out + np.where(never, 0.0, dearest),
        )

    def at_even_odds(self, out: Mapping[int, int]) -> "Problem":
        """The same, with some groups refused only where they are lost more likely than kept.

        out : trees of each that have no place; of no group may more be left out.
        """
        numbers = np.array([out.get(g, 0) for g in range(len(self.groups))])
        even = np.maximum(self.most_chance, EVEN_CHANCE)
        most_chance = np.where(numbers > 0, even, self.most_chance)
        return replace(self, most_chance=most_chance, most_out=numbers)

    @property
    def done(self) -> float:
        """All that is ``sunk``, money: part of every plan, chosen by none."""
        return sum(float(sunk) * g.count for sunk, g in zip(self.sunk, self.groups, strict=True))

    @property
    def stages(self) -> int:
        """How many."""
        return len(self.stage_days.stages)

    @property
    def past(self) -> int:
        """How many stages of a re-plan have begun; what they did is done and counts no longer."""
        return 0 if self.start.known_targets is None else self.first

    @property
    def first(self) -> int:
        """First stage that can still be planned."""
        return self.start.fixed_stages

    def disturbs(self, group: int, place_id: str) -> bool:
        """Whether the plan in force has no carry of such a tree to a place."""
        known = self.start.known_targets
        return known is not None and place_id not in known.get(self.groups[group].tree_ids[0], ())

    def often_price(self, group: int) -> float:
        """Money of one carry more than ``most_carries``: a chance of loss that is just borne, and
        for a tree of little value ``OFTEN`` carries."""
        weights = self.season.site.weights
        tree = self.groups[group].tree
        borne = weights.caution * weights.most_chance * tree.value
        return max(borne, OFTEN * weights.carry_of(tree.weight_kg))

    def heat_money(self, settings: Mapping[str, tuple[int, ...]]) -> float:
        """Mean money of heat in a winter."""
        stage = np.arange(self.stages)
        return sum(float(self.heat[h][list(s), stage].sum()) for h, s in settings.items())

    def home(self, group: int) -> str:
        """Where a tree belongs in summer."""
        return self.season.home(self.groups[group].tree)


def make_problem(
    season: Season,
    conditions: Conditions,
    follower: Follower,
    stage_days: StageDays,
    start: Start,
    exact: bool = False,
    known: Mapping[int, Sequence[int]] | None = None,
) -> Problem:
    """Everything the program is built from; always ``exact`` for a few trees.

    known : option in each stage of a likely path of some kinds.
    """
    exact = exact or len(season.trees) <= FEW_TREES
    table = follower.table(stage_days, known)
    groups = _groups(season, follower, stage_days, start, exact)
    kind = np.array([g.kind for g in groups], dtype=np.intp)
    value = np.array([g.tree.value for g in groups])
    weights = season.site.weights
    shares = cover_shares(season, follower, groups)[:, :, None]
    cover = weights.cover_day * table.spare_days[kind][:, None, :] * shares
    stages = range(len(stage_days.stages))
    is_open = {
        place.id: np.array([not closed_days(season, place, stage_days, k) for k in stages])
        for place in season.places.values()
    }
    heat = {
        shelter.id: stage_sums(conditions.shelters[shelter.id].money, stage_days).mean(axis=1)
        for shelter in season.shelters
    }
    programmes = {
        shelter.id: programmes_of(
            heat[shelter.id],
            _usable(season, conditions, shelter, stage_days, is_open),
            start.settings.get(shelter.id, ()),
            conditions.shelters[shelter.id].settings,
            start.fixed_stages,
            season.site.thermostat_changes,
            stage_days,
        )
        for shelter in season.shelters
    }
    dearest = sum(max((p.money for p in ps), default=0.0) for ps in programmes.values())
    return Problem(
        season=season,
        conditions=conditions,
        follower=follower,
        stage_days=stage_days,
        hands_min=season.site.household.days
        * np.array([carrying_minutes(season.site, stage.usual) for stage in stage_days.stages]),
        start=start,
        table=table,
        groups=groups,
        cost=weights.caution * value[:, None, None] * table.chance[kind] + cover,
        lost=table.lost[kind].astype(np.float64),
        is_open=is_open,
        suits=_suits(season, follower, is_open, groups),
        most_chance=np.full(len(groups), weights.most_chance),
        there=_held(there, season, groups, stage_days),
        apart=_held(in_quarantine, season, groups, stage_days),
        may_move=np.array([[s.is_for(g.tree.id) for s in stage_days.stages] for g in groups]),
        heat=heat,
        programmes=programmes,
        days=(stage_days.end_day - stage_days.first_day).mean(axis=1),
        most_out=np.array([group.count for group in groups]),
        # leaving a tree out never pays for less heat
        left_out=weights.caution * value + dearest + 10 * weights.two_person_carry,
        sunk=np.array([_sunk(season, follower, *one) for one in zip(groups, cover, strict=True)]),
        exact=exact,
    )


def _sunk(season: Season, follower: Follower, group: Group, cover: FloatArray) -> float:
    """Money of the stages that have begun; ``cover`` ``(option, stage)``."""
    path = group.start
    at = [(follower.exposures.index[p, 0], k) for k, p in enumerate(path) if p is not None]
    carries = [
        season.carry_price(group.tree, now)
        for before, now in pairwise(path)
        if now is not None and before not in (None, now)
    ]
    return sum(carries) + sum(float(cover[one]) for one in at)


def _groups(
    season: Season, follower: Follower, stage_days: StageDays, start: Start, exact: bool
) -> tuple[Group, ...]:
    found: dict[object, list[Tree]] = {}
    known = start.known_targets or {}
    for tree in season.trees:
        alone = tree.id if exact else ""
        key = (tree.unnamed, start.stays.get(tree.id), known.get(tree.id), alone)
        found.setdefault(key, []).append(tree)
    return tuple(
        Group(
            tree=trees[0],
            tree_ids=tuple(tree.id for tree in trees),
            kind=follower.kind_index[kind_of(trees[0])],
            start=start.stays[trees[0].id],
            owed=_owed(season, trees[0], stage_days),
        )
        for trees in found.values()
    )


def _owed(season: Season, tree: Tree, stage_days: StageDays) -> float:
    """The share of the season that it is there; a tree that joins after the last stage began is
    in no stage and owes nothing."""
    if tree.joins is None:
        return 1.0
    if not there(season, tree, stage_days, len(stage_days.stages) - 1):
        return 0.0
    return max(0.0, 1.0 - season.day_index(tree.joins) / season.days)


def cover_shares(season: Season, follower: Follower, groups: tuple[Group, ...]) -> FloatArray:
    """What a day at each option costs a group, as a share of a day under cover."""
    places = [option.place_id for option in follower.exposures.options]
    share = np.where(follower.exposures.open_air, AWAY_OUTDOORS, 1.0)
    rows = []
    for group in groups:
        home = season.home(group.tree)
        rows.append(np.where([place == home for place in places], 0.0, share))
    return np.array(rows).reshape(len(groups), len(places))


def _held(
    rule: Callable[[Season, Tree, StageDays, int], bool],
    season: Season,
    groups: tuple[Group, ...],
    stage_days: StageDays,
) -> BoolArray:
    stages = range(len(stage_days.stages))
    return np.array([[rule(season, g.tree, stage_days, k) for k in stages] for g in groups])


def _usable(
    season: Season,
    conditions: Conditions,
    shelter: Shelter,
    stage_days: StageDays,
    is_open: Mapping[str, BoolArray],
) -> BoolArray:
    """Settings whose heaters all work in a stage, ``(setting, stage)``; off alone while closed."""
    settings = conditions.shelters[shelter.id].settings
    usable = np.ones((len(settings), len(stage_days.stages)), dtype=np.bool_)
    for place in shelter.places[:1]:
        usable[1:] = is_open[place.id]
    for heater in shelter.heaters:
        if heater.broken_from is None:
            continue
        broken = stage_days.end_day.max(axis=1) > season.day_index(heater.broken_from)
        for i, setting in enumerate(settings):
            if any(part.heater == heater.name for part in setting.parts):
                usable[i] &= ~broken
    return usable


def _suits(
    season: Season, follower: Follower, is_open: Mapping[str, BoolArray], groups: tuple[Group, ...]
) -> BoolArray:
    """Where the doors are open and the tree may stand, ``(group, option, stage)``."""
    options = follower.exposures.options
    stages = len(next(iter(is_open.values())))
    suits = np.ones((len(groups), len(options), stages), dtype=np.bool_)
    for place in season.places.values():
        at = [i for i, option in enumerate(options) if option.place_id == place.id]
        suits[:, at] &= is_open[place.id]
        for g, group in enumerate(groups):
            if any(True for _ in misfits(season, group.tree, place)):
                suits[g, at] = False
    return suits
