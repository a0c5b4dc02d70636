"""Lays every place of a placement out to scale, and says which sets do not fit."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from overwinter.benches.cut import Misfit, at_least_as_large, minimal_misfit
from overwinter.benches.layout import Memo, lay_out_as_crowded
from overwinter.benches.results import LaidOut
from overwinter.model.plan import Layout
from overwinter.model.season import Season
from overwinter.model.tree import Tree
from overwinter.program.data import RoomCut
from overwinter.program.read_back import Placement

LayoutsBySpell = Mapping[str, Mapping[int, tuple[Layout, ...]]]


@dataclass
class Drawer:
    """Lays places out and remembers what it has found; one for a whole search."""

    season: Season
    memo: Memo = field(default_factory=Memo)
    misfits: dict[tuple[str, frozenset[str]], Misfit] = field(default_factory=dict)
    sets_tried: int = 0
    _drawn: dict[tuple[str, frozenset[str]], tuple[Layout, ...] | None] = field(
        default_factory=dict
    )

    def draw(self, placement: Placement) -> tuple[LayoutsBySpell, tuple[RoomCut, ...]]:
        """Layouts by place and spell, and a cut for each set that could not be laid out.

        The summer place is laid out like any other.
        """
        layouts: dict[str, dict[int, tuple[Layout, ...]]] = {}
        cuts: dict[RoomCut, None] = {}
        for place_id, spell, ids in _sets(self.season, placement):
            drawn = self._draw_one(place_id, ids)
            if drawn is None:
                cuts.setdefault(self._cut(place_id, ids), None)
            else:
                layouts.setdefault(place_id, {})[spell] = drawn
        return layouts, tuple(cuts)

    def _trees(self, ids: frozenset[str]) -> list[Tree]:
        return [tree for tree in self.season.trees if tree.id in ids]

    def _draw_one(self, place_id: str, ids: frozenset[str]) -> tuple[Layout, ...] | None:
        key = (place_id, ids)
        if key not in self._drawn:
            self.sets_tried += 1
            result = lay_out_as_crowded(
                self.season.places[place_id],
                self._trees(ids),
                self.season.site.weights,
                memo=self.memo,
            )
            self._drawn[key] = result.layouts if isinstance(result, LaidOut) else None
        return self._drawn[key]

    def _cut(self, place_id: str, ids: frozenset[str]) -> RoomCut:
        place = self.season.places[place_id]
        key = (place_id, ids)
        if key not in self.misfits:
            found = minimal_misfit(place, self._trees(ids), memo=self.memo)
            if found is None:  # laid out after all, with another order of trying
                raise AssertionError(f"a set that does not fit at {place_id} fits")
            self.misfits[key] = found
        misfit = self.misfits[key]
        own = frozenset(misfit.tree_ids)
        larger = at_least_as_large(self._trees(own), self.season.trees, misfit.why)
        return RoomCut(place_id, own | frozenset(larger), len(own) - 1)


def _sets(season: Season, placement: Placement) -> Iterator[tuple[str, int, frozenset[str]]]:
    """(place, spell, trees there) in the order of the files."""
    here: dict[tuple[str, int], set[str]] = {}
    for tree_id, path in placement.stays.items():
        for spell, place_id in enumerate(path):
            if place_id is not None:
                here.setdefault((place_id, spell), set()).add(tree_id)
    for place_id in season.places:
        for (place, spell), ids in sorted(here.items(), key=lambda item: item[0][1]):
            if place == place_id:
                yield place_id, spell, frozenset(ids)
