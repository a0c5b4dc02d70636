"""Where a plan begins, and what came otherwise: changed facts, carries that were really done."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from overwinter.model.plan import Layout
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterSetting


@dataclass(frozen=True)
class Start:
    """What has happened before the first stage that can still be planned."""

    fixed_stages: int  # stages that have begun and are facts; the first one always has
    stays: Mapping[str, tuple[str | None, ...]]  # by tree, of fixed stages; None: not there yet
    settings: Mapping[str, tuple[HeaterSetting, ...]] = field(default_factory=dict)
    """By shelter: setting in each fixed stage; a shelter not named is off."""
    layouts: Mapping[str, tuple[Layout, ...]] | None = None  # by place, in the last; None: unknown
    known_targets: Mapping[str, frozenset[str]] | None = None  # where the plan in force carries it


def start_of_season(season: Season) -> Start:
    """Everything at its summer stand, nothing heated."""
    stays = {tree.id: (season.home(tree) if tree.joins is None else None,) for tree in season.trees}
    return Start(1, stays)


class Unmarked(StrEnum):
    """What to make of carries that were due before today and that nobody marked."""

    DONE = "done"
    NOT_DONE = "not-done"


@dataclass(frozen=True)
class Changes:
    """All changed facts in force, laid over the inputs, which stay as they are. They add up from
    one re-plan to the next; a newer word on the same thing replaces the older."""

    opens: Mapping[str, date] = field(default_factory=dict)  # by shelter: from this day on
    closes: Mapping[str, date] = field(default_factory=dict)  # by shelter: no longer from this day
    broken: Mapping[tuple[str, str], date] = field(default_factory=dict)
    """By shelter and heater name: first day it does not heat."""
    gone: Mapping[str, date] = field(default_factory=dict)  # by tree: no longer there from then on
    leaves_down: Mapping[str, date] = field(default_factory=dict)  # by tree: seen on that day

    @property
    def none(self) -> bool:
        """Whether everything is as the inputs say."""
        return self == Changes()


@dataclass(frozen=True, slots=True)
class Mark:
    """One carry that was really done: on ``day`` the tree came to stand at ``target``."""

    day: date
    tree_id: str
    target: str
    carry_key: str | None = None  # carry of a plan that it stands for, done then or otherwise
    assumed: bool = False  # nobody marked it; taken as done when the winter was planned again
    note: str = ""
