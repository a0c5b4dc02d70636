"""The integer program that shares out whole trees among whole winters.

Like the program of single stays (``build``), with the stays and carries of a winter taken as one
variable: how many trees of a group have it. What the trees share (crowding, quarantine, the
settings and carry days held) stays as it is. Every winter comes with its own cost, reckoned with
the hardening that its trees truly have.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np
import pulp
from numpy.typing import NDArray

from overwinter.model.shelter import FloatArray
from overwinter.program.constraints.room import not_again
from overwinter.program.data import RoomCut
from overwinter.program.expression import weighted
from overwinter.program.model import Model

IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class WinterChoice:
    """Winters to choose from; columns are the shared variables and then the winters."""

    model: Model
    owner: IntArray
    """``(winter,)``: group."""
    place: IntArray
    """``(winter, spell)``: index of the place, -1 before the trees join."""
    costs: FloatArray
    """``(column,)``, as ``lower`` and ``upper``."""
    lower: FloatArray
    upper: FloatArray
    whole: NDArray[np.bool_]
    constant: float
    left_out: IntArray
    """``(group,)``: shared column of the trees left out."""
    row_starts: IntArray
    """Rows over the columns one after another, ``(row + 1,)``: then where and how much."""
    row_columns: IntArray
    row_values: FloatArray
    row_lower: FloatArray
    row_upper: FloatArray

    @property
    def shared(self) -> int:
        """How many columns are no winters."""
        return self.costs.size - self.owner.size


@dataclass(frozen=True)
class WinterProgram:
    """The program, its shared variables, and how many trees have each winter."""

    problem: pulp.LpProblem
    shared: Sequence[pulp.LpVariable]
    trees: Sequence[pulp.LpVariable]


def winter_program(
    choice: WinterChoice,
    cuts: Sequence[RoomCut],
    shares: Mapping[str, float],
) -> WinterProgram:
    """The program; ``cuts`` are sets that could not be laid out, ``shares`` (by place id) make
    places smaller."""
    problem = pulp.LpProblem("winters", pulp.LpMinimize)
    bounds = zip(choice.lower.tolist(), choice.upper.tolist(), choice.whole.tolist(), strict=True)
    columns = [
        problem.add_variable(
            f"x{n}",
            low,
            None if high == np.inf else high,
            pulp.LpInteger if whole else pulp.LpContinuous,
        )
        for n, (low, high, whole) in enumerate(bounds)
    ]
    shared, trees = columns[: choice.shared], columns[choice.shared :]
    priced = zip(columns, choice.costs.tolist(), strict=True)
    problem.setObjective(weighted((v, cost) for v, cost in priced if cost) + choice.constant)
    rows = [*_every_tree(choice, columns), *_kept(choice, columns)]
    rows += _of_layouts(problem, choice, trees, cuts, shares)
    for n, row in enumerate(rows):
        problem.addConstraint(row, f"r{n}")
    return WinterProgram(problem, shared, trees)


def _every_tree(
    choice: WinterChoice, columns: Sequence[pulp.LpVariable]
) -> Iterator[pulp.LpConstraint]:
    """Every tree of a group has a winter or is left out."""
    for group in choice.model.data.groups:
        own = choice.shared + np.flatnonzero(choice.owner == group.index)
        having = [columns[n] for n in own.tolist()]
        out = columns[int(choice.left_out[group.index])]
        yield pulp.lpSum([*having, out]) == group.count


def _kept(choice: WinterChoice, columns: Sequence[pulp.LpVariable]) -> Iterator[pulp.LpConstraint]:
    """The rows of the program of single stays that winters do not keep of themselves."""
    at, values = choice.row_columns.tolist(), choice.row_values.tolist()
    starts = choice.row_starts.tolist()
    sides = zip(choice.row_lower.tolist(), choice.row_upper.tolist(), strict=True)
    for n, (low, high) in enumerate(sides):
        inside = range(starts[n], starts[n + 1])
        if not inside:
            continue
        expression = pulp.LpAffineExpression([(columns[at[i]], values[i]) for i in inside])
        if low == high:
            yield expression == low
        elif np.isfinite(high):
            yield expression <= high
        else:
            yield expression >= low


def _of_layouts(
    problem: pulp.LpProblem,
    choice: WinterChoice,
    trees: Sequence[pulp.LpVariable],
    cuts: Sequence[RoomCut],
    shares: Mapping[str, float],
) -> Iterator[pulp.LpConstraint]:
    """What drawing places to scale has taught: sets that do not fit, and smaller places."""
    data, weights = choice.model.data, choice.model.weights
    places = data.season.places
    extra = count(1)

    def binary() -> pulp.LpVariable:
        return problem.add_variable(f"b{next(extra)}", 0, 1, pulp.LpInteger)

    for place_id in dict.fromkeys([*(cut.place_id for cut in cuts), *shares]):
        full = shares.get(place_id, 1.0) * weights.fullest_share * places[place_id].area_m2
        for spell in range(choice.place.shape[1]):
            by_group: dict[int, list[pulp.LpVariable]] = {}
            for n in np.flatnonzero(
                choice.place[:, spell] == list(places).index(place_id)
            ).tolist():
                by_group.setdefault(int(choice.owner[n]), []).append(trees[n])
            for cut in cuts:
                if cut.place_id == place_id:
                    yield from not_again(cut, by_group, data.groups, binary)
            if place_id in shares and by_group:
                footprints = (
                    (variable, data.groups[group].tree.footprint_m2)
                    for group, variables in by_group.items()
                    for variable in variables
                )
                yield weighted(footprints) <= full
