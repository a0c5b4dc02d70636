"""The answer: where every tree is in every spell, what is heated, what it costs, how proven."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from overwinter.domain.season import Spell


class Reason(StrEnum):
    """Why a tree may not be somewhere."""

    ROOTS_TOO_COLD = "roots too cold"
    AIR_TOO_COLD = "air too cold"
    TOO_WARM_TO_REST = "too warm to rest"
    TOO_DARK = "too dark"
    TOO_LITTLE_CHILL = "too little chilling"
    TOO_TALL = "too tall"
    TOO_WIDE = "too wide"
    TOO_HEAVY = "too heavy"
    RODENTS = "rodents"
    CLOSED = "shelter closed"
    FORBIDDEN = "forbidden by the grower"
    PINNED_ELSEWHERE = "pinned elsewhere"
    HEATER_TOO_SMALL = "heater too small"
    NO_ROOM = "no room left"
    NOT_HARDENED = "not hardened enough after a warm stay"
    QUARANTINE = "quarantine"


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why and by how much a tree is refused at a place with a heater setting in a spell."""

    tree_id: str
    place_id: str
    setting: str
    spell: int
    reason: Reason
    shortfall: float
    unit: str


@dataclass(frozen=True, slots=True)
class Lack:
    """What one place lacks for one left-out tree, best setting taken, worst spell named."""

    place_id: str
    setting: str
    spell: int
    reason: Reason
    shortfall: float
    unit: str


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A tree without a safe place, and what every place lacks for it, nearest first."""

    tree_id: str
    lacks: tuple[Lack, ...]


@dataclass(frozen=True, slots=True)
class Carry:
    """One tree moved once, on the first day of a spell. ``source`` None: it joins that day."""

    day: date
    tree_id: str
    source: str | None
    target: str


@dataclass(frozen=True, slots=True)
class Costs:
    """The plan's objective, part by part, in the site's money."""

    heat: float = 0.0
    crowding: float = 0.0
    rodents: float = 0.0
    carries: float = 0.0
    carry_days: float = 0.0
    risk: float = 0.0
    disturbance: float = 0.0
    not_home: float = 0.0
    """For trees not back at the summer place in the last spell."""

    @property
    def total(self) -> float:
        """Sum of all parts."""
        return (
            self.heat
            + self.crowding
            + self.rodents
            + self.carries
            + self.carry_days
            + self.risk
            + self.disturbance
            + self.not_home
        )


@dataclass(frozen=True, slots=True)
class Proof:
    """How the plan was found and how far it may be from the best; money unless said."""

    solver: str
    termination: str
    objective: float
    bound: float | None
    gap: float | None
    """(objective - bound) / |objective|, computed from the bound; None: no bound known."""
    seconds: float
    rounds: int
    """How many times the program was solved until nothing was cut off."""
    misfits: int | None = None
    """Sets of trees that could not be laid out to scale and were cut off; None: not counted."""


@dataclass(frozen=True, slots=True)
class Layout:
    """One tree's rectangle on its place, m from the front left corner; turned swaps the sides."""

    tree_id: str
    x_m: float
    y_m: float
    width_m: float
    depth_m: float


@dataclass(frozen=True)
class Plan:
    """Where every tree spends every spell."""

    spells: tuple[Spell, ...]
    settings: Mapping[str, tuple[str, ...]]
    """Heater setting key of each shelter in each spell."""
    stays: Mapping[str, tuple[str | None, ...]]
    """Place id of each tree in each spell; None before it joins. Left-out trees are not here."""
    carries: tuple[Carry, ...]
    left_out: tuple[LeftOut, ...]
    costs: Costs
    proof: Proof
    layouts: Mapping[str, Mapping[int, tuple[Layout, ...]]] = field(default_factory=dict)
    """By place and spell: where each tree's rectangle lies."""
    fixed_until: date | None = None
    """First day that was still free when the winter was planned anew; what is before it has
    happened. None: planned before the winter."""

    @property
    def carry_days(self) -> tuple[date, ...]:
        """Dates on which anything is carried, in order."""
        return tuple(sorted({carry.day for carry in self.carries}))
