"""Why a tree is where it is: what every other place lacks for it, or what it would cost there."""

from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from math import isinf

import numpy as np

from overwinter.benches.layout import fits
from overwinter.model.changes import Start, start_of_season
from overwinter.model.plan import Lack, LeftOut, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterSetting
from overwinter.model.stage import IntArray, Sign, Stage
from overwinter.problems import UserError
from overwinter.rules.carrying import HANDS
from overwinter.rules.figures import CHANCE
from overwinter.rules.room import AREA
from overwinter.search.heating import Settings, within_breakers
from overwinter.search.placement import Placement
from overwinter.search.plan_winter import Outcome
from overwinter.search.problem import PathChance, make_problem
from overwinter.search.reckoning import reckon
from overwinter.search.whole_trees import Whole, under
from overwinter.search.why import cure_of, lack, risk
from overwinter.simulate.harm_table import Follower

SECONDS = 20.0  # limit of one relaxation, s


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """One tree at another place in one stage, the rest of its winter as cheap as it can be."""

    tree_id: str
    place_id: str
    stage: int
    lacks: Lack | None  # the first thing that speaks against it; None: it could stand there
    costs: float | None
    """Money a winter more than the plan; None: it cannot be had. Less than 0 by no more than the
    plan is from the best."""
    setting: HeaterSetting | None = None
    """What the heater would have to be on instead of what the plan says."""
    others_move: bool = False
    """Whether other trees must make way; ``costs`` is then the least that it can be."""
    stays: tuple[str | None, ...] = ()
    """Its whole winter then, place by stage, where it moves alone."""


def winter_stage(stages: Sequence[Stage]) -> int:
    """The longest stage between the last cold sign and the first mild one: deep winter."""
    cold = [stage.index for stage in stages if stage.sign is Sign.COLD_NIGHT]
    mild = [stage.index for stage in stages if stage.sign is Sign.MILD_WEEK]
    middle = stages[max(cold, default=0) : min(mild, default=len(stages))] or stages
    return max(middle, key=lambda stage: stage.days).index


def explain(
    outcome: Outcome, tree_ids: Sequence[str], stage: int | None = None
) -> tuple[Elsewhere, ...]:
    """Every place but its own for each tree, the cheapest first, then what speaks against others.

    A tree is moved alone where it can be, along its cheapest path through the room that the others
    leave; costs are those of its true path, and the places are laid out to scale. Where others must
    make way or a heater must be on, the relaxation of the whole program under those heater
    programmes says what that costs at least.

    tree_ids : trees that have a place in the plan.
    stage : in which it would stand there; None: in deep winter.
    """
    plan = outcome.plan
    begun = max(plan.fixed_stages, 1)
    stage = max(winter_stage(plan.stages), begun) if stage is None else stage
    if stage < begun:
        raise UserError(
            f"Stage {stage + 1} has begun by the time of this plan: where a tree stands then is "
            f"no longer to be decided. Ask for a day from {plan.stages[begun].usual} on."
        )
    asked = _Asked(outcome)
    found = [
        asked.at(tree_id, place_id, stage)
        for tree_id in tree_ids
        for place_id in outcome.season.places
        if plan.stays[tree_id][stage] not in (None, place_id)
    ]
    order = {tree_id: n for n, tree_id in enumerate(tree_ids)}
    return tuple(
        sorted(found, key=lambda one: (order[one.tree_id], one.costs is None, one.costs or 0.0))
    )


def next_best(outcome: Outcome) -> tuple[Elsewhere, ...]:
    """Where each tree would stand in deep winter if its own place were not to be had, alone. Trees
    that could go nowhere else, or only where others make way, are not in it."""
    plan = outcome.plan
    stage = max(winter_stage(plan.stages), plan.fixed_stages)
    asked = _Asked(outcome)
    return tuple(
        found
        for tree_id, stays in plan.stays.items()
        if stays[stage] is not None and (found := asked.next_best(tree_id, stage)) is not None
    )


def cures(outcome: Outcome) -> tuple[LeftOut, ...]:
    """The first rule that must fall to give a safe place to each tree that stands where a stage
    alone is not safe, as for a tree that is left out; the others stay where they are."""
    if not outcome.plan.unsafe:
        return ()
    asked = _Asked(outcome)
    unsafe = {tree_id: asked.number[tree_id] for tree_id in outcome.plan.unsafe}
    return tuple(asked.cure(t) for t, n in unsafe.items() if isinf(asked.placement.path_cost(n)))


class _Asked:
    """A plan as the search sees it, to ask what else could be."""

    def __init__(self, outcome: Outcome) -> None:
        season, plan = outcome.season, outcome.plan
        follower = Follower(season, outcome.conditions)
        start = _start(season, plan)
        self.problem = make_problem(season, outcome.conditions, follower, outcome.stage_days, start)
        known = outcome.conditions.shelters
        self.settings: Settings = {
            h: tuple(known[h].settings.index(setting) for setting in settings)
            for h, settings in plan.settings.items()
        }
        self.placement = Placement(self.problem, self.settings)
        self.number: dict[str, int] = {}
        for tree, (g, i) in enumerate(self.placement.trees):
            tree_id = self.problem.groups[g].tree_ids[i]
            self.number[tree_id] = tree
            stays = plan.stays.get(tree_id)
            if stays is not None:
                self.placement.put(tree, self.placement.path_of(stays))
        self.stays = plan.stays
        self._drawn: dict[tuple[str, frozenset[str]], bool] = {}
        self._programs: dict[object, Whole] = {}

    def at(self, tree_id: str, place_id: str, stage: int) -> Elsewhere:
        """One tree at one place in one stage."""
        problem, at = self.problem, self.placement.at[place_id]
        with self._without(tree_id) as (g, path):
            found = lack(self.placement, g, place_id, range(stage, stage + 1))
            lacks = None if found is None else found[1]
            option = self.placement.option[stage, at]
            if lacks is None and not problem.allowed[g, option, stage]:
                return self._heated(tree_id, place_id, stage)
            if lacks is None:
                other, full = self._alone(tree_id, g, place_id, stage)
                if other is not None:
                    return self._moved(tree_id, place_id, stage, path, other)
                lacks = Lack(place_id, stage, (AREA if full else HANDS).lacks, 0.0, "")
            else:
                full = {}
        if not problem.allowed[g, option, stage]:
            return Elsewhere(tree_id, place_id, stage, lacks, None)
        costs = self._least(self.settings, g, place_id, stage, full)
        return Elsewhere(tree_id, place_id, stage, lacks, costs, others_move=costs is not None)

    def cure(self, tree_id: str) -> LeftOut:
        """The first rule without which a tree finds a safe way, and where it would stand."""
        with self._without(tree_id) as (g, _):
            return LeftOut(tree_id, *cure_of(self.placement, g), ())

    def next_best(self, tree_id: str, stage: int) -> Elsewhere | None:
        """The cheapest of all other places for one tree, alone; None: there is none."""
        placement = self.placement
        with self._without(tree_id) as (g, path):
            ways = []
            for at, place_id in enumerate(placement.places):
                cost = placement.cost[g, stage, at]
                if at != path[stage] and np.isfinite(cost):
                    found = self._through(g, at, stage, {})
                    if found is not None:
                        ways.append((found[0], place_id))
            for _, place_id in sorted(ways):
                other, _ = self._alone(tree_id, g, place_id, stage)
                if other is not None:
                    moved = self._moved(tree_id, place_id, stage, path, other)
                    if moved.costs is not None:
                        return moved
        return None

    def _moved(
        self, tree_id: str, place_id: str, stage: int, path: IntArray, other: IntArray
    ) -> Elsewhere:
        """One tree, taken away, on another path than its own, unless it is too likely lost."""
        tree, places = self.number[tree_id], self.placement.places
        (before, least), (after, chance) = self._reckoned(tree, path), self._reckoned(tree, other)
        if chance.lost > max(self.problem.most_chance[self.placement.trees[tree][0]], least.lost):
            first = self.problem.first
            worst = first + int(chance.lost_by_stage[first:].argmax())
            lacks = Lack(places[other[worst]], worst, CHANCE.lacks, chance.lost, CHANCE.unit)
            return Elsewhere(tree_id, place_id, stage, lacks, None)
        stays = self.placement.stays_of(other)
        return Elsewhere(tree_id, place_id, stage, None, after - before, stays=stays)

    @contextmanager
    def _without(self, tree_id: str) -> Iterator[tuple[int, IntArray]]:
        """The placement without a tree: its group and its path."""
        tree = self.number[tree_id]
        path = self.placement.remove(tree)
        assert path is not None, f"{tree_id} has no place"
        try:
            yield self.placement.trees[tree][0], path
        finally:
            self.placement.put(tree, path)

    def _alone(
        self, tree_id: str, g: int, place_id: str, stage: int
    ) -> tuple[IntArray | None, dict[tuple[int, int], float]]:
        """Its cheapest path through a place that can be drawn to scale among the others. Also the
        places, by (place, stage), that are full when they are drawn, and what area stands there."""
        placement, at = self.placement, self.placement.at[place_id]
        full: dict[tuple[int, int], float] = {}
        while (at, stage) not in full:
            found = self._through(g, at, stage, full)
            if found is None:
                break
            ahead = list(enumerate(found[1].tolist()))[self.problem.first :]
            misfits = [(place, k) for k, place in ahead if not self._fits(tree_id, place, k)]
            if not misfits:
                return found[1], full
            full |= {(place, k): float(placement.used_m2[k, place]) for place, k in misfits}
        return None, full

    def _through(
        self, g: int, at: int, stage: int, full: Collection[tuple[int, int]]
    ) -> tuple[float, IntArray] | None:
        """The cheapest path of one more tree of a group through a place; others stay put."""
        placement, as_it_was = self.placement, self.placement.cost
        placement.cost = as_it_was.copy()
        placement.cost[g, stage, np.arange(len(placement.places)) != at] = np.inf
        for place, k in full:
            placement.cost[g, k, place] = np.inf
        found = placement.best_path(g)
        placement.cost = as_it_was
        return found

    def _fits(self, tree_id: str, at: int, stage: int) -> bool:
        """Whether a place can be drawn to scale with one tree more; in the open, always."""
        season, place_id = self.problem.season, self.placement.places[at]
        place = season.places[place_id]
        if season.shelter_by_id[place.shelter_id].open_air:
            return True
        here = frozenset(t for t, stays in self.stays.items() if stays[stage] == place_id)
        key = place_id, here | {tree_id}
        if key not in self._drawn:
            trees = [tree for tree in season.trees if tree.id in key[1]]
            self._drawn[key] = fits(place, trees)
        return self._drawn[key]

    def _reckoned(self, tree: int, path: IntArray) -> tuple[float, PathChance]:
        """True costs of all with one tree on a path, the other trees' own costs left out, and what
        becomes of it."""
        placement = self.placement
        others, placement.paths = placement.paths, [None] * len(placement.paths)
        placement.put(tree, path)
        found = reckon(placement)
        placement.remove(tree)
        placement.paths = others
        return found.costs.total, found.chance[tree]

    def _heated(self, tree_id: str, place_id: str, stage: int) -> Elsewhere:
        """With the cheapest heater programme that makes the place safe enough in the stage."""
        placement, problem = self.placement, self.problem
        g = placement.trees[self.number[tree_id]][0]
        shelter_id = problem.season.places[place_id].shelter_id
        index = problem.follower.exposures.index
        lacks = risk(placement, g, placement.option[stage, placement.at[place_id]], stage)
        now = self.settings[shelter_id][stage]
        for way in sorted(problem.programmes[shelter_id], key=lambda way: way.money):
            settings = {**self.settings, shelter_id: way.settings}
            setting = way.settings[stage]
            suits = problem.allowed[g, index[place_id, setting], stage]
            if setting == now or not suits or not within_breakers(problem, settings):
                continue
            costs = self._least(settings, g, place_id, stage, {})
            if costs is not None:
                hold = problem.conditions.shelters[shelter_id].settings[setting]
                return Elsewhere(tree_id, place_id, stage, lacks, costs, hold, True)
        return Elsewhere(tree_id, place_id, stage, lacks, None)

    def _least(
        self,
        settings: Settings,
        g: int,
        place_id: str,
        stage: int,
        full: Mapping[tuple[int, int], float],
    ) -> float | None:
        """At least so much more than under the plan's own programmes, every tree free to move."""
        least = []
        for some, at in ((self.settings, None), (settings, (g, place_id, stage))):
            whole = self._under(some)
            if whole is None:
                return None
            for (place, k), area_m2 in full.items():
                whole.less_room(self.placement.places[place], k, area_m2)
            least.append(whole.least(SECONDS, at))
        return None if least[0] is None or least[1] is None else least[1] - least[0]

    def _under(self, settings: Settings) -> Whole | None:
        """The program of all trees under some programmes; None: the search does not know them."""
        key = tuple(sorted(settings.items()))
        if key not in self._programs:
            programmes = self.problem.programmes
            if any(s not in {way.settings for way in programmes[h]} for h, s in key):
                return None
            empty = Placement(self.problem, settings)
            groups = range(len(self.problem.groups))
            self._programs[key] = under(empty, groups)
        return self._programs[key]


def _start(season: Season, plan: Plan) -> Start:
    """What the plan could not decide: its stages that had begun, else the summer stands."""
    start = start_of_season(season)
    if not plan.fixed_stages:
        return start
    fixed = plan.fixed_stages
    stays = {
        tree_id: plan.stays[tree_id][:fixed] if tree_id in plan.stays else here * fixed
        for tree_id, here in start.stays.items()
    }
    settings = {h: some[:fixed] for h, some in plan.settings.items()}
    return replace(start, fixed_stages=fixed, stays=stays, settings=settings)
