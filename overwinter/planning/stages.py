"""Two programs one after the other: first shelters and heat, then benches.

The coarse program (``program.coarse``) decides heater settings and in which shelter each tree is,
with a bound that holds for the whole; the fine program then finds the place of each tree within
the shelters chosen. Where that leaves out more trees than the coarse one, the choice of shelters,
and then that of the settings, is opened again.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import IntEnum
from math import ceil

import numpy as np
from numpy.typing import NDArray

from overwinter.domain.shelter import Shelter
from overwinter.planning.proof import AT_ONCE
from overwinter.planning.winters import Winters
from overwinter.program.build import build
from overwinter.program.coarse import coarse_data, fine_to_coarse
from overwinter.program.data import ProgramData
from overwinter.program.model import Model, Problem, Variable
from overwinter.program.objective import LEFT_OUT_EACH, left_out_price
from overwinter.program.read_back import Placement, read_back
from overwinter.solvers.report import SolverReport

CRAMMED = 0.97
"""Shelters filled beyond this share of what they may hold are reckoned smaller at once."""
TIGHTER = 0.92
"""How much smaller a shelter is reckoned when trees did not fit its benches."""
AIRY = 0.97
"""The same for large winters: next to a large bench a tree is small."""
LARGE = 100_000
"""From so many allowed (group, option, spell) cells air is left in shelters without asking whether
they are crammed, and what a check broke is mended by itself."""
TOLERANCE = 5e-4
"""How near to its own best value the relaxation is solved, share of it."""
HALF = 0.5
ANY = 1e-4

IntArray = NDArray[np.int64]


Solve = Callable[[Problem, str, Mapping[str, float]], SolverReport]


class Freedom(IntEnum):
    """What the fine program may still decide."""

    PLACES = 0
    SHELTERS = 1
    SETTINGS = 2


@dataclass(frozen=True)
class Coarse:
    """The answer of the coarse program; trees alike may be divided in any shares."""

    settings: Mapping[str, tuple[int, ...]]
    """By shelter: setting in each spell."""
    chosen: Mapping[str, tuple[frozenset[str], ...]]
    """By tree and spell: coarse places in which some of its like are; none that is left out."""
    left_out_money: float
    """What the objective counts for trees left out, whole trees."""
    money: float = 0.0
    """The objective at this point, prices of trees left out included."""
    no_room: frozenset[str] = frozenset()
    """Trees that do not fit in beside the others; nothing else is decided before they are gone."""


def penalty(model: Model, left_out: frozenset[str]) -> float:
    """What the objective counts for trees left out."""
    return sum(
        left_out_price(model, group.index) * len(left_out.intersection(group.tree_ids))
        for group in model.data.groups
    )


def is_large(data: ProgramData) -> bool:
    """Whether what is slow is left to be approximate."""
    return int(data.suitability.allowed.sum()) > LARGE


class Shelters:
    """Decides settings and shelters for one table; remembers the winters found for it."""

    def __init__(self, data: ProgramData) -> None:
        self.data = data
        self.bound: float | None = None
        """On any plan, prices of trees left out included; from the relaxation."""
        self.shares: dict[str, float] = {}
        """Shares of the shelters' room to reckon with, by shelter id."""
        self._found: list[tuple[int, IntArray]] = []

    def decide(self, solve: Solve) -> Coarse:
        """Settings and shelters, by fixing one shelter of the relaxation after the other."""
        if self.shares:
            return _dive(self._relaxed()[0])
        large = is_large(self.data)
        airy = self._with_air({s.id: AIRY for s in _merged(self.data)}) if large else None
        if airy is not None:
            return airy
        winters, self.bound = self._relaxed()
        if _out_money(winters.model) > LEFT_OUT_EACH * ANY:
            no_room = _who_is_left_out(winters.model, solve)
            if no_room:
                return Coarse({}, {}, 0.0, no_room=no_room)
        airy = None if large else self._with_air(_crammed(winters.model))
        return _dive(winters) if airy is None else airy

    def _with_air(self, shares: dict[str, float]) -> Coarse | None:
        """The decision with a little air left in the shelters; None where it is needed."""
        self.shares = shares
        if shares:
            winters = self._relaxed()[0]
            if _out_money(winters.model) <= LEFT_OUT_EACH * ANY:
                coarse = _dive(winters)
                if coarse.left_out_money == 0:
                    return coarse
        self.shares = {}
        return None

    def _relaxed(self) -> tuple[Winters, float]:
        winters = Winters(build(coarse_data(self.data, self.shares), may_leave_out=True))
        winters.add(self._found)  # smaller shares change sides of rows, not columns
        bound = winters.relax(TOLERANCE)
        self._found = list(zip(winters.owner, winters.paths, strict=True))
        return winters, bound


def _merged(data: ProgramData) -> list[Shelter]:
    """Shelters whose places the coarse program takes as one."""
    return [s for s in data.season.shelters if not s.open_air and len(s.places) > 1]


def _who_is_left_out(model: Model, solve: Solve) -> frozenset[str]:
    """Whole trees to leave out where the relaxation leaves out some, perhaps in pieces.

    Their price is above everything, so a plan is within a small share of the best long before its
    costs are: who is left out is decided first, and the costs without them.
    """
    if len(model.problem.variables()) <= AT_ONCE:
        report = solve(model.problem, "who has a place", {})
        if report.has_solution:
            return read_back(model).left_out
    return frozenset(
        tree_id
        for group in model.data.groups
        for tree_id in group.tree_ids[
            group.count - ceil(value(model.left_out[group.index]) - ANY) :
        ]
    )


def _dive(winters: Winters) -> Coarse:
    """Fix the settings of one shelter after the other, the most decided first; then carry days.

    Where the settings with the largest shares leave trees out, the warmest with a share are taken.
    """
    model = winters.model
    column = {id(v): c for c, v in enumerate(winters.arrays.variables)}
    undecided = {shelter for (shelter, _), found in model.settings.items() if len(found) > 1}
    while undecided:
        shelter = min(sorted(undecided), key=lambda one: _indecision(model, one))
        undecided.discard(shelter)
        before = _out_money(model)
        likely, warmest = (_rounded(model, shelter, warm) for warm in (False, True))
        winters.fix({column[key]: share for key, share in likely.items()})
        winters.relax(TOLERANCE)
        if _out_money(model) >= before + LEFT_OUT_EACH / 2 and warmest != likely:
            winters.fix({column[key]: share for key, share in warmest.items()})
            winters.relax(TOLERANCE)
    return _coarse(model, _fix_days(winters, column))


def _indecision(model: Model, shelter: str) -> float:
    """How far a shelter's settings are from being chosen, summed over spells."""
    return sum(
        1.0 - max((value(v) for v in found.values()), default=1.0)
        for (one, _), found in model.settings.items()
        if one == shelter and len(found) > 1
    )


def _rounded(model: Model, shelter: str, warm: bool) -> dict[int, float]:
    """Settings of a shelter, by ``id`` of variable: largest share, or the warmest with any."""
    chosen: dict[int, float] = {}
    for (one, spell), found in model.settings.items():
        if one != shelter or len(found) < 2:
            continue
        shares = {s: value(v) for s, v in found.items()}
        money = model.data.heat_money[shelter][:, spell]
        fitting = [s for s in shares if _breakers_carry(model, shelter, spell, s)] or list(shares)
        some = [s for s in fitting if shares[s] > ANY] or fitting
        best = max(some, key=lambda s: (money[s], s) if warm else (shares[s], -s))
        chosen |= {id(v): float(s == best) for s, v in found.items()}
    return chosen


def _breakers_carry(model: Model, shelter: str, spell: int, setting: int) -> bool:
    """Whether a setting leaves every breaker enough for the other shelters.

    Shelters decided draw what they draw, the others no more than the least they could.
    """
    drawn = model.data.breaker_w
    for breaker, limit_w in model.data.season.site.breakers_w.items():
        total = drawn[shelter][setting].get(breaker, 0.0)
        for (other, k), found in model.settings.items():
            if k == spell and other != shelter:
                decided = [s for s, v in found.items() if value(v) > 1.0 - ANY]
                total += min(drawn[other][s].get(breaker, 0.0) for s in decided or found)
        if total > limit_w:
            return False
    return True


def _fix_days(winters: Winters, column: Mapping[int, int]) -> float:
    """Carry days with the larger shares, as far as the household has days."""
    model = winters.model
    days = sorted(model.carry_day.values(), key=lambda v: -value(v))
    used = [v for v in days if value(v) > ANY][: model.data.start.carry_days_left]
    winters.fix({column[id(v)]: float(any(v is day for day in used)) for v in days})
    return winters.relax(TOLERANCE)


def _coarse(model: Model, money: float) -> Coarse:
    settings: dict[str, tuple[int, ...]] = {}
    for (shelter, _spell), found in model.settings.items():
        best = next(s for s, v in found.items() if v is None or value(v) > HALF)
        settings[shelter] = (*settings.get(shelter, ()), best)
    chosen: dict[str, tuple[frozenset[str], ...]] = {}
    for group in model.data.groups:
        if value(model.left_out[group.index]) > ANY:
            continue
        where = tuple(
            frozenset(
                stay.place_id
                for stay in model.stays.get((group.index, spell), ())
                if value(stay.variable) > ANY
            )
            for spell in range(len(model.data.spells))
        )
        chosen |= dict.fromkeys(group.tree_ids, where)
    whole_trees = sum(
        left_out_price(model, group) * ceil(value(v) - ANY) for group, v in model.left_out.items()
    )
    return Coarse(settings, chosen, whole_trees, money)


def _out_money(model: Model) -> float:
    return sum(left_out_price(model, g) * value(v) for g, v in model.left_out.items())


def value(variable: Variable | None) -> float:
    """The value of a variable; 1 for a choice that is none."""
    return 1.0 if variable is None else variable.varValue or 0.0


def restricted(
    data: ProgramData, coarse: Coarse, freedom: Freedom, loose: frozenset[str]
) -> ProgramData:
    """The fine program's input with the coarse decisions kept, as far as ``freedom`` says.

    Trees in ``loose`` may be in any shelter.
    """
    if freedom is Freedom.SETTINGS:
        return data
    allowed = {}
    for shelter, chosen in coarse.settings.items():
        mask = np.zeros_like(data.setting_allowed[shelter])
        mask[list(chosen), np.arange(len(chosen))] = True
        allowed[shelter] = mask & data.setting_allowed[shelter]
    kept = replace(data, setting_allowed=allowed)
    return kept if freedom is Freedom.SHELTERS else _within_shelters(kept, coarse, loose)


def tighter(
    data: ProgramData, coarse: Coarse, unplaced: frozenset[str], shares: Mapping[str, float]
) -> dict[str, float]:
    """Shares of the shelters' room to reckon with next, after trees could not be placed.

    Trees are not sand: a shelter whose area would do may have no bench free for the last one. The
    closed shelters that the unplaced trees should have been in are reckoned smaller; where it is
    not known who they are, all closed shelters.
    """
    shelters = data.season.shelter_by_id
    trees = unplaced.intersection(coarse.chosen) or coarse.chosen
    wanted = {p for tree_id in trees for places in coarse.chosen[tree_id] for p in places}
    return {**shares} | {
        place: shares.get(place, 1.0) * TIGHTER for place in sorted(wanted) if place in shelters
    }


def _crammed(model: Model) -> dict[str, float]:
    """Smaller shares for all shelters of several benches, if any is filled beyond ``CRAMMED``."""
    season = model.data.season
    full = season.site.weights.fullest_share
    merged = [s.places[0] for s in season.shelters if s.places[0].id == s.id]
    for place in merged:
        for spell in range(len(model.data.spells)):
            area = sum(
                model.data.groups[stay.group].tree.footprint_m2 * (stay.variable.varValue or 0.0)
                for stay in model.stays_at(place.id, spell)
            )
            if area > CRAMMED * full * place.area_m2:
                # all of them: a little air everywhere saves carries from bench to bench
                return {other.id: TIGHTER for other in merged}
    return {}


def _within_shelters(data: ProgramData, coarse: Coarse, loose: frozenset[str]) -> ProgramData:
    table = data.suitability
    coarse_of = fine_to_coarse(data.season)
    where = np.array([coarse_of[option.place_id] for option in table.options])
    inside = np.ones_like(table.allowed)
    masks: dict[frozenset[str], NDArray[np.bool_]] = {}
    for group in data.groups:
        paths = {coarse.chosen.get(tree_id) for tree_id in group.tree_ids}
        if None in paths or not loose.isdisjoint(group.tree_ids):
            continue
        for spell in range(len(data.spells)):
            places = frozenset().union(*(path[spell] for path in paths if path is not None))
            if places not in masks:
                masks[places] = np.isin(where, sorted(places))
            inside[group.index, :, spell] = masks[places]
    return replace(data, suitability=replace(table, allowed=table.allowed & inside))


@dataclass(frozen=True)
class Held:
    """A placement to keep, but for trees that are in a loose shelter or loose themselves."""

    placement: Placement
    loose_shelters: frozenset[str] = frozenset()
    loose_trees: frozenset[str] = frozenset()


def held(data: ProgramData, to_keep: Held) -> ProgramData:
    """Hold every other tree where the placement has it.

    After a bench turned out too full, only its own shelter need be arranged anew.
    """
    table = data.suitability
    where = np.array([option.place_id for option in table.options])
    shelter_of = {place.id: place.shelter_id for place in data.season.places.values()}
    inside = np.ones_like(table.allowed)
    for group in data.groups:
        paths = [to_keep.placement.stays.get(tree_id) for tree_id in group.tree_ids]
        if None in paths or not to_keep.loose_trees.isdisjoint(group.tree_ids):
            continue
        for spell in range(len(data.spells)):
            chosen = {path[spell] or "" for path in paths if path is not None}
            if all(shelter_of.get(place) not in to_keep.loose_shelters for place in chosen):
                inside[group.index, :, spell] = np.isin(where, sorted(chosen))
    return replace(data, suitability=replace(table, allowed=table.allowed & inside))
