"""How a solve ended, and what is proven about its answer."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from overwinter.problems import UserError

#: Called with seconds, best objective and bound so far; ``None`` where there is none yet.
Progress = Callable[[float, float | None, float | None], None]


class Termination(StrEnum):
    """Why the solver stopped; says nothing about whether it has an answer."""

    OPTIMAL = "optimal"
    GAP_REACHED = "gap reached"
    TIME_LIMIT = "time limit"
    NODE_LIMIT = "node limit"
    INTERRUPTED = "interrupted"
    INFEASIBLE = "infeasible"
    UNBOUNDED = "unbounded"
    INFEASIBLE_OR_UNBOUNDED = "infeasible or unbounded"
    FAILED = "failed"


class SolverFailed(UserError):
    """The solver broke down or returned something that is not an answer."""


class BadModel(ValueError):
    """The problem itself is malformed: a mistake of the program that built it."""


@dataclass(frozen=True, slots=True)
class SolverReport:
    """The end of one solve.

    ``objective``, ``bound`` and ``gap`` include the constant of the objective and are in its own
    unit and sense; ``objective`` is computed from the values handed back, not quoted from the
    solver. ``start_taken`` is ``None`` without a start, ``True`` if the start was complete and
    kept every row (the answer is then no worse than it), ``False`` if it was only a hint.
    """

    solver: str
    version: str
    termination: Termination
    has_solution: bool
    objective: float | None
    bound: float | None
    gap: float | None
    seconds: float
    start_taken: bool | None = None

    @property
    def proven(self) -> bool:
        """Whether the solver itself came to its end and a bound stands behind the answer.

        The answer is then within ``gap`` of the best possible. A run that was stopped also has
        a ``gap``, as honest, but not the one that was asked for.
        """
        return (
            self.has_solution
            and self.gap is not None
            and self.termination in (Termination.OPTIMAL, Termination.GAP_REACHED)
        )


@dataclass(frozen=True, slots=True)
class SolverSettings:
    """What a solve may cost and how near to the best it must come.

    Raises
    ------
    UserError
        A value outside its range.
    """

    gap: float = 1e-4
    time_limit_s: float | None = None
    node_limit: int | None = None
    threads: int = 2
    relax: bool = False  # drop the whole-number demands: the linear relaxation
    cutoff: float | None = None  # whole-number answers that are worse are none
    options: Mapping[str, bool | int | float | str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not (math.isfinite(self.gap) and 0 <= self.gap < 1):
            raise UserError(f"The gap is a share from 0 up to 1 (0.001 is 0.1 %), not {self.gap}.")
        if self.time_limit_s is not None and not self.time_limit_s > 0:
            raise UserError(f"The time limit must be above 0 s, not {self.time_limit_s}.")
        if self.node_limit is not None and self.node_limit < 1:
            raise UserError(f"The node limit must be at least 1, not {self.node_limit}.")
        if self.threads < 1:
            raise UserError(f"At least 1 thread is needed, not {self.threads}.")

    def cutoff_in(self, sense: int) -> float | None:
        """The cutoff in least-cost form; None if there is none, as for relaxations."""
        return None if self.cutoff is None or self.relax else sense * float(self.cutoff)


def relative_gap(objective: float, bound: float, *, sense: int = 1) -> float:
    """Distance from the proven bound as a share of the objective, never below 0.

    ``(objective - bound) / max(|objective|, 1e-9)`` for ``sense`` 1 (least), the reverse for -1
    (most). Both numbers include the objective's constant.
    """
    return max(0.0, sense * (objective - bound) / max(abs(objective), 1e-9))
