"""What a kind of tree stands and needs in winter, in a pot, with the source of each number."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class LeafHabit(StrEnum):
    """Whether the tree keeps its leaves through its rest."""

    EVERGREEN = "evergreen"
    DECIDUOUS = "deciduous"


class ChillModel(StrEnum):
    """The unit in which a chilling requirement is counted; both add up hour by hour."""

    HOURS = "hours"  # hours with 0 <= T <= 7.2 degC (Weinberger 1950)
    UTAH = "utah"  # Utah chill units (Richardson, Seeley & Walker 1974)


class Standing(StrEnum):
    """How well a number is backed."""

    READ = "read"  # the figure was read in the source named
    MEMORY = "memory"  # a source is claimed from memory, unchecked
    DERIVED = "derived"  # from figures of a source: arithmetic, or those of a relative
    CUSTOM = "custom"  # common practice, no source
    JUDGEMENT = "judgement"  # nothing published was found; a best estimate
    GROWER = "grower"  # the grower's own figure


@dataclass(frozen=True, slots=True)
class Limits:
    """The winter limits of one tree; temperatures in degC.

    A killing temperature is an LT50: the temperature at which half of such trees lose the part in
    question (``plants.harm``). Between the unhardened and the hardened value lies the hardening
    state a in [0, 1] (``plants.hardening``): kill(a) = unhardened + a (hardened - unhardened). A
    tree that does not harden (tropical) has both values equal.
    """

    root_kill_c: float
    """LT50 of the old roots inside the pot, fully hardened."""
    root_kill_young_c: float
    """LT50 of the young roots at the wall; they hardly harden. Young roots are all that a tree has
    in the first winter after repotting or root pruning."""
    root_kill_unhardened_c: float
    """LT50 of the old roots in growth (a = 0)."""
    top_kill_c: float
    """LT50 of wood, resting buds and evergreen leaves, fully hardened; air temperature."""
    top_kill_unhardened_c: float
    """The same in growth (a = 0), before leaves fall."""
    new_leaf_kill_c: float
    """LT50 of swollen buds and new leaves after bud break."""
    air_floor_c: float | None
    """Air below this injures leaves though nothing freezes (tropical tops); None: it does not."""
    chill_injury_k_h: float
    """Degree-hours below ``air_floor_c`` in one stretch of cold that cost half of such trees."""
    rest_ceiling_c: float | None
    """Highest daily mean air temperature at which the tree rests; None: needs no rest."""
    chill_need: float
    """Chilling owed over the whole winter, in the unit of ``chill_model``; 0 for none."""
    chill_model: ChillModel
    bud_break_k_d: float
    """Warmth from the end of chilling to bud break, K d above the base of ``plants.waking``."""
    drying: float
    """How fast the top dries over frozen roots in sun and wind: 0 (leafless) to 1 (thin leaves)."""
    light_floor_mol_m2_d: float
    """Daily light integral below which the tree, in leaf and warm, loses strength."""
    dark_below_c: float
    """At or below this daily mean air temperature the tree needs no light."""
    leaf: LeafHabit
    rodent_appeal: float
    """0 (left alone) to 1 (eaten first)."""
    harden_below_c: float
    """Daily mean root-zone temperature below which the tree hardens."""
    harden_days: float
    """Days of hardening weather from a = 0 to a = 1."""
    deharden_above_c: float
    """Daily mean root-zone temperature above which hardening is lost."""
    deharden_per_degree_day: float
    """Share of full hardening lost per degree-day above ``deharden_above_c``, 1/(K d)."""


@dataclass(frozen=True, slots=True)
class Source:
    """Where one number comes from."""

    standing: Standing
    text: str
    off_by: float | None = None
    """How far off the number may well be, either way, in its own unit; None: not said."""


@dataclass(frozen=True, slots=True)
class Species:
    """One row of the species table: a species, or a group that stands in for unknown ones."""

    key: str
    latin: str
    common: str
    group: str
    limits: Limits
    sources: Mapping[str, Source]
    """Source of each field of ``limits``, by field name."""
    is_group: bool = False
    synonyms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Assumption:
    """Said to the grower when a name was not in the table and a group stood in."""

    tree: str
    written: str
    assumed_key: str
    why: str
