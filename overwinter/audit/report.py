"""What the audit found, and the limits that decide in a plan."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from overwinter.model.plan import Costs
from overwinter.model.season import Season
from overwinter.model.species import DECIDES, LIMITS, Harm, Source, Standing
from overwinter.model.tree import Tree
from overwinter.plants.harm import FREEZING_SLOPE_K
from overwinter.problems import AuditRefused
from overwinter.rules.rule import Finding
from overwinter.units import METRIC, Display

AT_RISK = 0.02
"""From this chance to lose it a tree is called at risk, one winter of fifty: growers lose about one
tree in fifty in a winter and do not fear less (a judgement)."""
UNSAID = 0.5  # a number that does not say how far off it is may be so by half: a judgement


@dataclass(frozen=True, slots=True)
class TreeRisk:
    """What a winter may do to one tree on its path through the plan."""

    tree_id: str
    chance: float  # mean over winters of the share of its value lost, 0 to 1
    lost: float  # part of `chance`: to lose it for good, without what mends in a season
    by_harm: Mapping[Harm, float]  # the same by harm; they add up to a little more than `chance`
    by_stage: tuple[float, ...]  # `lost` by stage, without what counts for the whole winter
    loss: float  # expected loss, money: value x chance, without caution
    coldest_root_c: float  # coldest core of the roots in a share AT_RISK of winters, degC
    chill_share: float | None  # chilling earned over owed, mean over winters; None: owes none
    light_share: float | None  # light over need on days that need any; None: none does
    worst_stage: int | None = None  # of the likeliest harm; None: it is of the whole winter

    @property
    def worst(self) -> Harm | None:
        """The likeliest harm; None where there is hardly any."""
        harm = max(self.by_harm, key=lambda h: self.by_harm[h], default=None)
        return None if harm is None or self.by_harm[harm] < 1e-4 else harm


@dataclass(frozen=True, slots=True)
class HeatUse:
    """What one shelter's heaters use in one stage, mean over winters."""

    shelter_id: str
    stage: int
    purchased_kwh: float
    money: float
    from_kwh: float
    to_kwh: float  # what it may be as U-values and wind are not known better


@dataclass(frozen=True, slots=True)
class PlaceUse:
    """How full one place is in one stage."""

    place_id: str
    stage: int
    trees: int
    footprint_m2: float
    share: float  # of the area that footprints may take: 1 is as full as the site allows
    load_kg: float


@dataclass(frozen=True, slots=True)
class Bill:
    """Money for heat over the winters of the sample, and what walls may cost more or less."""

    mean: float
    low: float  # 10th percentile: winters and U-values together
    high: float  # 90th percentile: dearer in one winter of ten


@dataclass(frozen=True)
class AuditReport:
    """The result. A plan is shown only when ``passed``."""

    findings: tuple[Finding, ...]
    costs: Costs  # as the audit reckons them
    bill: Bill = field(default_factory=lambda: Bill(0.0, 0.0, 0.0))
    risks: Mapping[str, TreeRisk] = field(default_factory=dict)  # by tree that has a place
    heat: tuple[HeatUse, ...] = ()
    uses: tuple[PlaceUse, ...] = ()
    whole: bool = True  # whether all rules were checked; not where a plan is too broken to go on
    unseen: int = 0  # winters of `risks` that the plan was not made from; 0: its own winters
    planned: Mapping[str, float] = field(default_factory=dict)  # `lost` in its own, beside unseen

    @property
    def expected_loss(self) -> float:
        """Over all trees, money a winter, without caution."""
        return sum(risk.loss for risk in self.risks.values())

    @property
    def passed(self) -> bool:
        """Whether no rule is broken and none was left unchecked."""
        return not self.findings and self.whole

    def refuse_unless_passed(self, display: Display = METRIC, then: str = "") -> None:
        """Raise ``AuditRefused`` with every finding, and what to do then, unless it passed."""
        if not self.passed:
            told = [one.told(display) for one in self.findings]
            lines = ["The audit refused the plan:", *told, then]
            raise AuditRefused("\n".join(filter(None, lines)))


class Known(StrEnum):
    """How a limit is known, in three words."""

    MEASURED = "measured"
    ESTIMATED = "estimated"
    GUESSED = "guessed"


KNOWN: Mapping[Standing, Known] = {
    **dict.fromkeys((Standing.READ, Standing.GROWER), Known.MEASURED),
    **dict.fromkeys((Standing.DERIVED, Standing.MEMORY), Known.ESTIMATED),
    **dict.fromkeys((Standing.CUSTOM, Standing.JUDGEMENT), Known.GUESSED),
}


@dataclass(frozen=True, slots=True)
class DecidingLimit:
    """A limit behind the likeliest harm of some trees of a kind."""

    species_key: str
    name: str  # field of `Limits`
    value: float
    source: Source
    trees: int
    loss: float  # expected loss by that harm over these trees, money a winter
    at_stake: float  # money a winter that may be wrong if the limit is off as it may be

    @property
    def known(self) -> Known:
        """How it is known."""
        return KNOWN[self.source.standing]


def deciding_limits(season: Season, report: AuditReport) -> tuple[DecidingLimit, ...]:
    """Every limit that is the likeliest to take some tree, what is most at stake first. Losses by
    freezing change by a factor e with each ``FREEZING_SLOPE_K`` that the limit is off; other losses
    change in proportion. Both are taken as straight lines."""
    behind: dict[tuple[str, Harm, float, Source], list[float]] = defaultdict(list)
    for tree_id, risk in report.risks.items():
        tree = season.tree_by_id.get(tree_id)
        harm = risk.worst
        if tree is None or harm is None:
            continue
        name = DECIDES[harm]
        value = getattr(tree.limits, name)
        if value is not None:
            key = (tree.species_key, harm, float(value), source_of(season, tree, name))
            behind[key].append(tree.value * risk.by_harm[harm])
    found = []
    for (species_key, harm, value, source), losses in behind.items():
        loss = sum(losses)
        off_by = UNSAID * abs(value) if source.off_by is None else source.off_by
        scale = FREEZING_SLOPE_K if LIMITS[DECIDES[harm]].kills else max(abs(value), 1e-6)
        sure = KNOWN[source.standing] is Known.MEASURED
        at_stake = 0.0 if sure else loss * off_by / scale
        limit = (species_key, DECIDES[harm], value, source)
        found.append(DecidingLimit(*limit, len(losses), loss, at_stake))
    return tuple(sorted(found, key=lambda one: (-one.at_stake, -one.loss, one.species_key)))


def source_of(season: Season, tree: Tree, name: str) -> Source:
    """Where one limit of one tree comes from; the grower, where it is not the table's."""
    species = season.species.get(tree.species_key)
    if species is None or getattr(species.limits, name) != getattr(tree.limits, name):
        return Source(Standing.GROWER, "")
    return species.sources.get(name) or Source(Standing.JUDGEMENT, "")
