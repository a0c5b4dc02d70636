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
    DERIVED = "derived"  # arithmetic on sourced figures
    CUSTOM = "custom"  # common practice, no source
    NONE = "none"  # no published value; estimated on the safe side
    GROWER = "grower"  # the grower's own figure


@dataclass(frozen=True, slots=True)
class Limits:
    """The winter limits of one tree; temperatures in degC.

    The killing temperature is not a working limit: a margin (see ``Margins``) stands between.
    Between the unhardened and the hardened value lies the hardening state a in [0, 1]
    (``plants.hardiness``): kill(a) = unhardened + a (hardened - unhardened). A tree that does not
    harden (tropical) has both values equal.
    """

    root_kill_c: float
    """Root-killing temperature in the pot, fully hardened, mature roots."""
    root_kill_young_c: float
    """The same for young roots: used in the first winter after repotting or root pruning."""
    root_kill_unhardened_c: float
    """Root-killing temperature in growth (a = 0)."""
    air_floor_c: float | None
    """Keep the air above this at all times (tender and tropical tops); None: roots decide."""
    rest_ceiling_c: float | None
    """Highest mean air temperature of a spell while the tree must rest; None: needs no rest."""
    chill_need: float
    """Chilling owed over the whole winter, in the unit of ``chill_model``; 0 for none."""
    chill_model: ChillModel
    light_floor_mol_m2_d: float
    """Least mean daily light integral of a spell, when the tree needs light at all."""
    dark_below_c: float
    """At or below this spell-mean air temperature the tree needs no light."""
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
