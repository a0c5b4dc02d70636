"""Where every tree is, and what it has behind it, on the first day that can still be planned."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from overwinter.model.season import Season


@dataclass(frozen=True, slots=True)
class TreeStart:
    """One tree on the first free day."""

    place: str | None
    """Where it stands; None: it has not joined yet."""
    hardening: float = 0.0
    """Hardening state a in [0, 1], ``plants.hardiness``."""
    chill: float = 0.0
    """Chilling earned so far, in the tree's unit."""
    known_targets: frozenset[str] | None = None
    """Places the plan in force would still carry it to; None: there is no plan in force."""


@dataclass(frozen=True)
class Start:
    """The state a plan begins from."""

    day: date
    trees: Mapping[str, TreeStart]
    carry_days_left: int
    settings: Mapping[str, str] = field(default_factory=dict)
    """Heater setting key of each shelter on the eve of ``day``; a shelter not named is off."""


def start_of_season(season: Season) -> Start:
    """Everything at its summer stand, nothing carried, nothing hardened."""
    trees = {
        tree.id: TreeStart(
            place=None if tree.joins is not None else tree.stands_at or season.site.summer_place
        )
        for tree in season.trees
    }
    return Start(season.site.starts, trees, season.site.carry_days_max)
