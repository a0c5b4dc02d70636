"""What came otherwise than planned: facts that changed, and carries that were really done."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum


class Unmarked(StrEnum):
    """What to make of carries that were due before today and that nobody marked."""

    DONE = "done"
    NOT_DONE = "not-done"


@dataclass(frozen=True)
class Changes:
    """All changed facts in force, laid over the inputs, which stay as they are.

    They add up from one re-plan to the next; a newer word on the same thing replaces the older.
    """

    opens: Mapping[str, date] = field(default_factory=dict)
    """By shelter: first day it can be used, instead of that of the inputs."""
    closes: Mapping[str, date] = field(default_factory=dict)
    """By shelter: first day it can no longer be used."""
    broken: Mapping[tuple[str, str], date] = field(default_factory=dict)
    """By shelter and heater name: first day it does not heat."""
    gone: Mapping[str, date] = field(default_factory=dict)
    """By tree: first day it is no longer there (sold, died, given away)."""
    leaves_down: Mapping[str, date] = field(default_factory=dict)
    """By tree: day on which the grower saw that its leaves were down."""

    most_chance: float | None = None
    """The chance of loss from which a place is refused was lifted to this, as trees had none."""

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
    carry_key: str | None = None
    """Carry of a plan that it stands for, also if done on another day or to another place."""
    assumed: bool = False
    """Nobody marked it; it was taken as done when the winter was planned again."""
    note: str = ""
