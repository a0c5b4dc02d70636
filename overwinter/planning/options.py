"""What a caller may ask of a plan, and what it is told while it waits."""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class PlanOptions:
    """How a plan is sought."""

    solver: str = "auto"
    gap: float = 0.01
    """Relative gap at which a plan is good enough, proven from the bound."""
    time_limit_s: float | None = None
    """After so many seconds the search is brought to an end; None: no limit."""
    threads: int = 2
    layouts: bool = True
    """Draw every place to scale, and plan again where a set does not fit."""


@dataclass(frozen=True, slots=True)
class Progress:
    """Where the search stands; objective and bound in the site's money."""

    phase: str
    seconds: float
    objective: float | None = None
    bound: float | None = None
    gap: float | None = None
    beside: bool = False
    """Asked when the plan is already there; the phase says what."""
    urgent: bool = False
    """To be told at once; the phase is all there is to say."""


OnProgress = Callable[[Progress], None]
