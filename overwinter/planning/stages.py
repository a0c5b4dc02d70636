"""Two programs one after the other: first shelters and heat, then benches.

The coarse program (``program.coarse``) decides heater settings and in which shelter each tree is,
with a bound that holds for the whole; the fine program then finds the place of each tree within
the shelters chosen. Where that leaves out more trees than the coarse one, the choice of shelters,
and then that of the settings, is opened again.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import IntEnum

import numpy as np

from overwinter.program.build import build
from overwinter.program.coarse import coarse_data, fine_to_coarse
from overwinter.program.data import ProgramData
from overwinter.program.model import Model
from overwinter.program.objective import left_out_price
from overwinter.program.read_back import Placement, read_back
from overwinter.solvers.choose import relax
from overwinter.solvers.report import SolverReport

CRAMMED = 0.97
"""Shelters filled beyond this share of what they may hold are reckoned smaller at once."""
TIGHTER = 0.92
"""How much smaller a shelter is reckoned when trees did not fit its benches."""

Solve = Callable[[Model, str, Mapping[str, float]], SolverReport]


class Freedom(IntEnum):
    """What the fine program may still decide."""

    PLACES = 0
    SHELTERS = 1
    SETTINGS = 2


@dataclass(frozen=True)
class Coarse:
    """The answer of the coarse program."""

    placement: Placement
    report: SolverReport
    bound: float | None
    """Bound on the objective, prices of trees left out included."""
    hint: Mapping[str, float]
    """Values by variable name to begin the next search from."""


def penalty(model: Model, left_out: frozenset[str]) -> float:
    """What the objective counts for trees left out."""
    return sum(
        left_out_price(model, group.index) * len(left_out.intersection(group.tree_ids))
        for group in model.data.groups
    )


def solve_coarse(
    data: ProgramData, solve: Solve, shares: Mapping[str, float], hint: Mapping[str, float]
) -> Coarse:
    """Heater settings and shelters; the report may have no solution.

    With ``shares`` of the shelters' room (by shelter id) its bound holds for nothing else. ``hint``
    is that of an earlier answer or relaxation for the same spells and groups.
    """
    model = build(coarse_data(data, shares), may_leave_out=True)
    report = solve(model, "shelters and heat", hint)
    if not report.has_solution:
        return Coarse(Placement({}, {}, frozenset()), report, report.bound, {})
    return Coarse(read_back(model), report, None if shares else report.bound, _hint(model))


@dataclass(frozen=True)
class Relaxed:
    """The linear relaxation of the coarse program."""

    bound: float | None
    hint: Mapping[str, float]
    shares: Mapping[str, float]
    """Smaller shares of room, where it fills a shelter so far that benches cannot follow."""


def relax_coarse(data: ProgramData, solver: str) -> Relaxed:
    """Bound and first guess from the relaxation; both are near the coarse program's own."""
    model = build(coarse_data(data, {}), may_leave_out=True)
    report = relax(model.problem, solver=solver)
    if not report.has_solution:
        return Relaxed(None, {}, {})
    return Relaxed(report.objective, _rounded(model), _crammed(model))


def _rounded(model: Model) -> dict[str, float]:
    """A first guess at settings and carry days from the values of the relaxation.

    The setting with the largest share, and the carry days with the largest shares as far as the
    household has days.
    """
    guess: dict[str, float] = {}
    for found in model.settings.values():
        shares = {s: v.varValue or 0.0 for s, v in found.items() if v is not None}
        best = max(shares, key=lambda s: shares[s], default=None)
        guess |= {v.name: float(s == best) for s, v in found.items() if v is not None}
    days = sorted(model.carry_day.values(), key=lambda v: -(v.varValue or 0.0))
    most = model.data.start.carry_days_left
    used = [v for v in days if (v.varValue or 0.0) > 1e-6][:most]
    return guess | {v.name: float(any(v is day for day in used)) for v in days}


def _hint(model: Model) -> dict[str, float]:
    """The settings and carry days of an answer, by variable name: most of what is hard to find."""
    variables = [v for found in model.settings.values() for v in found.values() if v is not None]
    variables += model.carry_day.values()
    return {v.name: v.varValue for v in variables if v.varValue is not None}


def restricted(data: ProgramData, coarse: Coarse, freedom: Freedom) -> ProgramData:
    """The fine program's input with the coarse decisions kept, as far as ``freedom`` says."""
    if freedom is Freedom.SETTINGS:
        return data
    allowed = {}
    for shelter, chosen in coarse.placement.settings.items():
        mask = np.zeros_like(data.setting_allowed[shelter])
        mask[list(chosen), np.arange(len(chosen))] = True
        allowed[shelter] = mask & data.setting_allowed[shelter]
    kept = replace(data, setting_allowed=allowed)
    return kept if freedom is Freedom.SHELTERS else _within_shelters(kept, coarse)


def tighter(
    data: ProgramData, coarse: Coarse, unplaced: frozenset[str], shares: Mapping[str, float]
) -> dict[str, float]:
    """Shares of the shelters' room to reckon with next, after trees could not be placed.

    Trees are not sand: a shelter whose area would do may have no bench free for the last one. The
    closed shelters that the unplaced trees should have been in are reckoned smaller; where it is
    not known who they are, all closed shelters.
    """
    shelters = data.season.shelter_by_id
    stays = coarse.placement.stays
    wanted = {place for tree_id in unplaced or stays for place in stays.get(tree_id, ())}
    return {**shares} | {
        place: shares.get(place, 1.0) * TIGHTER
        for place in sorted(filter(None, wanted))
        if place in shelters
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


def _within_shelters(data: ProgramData, coarse: Coarse) -> ProgramData:
    table = data.suitability
    coarse_of = fine_to_coarse(data.season)
    where = np.array([coarse_of[option.place_id] for option in table.options])
    inside = np.ones_like(table.allowed)
    for group in data.groups:
        paths = [coarse.placement.stays.get(tree_id) for tree_id in group.tree_ids]
        if any(path is None for path in paths):
            continue
        for spell in range(len(data.spells)):
            chosen = {path[spell] or "" for path in paths if path is not None}
            inside[group.index, :, spell] = np.isin(where, sorted(chosen))
    return replace(data, suitability=replace(table, allowed=table.allowed & inside))


def held(data: ProgramData, placement: Placement, loose: frozenset[str]) -> ProgramData:
    """Hold every tree where a placement has it, except while it is in a ``loose`` shelter.

    After a bench turned out too full, only its own shelter need be arranged anew.
    """
    table = data.suitability
    where = np.array([option.place_id for option in table.options])
    shelter_of = {place.id: place.shelter_id for place in data.season.places.values()}
    inside = np.ones_like(table.allowed)
    for group in data.groups:
        paths = [placement.stays.get(tree_id) for tree_id in group.tree_ids]
        if any(path is None for path in paths):
            continue
        for spell in range(len(data.spells)):
            chosen = {path[spell] or "" for path in paths if path is not None}
            if all(shelter_of.get(place) not in loose for place in chosen):
                inside[group.index, :, spell] = np.isin(where, sorted(chosen))
    return replace(data, suitability=replace(table, allowed=table.allowed & inside))
