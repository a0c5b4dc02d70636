"""What a kind of tree stands and needs in winter, in a pot, with the source of each number."""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from enum import StrEnum
from types import MappingProxyType
from typing import Annotated, get_type_hints


class Harm(StrEnum):
    """What can hurt a tree; each has a chance in a winter."""

    OLD_ROOTS = "old roots frozen"
    YOUNG_ROOTS = "young roots frozen"
    TOP = "top frozen"
    NEW_LEAVES = "new leaves frozen"
    CHILLING = "chilled above freezing"
    RESTLESS = "too warm to rest"
    SHORT_CHILL = "too little cold to wake well"
    DARK = "too dark"
    SOFT = "leaves opened under a roof"
    DRYING = "dried out"
    RODENTS = "eaten by rodents"


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
class Limit:
    """All that the files, the arrays and the sentences must know of one limit. The unit is the end
    of its name: ``_c`` degC, ``_k_h`` K h, ``_k_d`` K d; others have none."""

    low: float = 0.0  # lowest and highest value that a file may give
    high: float = 1.0
    decides: Harm | None = None  # the harm that it decides about
    words: str = ""  # what it is, to the grower, of a tree named before
    kills: bool = False  # an LT50: warmer for a weak tree, colder for a strong one (`plants.harm`)
    of_one_tree: bool = False  # whether the tree list may give it for one tree
    least: float = -1e4  # what a lower value is reckoned as, so that nothing is divided by 0
    if_none: float | None = None  # reckoned with where a kind has none; None: every kind has it


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """The winter limits of one tree; temperatures in degC. All there is to say of a limit is said
    here: columns, arrays, sentences and its row of docs/files.md are made from it. One with a
    default may be left blank.

    A killing temperature is an LT50: the temperature at which half of such trees lose the part in
    question (``plants.harm``). Between the unhardened and the hardened value lies the hardening
    state a in [0, 1] (``plants.hardening``): kill(a) = unhardened + a (hardened - unhardened). A
    tree that does not harden (tropical) has both values equal.
    """

    root_kill_c: Annotated[
        float, Limit(-60, 15, Harm.OLD_ROOTS, "the cold that its old roots stand", True, True)
    ]
    """Killing temperature of the old roots inside the pot, fully hardened."""
    root_kill_young_c: Annotated[
        float, Limit(-60, 15, Harm.YOUNG_ROOTS, "the cold that its young roots stand", True, True)
    ]
    """Of the young roots at the wall, which hardly harden; the only ones in the first winter after
    repotting or root pruning."""
    root_kill_unhardened_c: Annotated[float, Limit(-60, 15, kills=True, of_one_tree=True)]
    """Of the old roots in growth."""
    top_kill_c: Annotated[
        float, Limit(-80, 15, Harm.TOP, "the cold that its top stands", True, True)
    ]
    """Of wood, resting buds and evergreen leaves, fully hardened; air temperature."""
    top_kill_unhardened_c: Annotated[float, Limit(-80, 15, kills=True)]
    """The same in growth, before the leaves fall."""
    new_leaf_kill_c: Annotated[
        float, Limit(-15, 15, Harm.NEW_LEAVES, "the cold that its new leaves stand", True)
    ]
    """Of swollen buds and new leaves."""
    air_floor_c: Annotated[float | None, Limit(-40, 35, of_one_tree=True, if_none=-1000.0)] = None
    """Tropical kinds: colder air injures leaves though nothing freezes; `none`: it does not."""
    chill_injury_k_h: Annotated[
        float, Limit(1, 20_000, Harm.CHILLING, "the chilling above freezing that it stands")
    ]
    """Degree-hours below `air_floor_c` in one stretch of cold that cost half of such trees."""
    rest_ceiling_c: Annotated[
        float | None,
        Limit(
            -40,
            35,
            Harm.RESTLESS,
            "the warmth in which it still rests",
            of_one_tree=True,
            if_none=1000.0,
        ),
    ] = None
    """Highest daily mean air under a roof at which it rests; `none`: no rest needed."""
    chill_need: Annotated[
        float, Limit(0, 4000, Harm.SHORT_CHILL, "the chilling that it needs", of_one_tree=True)
    ]
    """Chilling owed over the whole winter, in the unit of `chill_model`; 0: none."""
    chill_model: ChillModel
    """`hours` (0 to 7.2 °C) or `utah` units."""
    bud_break_k_d: Annotated[
        float, Limit(1, 1000, Harm.SOFT, "the warmth that its buds wait for", least=1.0)
    ]
    """Warmth above 5 °C, after chilling, until half the buds have broken, degree-days."""
    drying: Annotated[float, Limit(0, 1, Harm.DRYING, "how fast it dries")]
    """0 (leafless) to 1 (thin leaves): how fast the top dries over frozen roots in sun and wind."""
    light_floor_mol_m2_d: Annotated[
        float, Limit(0, 60, Harm.DARK, "the light that it needs", of_one_tree=True, least=1e-3)
    ]
    """Daily light below which the tree, in leaf and warm, loses strength, mol/(m² d)."""
    dark_below_c: Annotated[float, Limit(-40, 35, of_one_tree=True)]
    """At or below this daily mean air it needs no light."""
    leaf: LeafHabit
    """`evergreen` or `deciduous`."""
    rodent_appeal: Annotated[
        float, Limit(0, 1, Harm.RODENTS, "how much mice like it", of_one_tree=True)
    ]
    """0 (left alone) to 1 (eaten first)."""
    harden_below_c: Annotated[float, Limit(5, 20)]
    """Daily mean of the root zone below which it hardens."""
    harden_days: Annotated[float, Limit(1, 365)]
    """Days of hardening weather from soft to fully hard."""
    deharden_above_c: Annotated[float, Limit(-40, 35)]
    """Daily mean of the root zone above which hardness is lost."""
    deharden_per_degree_day: Annotated[float, Limit(0, 1)]
    """Share of full hardness lost for each kelvin and day above it."""

    @property
    def rests(self) -> bool:
        """Whether the tree spends the winter in the cold."""
        return self.rest_ceiling_c is not None


LIMITS: Mapping[str, Limit] = MappingProxyType(  # every limit that is a number, by its name
    {
        name: hint.__metadata__[0]
        for name, hint in get_type_hints(Limits, include_extras=True).items()
        if hasattr(hint, "__metadata__")
    }
)
BLANK: Mapping[str, object] = MappingProxyType(  # what those are that may be left blank
    {one.name: one.default for one in fields(Limits) if one.default is not MISSING}
)
DECIDES: Mapping[Harm, str] = MappingProxyType(  # the limit that decides about each harm
    {limit.decides: name for name, limit in LIMITS.items() if limit.decides is not None}
)


@dataclass(frozen=True, slots=True)
class Source:
    """Where one number comes from."""

    standing: Standing
    text: str
    off_by: float | None = None  # how far off it may well be, in its own unit; None: not said


@dataclass(frozen=True, slots=True)
class Species:
    """One row of the species table: a species, or a group that stands in for unknown ones."""

    key: str
    latin: str
    common: str
    group: str
    limits: Limits
    sources: Mapping[str, Source]  # source of each field of `limits`, by field name
    is_group: bool = False
    synonyms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Assumption:
    """Said to the grower when a name was not in the table and a group stood in."""

    tree: str
    written: str
    assumed_key: str
    why: str
