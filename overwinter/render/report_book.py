"""What the report is made from: season, plan and audit, with what its parts ask them for."""

from collections.abc import Mapping
from dataclasses import dataclass

from overwinter.audit.report import AuditReport
from overwinter.model.plan import Plan
from overwinter.model.season import Season
from overwinter.model.tree import Tree
from overwinter.units import Display


@dataclass(frozen=True)
class WinterBook:
    """A plan of sound structure beside its season and its audit."""

    season: Season
    plan: Plan
    report: AuditReport

    @property
    def display(self) -> Display:
        """How numbers are shown."""
        return self.season.site.display

    @property
    def currency(self) -> str:
        """The site's money."""
        return self.season.site.currency

    def occupants(self) -> Mapping[tuple[str, int], tuple[Tree, ...]]:
        """Trees by place and stage, in the order of the tree list."""
        found: dict[tuple[str, int], list[Tree]] = {}
        for tree in self.season.trees:
            for stage, place_id in enumerate(self.plan.stays.get(tree.id, ())):
                if place_id is not None:
                    found.setdefault((place_id, stage), []).append(tree)
        return {key: tuple(trees) for key, trees in found.items()}
