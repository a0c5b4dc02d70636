"""Where every tree is when a plan begins: before the winter, or in its midst."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from overwinter.model.plan import Layout
from overwinter.model.season import Season
from overwinter.model.shelter import HeaterSetting


@dataclass(frozen=True)
class Start:
    """What has happened before the first stage that can still be planned."""

    fixed_stages: int
    """Stages that have begun; their stays and settings are facts. The first one, in which every
    tree stands where it is, has always begun."""
    stays: Mapping[str, tuple[str | None, ...]]
    """By tree: place in each fixed stage; None: not there yet."""
    settings: Mapping[str, tuple[HeaterSetting, ...]] = field(default_factory=dict)
    """By shelter: setting in each fixed stage; a shelter not named is off."""
    layouts: Mapping[str, tuple[Layout, ...]] | None = None
    """By place: where trees stand on it in the last fixed stage; None: not known."""
    known_targets: Mapping[str, frozenset[str]] | None = None
    """By tree: places to which the plan in force would still carry it; None: no plan in force."""


def start_of_season(season: Season) -> Start:
    """Everything at its summer stand, nothing heated."""
    home = season.site.summer_place
    stays = {
        tree.id: (None if tree.joins is not None else tree.stands_at or home,)
        for tree in season.trees
    }
    return Start(1, stays)
