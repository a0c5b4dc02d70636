"""Lays every place of a placement out to scale, and says which sets of trees do not fit."""

from dataclasses import dataclass, field

from overwinter.benches.layout import fits, left_over
from overwinter.benches.winter import lay_out_winter
from overwinter.model.plan import Layout, Shift
from overwinter.model.stage import IntArray
from overwinter.model.tree import Tree
from overwinter.search.placement import NOWHERE, Placement
from overwinter.search.problem import Problem

Layouts = dict[str, dict[int, tuple[Layout, ...]]]
Misfits = dict[tuple[int, int], "Misfit"]  # by (place, stage)


@dataclass(frozen=True)
class Misfit:
    """Trees that do not fit together, and those of them that find no room beside the others."""

    trees: list[int]
    over: list[int]


@dataclass
class Fitting:
    """Lays places out and remembers what it has found; one for a whole search."""

    problem: Problem
    misfits: int = 0
    _fits: dict[tuple[str, frozenset[str]], bool] = field(default_factory=dict)

    def misfits_of(self, placement: Placement) -> Misfits:
        """The sets that could not be laid out. Places in the open are not drawn."""
        too_many: Misfits = {}
        for (place, k), trees in self._under_cover(placement).items():
            if k >= self.problem.first and not self._fit(placement, place, trees):
                self.misfits += 1
                of = self.problem.season.places[placement.places[place]]
                over = {tree.id for tree in left_over(of, self._trees(placement, trees))}
                too_many[place, k] = Misfit(
                    trees, [tree for tree in trees if self._id(placement, tree) in over]
                )
        return too_many

    def fit_beside(self, placement: Placement, *paths: IntArray) -> bool:
        """Whether all trees fit wherever one of some paths leads. Where a tree joins, and where it
        left: what is found for a set need not be found for a part of it."""
        cover = self._under_cover(placement)
        at = {(int(p[k]), k) for p in paths for k in range(self.problem.first, len(p))}
        return all(self._fit(placement, one[0], cover[one]) for one in at if one in cover)

    def lay_out(self, placement: Placement) -> tuple[Layouts, tuple[Shift, ...]]:
        """Every place through the whole winter, for sets that fit, and who is shifted."""
        season, start = self.problem.season, self.problem.start
        known = start.layouts is not None
        by_place: dict[str, dict[int, list[Tree]]] = {}
        for (place, k), trees in self._under_cover(placement).items():
            if k >= self.problem.first or (not known and self._fit(placement, place, trees)):
                here = self._trees(placement, trees)
                by_place.setdefault(placement.places[place], {})[k] = here
        layouts: Layouts = {}
        shifts: list[Shift] = []
        for place_id, by_stage in by_place.items():
            # who left at once makes room for nobody who comes later
            at_once = known and self.problem.first in by_stage
            standing = (start.layouts or {}).get(place_id, ()) if at_once else ()
            winter = lay_out_winter(season.places[place_id], by_stage, standing)
            layouts[place_id] = winter.layouts
            shifts += winter.shifts
        return layouts, tuple(sorted(shifts, key=lambda shift: shift.stage))

    def _under_cover(self, placement: Placement) -> dict[tuple[int, int], list[int]]:
        """Trees by (place, stage), from what stands there now on."""
        season, now = self.problem.season, self.problem.first - 1
        open_air = {
            place.id for shelter in season.shelters if shelter.open_air for place in shelter.places
        }
        return {
            (place, k): trees
            for (place, k), trees in _sets(placement).items()
            if k >= now and placement.places[place] not in open_air
        }

    def _id(self, placement: Placement, tree: int) -> str:
        g, i = placement.trees[tree]
        return self.problem.groups[g].tree_ids[i]

    def _trees(self, placement: Placement, trees: list[int]) -> list[Tree]:
        ids = {self._id(placement, tree) for tree in trees}
        return [tree for tree in self.problem.season.trees if tree.id in ids]

    def _fit(self, placement: Placement, place: int, trees: list[int]) -> bool:
        place_id = placement.places[place]
        key = (place_id, frozenset(self._id(placement, tree) for tree in trees))
        if key not in self._fits:
            here = self._trees(placement, trees)
            self._fits[key] = fits(self.problem.season.places[place_id], here)
        return self._fits[key]


def _sets(placement: Placement) -> dict[tuple[int, int], list[int]]:
    """Trees by (place, stage)."""
    here: dict[tuple[int, int], list[int]] = {}
    for tree, path in enumerate(placement.paths):
        if path is not None:
            for k, place in enumerate(path.tolist()):
                if place != NOWHERE:
                    here.setdefault((place, k), []).append(tree)
    return here
