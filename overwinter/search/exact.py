"""The integer program itself: from a placement of whole trees to a better one, with its bound."""

from collections import Counter
from collections.abc import Callable

import numpy as np

from overwinter.search.placement import NOWHERE, IntArray, Placement
from overwinter.search.problem import Problem
from overwinter.search.program import Program
from overwinter.solvers.choose import make_adapter, run_adapter
from overwinter.solvers.report import SolverSettings, Termination

LEAST_S = 0.1


def improved(
    program: Program,
    placement: Placement,
    solver: str,
    gap: float,
    left_s: Callable[[], float],
    fixed: bool,
) -> tuple[Placement | None, float | None]:
    """The solver's placement, and its bound; None for what it did not find.

    Parameters
    ----------
    placement : begins with it, so that the answer is no worse.
    fixed : keep its heater programmes; the bound then says nothing about others and is None.
    """
    values = start_values(program, placement)
    start = completed(program, values, solver)
    settings = SolverSettings(gap=gap, time_limit_s=max(left_s(), LEAST_S))
    adapter = make_adapter(solver, settings)
    adapter.start = start
    columns = [x for shelter in program.x.values() for x in shelter]
    for x in columns:
        x.lowBound, x.upBound = (values[x.name], values[x.name]) if fixed else (0.0, 1.0)
    report = run_adapter(program.lp, adapter)
    for x in columns:
        x.lowBound, x.upBound = 0.0, 1.0
    found = placement_of(program) if report.has_solution else None
    return found, None if fixed else report.bound


def start_values(program: Program, placement: Placement) -> dict[str, float]:
    """A placement as values of the whole-number columns, by name; the solver finds the rest."""
    problem = program.problem
    found: dict[str, float] = {}
    for shelter_id, columns in program.x.items():
        ways = [p.settings for p in problem.programmes[shelter_id]]
        chosen = ways.index(tuple(placement.settings[shelter_id]))
        found |= {x.name: float(u == chosen) for u, x in enumerate(columns)}
    standing: Counter[tuple[int, str, int]] = Counter()
    out: Counter[int] = Counter()
    for (g, _), path in zip(placement.trees, placement.paths, strict=True):
        if path is None:
            out[g] += 1
            continue
        for k, place in enumerate(path.tolist()):
            if place != NOWHERE:
                standing[g, placement.places[place], k] += 1
    for stay in program.stays:
        shelter_id = problem.season.places[stay.place_id].shelter_id
        meets = placement.settings[shelter_id][stay.stage] in stay.settings
        there = standing[stay.group, stay.place_id, stay.stage] if meets else 0
        found[stay.variable.name] = float(there)
    found |= {v.name: float(out[g]) for g, v in enumerate(program.left_out)}
    return found


def placement_of(program: Program) -> Placement:
    """The solver's answer as whole trees on paths."""
    problem = program.problem
    settings = {
        shelter_id: problem.programmes[shelter_id][
            int(np.argmax([x.varValue or 0.0 for x in columns]))
        ].settings
        for shelter_id, columns in program.x.items()
    }
    placement = Placement(problem, settings)
    counts: dict[tuple[int, int], Counter[int]] = {}
    for stay in program.stays:
        n = round(stay.variable.varValue or 0.0)
        if n:
            here = counts.setdefault((stay.group, stay.stage), Counter())
            here[placement.at[stay.place_id]] += n
    first_tree = 0
    for g, group in enumerate(problem.groups):
        placed = group.count - round(program.left_out[g].varValue or 0.0)
        paths = _paths(problem, placement, g, placed, counts)
        for i, path in enumerate(paths):
            placement.put(first_tree + i, path)
        first_tree += group.count
    return placement


def _paths(
    problem: Problem,
    placement: Placement,
    g: int,
    placed: int,
    counts: dict[tuple[int, int], Counter[int]],
) -> list[IntArray]:
    """Counts by place and stage as paths: whoever may stay stays, the others go where room is."""
    start = problem.groups[g].start[: problem.first]
    past = [NOWHERE if place is None else placement.at[place] for place in start]
    paths = [np.full(problem.stages, NOWHERE, dtype=np.intp) for _ in range(placed)]
    for path in paths:
        path[: problem.first] = past
    for k in range(problem.first, problem.stages):
        left = Counter(counts.get((g, k), Counter()))
        moving = []
        for path in paths:
            if left[int(path[k - 1])] > 0 and path[k - 1] != NOWHERE:
                path[k] = path[k - 1]
                left[int(path[k])] -= 1
            else:
                moving.append(path)
        for path, place in zip(moving, left.elements(), strict=False):
            path[k] = place
    return paths


def completed(program: Program, values: dict[str, float], solver: str) -> dict[str, float] | None:
    """Values of all columns, the whole-number ones as given; None if they break a row.

    A start with gaps makes the solver look for the rest by a small search of its own, which can be
    taken for the search itself.
    """
    columns = [v for v in program.lp.variables() if v.name in values]
    bounds = [(v.lowBound, v.upBound) for v in columns]
    for v in columns:
        v.lowBound = v.upBound = values[v.name]
    report = run_adapter(program.lp, make_adapter(solver, SolverSettings(relax=True)))
    for v, (low, high) in zip(columns, bounds, strict=True):
        v.lowBound, v.upBound = low, high
    if report.termination is not Termination.OPTIMAL:
        return None
    return {v.name: float(v.varValue or 0.0) for v in program.lp.variables()}
