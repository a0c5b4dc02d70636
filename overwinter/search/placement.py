"""Whole trees on their paths, for heater settings that are decided.

A tree's cheapest path through the room that others leave it is a shortest path over the stages:
V[k,p] = cost[k,p] + least(V[k-1,p], least over q of V[k-1,q] + carry[p]), as the price of a carry
depends on where it ends alone.
"""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from overwinter.model.plan import Stays
from overwinter.model.shelter import FloatArray
from overwinter.model.stage import IntArray
from overwinter.plants.harm import SHORT_CHILL_SHARE
from overwinter.search.problem import Problem

NOWHERE = -1
FULL = 2e-6  # m2 or kg: what the solver, which keeps rows to a millionth, lets in must fit here too


class Placement:
    """Where every tree is in every stage; trees come and go through ``insert`` and ``remove``."""

    def __init__(self, problem: Problem, settings: Mapping[str, tuple[int, ...]]) -> None:
        self.problem = problem
        self.places = tuple(problem.season.places)
        self.at = {place_id: i for i, place_id in enumerate(self.places)}
        self.trees = [(g, i) for g, group in enumerate(problem.groups) for i in range(group.count)]
        """Group of each tree, and which of the group."""
        self._first_tree = np.cumsum([0, *(group.count for group in problem.groups)]).tolist()
        self.paths: list[IntArray | None] = [None] * len(self.trees)
        self.run(settings)
        self._capacities()

    def run(self, settings: Mapping[str, tuple[int, ...]]) -> None:
        """Set the heaters; ``cost`` and ``chill`` are those of the settings."""
        self.settings = settings
        index = self.problem.follower.exposures.index
        season = self.problem.season
        # option of each place in each stage, (stage, place)
        self.option: IntArray = np.array(
            [
                [index[p, self.settings[season.places[p].shelter_id][k]] for p in self.places]
                for k in range(self.problem.stages)
            ]
        )
        self._costs()

    def _costs(self) -> None:
        """Money of a stage, ``(group, stage, place)``, infinite where a tree may not be."""
        problem = self.problem
        stage = np.arange(problem.stages)[:, None]
        cost = problem.cost[:, self.option, stage]
        cost = np.where(problem.allowed[:, self.option, stage], cost, np.inf)
        self.home = np.array([self.at[problem.home(g)] for g in range(len(problem.groups))])
        away = np.arange(len(self.places)) != self.home[:, None]
        cost[:, -1] += problem.season.site.weights.not_home * away
        self.cost: FloatArray = cost
        kinds = [group.kind for group in problem.groups]
        chill = problem.table.chill_share.astype(np.float64)
        self.chill = chill[np.array(kinds)][:, self.option, stage]
        season, trees = problem.season, [group.tree for group in problem.groups]
        new = [[problem.disturbs(g, p) for p in self.places] for g in range(len(trees))]
        self.price: FloatArray = np.array(
            [[season.carry_price(tree, p) for p in self.places] for tree in trees]
        )
        """Of a carry that disturbs no plan."""
        self.carry = self.price + season.site.weights.extra_carry * np.array(new)
        self.minutes: FloatArray = np.array(
            [[season.carry_minutes(tree, p) for p in self.places] for tree in trees]
        )

    def _capacities(self) -> None:
        problem, weights = self.problem, self.problem.season.site.weights
        shape = (problem.stages, len(self.places))
        places = [problem.season.places[p] for p in self.places]
        area = np.array([p.area_m2 for p in places])
        self.area_room = np.tile(weights.fullest_share * area, (problem.stages, 1))
        self.room = self.area_room.copy()  # less where a set did not fit
        self.comfortable = weights.comfortable_share * area
        covered = [not problem.season.shelter_by_id[p.shelter_id].open_air for p in places]
        self.crowding = weights.crowding_per_m2_day * problem.days[:, None] * np.array(covered)
        self.load = np.array([p.load_limit_kg for p in places])
        self.used_m2, self.used_kg = np.zeros(shape), np.zeros(shape)
        self.carried_min = np.zeros(problem.stages)
        units = list(map(problem.season.shared_air, self.places))
        self.same_air = np.array([[a == b for b in units] for a in units])
        self.apart = np.zeros(shape)
        self.barred = np.zeros((len(problem.groups), *shape), dtype=np.bool_)
        """Where no tree of a group may go for what is known of its true paths."""
        self.others = np.zeros(shape)
        """Trees in quarantine and others that share the air of a place."""

    def under_rules_of(self, problem: Problem) -> "Placement":
        """The same trees on the same ways, under a problem with other chances that refuse places.

        What was learned of rooms stays; of true paths, for groups whose chance is the same.
        """
        other = Placement(problem, self.settings)
        other.room = self.room
        same = problem.most_chance == self.problem.most_chance
        other.barred = self.barred & same[:, None, None]
        for tree, path in enumerate(self.paths):
            other.put(tree, path)
        return other

    def blocked(self, g: int) -> NDArray[np.bool_]:
        """Where a quarantine or a search that came to know better keeps a group away.

        ``(stage, place)``; rooms and loads are not asked.
        """
        apart = self.problem.apart[g]
        kept = np.where(apart[:, None], self.others + self.apart > 0, self.apart > 0)
        return np.asarray(kept | self.barred[g])

    def closed_to(self, g: int) -> NDArray[np.bool_]:
        """Where there is no room for one more tree of a group, or it is kept away.

        ``(stage, place)``
        """
        tree = self.problem.groups[g].tree
        full = self.used_m2 + tree.footprint_m2 > self.room + FULL
        full |= self.used_kg + tree.weight_kg > self.load + FULL
        return np.asarray(full | self.blocked(g))

    def tired(self, g: int) -> NDArray[np.bool_]:
        """Where nobody has hands left to carry one more tree of a group, or nobody carries it on
        such a day, ``(stage, place)``."""
        needed = self.carried_min[:, None] + self.minutes[g]
        tired = needed > self.problem.hands_min[:, None] + FULL
        return np.asarray(tired | ~self.problem.may_move[g][:, None])

    def crowding_of(self, g: int) -> FloatArray:
        """Money of what one more tree of a group crowds, ``(stage, place)``."""
        area = self.problem.groups[g].tree.footprint_m2
        over = np.maximum(self.used_m2 + area - self.comfortable, 0.0)
        crowd = over - np.maximum(self.used_m2 - self.comfortable, 0.0)
        return np.asarray(self.crowding * crowd)

    def best_path(self, g: int) -> tuple[float, IntArray] | None:
        """Cheapest path of one more tree of a group, with its marginal crowding; None: no way."""
        problem, first = self.problem, self.problem.first
        cost = np.where(self.closed_to(g), np.inf, self.cost[g]) + self.crowding_of(g)
        found = self._walk(g, cost)
        if found is None:
            return None
        short = self._short(g, found[1])
        if short > 1e-6:
            rate = self._chill_price(g)
            other = self._walk(g, cost - rate * self.chill[g])
            if other is not None:
                stages = np.arange(first, problem.stages)
                gained = rate * self.chill[g][stages, other[1][first:]].sum()
                total = other[0] + gained + rate * self._short(g, other[1])
                if total < found[0] + rate * short:
                    return float(total), other[1]
        return found[0] + self._chill_price(g) * short, found[1]

    def _chill_price(self, g: int) -> float:
        weights = self.problem.season.site.weights
        return weights.caution * self.problem.groups[g].tree.value * SHORT_CHILL_SHARE

    def _short(self, g: int, path: IntArray) -> float:
        if not self.chill[g].any():
            return 0.0
        there = path != NOWHERE
        stages = np.flatnonzero(there)
        return max(
            0.0, self.problem.groups[g].owed - float(self.chill[g][stages, path[there]].sum())
        )

    def _walk(self, g: int, cost: FloatArray) -> tuple[float, IntArray] | None:
        """Shortest path, and what it costs; carries beyond ``most_carries`` at their own price."""
        problem = self.problem
        group, stages = problem.groups[g], problem.stages
        path = np.full(stages, NOWHERE, dtype=np.intp)
        path[: problem.first] = self.path_of(group.start[: problem.first])
        joined = [k for k in range(problem.first, stages) if problem.there[g, k]]
        if not joined:
            return 0.0, path
        # value[n, p]: at p after n carries; the last row holds all that have had the most.
        most, places = int(problem.season.site.weights.most_carries), len(self.places)
        value = np.full((most + 1, places), np.inf)
        came_from = np.full((stages, most + 1, places), NOWHERE, dtype=np.intp)
        came_after = np.zeros_like(came_from)
        begin = path[joined[0] - 1]
        if begin != NOWHERE:
            value[0, begin] = 0.0
        rows, every = np.arange(most + 1)[:, None], np.arange(places)
        tired = self.tired(g)
        for k in joined:
            if begin == NOWHERE and k == joined[0]:
                value[0] = cost[k]
                continue
            source = value.argmin(axis=1)
            carried = value[rows[:, 0], source][:, None] + self.carry[g]
            carried[most] += problem.often_price(g)
            carried[:, tired[k]] = np.inf
            after = np.maximum(rows - 1, 0)
            again = (rows == most) & (carried[most] < carried[most - 1])
            after = np.where(again, most, np.broadcast_to(after, value.shape))
            moved = np.where(rows > 0, np.take_along_axis(carried, after, axis=0), np.inf)
            stays = value <= moved
            came_from[k] = np.where(stays, every, source[after])
            came_after[k] = np.where(stays, rows, after)
            value = np.where(stays, value, moved) + cost[k]
        n, end = np.unravel_index(int(np.argmin(value)), value.shape)
        if not np.isfinite(value[n, end]):
            return None
        total = float(value[n, end])
        for k in reversed(joined):
            path[k] = end
            if came_from[k, n, end] != NOWHERE:
                n, end = came_after[k, n, end], came_from[k, n, end]
        return total, path

    def insert(self, tree: int) -> bool:
        """Give a tree its cheapest path; False if there is none."""
        g = self.trees[tree][0]
        found = self.best_path(g)
        if found is None:
            return False
        self.paths[tree] = found[1]
        self._count(tree, found[1], 1)
        return True

    def put(self, tree: int, path: IntArray | None) -> None:
        """Put a tree back on a path it had."""
        self.paths[tree] = path
        if path is not None:
            self._count(tree, path, 1)

    def remove(self, tree: int) -> IntArray | None:
        """Take a tree away; its path, if it had one."""
        path = self.paths[tree]
        if path is not None:
            self._count(tree, path, -1)
        self.paths[tree] = None
        return path

    def _count(self, tree: int, path: IntArray, sign: int) -> None:
        problem, g = self.problem, self.trees[tree][0]
        one = problem.groups[g].tree
        ks = np.flatnonzero(path != NOWHERE)
        at = path[ks]
        self.used_m2[ks, at] += sign * one.footprint_m2
        self.used_kg[ks, at] += sign * one.weight_kg
        moves = self.moves(path)
        self.carried_min[moves] += sign * self.minutes[g, path[moves]]
        if problem.apart.any():
            for k, p in zip(ks, at, strict=True):
                book = self.apart if problem.apart[g, k] else self.others
                book[k, self.same_air[p]] += sign

    def moves(self, path: IntArray) -> IntArray:
        """Stages at whose beginning the path changes its place."""
        return np.flatnonzero(self.moved(path))

    @staticmethod
    def moved(paths: IntArray) -> NDArray[np.bool_]:
        """Whether a path changes its place at the beginning of a stage, ``(..., stage)``."""
        changed = np.zeros(paths.shape, dtype=np.bool_)
        before = paths[..., :-1]
        changed[..., 1:] = (paths[..., 1:] != before) & (before != NOWHERE)
        return changed

    def path_cost(self, tree: int) -> float:
        """Money of a tree's path without crowding; of leaving it out if it has none."""
        g, path = self.trees[tree][0], self.paths[tree]
        if path is None:
            return float(self.problem.left_out[g] - self.problem.sunk[g])
        ks = np.flatnonzero(path != NOWHERE)
        ks = ks[ks >= self.problem.first]
        carries = self.moves(path)
        carries = carries[carries >= self.problem.first]
        short = self._chill_price(g) * self._short(g, path)
        most = self.problem.season.site.weights.most_carries
        short += self.problem.often_price(g) * max(0.0, len(carries) - most)
        stay = float(self.cost[g][ks, path[ks]].sum())
        return stay + float(self.carry[g][path[carries]].sum()) + short

    def money(self) -> float:
        """All money: heat, crowding and the trees."""
        over = np.maximum(self.used_m2 - self.comfortable, 0.0)[self.problem.first :]
        crowd = float((self.crowding[self.problem.first :] * over).sum())
        trees = sum(self.path_cost(tree) for tree in range(len(self.trees)))
        return self.problem.heat_money(self.settings) + crowd + trees

    def path_of(self, stays: Sequence[str | None]) -> IntArray:
        """Places by number; ``NOWHERE`` for none."""
        return np.array([NOWHERE if p is None else self.at[p] for p in stays], dtype=np.intp)

    def stays_of(self, path: IntArray) -> tuple[str | None, ...]:
        """The same by their ids."""
        return tuple(None if p == NOWHERE else self.places[p] for p in path.tolist())

    @property
    def stays(self) -> Stays:
        """Of all trees that have a place."""
        return {
            self.problem.groups[g].tree_ids[i]: self.stays_of(path)
            for (g, i), path in zip(self.trees, self.paths, strict=True)
            if path is not None
        }

    @property
    def out(self) -> list[int]:
        """Trees without a place."""
        return [tree for tree, path in enumerate(self.paths) if path is None]

    def trees_of(self, g: int) -> range:
        """Trees of a group."""
        return range(self._first_tree[g], self._first_tree[g] + self.problem.groups[g].count)
