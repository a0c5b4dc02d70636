"""Everything the integer program is built from, as plain arrays; it has seen physics and plants
only through the suitability table."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from overwinter.model.conditions import Conditions
from overwinter.model.season import Season, Spell
from overwinter.model.shelter import FloatArray
from overwinter.model.start import Start
from overwinter.spells import hour_slice
from overwinter.suitability.groups import Group
from overwinter.suitability.options import Option
from overwinter.suitability.table import BoolArray, Suitability


@dataclass(frozen=True, slots=True)
class TogetherCut:
    """At most ``limit`` trees per tree of the group may follow all of these stays.

    ``stays`` are sets of options by spell; one tree can meet at most ``len(stays) - 1`` of them.
    """

    group_key: tuple[str, ...]
    """Ids of the trees it holds for."""
    stays: tuple[tuple[int, frozenset[int]], ...]
    """(spell, option indices)."""


@dataclass(frozen=True, slots=True)
class RoomCut:
    """A set of trees that cannot be laid out together at a place.

    ``tree_ids`` lists, for each member of the set that does not fit, the trees that are at least
    as large as it; no more than ``limit`` of ``tree_ids`` may stand there at once.
    """

    place_id: str
    tree_ids: frozenset[str]
    limit: int


@dataclass(frozen=True, slots=True)
class Nest:
    """Groups that, of the places drawn together as one, may use only some: what these hold."""

    place_id: str
    spell: int
    groups: frozenset[int]
    area_m2: float
    load_limit_kg: float


@dataclass(frozen=True)
class Cuts:
    """What earlier rounds have ruled out."""

    together: tuple[TogetherCut, ...] = ()
    room: tuple[RoomCut, ...] = ()
    apart: tuple[frozenset[str], ...] = ()
    """Trees that must be groups of their own; several in one stay together."""

    @property
    def count(self) -> int:
        """How many cuts."""
        return len(self.together) + len(self.room) + len(self.apart)


@dataclass(frozen=True)
class ProgramData:
    """Input of one integer program."""

    season: Season
    start: Start
    suitability: Suitability
    heat_money: Mapping[str, FloatArray]
    """By shelter, ``(setting, spell)``: heat bought in the spell, money."""
    setting_allowed: Mapping[str, BoolArray]
    """By shelter, ``(setting, spell)``."""
    breaker_w: Mapping[str, tuple[Mapping[str, float], ...]]
    """By shelter and setting: power drawn on each breaker, W."""
    cuts: Cuts = field(default_factory=Cuts)
    nests: tuple[Nest, ...] = ()
    room_share: Mapping[str, float] = field(default_factory=dict)
    """Share of a place's room to reckon with, by place id; 1 where it is not named."""

    @property
    def spells(self) -> tuple[Spell, ...]:
        """The spells planned."""
        return self.suitability.spells

    @property
    def groups(self) -> tuple[Group, ...]:
        """Interchangeable trees."""
        return self.suitability.groups

    @cached_property
    def options_of_place(self) -> Mapping[str, tuple[Option, ...]]:
        """Options of each place, by setting."""
        found: dict[str, list[Option]] = {}
        for option in self.suitability.options:
            found.setdefault(option.place_id, []).append(option)
        return {place: tuple(options) for place, options in found.items()}


def spell_money(
    season: Season, conditions: Conditions, spells: tuple[Spell, ...]
) -> dict[str, FloatArray]:
    """Heat money by shelter, ``(setting, spell)``."""
    return {
        shelter_id: np.stack(
            [found.money[:, hour_slice(season, spell)].sum(axis=1) for spell in spells], axis=1
        )
        for shelter_id, found in conditions.shelters.items()
    }


def open_all_spell(season: Season, shelter_id: str, spell: Spell) -> bool:
    """Whether a shelter can be used on every day of a spell."""
    shelter = season.shelter_by_id[shelter_id]
    return (shelter.opens is None or shelter.opens <= spell.start) and (
        shelter.closes is None or spell.end <= shelter.closes
    )


def program_data(
    season: Season,
    conditions: Conditions,
    start: Start,
    suitability: Suitability,
    cuts: Cuts,
) -> ProgramData:
    """Gather the program's input.

    A setting is allowed where its power holds at the design temperature and the shelter is open;
    "off" is always allowed.
    """
    allowed: dict[str, BoolArray] = {}
    breaker_w: dict[str, tuple[Mapping[str, float], ...]] = {}
    for shelter_id, found in conditions.shelters.items():
        rows = []
        for setting, holds in zip(found.settings, found.holds_at_design, strict=True):
            rows.append(
                [
                    setting.is_off or (holds and open_all_spell(season, shelter_id, spell))
                    for spell in suitability.spells
                ]
            )
        allowed[shelter_id] = np.array(rows, dtype=np.bool_)
        breaker_w[shelter_id] = tuple(dict(setting.breaker_w) for setting in found.settings)
    return ProgramData(
        season=season,
        start=start,
        suitability=suitability,
        heat_money=spell_money(season, conditions, suitability.spells),
        setting_allowed=allowed,
        breaker_w=breaker_w,
        cuts=cuts,
    )
