"""The time that a search may take, and what is told of it."""

import time

from overwinter.model.season import Season
from overwinter.search.options import OnProgress, Phase, PlanOptions, Progress

USUAL_LIMIT_S = 20.0
"""Wall-clock limit of a plan where none is asked, for up to ``USUAL_TREES`` trees."""
USUAL_TREES, LONGER_S_PER_TREE = 1000, 0.02
"""And longer for each tree above: 3,000 trees take a minute."""
ENDING_S, ENDING_S_PER_TREE = 1.0, 0.015  # as measured on 15 to 300 trees, s
SLOW = 3.0
"""Where no limit is asked, so many times what physics and the table of harm took: 4 s for the demo,
more on a slow machine."""


def limit_s(trees: int, options: PlanOptions) -> float:
    """Wall-clock limit of a plan, s."""
    longer = max(0, trees - USUAL_TREES) * LONGER_S_PER_TREE
    return options.time_limit_s or USUAL_LIMIT_S + longer


def ending_s(trees: int) -> float:
    """What layouts, audit and other winters take at the end, s."""
    return ENDING_S + ENDING_S_PER_TREE * trees


class Watch:
    """Time that is left, and what is told of the search."""

    def __init__(
        self, season: Season, options: PlanOptions, on_progress: OnProgress | None
    ) -> None:
        self.began, self.began_cpu = time.monotonic(), time.process_time()
        self.trees = len(season.trees)
        self.asked = options.time_limit_s is not None
        self.limit_s = limit_s(self.trees, options)
        self.on_progress = on_progress
        self.kept_s = 0.0  # time kept for what comes later
        self.objective: float | None = None
        self.bound: float | None = None

    @property
    def elapsed_s(self) -> float:
        """Seconds since the beginning."""
        return time.monotonic() - self.began

    def allow_for_slowness(self) -> None:
        """A longer limit where the machine is slow and none was asked."""
        if not self.asked:
            self.limit_s = max(self.limit_s, SLOW * self.elapsed_s)

    @property
    def left_s(self) -> float:
        """Seconds to the limit, less what the end takes."""
        ending = min(ending_s(self.trees), 0.5 * self.limit_s)
        return self.limit_s - ending - self.kept_s - self.elapsed_s

    def tell(self, phase: Phase) -> None:
        """Tell where the search stands."""
        if self.on_progress is not None:
            self.on_progress(Progress(phase, self.elapsed_s, self.objective, self.bound))
