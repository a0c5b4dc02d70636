"""The order in which one stage's trees are carried, so that nothing is blocked and nobody waits.

What must be (a place has room, a tree at the far side is not walled in) is never broken while there
is a way; what is better decides among the rest: one bench after the other, the shelter of the
tenderest trees first; at a bench heavy trees first, then far ones. Ties fall to the tree list's
order. The rules are common practice, no source; ``WhyNow`` gives the reason of each.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from overwinter.model.plan import Carry, Layout, Plan
from overwinter.model.season import Season
from overwinter.model.shelter import PlaceKind
from overwinter.render.carry_words import carries_of, layout_of, remoteness_m, stands_before

SLACK = 1e-9

Drawings = Mapping[str, Mapping[str, Layout]]  # by place and tree
Filled = dict[str, NDArray[np.float64]]  # areas, m2, and masses, kg, of all that stands there
LOW_FIRST = (PlaceKind.SUNK, PlaceKind.GROUND, PlaceKind.FLOOR, PlaceKind.BENCH, PlaceKind.SHELF)


class Room:
    """Footprints and weights on every place, through the carries of one stage. A place may be
    filled to the site's fullest share, or to what the plan itself puts there before or after them,
    whichever is more: the order must not fail a plan that was audited."""

    def __init__(self, season: Season, plan: Plan, stage: int) -> None:
        self.season = season
        carries = carries_of(plan, stage)
        before = {tree_id: stays[max(stage - 1, 0)] for tree_id, stays in plan.stays.items()}
        before |= {carry.tree_id: carry.source for carry in carries}
        self.now = self._filled(before)
        end = self._filled(before | {carry.tree_id: carry.target for carry in carries})
        share = season.site.weights.fullest_share
        self.most = {
            key: np.maximum(
                np.array((place.area_m2 * share, place.load_limit_kg)),
                np.maximum(self.now[key], end[key]),
            )
            for key, place in season.places.items()
        }

    def _filled(self, stands: Mapping[str, str | None]) -> Filled:
        found = {place_id: np.zeros(2) for place_id in self.season.places}
        for tree_id, place_id in stands.items():
            if place_id is not None:
                found[place_id] += self._size(tree_id)
        return found

    def _size(self, tree_id: str) -> NDArray[np.float64]:
        tree = self.season.tree_by_id[tree_id]
        return np.array((tree.footprint_m2, tree.weight_kg))

    def move(self, carry: Carry) -> None:
        """Take a tree from one place, or from outside, to another."""
        if carry.source is not None:
            self.now[carry.source] -= self._size(carry.tree_id)
        self.now[carry.target] += self._size(carry.tree_id)

    def fits(self, tree_id: str, place_id: str) -> bool:
        """Whether the place has room and strength left for the tree now."""
        filled = self.now[place_id] + self._size(tree_id)
        return bool(np.all(filled <= self.most[place_id] + SLACK))


class WhyNow(StrEnum):
    """Why a carry stands where it does in the order; common practice, no source."""

    MAKES_ROOM = "makes room"  # the place it leaves is too full for the tree that comes in next
    UNBLOCKS = "stands behind"  # another tree of the day would stand in front of it, or does so now
    SECOND_PERSON = "with the second person"  # two-person lifts come first, in one go
    LOW_FIRST = "low places first"  # nobody works over a tree already set down
    FAR_FIRST = "far side first"  # what stands farthest from the aisle goes in first
    NEAR_FIRST = "near side first"  # on the way out; the tenderest tree goes last
    SET_DOWN = "set down meanwhile"  # two full places exchange trees: one has to wait
    TIGHT = "no room to spare"  # its place is full until trees staying there are pushed together


@dataclass(frozen=True, slots=True)
class Ordered:
    """One carry in its turn."""

    carry: Carry
    rule: WhyNow
    about: str | None = None  # tree it makes room for, would stand behind or waits for


@dataclass(frozen=True, slots=True)
class _Move:
    carry: Carry
    key: tuple[float | str, ...]
    rule: WhyNow
    ease: tuple[bool, float, float]  # to leave it standing for a while: light, then hardy


def tender_limit_c(season: Season, tree_id: str) -> float:
    """What a tree must stay above, degC: its air floor, or what half-kills its hardened roots."""
    tree = season.tree_by_id[tree_id]
    floor = tree.limits.air_floor_c
    roots = tree.limits.root_kill_young_c if tree.young_roots else tree.limits.root_kill_c
    return roots if floor is None else max(floor, roots)


def listed_under(season: Season, carry: Carry) -> str:
    """Shelter whose list shows the carry: the one filled; into the open air, the one emptied."""
    target = season.shelter_of(carry.target)
    if not target.open_air or carry.source is None:
        return target.id
    return season.shelter_of(carry.source).id


def goes_out(season: Season, carry: Carry) -> bool:
    """Whether a carry takes a tree from under cover into the open air."""
    outdoors = season.shelter_of(carry.target).open_air
    return outdoors and carry.source is not None and not season.shelter_of(carry.source).open_air


def order_stage(season: Season, plan: Plan, stage: int) -> tuple[Ordered, ...]:
    """All carries of ``stage`` in the order to do them."""
    carries = carries_of(plan, stage)
    return tuple(_Turns(season, plan, stage, carries).run()) if carries else ()


class _Turns:
    """Works through one stage, one carry at a time, keeping track of the room left."""

    def __init__(self, season: Season, plan: Plan, stage: int, carries: Sequence[Carry]) -> None:
        self.season = season
        ends = {end for carry in carries for end in (carry.source, carry.target) if end}
        self.then = {place: layout_of(plan, place, stage - 1) for place in ends}
        self.now = {place: layout_of(plan, place, stage) for place in ends}
        self.place_rank = {place: rank for rank, place in enumerate(season.places)}
        self.block_rank = _blocks(season, carries)
        moves = [self._move(carry) for carry in carries]
        self.left = sorted(moves, key=lambda move: move.key)
        self.waits_for = self._precedence([move.carry for move in self.left])
        self.room = Room(season, plan, stage)

    def run(self) -> Iterator[Ordered]:
        while self.left:
            yield self._next()

    def _next(self) -> Ordered:
        goal = self.left[0]
        seen: list[_Move] = []
        found = self._towards(goal, goal.rule, None, seen)
        if found is not None:
            return self._do(*found)
        movable = [move for move in seen if move.carry.source]
        if len(seen) < 2 or not movable:
            return self._do(goal, WhyNow.TIGHT, None)
        ease = min(movable, key=lambda m: (m.ease, m.key))
        leaver = next((m for m in seen if m.carry.source == ease.carry.target), goal)
        return self._do(ease, WhyNow.SET_DOWN, leaver.carry.tree_id)

    def _towards(
        self, goal: _Move, rule: WhyNow, about: str | None, seen: list[_Move]
    ) -> tuple[_Move, WhyNow, str | None] | None:
        """A carry that can be done now and brings ``goal`` nearer; None in a circle."""
        if goal in seen:
            return None
        seen.append(goal)
        name = goal.carry.tree_id
        waiting = [m for m in self.left if m.carry in self.waits_for[goal.carry]]
        if not waiting and self.room.fits(name, goal.carry.target):
            return goal, rule, about
        why = WhyNow.UNBLOCKS if waiting else WhyNow.MAKES_ROOM
        leavers = [m for m in self.left if m.carry.source == goal.carry.target]
        for other in waiting or leavers:
            found = self._towards(other, why, name, seen)
            if found is not None:
                return found
        return None

    def _do(self, move: _Move, rule: WhyNow, about: str | None) -> Ordered:
        self.room.move(move.carry)
        self.left.remove(move)
        return Ordered(move.carry, rule, about)

    def _move(self, carry: Carry) -> _Move:
        season = self.season
        tree = season.tree_by_id[carry.tree_id]
        out = goes_out(season, carry)
        place = season.places[carry.source if out and carry.source else carry.target]
        drawn = self.then[place.id] if out else self.now[place.id]
        reach = remoteness_m(place, drawn.get(tree.id))
        tender = tender_limit_c(season, tree.id)
        heavy = season.site.weights.takes_two(tree.weight_kg)
        sign = -1.0 if out else 1.0
        key: tuple[float | str, ...] = (
            1.0 if out else 0.0,
            float(self.block_rank[listed_under(season, carry)]),
            sign * LOW_FIRST.index(place.kind),
            sign * -place.depth_m,
            sign * self.place_rank[place.id],
            0.0 if heavy else 1.0,
            sign * -reach,
            sign * -tender,
            -tree.height_m,
            float(tree.row),
            tree.id,
        )
        into = WhyNow.FAR_FIRST if reach > 0.0 else WhyNow.LOW_FIRST
        rule = WhyNow.SECOND_PERSON if heavy else WhyNow.NEAR_FIRST if out else into
        return _Move(carry, key, rule, (heavy, tree.weight_kg, tender))

    def _precedence(self, carries: Sequence[Carry]) -> Mapping[Carry, list[Carry]]:
        """Carries that must be done before each carry, by the drawings of the places. Into a place:
        what would stand behind goes first. Out of it: what stands in front does."""
        before: dict[Carry, list[Carry]] = {carry: [] for carry in carries}
        for one, other in permutations(carries, 2):
            into = one.target == other.target and self._in_front(one.target, self.now, one, other)
            left = one.source == other.source
            if into or (left and self._in_front(one.source, self.then, other, one)):
                before[one].append(other)
        return before

    def _in_front(self, place_id: str | None, drawn: Drawings, front: Carry, behind: Carry) -> bool:
        if place_id is None:
            return False
        mine, other = (drawn[place_id].get(one.tree_id) for one in (behind, front))
        if mine is None or other is None:
            return False
        return stands_before(self.season.places[place_id], other, mine)


def _blocks(season: Season, carries: Sequence[Carry]) -> dict[str, int]:
    """Shelters in the order to work through them: where the tenderest tree goes, first."""
    tenderest: dict[str, float] = {}
    for carry in carries:
        limit, shelter = tender_limit_c(season, carry.tree_id), listed_under(season, carry)
        tenderest[shelter] = max(limit, tenderest.get(shelter, limit))
    order = [shelter.id for shelter in season.shelters if shelter.id in tenderest]
    order.sort(key=lambda shelter: -tenderest[shelter])
    return {shelter: rank for rank, shelter in enumerate(order)}
