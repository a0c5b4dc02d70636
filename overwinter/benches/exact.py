"""The exact search: OR-tools CP-SAT, no two rectangles overlapping, each turned or not.

One worker, fixed seed and a limit of deterministic time: the same answer every time. Lengths are
divided by their greatest common divisor and the two redundant cumulative constraints are added;
without these two a bench of 25 trees is not solved in minutes, with them in hundredths of seconds.
"""

import math
from enum import Enum
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from overwinter.benches.region import Pots, Region, flipped_slots
from overwinter.model.stage import IntArray

if TYPE_CHECKING:
    from ortools.sat.python import cp_model


class Exact(Enum):
    """How a search without an arrangement ended."""

    NONE_EXISTS = "none exists"
    STOPPED = "stopped at the work limit"


def packed_exactly(region: Region, pots: Pots, work: float) -> IntArray | Exact:
    """Slots ``(n, 4)`` of x, y, width, depth, units; or proof that none exist; or neither."""
    from ortools.sat.python import cp_model

    # reach from the far side only is searched as reach from the near one: a coarser grid will do
    ends = [{edge.at for edge in region.edges if edge.axis == axis} for axis in (0, 1)]
    flips = [len(at) == 1 and at != {0} for at in ends]
    model = cp_model.CpModel()
    drawn = _Drawing(model, region.flipped(flips), pots)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 0
    solver.parameters.max_deterministic_time = work
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return Exact.NONE_EXISTS
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return Exact.STOPPED
    return flipped_slots(region, drawn.slots(solver), flips)


class _Drawing:
    """The model of an undivided region: one box of footprint plus clearance for each tree.

    Clearance is kept by packing boxes larger by it into a region larger by it.
    """

    def __init__(self, model: "cp_model.CpModel", region: Region, pots: Pots) -> None:
        gap = region.clearance
        self._model, self._region, self._pots, self._gap = model, region, pots, gap
        self._grid = _grid_of(region, pots)
        self._room = ((region.width + gap) // self._grid, (region.depth + gap) // self._grid)
        boxes = (pots.sizes + gap) // self._grid
        # like trees one after the other, large ones first: they are in order of place below
        self._order = [int(i) for i in np.lexsort((boxes.min(axis=1), boxes.max(axis=1)))[::-1]]
        self._starts: dict[int, list[cp_model.IntVar]] = {}
        self._extents: dict[int, list[cp_model.LinearExpr | int]] = {}
        intervals: tuple[list[cp_model.IntervalVar], ...] = ([], [])
        for i in self._order:
            self._add_box(i, int(boxes[i, 0]), int(boxes[i, 1]), intervals)
        model.add_no_overlap_2d(*intervals)
        for axis in (0, 1):
            across = [self._extents[i][1 - axis] for i in self._order]
            model.add_cumulative(intervals[axis], across, self._room[1 - axis])
        self._order_like_trees(boxes)

    def _add_box(
        self, i: int, width: int, depth: int, intervals: "tuple[list[cp_model.IntervalVar], ...]"
    ) -> None:
        model = self._model
        self._extents[i] = [width, depth]
        if width != depth:
            turned = model.new_bool_var("")
            self._extents[i] = [width + (depth - width) * turned, depth + (width - depth) * turned]
        self._starts[i] = []
        for axis in (0, 1):
            room = self._room[axis]
            start = model.new_int_var(0, max(0, room - min(width, depth)), "")
            end = model.new_int_var(0, room, "")
            self._starts[i].append(start)
            intervals[axis].append(model.new_interval_var(start, self._extents[i][axis], end, ""))
        if self._region.reach is not None:
            self._keep_in_reach(i, self._region.reach)

    def _keep_in_reach(self, i: int, reach: int) -> None:
        """|2 middle - 2 edge| <= 2 reach for at least one edge; middles without the clearance."""
        model, grid, gap = self._model, self._grid, self._gap
        reached = []
        for edge in self._region.edges:
            middle = grid * (2 * self._starts[i][edge.axis] + self._extents[i][edge.axis])
            low, high = 2 * (edge.at - reach) + gap, 2 * (edge.at + reach) + gap
            within = model.add_linear_constraint(middle, low, high)
            if len(self._region.edges) > 1:
                reached.append(model.new_bool_var(""))
                within.only_enforce_if(reached[-1])
        if reached:
            model.add_bool_or(reached)

    def _order_like_trees(self, boxes: IntArray) -> None:
        """Equal boxes stand in order of place: breaks their symmetry."""
        spans = np.sort(boxes, axis=1)
        stride = self._room[1] + 1
        for i, j in pairwise(self._order):
            if (spans[i] == spans[j]).all():
                here, there = self._starts[i], self._starts[j]
                self._model.add(stride * here[0] + here[1] <= stride * there[0] + there[1])

    def slots(self, solver: "cp_model.CpSolver") -> IntArray:
        """The arrangement found."""
        slots = np.zeros((len(self._pots), 4), dtype=np.int64)
        for i in self._order:
            for axis in (0, 1):
                slots[i, axis] = self._grid * solver.value(self._starts[i][axis])
                slots[i, axis + 2] = self._grid * solver.value(self._extents[i][axis]) - self._gap
        return slots


def _grid_of(region: Region, pots: Pots) -> int:
    """A step of which every position may be taken to be a multiple, losing no arrangement.

    Trees can be pushed towards the corner at the origin until they touch: positions are then sums
    of boxes. Where a tree must stay near another edge it is pushed to that one instead, so the
    ends of the region must be multiples too.
    """
    gap = region.clearance
    steps = [int(side) + gap for side in pots.sizes.flat]
    if region.reach is not None and any(edge.at != 0 for edge in region.edges):
        steps += [region.width + gap, region.depth + gap]
    return math.gcd(*steps)
