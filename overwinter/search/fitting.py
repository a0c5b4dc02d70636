"""Lays every place of a placement out to scale, and says which sets of trees do not fit."""

from dataclasses import dataclass, field

from overwinter.benches.layout import Memo, lay_out_as_crowded
from overwinter.benches.results import LaidOut
from overwinter.model.plan import Layout
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import Problem

Layouts = dict[str, dict[int, tuple[Layout, ...]]]
Misfits = dict[tuple[int, int], list[int]]
"""Trees that do not fit together, by (place, stage)."""


@dataclass
class Fitting:
    """Lays places out and remembers what it has found; one for a whole search."""

    problem: Problem
    memo: Memo = field(default_factory=Memo)
    misfits: int = 0
    _drawn: dict[tuple[str, frozenset[str]], tuple[Layout, ...] | None] = field(
        default_factory=dict
    )

    def lay_out(self, placement: Placement) -> tuple[Layouts, Misfits]:
        """Layouts by place and stage, and the sets that could not be laid out.

        Places in the open are not drawn.
        """
        season = self.problem.season
        layouts: Layouts = {}
        too_many: Misfits = {}
        for (place, k), trees in _sets(placement).items():
            place_id = placement.places[place]
            if season.shelter_by_id[season.places[place_id].shelter_id].open_air:
                continue
            drawn = self._draw(place_id, {self._id(placement, t): t for t in trees})
            if drawn is not None:
                layouts.setdefault(place_id, {})[k] = drawn
            elif k >= self.problem.first:
                self.misfits += 1
                too_many[place, k] = trees
        return layouts, too_many

    def _id(self, placement: Placement, tree: int) -> str:
        g, i = placement.trees[tree]
        return self.problem.groups[g].tree_ids[i]

    def _draw(self, place_id: str, trees: dict[str, int]) -> tuple[Layout, ...] | None:
        key = (place_id, frozenset(trees))
        if key not in self._drawn:
            season = self.problem.season
            here = [tree for tree in season.trees if tree.id in trees]
            place, weights = season.places[place_id], season.site.weights
            result = lay_out_as_crowded(place, here, weights, memo=self.memo)
            self._drawn[key] = result.layouts if isinstance(result, LaidOut) else None
        return self._drawn[key]


def _sets(placement: Placement) -> dict[tuple[int, int], list[int]]:
    """Trees by (place, stage)."""
    here: dict[tuple[int, int], list[int]] = {}
    for tree, path in enumerate(placement.paths):
        if path is not None:
            for k, place in enumerate(path.tolist()):
                if place != NOWHERE:
                    here.setdefault((place, k), []).append(tree)
    return here
