"""What is asked of a solve, how it ended, and what is proven about its answer."""

import math
from dataclasses import dataclass

from overwinter.model.plan import Termination
from overwinter.problems import UserError


class SolverFailed(UserError):
    """The solver broke down or returned something that is not an answer."""


@dataclass(frozen=True, slots=True)
class SolverSettings:
    """What a solve may cost and how near to the best it must come. Raises ``UserError``: A value
    outside its range."""

    gap: float = 1e-4  # share of the objective
    time_limit_s: float | None = None  # wall-clock limit, s
    threads: int = 2
    relax: bool = False  # drop the whole-number demands: the linear relaxation

    def __post_init__(self) -> None:
        if not (math.isfinite(self.gap) and 0 <= self.gap < 1):
            raise UserError(f"The gap is a share from 0 up to 1 (0.001 is 0.1 %), not {self.gap}.")
        if self.time_limit_s is not None and not self.time_limit_s > 0:
            raise UserError(f"The time limit must be above 0 s, not {self.time_limit_s}.")
        if self.threads < 1:
            raise UserError(f"At least 1 thread is needed, not {self.threads}.")


@dataclass(frozen=True, slots=True)
class SolverReport:
    """The end of one solve of a problem whose objective is minimised. ``objective`` is reckoned
    from the values in the variables, which are None without an answer; ``bound`` is what no answer
    can cost less than, None where it is not known."""

    termination: Termination
    objective: float | None
    bound: float | None

    @property
    def gap(self) -> float | None:
        """(objective - bound) / |objective|; None where either is not known."""
        if self.objective is None or self.bound is None:
            return None
        return max(0.0, (self.objective - self.bound) / max(abs(self.objective), 1e-9))
