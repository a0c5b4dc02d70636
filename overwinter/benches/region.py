"""The ground of one place as the packers see it: seen from the light, in grid units.

The frame is turned so that the light comes from ``y = 0`` (the glass side, else the front). The
middle of every tree, where its pot stands, must be within an arm's reach of an edge one can stand
at. On ground that carries a person (floor, ground, sunk) paths may be left free as well; both
sides of a path are edges to stand at. Below: what the packers must know of the trees, and the
paths that are left through a finished layout.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from overwinter.model.plan import Layout
from overwinter.model.shelter import FloatArray, Place, PlaceKind, Side
from overwinter.model.stage import IntArray
from overwinter.model.tree import Tree

# Lengths are whole tenths of a millimetre: exact for packing, finer than anybody measures a pot.

UNITS_PER_M = 10_000
_SLACK = 1e-6  # undoes binary fractions: 0.57 m is 5,700 units, not 5,701
REACH_M = 0.75  # from the edge one stands at to the middle of the pot; common practice, no source
PATH_M = 0.45  # of a path left free where reach asks for one; common practice, no source
WALKABLE = frozenset({PlaceKind.FLOOR, PlaceKind.GROUND, PlaceKind.SUNK})
_SEEN_FROM = {
    # light side: which sides of the place are front, back, left and right of the frame
    Side.FRONT: (Side.FRONT, Side.BACK, Side.LEFT, Side.RIGHT),
    Side.BACK: (Side.BACK, Side.FRONT, Side.LEFT, Side.RIGHT),
    Side.LEFT: (Side.LEFT, Side.RIGHT, Side.FRONT, Side.BACK),
    Side.RIGHT: (Side.RIGHT, Side.LEFT, Side.FRONT, Side.BACK),
}
_TINY_M = 1e-4


def units_up(length_m: float) -> int:
    """Units that cover ``length_m`` (m): for what takes room."""
    return math.ceil(length_m * UNITS_PER_M - _SLACK)


def units_down(length_m: float) -> int:
    """Units inside ``length_m`` (m, finite): for what gives room."""
    return math.floor(length_m * UNITS_PER_M + _SLACK)


@dataclass(frozen=True, slots=True)
class Block:
    """A rectangle, units."""

    x: int
    y: int
    width: int
    depth: int

    def transposed(self) -> "Block":
        """With the axes exchanged."""
        return Block(self.y, self.x, self.depth, self.width)


@dataclass(frozen=True, slots=True)
class Edge:
    """A line one can stand at: ``axis`` 0 at x = ``at``, 1 at y = ``at``, units."""

    axis: int
    at: int


@dataclass(frozen=True, slots=True)
class Region:
    """Where trees may stand: in ``blocks``, between ``paths``; units."""

    width: int
    depth: int
    clearance: int
    blocks: tuple[Block, ...]
    paths: tuple[Block, ...]
    edges: tuple[Edge, ...]
    reach: int | None  # from an edge to the middle of a tree; None: everything is within reach

    def transposed(self) -> "Region":
        """With the axes exchanged."""
        return replace(
            self,
            width=self.depth,
            depth=self.width,
            blocks=tuple(block.transposed() for block in self.blocks),
            paths=tuple(path.transposed() for path in self.paths),
            edges=tuple(Edge(1 - edge.axis, edge.at) for edge in self.edges),
        )

    @property
    def area(self) -> int:
        """What boxes with clearance can take at most, units squared."""
        gap = self.clearance
        return sum((block.width + gap) * (block.depth + gap) for block in self.blocks)

    def distance(self, slots: IntArray) -> IntArray:
        """Twice the distance of each slot's middle from the nearest edge one stands at. ``slots``
        is ``(..., 4)``: x, y, width, depth. Shape of the result ``(...,)``."""
        nearest = np.full(slots.shape[:-1], np.iinfo(np.int64).max, dtype=np.int64)
        for edge in self.edges:
            middle = 2 * slots[..., edge.axis] + slots[..., 2 + edge.axis]
            nearest = np.minimum(nearest, np.abs(middle - 2 * edge.at))
        return nearest

    def reached(self, slot: tuple[int, int, int, int]) -> bool:
        """``within_reach`` of one slot, without arrays: packing asks it for one at a time."""
        reach, middle = self.reach, (2 * slot[0] + slot[2], 2 * slot[1] + slot[3])
        return reach is None or any(abs(middle[e.axis] - 2 * e.at) <= 2 * reach for e in self.edges)

    def within_reach(self, slots: IntArray) -> NDArray[np.bool_]:
        """Whether each slot ``(..., 4)`` can be reached; shape ``(...,)``."""
        if self.reach is None:
            return np.ones(slots.shape[:-1], dtype=np.bool_)
        return self.distance(slots) <= 2 * self.reach


@dataclass(frozen=True, slots=True)
class Frame:
    """How a place is turned so that its light comes from ``y = 0``."""

    light_side: Side
    width: int  # of the place itself, units
    depth: int

    @property
    def sideways(self) -> bool:
        """Whether width and depth are exchanged."""
        return self.light_side in (Side.LEFT, Side.RIGHT)

    def to_place(self, slots: IntArray) -> IntArray:
        """Slots ``(n, 4)`` of the frame as slots of the place, from its front left corner."""
        return self._mirrored(slots[:, [1, 0, 3, 2]] if self.sideways else slots.copy())

    def from_layout(self, layout: Layout) -> IntArray:
        """The slot ``(4,)`` of a tree that stands on the place."""
        x, y = units_down(layout.x_m), units_down(layout.y_m)
        stands = (x, y, units_up(layout.width_m), units_up(layout.depth_m))
        slot = self._mirrored(np.array([stands], dtype=np.int64))[0]
        return np.asarray(slot[[1, 0, 3, 2]] if self.sideways else slot)

    def _mirrored(self, slots: IntArray) -> IntArray:
        """Slots of the place, changed in place, seen from its front or left instead."""
        if self.light_side is Side.BACK:
            slots[:, 1] = self.depth - slots[:, 1] - slots[:, 3]
        if self.light_side is Side.RIGHT:
            slots[:, 0] = self.width - slots[:, 0] - slots[:, 2]
        return slots


def frame_of(place: Place) -> Frame:
    """The frame of ``place``; without a glass side it is seen from the front."""
    light_side = place.glass_side or Side.FRONT
    return Frame(light_side, units_down(place.width_m), units_down(place.depth_m))


def regions(place: Place, *, clearance_m: float, pitches: Sequence[int] = ()) -> tuple[Region, ...]:
    """Ways to divide ``place``, fewest paths first; the first has none. Paths end as soon as
    everything can be reached. Besides even strips, strips of whole files of trees are tried for
    each of ``pitches`` (units from one tree to the next)."""
    frame = frame_of(place)
    width, depth = frame.width, frame.depth
    if frame.sideways:
        width, depth = depth, width
    is_open = [side in place.open_sides for side in _SEEN_FROM[frame.light_side]]
    ends = (Edge(1, 0), Edge(1, depth), Edge(0, 0), Edge(0, width))
    edges = tuple(edge for edge, opened in zip(ends, is_open, strict=True) if opened)
    ground, reach = (Block(0, 0, width, depth),), units_down(REACH_M)
    plain = _eased(Region(width, depth, units_up(clearance_m), ground, (), edges, reach))
    if plain.reach is None or place.kind not in WALKABLE:
        return (plain,)
    front, back, left, right = is_open
    ways: list[Region] = []
    if front or back:
        ways += _with_paths(plain, (left, right), pitches)
    if left or right:
        across = _with_paths(plain.transposed(), (front, back), pitches)
        ways += [way.transposed() for way in across]
    return (plain, *sorted(ways, key=lambda way: len(way.paths)))


def _eased(region: Region) -> Region:
    """Without reach limit where the edges of one axis leave nothing out of reach."""
    reach = region.reach
    if reach is None:
        return region
    for axis, extent in ((0, region.width), (1, region.depth)):
        covered = 0
        for at in sorted(edge.at for edge in region.edges if edge.axis == axis):
            if at - reach > covered:
                break
            covered = max(covered, at + reach)
        if covered >= extent:
            return replace(region, reach=None)
    return region


def _with_paths(plain: Region, opened: tuple[bool, bool], pitches: Sequence[int]) -> list[Region]:
    """Divisions by 1, 2, ... paths along the depth."""
    path = max(units_up(PATH_M), plain.clearance)
    ways: list[Region] = []
    for count in range(1, plain.width // path):
        room = plain.width - count * path
        shares = [2] * (count + 1)
        shares[0], shares[-1] = 1 + opened[0], 1 + opened[1]
        strips = [_even(room, shares), *(_whole(plain, room, shares, p) for p in pitches)]
        divided = [_divided(plain, widths, path) for widths in strips if min(widths) > 0]
        ways += divided
        if any(way.reach is None for way in divided):
            break
    return ways


def _even(room: int, shares: Sequence[int]) -> list[int]:
    """Widths of strips in proportion to how far one reaches into each."""
    starts = [room * sum(shares[:i]) // sum(shares) for i in range(len(shares) + 1)]
    return [end - start for start, end in pairwise(starts)]


def _whole(plain: Region, room: int, shares: Sequence[int], pitch: int) -> list[int]:
    """Widths that hold whole files of trees ``pitch`` apart, as many as one reaches; then the rest.
    The middle of the last file reached is ``reach`` away, its far side half a tree farther."""
    files = max(1, ((plain.reach or 0) + pitch // 2) // pitch)
    widths = [share * files * pitch - plain.clearance for share in shares[:-1]]
    return [*widths, room - sum(widths)]


def _divided(plain: Region, widths: Sequence[int], path: int) -> Region:
    """``plain`` with a path between each two strips of ``widths``."""
    starts = [sum(widths[:i]) + i * path for i in range(len(widths))]
    blocks = tuple(Block(x, 0, width, plain.depth) for x, width in zip(starts, widths, strict=True))
    paths = tuple(Block(block.x + block.width, 0, path, plain.depth) for block in blocks[:-1])
    stood_at = [Edge(0, x) for way in paths for x in (way.x, way.x + way.width)]
    return _eased(replace(plain, blocks=blocks, paths=paths, edges=(*plain.edges, *stood_at)))


@dataclass(frozen=True)
class Pots:
    """Arrays over the trees of one place, shape ``(n,)`` unless said."""

    sizes: IntArray  # `(n, 2)`: footprints along x and y of the frame, unturned, units
    height_m: FloatArray
    light: FloatArray  # light floor, mol/m2/d
    weight_kg: FloatArray

    def __len__(self) -> int:
        return len(self.sizes)


def pots_of(trees: Sequence[Tree], *, sideways: bool) -> Pots:
    """``trees`` in the order given; ``sideways`` as in ``region.Frame``."""
    sides = [(units_up(tree.width_m), units_up(tree.depth_m)) for tree in trees]
    sizes = np.array(sides, dtype=np.int64).reshape(len(trees), 2)
    return Pots(
        sizes[:, ::-1] if sideways else sizes,
        np.array([tree.height_m for tree in trees], dtype=np.float64),
        np.array([tree.limits.light_floor_mol_m2_d for tree in trees], dtype=np.float64),
        np.array([tree.weight_kg for tree in trees], dtype=np.float64),
    )


@dataclass(frozen=True, slots=True)
class Strip:
    """A free rectangle right through a place, m from its front left corner."""

    x_m: float
    y_m: float
    width_m: float
    depth_m: float


def paths_left(place: Place, layouts: Sequence[Layout]) -> tuple[Strip, ...]:
    """Paths one needs on ``place``: none where every tree is in reach of an open side."""
    if place.kind not in WALKABLE or all(_from_side(place, it) <= REACH_M for it in layouts):
        return ()
    strips: list[Strip] = []
    if place.open_sides & {Side.FRONT, Side.BACK}:
        spans = [(it.x_m, it.x_m + it.width_m) for it in layouts]
        for start, end in _gaps(spans, place.width_m):
            strips.append(Strip(start, 0.0, end - start, place.depth_m))
    if place.open_sides & {Side.LEFT, Side.RIGHT}:
        spans = [(it.y_m, it.y_m + it.depth_m) for it in layouts]
        for start, end in _gaps(spans, place.depth_m):
            strips.append(Strip(0.0, start, place.width_m, end - start))
    return tuple(strips)


def _from_side(place: Place, it: Layout) -> float:
    """From the nearest open side to the middle of a tree, m."""
    middle = Layout(it.tree_id, it.x_m + it.width_m / 2, it.y_m + it.depth_m / 2, 0.0, 0.0)
    return min(distances_m(place, middle).values(), default=0.0) - _TINY_M


def distances_m(place: Place, layout: Layout) -> dict[Side, float]:
    """Distance from each open side to the near edge of the rectangle, m, nearest side first."""
    every = {
        Side.FRONT: layout.y_m,
        Side.LEFT: layout.x_m,
        Side.RIGHT: place.width_m - layout.x_m - layout.width_m,
        Side.BACK: place.depth_m - layout.y_m - layout.depth_m,
    }
    nearest = sorted(every.items(), key=lambda one: one[1])
    return {side: away for side, away in nearest if side in place.open_sides}


def _gaps(spans: list[tuple[float, float]], extent: float) -> Iterator[tuple[float, float]]:
    """Free stretches at least a path's width long between the spans, m."""
    reached = 0.0
    for start, end in [*sorted(spans), (extent, extent)]:
        if start - reached >= PATH_M - _TINY_M:
            yield reached, start
        reached = max(reached, end)
