"""What an audit found: broken rules, the costs as recomputed, and how near each tree comes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from overwinter.model.plan import Costs


class Rule(StrEnum):
    """What a plan must hold to; the value is how the rule is named to the grower."""

    SPELLS = "spells tile the season"
    ACCOUNTED = "every tree placed or left out"
    STAYS = "one place per tree and spell"
    KNOWN_PLACE = "known place"
    OPEN = "shelter open"
    HEADROOM = "headroom"
    WIDTH = "room for its footprint"
    AREA = "area of a place"
    LOAD = "load of a place"
    LAYOUT = "layout of a place"
    ROOTS = "root temperature"
    AIR = "air temperature"
    REST = "cool enough to rest"
    CHILL = "chilling earned"
    LIGHT = "light"
    RODENTS = "rodents"
    QUARANTINE = "quarantine"
    PINNED = "pinned places"
    FORBIDDEN = "forbidden places"
    SETTING = "heater settings"
    HOLDS = "heater large enough"
    BREAKER = "breakers"
    CARRIES = "carries match the stays"
    CARRY_DAY = "carries on the first day of a spell"
    CARRIES_PER_DAY = "carries per day"
    CARRY_DAYS = "carry days"
    COSTS = "costs"
    SWITCHING = "switching the heaters"


@dataclass(frozen=True, slots=True)
class Finding:
    """One broken rule. ``by_how_much`` is the excess or shortfall, positive, in ``unit``."""

    rule: Rule
    subject: str | None
    """Tree id, shelter id or breaker the rule is about; None: the plan as a whole."""
    where: str | None
    """Place or shelter id."""
    when: date | None
    by_how_much: float
    unit: str
    text: str
    spell: int | None = None


@dataclass(frozen=True, slots=True)
class TreeMargin:
    """How near one tree comes to its limits on its true path through the winter."""

    tree_id: str
    root_spare_k: float
    """Least distance of its outer roots above the working floor, K; negative: broken."""
    root_when: date
    root_where: str
    root_min_c: float
    """Root temperature at that moment, degC."""
    root_floor_c: float
    """Working floor on that day, degC."""
    air_spare_k: float | None
    """Least distance above its air floor, K; None: it has none."""
    air_when: date | None
    air_where: str | None
    light_ratio: float | None
    """Least spell-mean light over the light owed, where it needs light; None: it never does."""
    light_spell: int | None
    chill_earned: float
    chill_owed: float
    chill_unit: str

    @property
    def nearest_k(self) -> float:
        """The lesser of the distances of roots and air, K."""
        if self.air_spare_k is None:
            return self.root_spare_k
        return min(self.root_spare_k, self.air_spare_k)

    @property
    def nearest_when(self) -> date:
        """Day of ``nearest_k``."""
        if self.air_when is None or self.nearest_k == self.root_spare_k:
            return self.root_when
        return self.air_when


@dataclass(frozen=True, slots=True)
class HeatUse:
    """What one shelter's heaters deliver and cost in one spell."""

    shelter_id: str
    spell: int
    setting: str
    """Its key in plan files."""
    label: str
    """The setting for people, in the site's units."""
    delivered_kwh: float
    purchased_kwh: float
    money: float


@dataclass(frozen=True, slots=True)
class PlaceUse:
    """How full one place is in one spell."""

    place_id: str
    spell: int
    trees: int
    footprint_m2: float
    share: float
    """Of the area that footprints may take: 1 is as full as the site allows."""
    load_kg: float


@dataclass(frozen=True, slots=True)
class Transient:
    """The largest fall of a shelter's air below what its setting would give, when switched."""

    shelter_id: str
    when: date
    below_k: float
    """Air of the column used for planning minus air of the real schedule, K."""


class AwayWhy(StrEnum):
    """Why a tree is not home when the plan ends."""

    NOT_SAFE = "not safe outdoors yet"
    REFUSED = "may not stand there"
    NO_CARRY = "no carry left"
    DEARER = "dearer at home"


@dataclass(frozen=True, slots=True)
class Away:
    """A tree that is not back at the summer place when the plan ends."""

    tree_id: str
    place_id: str
    why: AwayWhy
    rule: Rule | None
    """The first one it would break at home; None: none."""
    from_day: date
    """First day of the last spell, the last on which it could go home."""


@dataclass(frozen=True)
class AuditReport:
    """The result. A plan is shown only when ``passed``."""

    findings: tuple[Finding, ...]
    costs: Costs
    margins: Mapping[str, TreeMargin] = field(default_factory=dict)
    heat: tuple[HeatUse, ...] = ()
    uses: tuple[PlaceUse, ...] = ()
    transient: Transient | None = None
    risk_difference: float = 0.0
    """Risk as priced by the plan minus risk on the true path, money."""
    rules_checked: tuple[Rule, ...] = ()
    """Fewer than all when the plan is too broken to go on."""
    away: tuple[Away, ...] = ()
    """Trees that are not home when the plan ends."""
    past: tuple[Finding, ...] = ()
    """What went wrong before the day from which the plan was made anew; nobody can mend that."""

    @property
    def passed(self) -> bool:
        """Whether no rule is broken and none was left unchecked."""
        return not self.findings and set(self.rules_checked) == set(Rule)
