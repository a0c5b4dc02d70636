"""One place through a whole winter: who stays keeps the spot, newcomers go into gaps.

The fullest stage is laid out first, as ``layout`` does it. The others follow, fullest first: a tree
that has a spot in a stage before or after keeps it for as long as it stays, and the rest go into
what is free all through their stay. Only where that cannot be are trees shifted, as few and as
light ones as will do.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from overwinter.benches.heuristics import packed_in_corners
from overwinter.benches.layout import LaidOut, lay_out_as_crowded, layouts_of
from overwinter.benches.region import Region, frame_of, pots_of, units_up
from overwinter.model.plan import Layout, Shift
from overwinter.model.shelter import Place
from overwinter.model.stage import IntArray
from overwinter.model.tree import Tree

SHIFTED = (1, 2, 3, 4, 6, 8, 12)  # so many of the lightest at once where no gap will do; then all


@dataclass(frozen=True)
class WinterOfPlace:
    """Where each tree stands, by stage, and who is shifted as a stage begins."""

    layouts: dict[int, tuple[Layout, ...]]
    shifts: tuple[Shift, ...]


@dataclass(frozen=True)
class _Spot:
    slot: IntArray
    region: Region


def lay_out_winter(
    place: Place, here: Mapping[int, Sequence[Tree]], standing: Sequence[Layout] = ()
) -> WinterOfPlace:
    """Lay out every stage of ``here``, each of which fits on its own. ``here``: trees by stage.
    ``standing``: of a winter that has begun, where trees stand in the stage before the first of
    ``here``; whoever of them is there in that first stage was there before."""
    winter = _Winter(place, here)
    first = min(here)
    winter.hold(first, {one.tree_id: one for one in standing})
    for k in sorted(here, key=lambda k: (-winter.area(k), k)):
        winter.settle(k)
    layouts = {k: winter.layouts(k) for k in sorted(here)}
    if standing:
        layouts[first - 1] = tuple(standing)
    return WinterOfPlace(layouts, tuple(shifts_between(place.id, layouts)))


def shifts_between(place_id: str, layouts: Mapping[int, Sequence[Layout]]) -> Iterator[Shift]:
    """Trees that stay from one stage to the next but not where they stood."""
    for k in sorted(layouts):
        before = {one.tree_id: one for one in layouts.get(k - 1, ())}
        for one in layouts[k]:
            was = before.get(one.tree_id)
            if was is not None and not was.same_spot(one):
                yield Shift(k, place_id, one.tree_id)


@dataclass
class _Winter:
    place: Place
    here: Mapping[int, Sequence[Tree]]
    spots: dict[tuple[int, str], _Spot] = field(default_factory=dict)
    found: dict[int, LaidOut] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.trees = {tree.id: tree for trees in self.here.values() for tree in trees}
        self.ids = {k: [tree.id for tree in trees] for k, trees in self.here.items()}
        self.clearance_m = self._laid_out(max(self.here, key=self.area)).clearance_m

    def area(self, k: int) -> float:
        """Footprints of a stage, m2."""
        return sum(tree.footprint_m2 for tree in self.here[k])

    def layouts(self, k: int) -> tuple[Layout, ...]:
        """Of a stage that is settled."""
        slots = np.array([self.spots[k, t].slot for t in self.ids[k]])
        return tuple(layouts_of(self.place, self.here[k], slots).values())

    def hold(self, first: int, standing: Mapping[str, Layout]) -> None:
        """Trees keep the spots on which they stand already."""
        frame = frame_of(self.place)
        region = self._laid_out(first).region
        for tree_id in self.ids[first]:
            if tree_id in standing:
                slot = frame.from_layout(standing[tree_id])
                for k in self._stay(first, tree_id):
                    self.spots[k, tree_id] = _Spot(slot, region)

    def settle(self, k: int) -> None:
        """Give every tree of a stage a spot."""
        held = [t for t in self.ids[k] if (k, t) in self.spots]
        new = [t for t in self.ids[k] if (k, t) not in self.spots]
        if not held:
            self._write_all(k, new)
        if not (held and new) or self._into_gaps(k, new):
            return
        lightest = sorted(held, key=lambda t: (self.trees[t].weight_kg, t))
        for n in SHIFTED:
            some = lightest[:n]
            kept = self._lift(k, some)
            if self._into_gaps(k, [*new, *some]):
                return
            self.spots.update(kept)
        self._lift(k, held)
        self._write_all(k, self.ids[k])

    def _laid_out(self, k: int) -> LaidOut:
        if k not in self.found:
            found = lay_out_as_crowded(self.place, self.here[k])
            assert found is not None, f"stage {k} was said to fit"
            self.found[k] = found
        return self.found[k]

    def _stay(self, k: int, tree_id: str) -> list[int]:
        """The stages around ``k`` through which it is here and has no spot yet, ``k`` first."""
        found = [k]
        for step in (-1, 1):
            at = k + step
            while tree_id in self.ids.get(at, ()) and (at, tree_id) not in self.spots:
                found.append(at)
                at += step
        return found

    def _lift(self, k: int, some: Sequence[str]) -> dict[tuple[int, str], _Spot]:
        """Take trees from their spots from ``k`` on, outwards to stages that are settled."""
        lifted = {}
        for tree_id in some:
            spot = self.spots[k, tree_id]
            lifted[k, tree_id] = self.spots.pop((k, tree_id))
            for step in (-1, 1):
                at = k + step
                while self.spots.get((at, tree_id)) is spot and any(
                    (at, t) not in self.spots for t in self.ids[at]
                ):
                    lifted[at, tree_id] = self.spots.pop((at, tree_id))
                    at += step
        return lifted

    def _taken(self, tree_id: str, stages: Sequence[int]) -> IntArray:
        """Slots of others that stand here in any of the stages, ``(n, 4)``."""
        slots = {
            tuple(spot.slot.tolist())
            for k in stages
            for other in self.ids[k]
            if other != tree_id and (spot := self.spots.get((k, other))) is not None
        }
        return np.array(sorted(slots), dtype=np.int64).reshape(-1, 4)

    def _into_gaps(self, k: int, new: Sequence[str]) -> bool:
        """Set trees down in what is free all through their stay."""
        held = [self.spots[k, t] for t in self.ids[k] if (k, t) in self.spots]
        regions = {spot.region for spot in held} or {self._laid_out(k).region}
        if len(regions) > 1:
            return False
        region = regions.pop()
        pots = pots_of([self.trees[t] for t in new], sideways=frame_of(self.place).sideways)
        taken = [self._taken(t, self._stay(k, t)) for t in new]
        for clearance_m in (self.clearance_m, 0.0):
            narrow = replace(region, clearance=units_up(clearance_m))
            slots = packed_in_corners(narrow, pots, taken)
            if slots is not None:
                self._write(k, new, slots, region)
                return True
        return False

    def _write_all(self, k: int, ids: Sequence[str]) -> None:
        found = self._laid_out(k)
        slots = dict(zip(self.ids[k], found.slots, strict=True))
        self._write(k, ids, np.array([slots[t] for t in ids]), found.region)

    def _write(self, k: int, ids: Sequence[str], slots: IntArray, region: Region) -> None:
        """Spots in ``k``, and on through each tree's stay until somebody stands there."""
        for tree_id, slot in zip(ids, slots, strict=True):
            spot = _Spot(slot, region)
            stay = self._stay(k, tree_id)
            self.spots[k, tree_id] = spot
            for side in ([s for s in stay if s < k], [s for s in stay if s > k]):
                for at in side:
                    if _hit(slot, self._taken(tree_id, [at])).any():
                        break
                    self.spots[at, tree_id] = spot


def _hit(slot: IntArray, others: IntArray) -> np.ndarray:
    """Which of ``others`` ``(n, 4)`` overlap ``slot``."""
    low, high = others[:, :2], others[:, :2] + others[:, 2:]
    return np.asarray(((low < slot[:2] + slot[2:]) & (slot[:2] < high)).all(axis=1))
