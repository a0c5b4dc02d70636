"""What a caller may ask of a plan, and what it is told while it waits."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

USUAL_GAP = 0.02  # limits and winters are estimates: nobody needs more


@dataclass(frozen=True, slots=True)
class PlanOptions:
    """How a plan is sought."""

    gap: float = USUAL_GAP
    """Relative gap of the whole at which a plan is good enough, proven from the bound."""
    time_limit_s: float | None = None
    """Wall-clock limit of the whole plan, s; None: 20 s for up to 1,000 trees, more above."""
    threads: int = 2
    layouts: bool = True
    """Draw every place to scale, and place trees again where a set does not fit."""


class Phase(StrEnum):
    """What the search is at."""

    PHYSICS = "weather and shelters"
    PROGRAMMES = "heaters"
    TREES = "whole trees"
    LAYOUTS = "benches to scale"
    AUDIT = "audit"


@dataclass(frozen=True, slots=True)
class Progress:
    """Where the search stands: money of the plan in hand and its proven bound."""

    phase: Phase
    seconds: float
    objective: float | None = None
    bound: float | None = None


OnProgress = Callable[[Progress], None]
