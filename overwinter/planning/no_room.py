"""Who has no room: trees that do not fit in beside the others, however they are spread out.

Their price is above everything, so a plan is within a small share of the best long before its costs
are: who is left out is decided first, and the costs without them. The coarse program
(``program.coarse``) is enough for that; a tree without room there has none anywhere.
"""

from collections.abc import Callable
from math import ceil

from overwinter.planning.rounding import ANY, out_money, value
from overwinter.planning.winters import winters_of
from overwinter.program.build import build
from overwinter.program.coarse import coarse_data
from overwinter.program.data import ProgramData
from overwinter.program.model import Model, Problem
from overwinter.program.objective import LEFT_OUT_EACH
from overwinter.program.read_back import read_back
from overwinter.solvers.report import SolverReport

AT_ONCE = 40_000
"""Up to so many variables it is decided in whole trees; beyond, in pieces."""
TOLERANCE = 5e-4
"""How near to its own best value the relaxation is solved, share of it."""

Solve = Callable[[Problem, str], SolverReport]


def no_room(data: ProgramData, solve: Solve) -> frozenset[str]:
    """Trees to leave out; none where all have room."""
    coarse = coarse_data(data)
    winters = winters_of(coarse)
    winters.relax(TOLERANCE)
    model = winters.model
    if out_money(model) <= LEFT_OUT_EACH * ANY:
        return frozenset()
    if len(model.problem.variables()) <= AT_ONCE:
        whole = build(coarse, may_leave_out=True)
        if solve(whole.problem, "who has a place").has_solution:
            return read_back(whole).left_out
    return _in_pieces(model)


def _in_pieces(model: Model) -> frozenset[str]:
    """Whole trees to leave out where the relaxation leaves out some, perhaps in pieces."""
    return frozenset(
        tree_id
        for group in model.data.groups
        for tree_id in group.tree_ids[
            group.count - ceil(value(model.left_out[group.index]) - ANY) :
        ]
    )
