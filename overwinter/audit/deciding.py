"""Which limits of the species table decide in a plan, how well they are known, what to find out."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from overwinter.audit.report import AuditReport
from overwinter.model.season import Season
from overwinter.model.species import DECIDES, LIMITS, Harm, Source, Standing
from overwinter.model.tree import Tree
from overwinter.plants.harm import FREEZING_SLOPE_K

UNSAID = 0.5
"""A number that does not say how far off it is may be so by half: a judgement."""


class Known(StrEnum):
    """How a limit is known, in three words."""

    MEASURED = "measured"
    ESTIMATED = "estimated"
    GUESSED = "guessed"


KNOWN: Mapping[Standing, Known] = MappingProxyType(
    {
        Standing.READ: Known.MEASURED,
        Standing.GROWER: Known.MEASURED,
        Standing.DERIVED: Known.ESTIMATED,
        Standing.MEMORY: Known.ESTIMATED,
        Standing.CUSTOM: Known.GUESSED,
        Standing.JUDGEMENT: Known.GUESSED,
    }
)


@dataclass(frozen=True, slots=True)
class DecidingLimit:
    """A limit behind the likeliest harm of some trees of a kind."""

    species_key: str
    name: str
    """Field of ``Limits``."""
    value: float
    source: Source
    trees: int
    loss: float
    """Expected loss by that harm over these trees, money a winter."""
    at_stake: float
    """How much of it may be wrong if the limit is as far off as it may be, money a winter."""

    @property
    def known(self) -> Known:
        """How it is known."""
        return KNOWN[self.source.standing]


def deciding_limits(season: Season, report: AuditReport) -> tuple[DecidingLimit, ...]:
    """Every limit that is the likeliest to take some tree, what is most at stake first.

    Losses by freezing change by a factor e with each ``FREEZING_SLOPE_K`` that the limit is off;
    other losses change in proportion. Both are taken as straight lines.
    """
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
