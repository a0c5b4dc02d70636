"""Invented trees and benches for tests, and a check of layouts that shares no code with them."""

import math
import random
from collections.abc import Sequence
from itertools import combinations

from made import made_limits, made_place, made_tree

from overwinter.benches.layout import LaidOut, layouts_of
from overwinter.model.plan import Layout
from overwinter.model.shelter import Place, PlaceKind, Side
from overwinter.model.tree import Tree

TINY = 1e-9


def make_tree(
    number: int,
    width_m: float,
    depth_m: float,
    *,
    height_m: float = 0.5,
    weight_kg: float = 5.0,
    light: float = 0.0,
    name: str = "",
) -> Tree:
    limits = made_limits(
        top_kill_c=-20.0,
        new_leaf_kill_c=-2.0,
        light_floor_mol_m2_d=light,
        rodent_appeal=0.5,
        harden_below_c=5.0,
        harden_days=30.0,
        deharden_above_c=8.0,
    )
    return made_tree(
        id=f"t{number}",
        name=name or f"Tree {number}",
        limits=limits,
        width_m=width_m,
        depth_m=depth_m,
        height_m=height_m,
        weight_kg=weight_kg,
    )


def make_place(
    width_m: float,
    depth_m: float,
    *,
    kind: PlaceKind = PlaceKind.BENCH,
    open_sides: Sequence[Side] = (Side.FRONT,),
    glass_side: Side | None = None,
    headroom_m: float = math.inf,
    load_limit_kg: float = math.inf,
) -> Place:
    return made_place(
        kind=kind,
        width_m=width_m,
        depth_m=depth_m,
        headroom_m=headroom_m,
        load_limit_kg=load_limit_kg,
        open_sides=frozenset(open_sides),
        glass_side=glass_side,
    )


def random_trees(
    seed: int, room_m2: float, fill: float, *, sides_cm: tuple[int, int], kinds: int | None = None
) -> list[Tree]:
    """Trees of whole centimetres up to ``fill`` of the room; of a few ``kinds`` if given."""
    chance = random.Random(seed)
    shapes = [
        (chance.randint(*sides_cm) / 100, chance.randint(*sides_cm) / 100)
        for _ in range(kinds or 500)
    ]
    trees: list[Tree] = []
    taken = 0.0
    while True:
        width, depth = chance.choice(shapes)
        taken += width * depth
        if taken > fill * room_m2:
            return trees
        trees.append(
            make_tree(
                len(trees),
                width,
                depth,
                height_m=round(chance.uniform(0.2, 1.5), 2),
                weight_kg=round(chance.uniform(2, 35), 1),
                light=chance.choice([0.0, 0.0, 2.0, 5.0]),
            )
        )


def random_place(seed: int) -> Place:
    chance = random.Random(seed)
    kind = chance.choice([PlaceKind.BENCH, PlaceKind.SHELF, PlaceKind.FLOOR, PlaceKind.GROUND])
    width = chance.randint(80, 350) / 100
    deepest = 120 if kind in (PlaceKind.BENCH, PlaceKind.SHELF) else 300
    sides = chance.sample(list(Side), chance.choice([1, 1, 2, 4]))
    glass = chance.choice([None, *Side])
    return make_place(
        width, chance.randint(40, deepest) / 100, kind=kind, open_sides=sides, glass_side=glass
    )


def drawn(place: Place, trees: Sequence[Tree], result: LaidOut) -> list[Layout]:
    return list(layouts_of(place, trees, result.slots).values())


def faults(
    place: Place,
    trees: Sequence[Tree],
    layouts: Sequence[Layout],
    *,
    clearance_m: float,
    reach_m: float,
    path_m: float,
) -> list[str]:
    """Everything that is wrong with the layouts of ``trees``, in words; empty when all is well."""
    found = []
    by_id = {layout.tree_id: layout for layout in layouts}
    if len(layouts) != len(trees) or set(by_id) != {tree.id for tree in trees}:
        found.append("not every tree has one rectangle")
    for tree in trees:
        it = by_id[tree.id]
        if sorted((it.width_m, it.depth_m)) != sorted((tree.width_m, tree.depth_m)):
            found.append(f"{tree.id} has not its own footprint")
        if min(it.x_m, it.y_m) < -TINY or it.x_m + it.width_m > place.width_m + TINY:
            found.append(f"{tree.id} leaves its bench sideways")
        if it.y_m + it.depth_m > place.depth_m + TINY:
            found.append(f"{tree.id} leaves its bench at the back")
    for a, b in combinations(layouts, 2):
        apart = max(
            b.x_m - a.x_m - a.width_m,
            a.x_m - b.x_m - b.width_m,
            b.y_m - a.y_m - a.depth_m,
            a.y_m - b.y_m - b.depth_m,
        )
        if apart < clearance_m - TINY:
            found.append(f"{a.tree_id} and {b.tree_id} are {apart:.4f} m apart")
    found += [
        f"{it.tree_id} is out of reach"
        for it in layouts
        if not _reached(place, it, layouts, reach_m, path_m)
    ]
    return found


def _reached(
    place: Place, it: Layout, layouts: Sequence[Layout], reach_m: float, path_m: float
) -> bool:
    middle_x, middle_y = it.x_m + it.width_m / 2, it.y_m + it.depth_m / 2
    distances = {
        Side.FRONT: middle_y,
        Side.BACK: place.depth_m - middle_y,
        Side.LEFT: middle_x,
        Side.RIGHT: place.width_m - middle_x,
    }
    nearest = [distances[side] for side in place.open_sides]
    if place.kind in (PlaceKind.FLOOR, PlaceKind.GROUND, PlaceKind.SUNK):
        # a path: a strip no tree stands in, right through from an open side
        if place.open_sides & {Side.FRONT, Side.BACK}:
            spans = [(o.x_m, o.x_m + o.width_m) for o in layouts]
            nearest += _from_paths(spans, place.width_m, middle_x, path_m)
        if place.open_sides & {Side.LEFT, Side.RIGHT}:
            spans = [(o.y_m, o.y_m + o.depth_m) for o in layouts]
            nearest += _from_paths(spans, place.depth_m, middle_y, path_m)
    return min(nearest) <= reach_m + 2e-4  # half a grid step on each of the lengths involved


def _from_paths(
    spans: list[tuple[float, float]], extent: float, middle: float, path_m: float
) -> list[float]:
    distances = []
    reached = 0.0
    for start, end in [*sorted(spans), (extent, extent)]:
        if start - reached >= path_m - TINY:
            distances += [abs(middle - reached), abs(middle - start)]
        reached = max(reached, end)
    return distances
