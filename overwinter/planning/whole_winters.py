"""Places whole trees: an integer program whose choices are whole winters.

The relaxation by winters (``winters.py``), with settings and carry days decided, has found the
winters that are worth while; here each group's trees are shared out among them in whole numbers.
Every winter is reckoned with the hardening its trees truly have, which the program of single stays
knows only from above. Winters that were not found are not chosen from, so nothing is proven here.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np
import pulp

from overwinter.planning.decided import Decided
from overwinter.planning.winters import IntArray, Winters
from overwinter.program.constraints.room import not_again
from overwinter.program.data import RoomCut
from overwinter.program.read_back import Placement, whole

KEPT_LATE = ("suits the setting", "only on carry days")
"""Families that every winter keeps which is open to the trees once settings and days are held."""


@dataclass(frozen=True)
class WinterProgram:
    """The program and what its variables stand for."""

    winters: Winters
    problem: pulp.LpProblem
    numbers: IntArray
    """Winters to choose from."""
    trees: Sequence[pulp.LpVariable]
    """How many trees have each of them."""
    left_out: Sequence[pulp.LpVariable]
    """How many of each group have none."""


def winter_program(
    winters: Winters, numbers: IntArray, cuts: Sequence[RoomCut], shares: Mapping[str, float]
) -> WinterProgram:
    """The program of these winters, within the bounds that are held now.

    ``cuts`` are sets that could not be laid out; ``shares`` (by place id) make places smaller.
    """
    problem = pulp.LpProblem("winters", pulp.LpMinimize)
    flow, arrays = winters.flow, winters.arrays
    owner = np.array(winters.owner, dtype=np.int64)[numbers].tolist()
    trees = [
        problem.add_variable(f"w{n}", 0, int(flow.count[group]), pulp.LpInteger)
        for n, group in enumerate(owner)
    ]
    lower, upper = winters.bounds
    shared = [
        problem.add_variable(
            f"s{n}",
            low,
            None if high == np.inf else high,
            pulp.LpInteger if arrays.whole[column] else pulp.LpContinuous,
        )
        for n, (column, low, high) in enumerate(
            zip(winters.shared.tolist(), lower.tolist(), upper.tolist(), strict=True)
        )
    ]
    everything = [*shared, *trees]
    costs = [*arrays.costs[winters.shared].tolist(), *winters.costs[numbers].tolist()]
    money = [(v, cost) for v, cost in zip(everything, costs, strict=True) if cost]
    problem.setObjective(pulp.LpAffineExpression(money, constant=arrays.constant))
    _add_rows(problem, winters, numbers, everything)
    for n, row in enumerate(_of_layouts(problem, winters, numbers, trees, cuts, shares)):
        problem.addConstraint(row, f"l{n}")
    at = np.searchsorted(winters.shared, flow.left_out).tolist()
    left_out = [shared[column] for column in at]
    for group, out in enumerate(left_out):
        own = [v for v, of in zip(trees, owner, strict=True) if of == group]
        problem.addConstraint(pulp.lpSum([*own, out]) == int(flow.count[group]), f"g{group}")
    return WinterProgram(winters, problem, numbers, trees, left_out)


def _add_rows(
    problem: pulp.LpProblem,
    winters: Winters,
    numbers: IntArray,
    everything: Sequence[pulp.LpVariable],
) -> None:
    """The program's rows over shared variables and winters, but for those that winters keep."""
    model, all_rows = winters.model, winters.rows
    wanted = winters.kept.copy()
    for family in KEPT_LATE:
        wanted[list(model.rows[family])] = False
    rows = np.flatnonzero(wanted)
    entries = winters.entries(rows, numbers)
    positions, values = entries.positions.tolist(), entries.values.tolist()
    for n, row in enumerate(rows.tolist()):
        first, end = int(entries.starts[n]), int(entries.starts[n + 1])
        if first == end:
            continue
        found = zip(positions[first:end], values[first:end], strict=True)
        expression = pulp.LpAffineExpression([(everything[at], value) for at, value in found])
        low, high = float(all_rows.lower[row]), float(all_rows.upper[row])
        if low == high:
            problem.addConstraint(expression == low, f"r{n}")
        elif np.isfinite(high):
            problem.addConstraint(expression <= high, f"r{n}")
        else:
            problem.addConstraint(expression >= low, f"r{n}")


def _of_layouts(
    problem: pulp.LpProblem,
    winters: Winters,
    numbers: IntArray,
    trees: Sequence[pulp.LpVariable],
    cuts: Sequence[RoomCut],
    shares: Mapping[str, float],
) -> Iterator[pulp.LpConstraint]:
    """What drawing places to scale has taught: sets that do not fit, and smaller places."""
    model, flow = winters.model, winters.flow
    places = model.data.season.places
    stays = np.stack([winters.courses[number].stays for number in numbers.tolist()])
    at = np.append(flow.stay_cell % flow.places, -1)[stays]
    extra = count(1)

    def binary() -> pulp.LpVariable:
        return problem.add_variable(f"b{next(extra)}", 0, 1, pulp.LpInteger)

    for place_id in dict.fromkeys([*(cut.place_id for cut in cuts), *shares]):
        full = shares.get(place_id, 1.0) * model.weights.fullest_share * places[place_id].area_m2
        for spell in range(flow.spells):
            by_group: dict[int, list[pulp.LpVariable]] = {}
            for n in np.flatnonzero(at[:, spell] == list(places).index(place_id)).tolist():
                by_group.setdefault(winters.owner[int(numbers[n])], []).append(trees[n])
            for cut in cuts:
                if cut.place_id == place_id:
                    yield from not_again(cut, by_group, model.data.groups, binary)
            if place_id in shares and by_group:
                yield full >= pulp.lpSum(
                    model.data.groups[group].tree.footprint_m2 * variable
                    for group, variables in by_group.items()
                    for variable in variables
                )


def read_winters(program: WinterProgram, decided: Decided) -> Placement:
    """The placement of every tree; of trees alike the first have the winters found first."""
    winters = program.winters
    data, flow = winters.model.data, winters.flow
    places = np.array([*data.season.places, ""], dtype=object)
    paths: dict[int, list[tuple[str | None, ...]]] = {}
    for number, variable in zip(program.numbers.tolist(), program.trees, strict=True):
        stays = winters.courses[number].stays
        at = np.append(flow.stay_cell % flow.places, -1)[stays]
        path = tuple(place or None for place in places[at].tolist())
        paths.setdefault(winters.owner[number], []).extend([path] * whole(variable.varValue))
    placed = {
        tree_id: path
        for group in data.groups
        for tree_id, path in zip(group.tree_ids, paths.get(group.index, ()), strict=False)
    }
    out = {i for group in data.groups for i in group.tree_ids if i not in placed}
    return Placement(dict(decided.settings), placed, frozenset(out))
