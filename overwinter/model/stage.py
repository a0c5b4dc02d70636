"""The stages of a winter: a fixed order of events, each on its own day in every winter. A day runs
from noon to noon, so that every night belongs to one day and carries happen at its beginning, by
daylight."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.intp]


class Sign(StrEnum):
    """What begins a stage."""

    START = "start"  # the first day of the plan
    COLD_NIGHT = "cold night"  # a night at or below a temperature is forecast for tomorrow
    MILD_WEEK = "mild week"  # no such night for three days, and none forecast for seven
    CALENDAR = "calendar"  # a day on the calendar


class HappeningKind(StrEnum):
    """What can stand on the calendar."""

    OPENS = "opens"
    CLOSES = "closes"
    JOINS = "joins"
    QUARANTINE_ENDS = "quarantine ends"
    PLANNED_ANEW = "planned anew"
    HEATER_FAILS = "heater fails"


DOORS = frozenset({HappeningKind.OPENS, HappeningKind.CLOSES})
OF_ONE_TREE = frozenset({HappeningKind.JOINS, HappeningKind.QUARANTINE_ENDS})
"""What is no news to any other tree."""

RARE = 0.5  # share of winters: what comes in fewer is told as rare


@dataclass(frozen=True, slots=True)
class Happening:
    """One thing that happens on a day of the calendar."""

    kind: HappeningKind
    subject: str  # id of the shelter or tree; a heater's name for HEATER_FAILS; "" for PLANNED_ANEW


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the winter and the days on which it usually begins. ``early``, ``usual`` and
    ``late`` are the 10th, 50th and 90th percentile over the winters; a calendar stage has the same
    day three times, unless a later sign overtook it."""

    index: int
    sign: Sign
    threshold_c: float | None  # of COLD_NIGHT and MILD_WEEK: the outdoor night temperature, degC
    happenings: tuple[Happening, ...]  # of CALENDAR, or on the first day of another stage
    early: date
    usual: date
    late: date
    until: date  # usual first day of the next stage; of the last, the day after the plan
    comes: float = 1.0  # of COLD_NIGHT: share of winters that bring it before spring
    not_before: date | None = None  # of MILD_WEEK: an earlier one is a spell of the winter
    at_latest: date | None = None  # day on which it begins where its sign has not come

    @property
    def days(self) -> int:
        """Usual length, days; may be 0."""
        return (self.until - self.usual).days

    @property
    def is_rare(self) -> bool:
        """Whether most winters do not bring the cold that begins it."""
        return self.sign is Sign.COLD_NIGHT and self.comes < RARE

    def is_for(self, tree_id: str) -> bool:
        """Whether a tree may be carried then. Nobody carries others, or digs them out of a frozen
        bed, on a day on which nothing happens but that one joins or its quarantine ends."""
        kinds = {one.kind for one in self.happenings}
        if self.sign is not Sign.CALENDAR or not kinds or kinds - OF_ONE_TREE:
            return True
        return any(one.subject == tree_id for one in self.happenings)


@dataclass(frozen=True)
class StageDays:
    """The stages in every winter of the sample."""

    stages: tuple[Stage, ...]
    first_day: IntArray  # on which a stage begins, `(stage, winter)`; never falls
    days: int  # days of the plan

    @property
    def end_day(self) -> IntArray:
        """Day index after the last of each stage, ``(stage, winter)``."""
        last = np.full((1, self.first_day.shape[1]), self.days, dtype=np.intp)
        return np.concatenate((self.first_day[1:], last))

    @property
    def stage_of_day(self) -> IntArray:
        """Index of the stage that each day lies in, ``(winter, day)``."""
        started = self.first_day[:, :, None] <= np.arange(self.days)
        return np.asarray(started.sum(axis=0) - 1)
